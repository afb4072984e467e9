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

pub use clearance::bench::Bench;
pub(crate) use clearance::bench::{At, Log};
pub use clearance::interval::Interval;
pub(crate) use clearance::interval::{Fit, Verdict};
pub(crate) use clearance::remeasure::disagrees_with;
pub(crate) use clearance::rounds::{InRound, Round};
pub(crate) use clearance::shim::shown;
pub(crate) use clearance::valve_state::{ANOTHER_SHIM, ValveState};
pub use clearance::valve_state::{Clearance, Shim};
pub(crate) use findings::{Findings, Item};
pub(crate) use findings::{compression_ratio, squish_by_parts, wheel_at_dead_centre_mdeg};
pub use plan::ShimPlan;
pub(crate) use plan::Stuck;
pub(crate) use plan::cams::Cam;
pub(crate) use plan::moves::{Action, Move};
pub(crate) use plan::supply::Aim;
pub use plan::supply::Options;
pub(crate) use plan::tariff::Tariff;
pub(crate) use plan::whatif::WhatIf;
pub(crate) use profile::Displacement;
pub use profile::FollowerRatio;
pub(crate) use profile::form;
pub(crate) use profile::{Band, Called, Limit, OwnName, ShimKind, SideSpec, Torque, blade_fault};
pub use profile::{Profile, SHIPPED};
pub(crate) use sheet::{Row, Sheet};
pub use sums::assign::assign;
