//! What the job tells the grammar: its unit, its engine's valves, the blades, the open valve.

use crate::event::{Head, Part, Position, Side, Valve};
use crate::measure::{Length, LengthUnit, Place, Quantity, Unit};

/// The job's state as far as it decides what a phrase means.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Scope {
    /// Unit of bare numbers.
    pub unit: LengthUnit,
    /// How many cylinders.
    pub cylinders: u8,
    /// Names of the valves on the inlet side of a cylinder; one or none means a single valve.
    pub inlet: Vec<Valve>,
    /// The same for the exhaust side.
    pub exhaust: Vec<Valve>,
    /// Its heads, where it has several.
    pub heads: Vec<Head>,
    /// Where the shims lie.
    pub shims: Place,
    /// Feeler blades owned, smallest first.
    pub blades: Vec<Length>,
    /// The valve that values belong to now.
    pub open: Option<Position>,
    /// What was read last: a bare "correction, two seventy" is one of those.
    pub last: Option<Quantity>,
    /// The part that the last reading belongs to.
    pub last_part: Option<Part>,
    /// The head that the last reading belongs to.
    pub last_head: Option<Head>,
    /// The last reading is a shim of the open valve: a bare number may be another.
    pub shim_in_hand: bool,
    /// Shims are being fitted: a bare number at any valve may be one.
    pub fitting: bool,
    /// Unit of bare compressions.
    pub gauge: Unit,
    /// Unit of bare torques.
    pub wrench: Unit,
}

impl Scope {
    /// The names of the valves of one side.
    #[must_use]
    pub fn valves(&self, side: Side) -> &[Valve] {
        match side {
            Side::Inlet => &self.inlet,
            Side::Exhaust => &self.exhaust,
        }
    }
}
