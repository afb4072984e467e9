//! The job as it stands: which facts count, what lies on the bench, and what remains to be done.
//! One reading of the history, taken in event by event, that every face asks.

mod counting;
#[cfg(test)]
mod counting_tests;
mod kind;
mod notes;
mod view;
#[cfg(test)]
mod view_tests;

pub(crate) use counting::{Counting, Looks};
pub(crate) use notes::NoteText;
pub use notes::Task;
pub use view::JobView;
