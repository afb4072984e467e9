//! Values of the trade: lengths, decimals as said, units, quantities and their legal ranges.

mod bounds;
mod decimal;
mod length;
mod line;
mod quantity;
mod ratio;
mod unit;

#[cfg(test)]
pub(crate) use bounds::BOUNDS;
pub(crate) use bounds::{Bounds, Place, Zone, bounds};
pub(crate) use decimal::{Decimal, DecimalError};
pub use length::{Length, LengthUnit};
pub(crate) use line::{NotALine, commands, one_line};
pub(crate) use quantity::Home;
pub use quantity::{Amount, Quantity};
pub(crate) use ratio::{ratio, scaled};
pub use unit::Unit;
