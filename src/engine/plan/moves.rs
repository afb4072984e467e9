//! A plan as moves of the hand: every shim is out before it goes in elsewhere.

use crate::engine::clearance::shim::shown;
use crate::engine::crank::turns::Stops;
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
    /// Lay another shim in while the crank is turned; zero stands for any that is thin enough.
    FillIn,
    /// Take that one out again.
    TakeFillerOut,
    /// Set the screw to a clearance.
    Set {
        /// Which.
        clearance_nm: Length,
    },
}

/// One move.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Move {
    /// At which valve.
    pub position: Position,
    /// What is done.
    pub action: Action,
    /// The shim that is moved; zero where none is.
    pub shim_nm: Length,
    /// Where the crank stands for it, in milli-degrees after cylinder 1 fires: the lobe points away.
    /// `None` if the camshafts are out.
    pub crank_mdeg: Option<i64>,
    /// In a sentence; it begins with the place of the crank if that is another than before.
    pub words: String,
    /// The same without the crank.
    #[serde(skip)]
    pub(crate) what: String,
}

/// One change: which shim leaves a valve and which comes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Change {
    pub(super) old: Length,
    pub(super) new: Length,
    pub(super) source: Source,
}

/// The moves that carry out `changes`. A chain starts at the valve whose new shim is in the box or
/// bought, so that each bucket is empty only within its own two moves. A ring is broken by laying
/// one shim aside, if the crank can stand where all its lobes point away; otherwise another shim
/// fills a bucket while the crank is turned. `spares` are left in the box; `stops` is `None` if the
/// crank does not matter.
pub(super) fn order(
    changes: &BTreeMap<Position, Change>,
    spares: &[Length],
    stops: Option<&Stops>,
    unit: LengthUnit,
) -> Vec<Move> {
    let takers: BTreeMap<Position, Position> = changes
        .iter()
        .filter_map(|(to, change)| match change.source {
            Source::Valve(from) => Some((from, *to)),
            _ => None,
        })
        .collect();
    let unused = |p: &Position| !takers.contains_key(p);
    let left_over = changes.iter().filter(|(p, _)| unused(p));
    let mut fillers: Vec<Length> = left_over.map(|(_, change)| change.old).collect();
    fillers.extend(spares);
    let mut hand = Hand {
        changes,
        takers,
        unit,
        stops,
        crank: None,
        moves: Vec::new(),
    };
    let mut left: BTreeMap<Position, Change> = changes.clone();
    for (start, change) in changes {
        if matches!(change.source, Source::Valve(_)) {
            continue;
        }
        let mut at = Some(*start);
        while let Some(position) = at {
            hand.stand_at(&[position]);
            hand.take_out(position);
            hand.fit(position);
            left.remove(&position);
            at = hand.takers.get(&position).copied();
        }
    }
    while let Some(start) = left.keys().next().copied() {
        let mut ring = vec![start];
        while let Some(Change {
            source: Source::Valve(from),
            ..
        }) = ring.last().and_then(|p| changes.get(p))
            && *from != start
        {
            ring.push(*from);
        }
        left.retain(|p, _| !ring.contains(p));
        if hand.stand_at(&ring) {
            hand.swap(&ring);
        } else {
            hand.swap_with_filler(&ring, &fillers);
        }
    }
    hand.moves
}

/// The moves that set screws, each valve to its clearance, with as little turning of the crank as
/// can be seen from each place.
pub(super) fn settings(
    mut targets: Vec<(Position, Length)>,
    stops: Option<&Stops>,
    unit: LengthUnit,
) -> Vec<Move> {
    let mut hand = Hand {
        changes: &BTreeMap::new(),
        takers: BTreeMap::new(),
        unit,
        stops,
        crank: None,
        moves: Vec::new(),
    };
    while !targets.is_empty() {
        let now = hand.crank.unwrap_or(0);
        let turn = |position: Position| {
            let place = stops.and_then(|s| s.common(&[position], now));
            place.map_or(0, |place| (place - now).rem_euclid(720_000))
        };
        let all = targets.iter().enumerate();
        let nearest = all.min_by_key(|(at, (position, _))| (turn(*position), *at));
        let Some((at, (position, target))) = nearest.map(|(at, one)| (at, *one)) else {
            break;
        };
        targets.remove(at);
        hand.stand_at(&[position]);
        let words = format!(
            "Slacken the locknut of {position}, set {} with the blade, lock it and measure again: the screw turns with the nut.",
            target.show(unit)
        );
        let set = Action::Set {
            clearance_nm: target,
        };
        hand.push(position, set, Length::ZERO, words);
    }
    hand.moves
}

