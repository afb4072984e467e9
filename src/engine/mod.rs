//! The clearance and shim engine: from a job's events to verdicts, shims and moves. Pure.

mod assign;
mod bench;
mod best;
mod clearance;
mod cover;
mod findings;
pub mod geometry;
pub mod inspect;
mod limit_names;
mod limits;
mod moves;
mod packs;
mod plan;
pub mod pressure;
mod profile;
mod profile_check;
mod profile_file;
mod profile_names;
mod profile_tables;
mod remeasure;
mod sheet;
mod shim;
mod supply;
mod tariff;
#[cfg(test)]
mod tests;
pub mod thermal;
pub(crate) mod tightening;
pub mod timing;
pub mod torque;
pub mod turns;
pub mod uncertainty;
mod whatif;

pub(crate) use crate::measure::{ratio, scaled};
pub use assign::{Cost, Levels, assign};
pub use bench::{ANOTHER_SHIM, At, Bench, Clearance, Conflict, Log, Pair, Shim, ValveState};
pub use clearance::{Fit, GapError, Interval, Verdict};
pub use findings::{Findings, Item};
pub use limits::LimitError;
pub use moves::{Action, Move};
pub use plan::{Fitting, Purchase, ShimPlan, Stuck, Untouched};
pub use profile::{
    Band, Chain, Limit, Profile, ProfileError, SHIPPED, ShimKind, Shims, SideSpec, Torque,
    blade_fault,
};
pub(crate) use profile::{Called, OwnName};
pub(crate) use remeasure::disagrees_with;
pub use remeasure::{Comparison, Remeasure, Swap, Swapped};
pub use sheet::{Row, Sheet};
pub use shim::{Candidate, Tie, ideal, judge, nearest, predict, shown};
pub use supply::{Aim, Options, Score};
pub use tariff::Tariff;
pub use whatif::{WhatIf, WhatIfError};
