//! What the events of a job come to once reviews and cancellations are applied, worked out from
//! all of them at once: what the record, which takes in event by event, is tested against.

use super::{Event, Fact};
use std::collections::{BTreeMap, BTreeSet};

/// The facts that count, in the order of their events: a reviewed event has those of its last
/// review, a cancelled one has none and is left out.
#[must_use]
pub(crate) fn counting(events: &[Event]) -> Vec<(&Event, &[Fact])> {
    let reviewed = reviewed(events);
    let gone = cancelled(events, &reviewed);
    events
        .iter()
        .filter(|e| !gone.contains(&e.id))
        .map(|e| (e, facts_of(e, &reviewed)))
        .collect()
}

/// The last review of each event that has one.
fn reviewed(events: &[Event]) -> BTreeMap<u64, &[Fact]> {
    let facts = events.iter().flat_map(|e| &e.facts);
    facts
        .filter_map(|fact| match fact {
            Fact::Reviewed { event, facts, .. } => Some((*event, facts.as_slice())),
            _ => None,
        })
        .collect()
}

/// Events that no longer count. A cancellation that was taken back cancels nothing; one in whose
/// place something was put goes on cancelling.
fn cancelled(events: &[Event], reviewed: &BTreeMap<u64, &[Fact]>) -> BTreeSet<u64> {
    let (mut gone, mut replaced) = (BTreeSet::new(), BTreeSet::new());
    for event in events.iter().rev().filter(|e| e.id > 0) {
        if gone.contains(&event.id) && !replaced.contains(&event.id) {
            continue;
        }
        let facts = facts_of(event, reviewed);
        for fact in facts {
            if let Fact::Cancelled(id) = fact
                && *id < event.id
            {
                gone.insert(*id);
                if facts.iter().any(Fact::is_entry) {
                    replaced.insert(*id);
                }
            }
        }
    }
    gone
}

fn facts_of<'a>(event: &'a Event, reviewed: &BTreeMap<u64, &'a [Fact]>) -> &'a [Fact] {
    reviewed.get(&event.id).copied().unwrap_or(&event.facts)
}
