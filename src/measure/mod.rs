//! Values of the trade: lengths, decimals as said, units, quantities and their legal ranges.

mod bounds;
mod decimal;
mod length;
mod quantity;
mod ratio;
mod unit;

pub use bounds::{BOUNDS, Bounds, Place, Zone, bounds};
pub use decimal::{Decimal, DecimalError};
pub use length::{Length, LengthUnit};
pub use quantity::{Amount, Home, Quantity};
pub(crate) use ratio::{ratio, scaled};
pub use unit::Unit;
