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
pub(crate) mod pressure;
mod seat;
mod sisters;
mod spring;
pub(crate) mod tightening;
pub(crate) mod torque;
mod volume;

pub(crate) use cut::{BeforeCut, Removed, after_cut};
pub(crate) use direct::{Extreme, direct};
pub(crate) use error::InspectError;
pub(crate) use finding::{Against, Finding, Verdict, judge};
pub(crate) use fit::fit;
pub(crate) use flat::flatness;
pub(crate) use limit::{Figure, Limit};
pub(crate) use lobe::lift;
pub(crate) use seat::seat_width;
pub(crate) use sisters::{apart_from, odd_ones_out, sisters_agree};
pub(crate) use spring::{SpringLine, SpringPoint, out_of_square, rate_from_free_length};
pub(crate) use volume::Volumes;
