//! The volume above a piston, and the compression ratio that it gives: `(Vd + Vc) / Vc`, of the
//! displaced volume and the one that is left at top dead centre (Heywood, *Internal Combustion Engine
//! Fundamentals*, eq. 2.1, from memory; a piston maker's page has the same with the same parts).

use crate::measure::{Length, ratio};

/// Pi, times ten to the eleventh.
const PI_E11: i128 = 314_159_265_359;
/// Cubic nanometres in a thousandth of a cubic centimetre.
const NM3_IN_MILLI_CM3: i128 = 1_000_000_000_000_000_000;

/// The volume of a disc in cubic nanometres.
fn disc_nm3(bore: Length, height: Length) -> i128 {
    let bore = i128::from(bore.nm());
    bore * bore * i128::from(height.nm()) / 4 * PI_E11 / 100_000_000_000
}

/// What bounds the gas of a cylinder.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Volumes {
    pub(crate) bore: Length,
    pub(crate) stroke: Length,
    /// The hole of the gasket, and how thick it is when it is tightened.
    pub(crate) gasket_bore: Length,
    pub(crate) gasket: Length,
    /// How far the piston stays below the deck; below zero if it stands above.
    pub(crate) deck: Length,
    /// The chamber in the head, in thousandths of a cubic centimetre.
    pub(crate) chamber_milli: i64,
    /// What the piston's crown takes away; below zero for a dish.
    pub(crate) dome_milli: i64,
}

impl Volumes {
    /// The compression ratio in thousandths, to a tenth: the gasket and the deck are known no better.
    /// `None` if nothing is left above the piston.
    #[must_use]
    pub(crate) fn ratio_milli(&self) -> Option<i64> {
        let displaced = disc_nm3(self.bore, self.stroke);
        let milli = i128::from(self.chamber_milli - self.dome_milli);
        let left = milli * NM3_IN_MILLI_CM3
            + disc_nm3(self.gasket_bore, self.gasket)
            + disc_nm3(self.bore, self.deck);
        if left <= 0 {
            return None;
        }
        Some(ratio((displaced + left) * 10, left)? * 100)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn um(um: i64) -> Length {
        Length::from_um(um)
    }

    /// A piston maker's page, worked example in inches: bore 4.03, stroke 3.48, gasket 0.035 with a hole
    /// of 4.166, deck 0.005, chamber 76 cm³, dish 7 cm³: 8.92.
    #[test]
    fn a_published_compression_ratio() {
        let inch = |milli: i64| Length::from_nm(milli * 25_400);
        let volumes = Volumes {
            bore: inch(4_030),
            stroke: inch(3_480),
            gasket_bore: inch(4_166),
            gasket: inch(35),
            deck: inch(5),
            chamber_milli: 76_000,
            dome_milli: -7_000,
        };
        assert_eq!(volumes.ratio_milli(), Some(8_900));
    }

    /// Arithmetic by hand: a bore of 76 and a stroke of 55 displace 249.50 cm³; a gasket of 0.5 with a
    /// hole of 77 leaves 2.328, a deck of 0.2 leaves 0.907; chamber 22.5, dome 2.0: 23.736 are left,
    /// which is 11.51. A dish of 2 instead leaves 27.736: 10.00.
    #[test]
    fn a_compression_ratio_by_hand() {
        let volumes = Volumes {
            bore: um(76_000),
            stroke: um(55_000),
            gasket_bore: um(77_000),
            gasket: um(500),
            deck: um(200),
            chamber_milli: 22_500,
            dome_milli: 2_000,
        };
        assert_eq!(volumes.ratio_milli(), Some(11_500));
        let dished = Volumes {
            dome_milli: -2_000,
            ..volumes
        };
        assert_eq!(dished.ratio_milli(), Some(10_000));
        // 0.3 above the deck instead: 20.5 + 2.328 - 1.361 = 21.467 are left, which is 12.62.
        let proud = Volumes {
            deck: um(-300),
            ..volumes
        };
        assert_eq!(proud.ratio_milli(), Some(12_600));
        let full = Volumes {
            dome_milli: 30_000,
            ..volumes
        };
        assert_eq!(full.ratio_milli(), None);
        assert_eq!(disc_nm3(um(76_000), um(55_000)) / NM3_IN_MILLI_CM3, 249_505);
    }
}
