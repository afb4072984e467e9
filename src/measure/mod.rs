//! Values of the trade: lengths, decimals as said, units, quantities and their legal ranges.

mod bounds;
mod decimal;
mod length;
mod quantity;

pub use bounds::{BOUNDS, Bounds, Place, Zone, bounds};
pub use decimal::{Decimal, DecimalError};
pub use length::{Length, LengthUnit};
pub use quantity::{Amount, Quantity, Unit};
