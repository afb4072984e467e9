//! Readings of several valves said in one breath: an event for each.

use super::{Acceptance, Hearing, JobSetup, State, doubt};
use crate::event::Outcome;
use crate::grammar::{Heard, Meaning, Said};

/// The readings that one hearing holds, each as a hearing of its own, in the order in which they were
/// said. Just the hearing itself if it holds one, or if any of them cannot be stored as it is: then
/// all are asked together.
#[must_use]
pub fn one_by_one(setup: &JobSetup, state: &State, hearing: Hearing) -> Vec<Hearing> {
    let Heard::Accepted(Said {
        meaning: Meaning::Several(all),
        ..
    }) = &hearing.interpretation
    else {
        return vec![hearing];
    };
    let accepted = hearing.acceptance == Acceptance::Accept
        && hearing.doubted.is_none()
        && !hearing.overlapped;
    let one = |said: &Said| Hearing {
        interpretation: Heard::Accepted(said.clone()),
        rival: None,
        ..hearing.clone()
    };
    let parts: Vec<Hearing> = all.iter().map(one).collect();
    let stored = |part: &Hearing| doubt::decide(setup, state, part).outcome == Outcome::Stored;
    if accepted && !state.standing_by && parts.iter().all(stored) {
        return parts;
    }
    vec![hearing]
}
