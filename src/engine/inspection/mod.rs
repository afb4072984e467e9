//! The measurements of a head besides clearance, each against the limit that the job names.
//!
//! No limit is ever invented: where the job has none, the finding says so and gives the figure.
//! Readings that cannot be (a guide narrower than its stem) are errors with what was called,
//! because they are mis-hearings or swapped values more often than they are wear.

mod cut;
mod direct;
mod error;
mod finding;
mod fit;
mod flat;
mod limit;
mod lobe;
pub mod pressure;
mod seat;
mod spring;
pub(crate) mod tightening;
pub mod torque;

pub use cut::{CutEffect, Removed, Room, after_cut, tip_ground};
pub use direct::{Extreme, direct, half_runout};
pub use error::InspectError;
pub use finding::{Against, Finding, Verdict, judge, judge_between};
pub use fit::{Fit, fit, wobble};
pub use flat::flatness;
pub use limit::{Figure, Limit};
pub use lobe::{SISTERS_AGREE_NM, Sister, lift, lift_loss, odd_ones_out};
pub use seat::seat_width;
pub use spring::{SpringLine, SpringPoint, out_of_square, rate_from_free_length};