struct Hand<'a> {
    changes: &'a BTreeMap<Position, Change>,
    /// Who takes the shim of a valve.
    takers: BTreeMap<Position, Position>,
    unit: LengthUnit,
    stops: Option<&'a Stops>,
    /// Where the crank stands, in milli-degrees; `None` before it was turned.
    crank: Option<i64>,
    moves: Vec<Move>,
}

impl Hand<'_> {
    /// Turns the crank, forwards and as little as can be, to where all these lobes point away.
    fn stand_at(&mut self, valves: &[Position]) -> bool {
        let Some(stops) = self.stops else {
            return true;
        };
        let place = stops.common(valves, self.crank.unwrap_or(0));
        self.crank = place.or(self.crank);
        place.is_some()
    }

    /// Each shim of a ring moves on, all of them at one place of the crank.
    fn swap(&mut self, ring: &[Position]) {
        let Some((start, rest)) = ring.split_first() else {
            return;
        };
        self.lay_aside(*start);
        let mut empty = *start;
        for from in rest {
            self.take_out(*from);
            self.fit(empty);
            empty = *from;
        }
        self.fit(empty);
    }

    /// The same if the crank must be turned between: a filler keeps the first bucket from being
    /// empty. It must not be thicker than the shim that came out, so that its valve is held no
    /// further open than before.
    fn swap_with_filler(&mut self, ring: &[Position], fillers: &[Length]) {
        let old = |p: &Position| self.changes.get(p).map_or(Length::ZERO, |c| c.old);
        let thin = |p: &Position| fillers.iter().copied().filter(|f| *f <= old(p)).max();
        let filled = ring.iter().find(|p| thin(p).is_some());
        let thickest = ring.iter().max_by_key(|p| old(p));
        let Some(first) = filled.or(thickest).copied() else {
            return;
        };
        let filler = thin(&first);
        self.stand_at(&[first]);
        self.take_out(first);
        self.fill(first, filler);
        let mut at = self.takers.get(&first).copied();
        while let Some(position) = at.filter(|p| *p != first) {
            self.stand_at(&[position]);
            self.take_out(position);
            self.fit(position);
            at = self.takers.get(&position).copied();
        }
        self.stand_at(&[first]);
        let words = format!("Take the other shim out of {first} again.");
        self.push(
            first,
            Action::TakeFillerOut,
            filler.unwrap_or_default(),
            words,
        );
        self.fit(first);
    }

    fn fill(&mut self, position: Position, filler: Option<Length>) {
        let most = self.changes.get(&position).map_or(Length::ZERO, |c| c.old);
        let words = match filler {
            Some(size) => format!(
                "Lay a {} into {position}, only while the crank is turned: no place of the crank lets all of this ring be reached.",
                shown(size, self.unit)
            ),
            None => format!(
                "Lay any shim that is not thicker than {} into {position}, only while the crank is turned; the box has none.",
                shown(most, self.unit)
            ),
        };
        self.push(position, Action::FillIn, filler.unwrap_or_default(), words);
    }

    fn push(&mut self, position: Position, action: Action, shim_nm: Length, words: String) {
        let before = self.moves.last().and_then(|m| m.crank_mdeg);
        let what = words.clone();
        let words = match self.crank {
            Some(crank) if self.stops.is_some() && before != Some(crank) => {
                format!("Crank at {}°. {words}", crank / 1_000)
            }
            _ => words,
        };
        self.moves.push(Move {
            position,
            action,
            shim_nm,
            crank_mdeg: self.crank,
            words,
            what,
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
            "Take the {size} out of {position} and lay it aside; do not turn the crank while this valve is without a shim."
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
