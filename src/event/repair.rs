//! Work on one valve, and what has to be measured anew after it.

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
    /// Its screw was set. (Since version 8.)
    Adjusted,
    /// The valve was lapped; an item of the grammar, not a fact of its own.
    Lapped,
}

/// The item of the grammar that says that a valve was lapped.
pub(super) const LAPPED: &str = "lapped";

impl Repair {
    const ALL: [Self; 12] = [
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
        Self::Adjusted,
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
            Self::Adjusted => "adjusted",
            Self::Lapped => LAPPED,
        }
    }

    /// By that name.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|repair| repair.key() == key)
    }

    /// What has to be measured anew after it. Where the seat and the valve meet, the valve sits
    /// deeper or higher after any work, so its clearance goes too. Common practice, no source.
    #[must_use]
    pub(crate) const fn closes(self) -> &'static [Quantity] {
        use Quantity::{
            BucketDiameter, Clearance, GuideBore, InstalledHeight, Runout, SeatCut, SeatRunout,
            SeatWidth, SpringFreeLength, SpringLoad, SpringOutOfSquare, StemClearance,
            StemDiameter, TipGround, TipHeight, ValveMargin, Wobble,
        };
        match self {
            Self::NewGuide | Self::ReamedGuide => &[GuideBore, StemClearance, Wobble, SeatRunout],
            Self::NewValve => &[
                StemDiameter,
                StemClearance,
                Wobble,
                TipHeight,
                Runout,
                ValveMargin,
                InstalledHeight,
                TipGround,
                Clearance,
            ],
            Self::NewSpring => &[SpringFreeLength, SpringOutOfSquare, SpringLoad],
            Self::NewSeal => &[],
            Self::NewSeat => &[
                SeatWidth,
                SeatRunout,
                SeatCut,
                InstalledHeight,
                TipHeight,
                Clearance,
            ],
            Self::RecutSeat => &[SeatWidth, SeatRunout, InstalledHeight, TipHeight, Clearance],
            Self::GroundFace => &[ValveMargin, InstalledHeight, TipHeight, Clearance],
            Self::GroundTip => &[TipHeight, Clearance],
            Self::NewBucket => &[BucketDiameter, Clearance],
            Self::Adjusted | Self::Lapped => &[Clearance],
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
        seat && ["leak_check", "contact", "contact_high", "contact_low"].contains(&item)
    }
}
