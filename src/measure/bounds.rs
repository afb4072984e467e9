//! The one table of legal ranges. It drives refusal, the spoken question and the test generators.
//!
//! Source: typical magnitudes are common practice of the trade, no source; the bounds are
//! deliberately wide of them. They catch mis-hearings and are never a specification: every limit
//! comes from the maker's manual for that engine.

use super::{Amount, Quantity};

/// Where a reading of clearance or of a shim was taken; other quantities are the same anywhere.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Place {
    /// Clearance of an inlet valve.
    Inlet,
    /// Clearance of an exhaust valve.
    Exhaust,
    /// A shim that lies on top of the bucket.
    OverBucket,
    /// A shim that lies under the bucket.
    UnderBucket,
    /// Outer or inner diameter of the contact ring of a seat.
    Ring,
    /// The air that a leak-down test lets in.
    Supply,
    /// No distinction.
    Any,
}

/// One row: amounts in nanometres, or in thousandths of the quantity's base unit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bounds {
    /// What is measured.
    pub quantity: Quantity,
    /// Where.
    pub place: Place,
    /// The quantity in words, for messages.
    pub words: &'static str,
    /// Outside it the reading is asked again.
    pub soft: (i64, i64),
    /// Outside it the reading is refused.
    pub hard: (i64, i64),
}

/// What an amount is, against its row.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Zone {
    /// Inside the soft range.
    Usual,
    /// Outside the soft range: ask.
    Unusual,
    /// Outside the hard range: refuse.
    Impossible,
}

impl Bounds {
    /// Where `amount` falls.
    #[must_use]
    pub(crate) fn zone(&self, amount: Amount) -> Zone {
        let base = amount.base();
        if base < self.hard.0 || base > self.hard.1 {
            Zone::Impossible
        } else if base < self.soft.0 || base > self.soft.1 {
            Zone::Unusual
        } else {
            Zone::Usual
        }
    }
}

/// The row of a quantity at a place; a quantity without that place gives its general row.
#[must_use]
pub(crate) fn bounds(quantity: Quantity, place: Place) -> &'static Bounds {
    let key = if quantity == Quantity::ShimSpare {
        Quantity::ShimFitted
    } else {
        quantity
    };
    let mut general = &BOUNDS[0];
    for row in BOUNDS {
        if row.quantity == key {
            if row.place == place {
                return row;
            }
            general = row;
        }
    }
    general
}

const fn um(
    quantity: Quantity,
    place: Place,
    words: &'static str,
    soft: (i64, i64),
    hard: (i64, i64),
) -> Bounds {
    Bounds {
        quantity,
        place,
        words,
        soft: (soft.0 * 1_000, soft.1 * 1_000),
        hard: (hard.0 * 1_000, hard.1 * 1_000),
    }
}

const fn milli(
    quantity: Quantity,
    words: &'static str,
    soft: (i64, i64),
    hard: (i64, i64),
) -> Bounds {
    Bounds {
        quantity,
        place: Place::Any,
        words,
        soft,
        hard,
    }
}

