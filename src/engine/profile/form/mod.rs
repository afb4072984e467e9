//! A profile as boxes, in the order of a manual's data page. One description of the boxes (`fields`)
//! makes the page, writes the file (`write`) and fills the boxes from a file (`read`). What a box may
//! hold is decided by the profile's own reader.

mod fields;
mod read;
mod sections;
#[cfg(test)]
mod tests;
mod write;

pub(crate) use fields::Boxes;
pub(crate) use read::boxes;
pub(crate) use sections::{Section, sections};
pub(crate) use write::{Entered, Fault, entered, key_of};
