//! The clearance and shim engine: from a job's events to verdicts, shims and moves. Pure.

pub(crate) mod clearance;
pub(crate) mod crank;
mod findings;
pub(crate) mod inspection;
mod plan;
mod profile;
mod sheet;
mod sums;
#[cfg(test)]
mod tests;

pub use clearance::bench::{At, Bench, Conflict, Log};
pub use clearance::interval::{Fit, GapError, Interval, Verdict};
pub(crate) use clearance::remeasure::disagrees_with;
pub use clearance::remeasure::{Comparison, Remeasure, Swap, Swapped};
pub use clearance::rounds::{InRound, Round};
pub use clearance::shim::{Candidate, Tie, ideal, judge, nearest, predict, shown};
pub use clearance::valve_state::{ANOTHER_SHIM, Clearance, Pair, Past, Shim, ValveState};
pub use findings::{Findings, Item};
pub use plan::moves::{Action, Move};
pub use plan::supply::{Aim, Options, Score};
pub use plan::tariff::Tariff;
pub use plan::whatif::{WhatIf, WhatIfError};
pub use plan::{Fitting, Purchase, ShimPlan, Stuck, Untouched};
pub use profile::limits::LimitError;
pub use profile::{
    Band, Chain, Limit, Profile, ProfileError, SHIPPED, ShimKind, Shims, SideSpec, Torque,
    blade_fault,
};
pub(crate) use profile::{Called, OwnName};
pub use sheet::{Row, Sheet};
pub use sums::assign::{Cost, Levels, assign};