/// All ranges. Lengths are written here in micrometres, the rest in thousandths of their unit.
#[rustfmt::skip]
pub(crate) const BOUNDS: &[Bounds] = &[
    //  quantity                     place               words                           soft             hard
    um(Quantity::Clearance,         Place::Inlet,       "inlet clearance",              (30, 350),       (0, 1_000)),
    um(Quantity::Clearance,         Place::Exhaust,     "exhaust clearance",            (50, 450),       (0, 1_000)),
    um(Quantity::Clearance,         Place::Any,         "clearance",                    (30, 450),       (0, 1_000)),
    um(Quantity::ShimFitted,        Place::UnderBucket, "shim under the bucket",        (1_200, 3_500),  (800, 4_500)),
    um(Quantity::ShimFitted,        Place::OverBucket,  "shim over the bucket",         (2_000, 3_500),  (1_500, 4_500)),
    um(Quantity::ShimFitted,        Place::Any,         "shim",                         (1_200, 3_500),  (800, 4_500)),
    um(Quantity::StemDiameter,      Place::Any,         "stem diameter",                (3_900, 9_000),  (3_000, 12_000)),
    um(Quantity::GuideBore,         Place::Any,         "guide bore",                   (3_900, 9_150),  (3_000, 12_300)),
    um(Quantity::StemClearance,     Place::Any,         "stem clearance",               (0, 150),        (0, 300)),
    um(Quantity::Runout,            Place::Any,         "runout",                       (0, 100),        (0, 500)),
    um(Quantity::ValveMargin,       Place::Any,         "valve margin",                 (400, 3_000),    (0, 5_000)),
    um(Quantity::SeatWidth,         Place::Ring,        "ring of a seat",               (15_000, 45_000), (8_000, 60_000)),
    um(Quantity::SeatWidth,         Place::Any,         "seat width",                   (500, 2_500),    (200, 5_000)),
    um(Quantity::SpringFreeLength,  Place::Any,         "spring free length",           (25_000, 60_000), (15_000, 100_000)),
    um(Quantity::SpringOutOfSquare, Place::Any,         "spring out of square",         (0, 2_500),      (0, 6_000)),
    um(Quantity::InstalledHeight,   Place::Any,         "installed height",             (22_000, 50_000), (15_000, 80_000)),
    um(Quantity::JournalClearance,  Place::Any,         "journal clearance",            (10, 160),       (0, 400)),
    um(Quantity::LobeHeight,        Place::Any,         "lobe height",                  (24_000, 50_000), (15_000, 70_000)),
    um(Quantity::EndFloat,          Place::Any,         "cam end float",                (0, 450),        (0, 1_500)),
    um(Quantity::Flatness,          Place::Any,         "head flatness gap",            (0, 120),        (0, 600)),
    um(Quantity::BucketDiameter,    Place::Any,         "bucket diameter",              (15_000, 40_000), (8_000, 60_000)),
    um(Quantity::BucketBore,        Place::Any,         "bucket bore",                  (15_000, 40_000), (8_000, 60_000)),
    um(Quantity::Wobble,            Place::Any,         "wobble",                       (0, 300),        (0, 1_000)),
    um(Quantity::TipHeight,         Place::Any,         "tip height",                   (20_000, 60_000), (3_000, 90_000)),
    um(Quantity::ValveLift,         Place::Any,         "valve lift",                   (4_000, 14_000), (500, 25_000)),
    um(Quantity::PistonToValve,     Place::Any,         "piston to valve clearance",    (700, 6_000),    (0, 15_000)),
    um(Quantity::CamRunout,         Place::Any,         "camshaft runout",              (0, 100),        (0, 500)),
    um(Quantity::SeatRunout,        Place::Any,         "seat runout",                  (0, 100),        (0, 500)),
    // TM 5-3805-255-14: at most 0.25 to 0.3 mm off a seat
    um(Quantity::SeatCut,           Place::Any,         "cut of the seat",              (0, 300),        (0, 1_000)),
    um(Quantity::TipGround,         Place::Any,         "grinding of the tip",          (0, 500),        (0, 2_000)),
    um(Quantity::FaceCut,           Place::Any,         "cut of the head face",         (0, 300),        (0, 2_000)),
    um(Quantity::GasketThickness,   Place::Any,         "gasket thickness",             (200, 2_500),    (50, 5_000)),
    um(Quantity::Squish,            Place::Any,         "piston to head",               (500, 2_500),    (0, 6_000)),
    um(Quantity::SpringShim,        Place::Any,         "shim under the spring",        (200, 2_000),    (50, 5_000)),
    um(Quantity::DeckHeight,        Place::Any,         "piston below the deck",        (-1_000, 2_000), (-3_000, 10_000)),
    um(Quantity::DecompressorLift,  Place::Any,         "lift of the decompressor",     (100, 2_000),    (0, 5_000)),
    milli(Quantity::ChamberVolume,   "chamber volume",   (5_000, 120_000),       (500, 500_000)),
    milli(Quantity::Retorque,        "bolt torque",      (4_000, 90_000),       (500, 250_000)),
    milli(Quantity::TopDeadCentre,   "positive stop",    (5_000, 60_000),        (0, 120_000)),
    milli(Quantity::SpringLoad,      "spring load",      (40_000, 1_200_000),   (5_000, 3_000_000)),
    milli(Quantity::Torque,          "bolt torque",      (4_000, 90_000),       (500, 250_000)),
    milli(Quantity::AngleStage,      "angle stage",      (15_000, 200_000),     (0, 400_000)),
    milli(Quantity::ChainPins,       "chain pins",       (8_000, 60_000),       (2_000, 200_000)),
    milli(Quantity::LobeCentre,      "lobe centre",      (88_000, 125_000),     (60_000, 150_000)),
    // 80 lbf/in² is usual: FAA AC 43.13-1B, para 8-14; testers for small engines use 2 to 8 bar: common practice, no source
    Bounds { place: Place::Supply, ..milli(Quantity::Compression, "leak-down supply", (2_000, 8_500), (500, 15_000)) },
    milli(Quantity::Compression,     "compression",      (5_000, 20_000),       (0, 40_000)),
    milli(Quantity::LeakDown,        "leak-down",        (0, 40_000),           (0, 100_000)),
    milli(Quantity::RoomTemperature, "room temperature", (0, 40_000),           (-20_000, 60_000)),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Length;

    #[test]
    fn every_row_is_ordered_and_soft_lies_inside_hard() {
        for row in BOUNDS {
            assert!(
                row.hard.0 <= row.soft.0 && row.soft.0 < row.soft.1 && row.soft.1 <= row.hard.1,
                "{}",
                row.words
            );
        }
    }

    #[test]
    fn zones_at_the_ends() {
        let row = bounds(Quantity::Clearance, Place::Exhaust);
        let zone = |um| row.zone(Amount::LengthNm(Length::from_um(um)));
        assert_eq!(
            [
                zone(49),
                zone(50),
                zone(450),
                zone(451),
                zone(1_000),
                zone(1_001)
            ],
            [
                Zone::Unusual,
                Zone::Usual,
                Zone::Usual,
                Zone::Unusual,
                Zone::Unusual,
                Zone::Impossible
            ]
        );
        assert_eq!(
            bounds(Quantity::ShimSpare, Place::OverBucket).words,
            "shim over the bucket"
        );
    }
}
