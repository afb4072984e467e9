//! What makes earlier readings void: a repair of a valve, and a new round of measuring.

use super::{Fact, Position};
use crate::measure::Quantity;
use serde::{Deserialize, Serialize};

/// Work on one valve after which some of its readings are no longer what is there.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Repair {
    /// Another guide was pressed in.
    NewGuide,
    /// The guide that is in was reamed.
    ReamedGuide,
    /// Another valve.
    NewValve,
    /// Another spring, or both.
    NewSpring,
    /// Another stem seal.
    NewSeal,
    /// Another seat ring.
    NewSeat,
    /// The seat was cut.
    RecutSeat,
    /// The valve's face was ground.
    GroundFace,
    /// The tip of the stem was ground.
    GroundTip,
    /// Another bucket.
    NewBucket,
    /// The valve was lapped; an item of the grammar, not a fact of its own.
    Lapped,
}

/// The item of the grammar that says that a valve was lapped.
const LAPPED: &str = "lapped";

impl Repair {
    const ALL: [Self; 11] = [
        Self::NewGuide,
        Self::ReamedGuide,
        Self::NewValve,
        Self::NewSpring,
        Self::NewSeal,
        Self::NewSeat,
        Self::RecutSeat,
        Self::GroundFace,
        Self::GroundTip,
        Self::NewBucket,
        Self::Lapped,
    ];

    /// Its name in JSON and in grammar files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::NewGuide => "new_guide",
            Self::ReamedGuide => "reamed_guide",
            Self::NewValve => "new_valve",
            Self::NewSpring => "new_spring",
            Self::NewSeal => "new_seal",
            Self::NewSeat => "new_seat",
            Self::RecutSeat => "recut_seat",
            Self::GroundFace => "ground_face",
            Self::GroundTip => "ground_tip",
            Self::NewBucket => "new_bucket",
            Self::Lapped => LAPPED,
        }
    }

    /// By that name.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|repair| repair.key() == key)
    }

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

    /// What has to be measured anew after it. Where the seat and the valve meet, the valve sits
    /// deeper or higher after any work, so its clearance goes too. Common practice, no source.
    #[must_use]
    pub(crate) const fn closes(self) -> &'static [Quantity] {
        use Quantity::{
            BucketDiameter, Clearance, GuideBore, InstalledHeight, Runout, SeatWidth,
            SpringFreeLength, SpringLoad, SpringOutOfSquare, StemClearance, StemDiameter,
            TipHeight, ValveMargin, Wobble,
        };
        match self {
            Self::NewGuide | Self::ReamedGuide => &[GuideBore, StemClearance, Wobble],
            Self::NewValve => &[
                StemDiameter,
                StemClearance,
                Wobble,
                TipHeight,
                Runout,
                ValveMargin,
                InstalledHeight,
                Clearance,
            ],
            Self::NewSpring => &[SpringFreeLength, SpringOutOfSquare, SpringLoad],
            Self::NewSeal => &[],
            Self::NewSeat | Self::RecutSeat => &[SeatWidth, InstalledHeight, TipHeight, Clearance],
            Self::GroundFace => &[ValveMargin, InstalledHeight, TipHeight, Clearance],
            Self::GroundTip => &[TipHeight, Clearance],
            Self::NewBucket => &[BucketDiameter, Clearance],
            Self::Lapped => &[Clearance],
        }
    }

    /// Whether a look at that item has to be taken again after it: a seat that wept, where the seal
    /// between valve and seat was made anew.
    #[must_use]
    pub(crate) fn closes_look(self, item: &str) -> bool {
        let seat = matches!(
            self,
            Self::NewValve | Self::NewSeat | Self::RecutSeat | Self::GroundFace | Self::Lapped
        );
        seat && ["leak_check", "contact"].contains(&item)
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
