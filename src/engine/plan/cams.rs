//! Which camshafts come out for a plan, and the search for one that leaves more of them in.

use crate::engine::profile::Profile;
use crate::event::{Head, Position, Side};
use serde::{Serialize, Serializer};
use std::collections::BTreeSet;
use std::fmt;

/// A camshaft: of its side, unless one is over both, and of its head if the engine has several.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Cam {
    /// On which head.
    pub head: Option<Head>,
    /// Over which valves; `None` if it is over the valves of both sides.
    pub side: Option<Side>,
}

impl Cam {
    /// The camshaft over a valve.
    #[must_use]
    pub(crate) fn over(profile: &Profile, position: Position) -> Self {
        Self {
            head: profile.head_of(position.cylinder),
            side: (!profile.shims.one_camshaft).then_some(position.side),
        }
    }

    /// Every camshaft of an engine.
    pub(super) fn all(profile: &Profile) -> BTreeSet<Self> {
        let valves = profile.valves().into_iter();
        valves.map(|p| Self::over(profile, p)).collect()
    }
}

impl fmt::Display for Cam {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.head, self.side) {
            (Some(head), Some(side)) => write!(f, "{} {}", head.key(), side.key()),
            (Some(head), None) => f.write_str(head.key()),
            (None, Some(side)) => f.write_str(side.key()),
            (None, None) => f.write_str("only"),
        }
    }
}

impl Serialize for Cam {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

/// Sets of camshafts that may come out instead of `out`: each has all that `must`, and fewer than
/// `out`; the smallest first, in a fixed order.
pub(super) fn fewer(
    all: &BTreeSet<Cam>,
    must: &BTreeSet<Cam>,
    out: &BTreeSet<Cam>,
) -> Vec<BTreeSet<Cam>> {
    let free: Vec<Cam> = all.difference(must).copied().collect();
    let mut sets: Vec<BTreeSet<Cam>> = vec![must.clone()];
    for cam in free {
        let with = |set: &BTreeSet<Cam>| set.iter().copied().chain([cam]).collect();
        let more: Vec<BTreeSet<Cam>> = sets
            .iter()
            .filter(|set| set.len() + 1 < out.len())
            .map(with)
            .collect();
        sets.extend(more);
    }
    sets.retain(|set| set.len() < out.len());
    sets.sort_by_key(|set| (set.len(), set.clone()));
    sets
}
