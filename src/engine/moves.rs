//! A plan as moves of the hand: every shim is out before it goes in elsewhere.

use super::shim::shown;
use crate::event::{Position, Source};
use crate::measure::{Length, LengthUnit};
use serde::Serialize;
use std::collections::BTreeMap;

/// What the hand does.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// Take the shim out for another valve.
    TakeOutFor(Position),
    /// Take the shim out and lay it aside, to break a ring of swaps.
    LayAside,
    /// Take the shim out; it is left over.
    TakeOut,
    /// Fit a shim from this source.
    Fit(Source),
}

/// One move.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Move {
    /// At which valve.
    pub position: Position,
    /// What is done.
    pub action: Action,
    /// The shim that is moved.
    pub shim_nm: Length,
    /// In a sentence.
    pub words: String,
}

/// One change: which shim leaves a valve and which comes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Change {
    pub(super) old: Length,
    pub(super) new: Length,
    pub(super) source: Source,
}

/// The moves that carry out `changes`. A chain starts at the valve whose new shim is in the box or
/// bought, so that each bucket is empty only within its own two moves; a ring is broken by laying
/// one shim aside.
pub(super) fn order(changes: &BTreeMap<Position, Change>, unit: LengthUnit) -> Vec<Move> {
    let takers: BTreeMap<Position, Position> = changes
        .iter()
        .filter_map(|(to, change)| match change.source {
            Source::Valve(from) => Some((from, *to)),
            _ => None,
        })
        .collect();
    let mut hand = Hand {
        changes,
        takers,
        unit,
        moves: Vec::new(),
    };
    let mut left: BTreeMap<Position, Change> = changes.clone();
    for (start, change) in changes {
        if matches!(change.source, Source::Valve(_)) {
            continue;
        }
        let mut at = Some(*start);
        while let Some(position) = at {
            hand.take_out(position);
            hand.fit(position);
            left.remove(&position);
            at = hand.takers.get(&position).copied();
        }
    }
    while let Some(start) = left.keys().next().copied() {
        hand.lay_aside(start);
        let mut empty = start;
        loop {
            left.remove(&empty);
            let Some(Change {
                source: Source::Valve(from),
                ..
            }) = changes.get(&empty)
            else {
                break;
            };
            if *from != start {
                hand.take_out(*from);
            }
            hand.fit(empty);
            if *from == start {
                break;
            }
            empty = *from;
        }
    }
    hand.moves
}

struct Hand<'a> {
    changes: &'a BTreeMap<Position, Change>,
    /// Who takes the shim of a valve.
    takers: BTreeMap<Position, Position>,
    unit: LengthUnit,
    moves: Vec<Move>,
}

impl Hand<'_> {
    fn push(&mut self, position: Position, action: Action, shim_nm: Length, words: String) {
        self.moves.push(Move {
            position,
            action,
            shim_nm,
            words,
        });
    }

    fn take_out(&mut self, position: Position) {
        let Some(change) = self.changes.get(&position) else {
            return;
        };
        let size = shown(change.old, self.unit);
        let (action, words) = match self.takers.get(&position) {
            Some(taker) => (
                Action::TakeOutFor(*taker),
                format!("Take the {size} out of {position}; it goes to {taker}."),
            ),
            None => (
                Action::TakeOut,
                format!("Take the {size} out of {position}; it is left over."),
            ),
        };
        self.push(position, action, change.old, words);
    }

    fn lay_aside(&mut self, position: Position) {
        let Some(change) = self.changes.get(&position) else {
            return;
        };
        let size = shown(change.old, self.unit);
        let words = format!(
            "Take the {size} out of {position} and lay it aside; do not turn the crank while this bucket is without a shim."
        );
        self.push(position, Action::LayAside, change.old, words);
    }

    fn fit(&mut self, position: Position) {
        let Some(change) = self.changes.get(&position) else {
            return;
        };
        let size = shown(change.new, self.unit);
        let words = match change.source {
            Source::Valve(from) => format!("Fit the {size} from {from} to {position}."),
            Source::Box => format!("Fit a {size} from the box to {position}."),
            Source::Bought => format!("Fit a new {size} to {position}."),
        };
        self.push(position, Action::Fit(change.source), change.new, words);
    }
}
