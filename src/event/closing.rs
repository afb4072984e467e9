//! Which facts make earlier readings void: a repair of a valve, and a new round of measuring.

use super::repair::LAPPED;
use super::{Fact, Position, Repair};

impl Repair {
    /// The repair that a fact tells of, and the valve.
    #[must_use]
    pub(crate) fn of(fact: &Fact) -> Option<(Position, Self)> {
        match fact {
            Fact::Repaired { position, work } => Some((*position, *work)),
            Fact::Checked {
                item,
                position: Some(position),
                good: true,
                ..
            } if item == LAPPED => Some((*position, Self::Lapped)),
            _ => None,
        }
    }
}

/// Why all clearances are measured again.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub(crate) enum NewRound {
    /// The seats were cut.
    Seats,
    /// The valves were lapped.
    Lapping,
    /// The person wants it so: what was measured before is no worse.
    Wanted,
}

impl NewRound {
    /// The round that a fact begins.
    #[must_use]
    pub(crate) fn of(fact: &Fact) -> Option<Self> {
        match fact {
            Fact::RoundBegun => Some(Self::Wanted),
            Fact::Stage { stage, done: true } => match stage.as_str() {
                "seats" => Some(Self::Seats),
                "lapping" => Some(Self::Lapping),
                _ => None,
            },
            _ => None,
        }
    }

    /// Whether the valves sit otherwise than before it, so that earlier clearances tell nothing.
    #[must_use]
    pub(crate) const fn moved_valves(self) -> bool {
        matches!(self, Self::Seats | Self::Lapping)
    }
}
