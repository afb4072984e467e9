//! A finger follower between lobe and valve: what a change at the one comes to at the other.

use crate::measure::{Decimal, Length, scaled};

/// By how much the clearance at the lobe changes for each unit that the shim at the valve does, in
/// thousandths: the distances of lobe and shim from the follower's pivot, one over the other. A bucket
/// moves as the valve does.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct FollowerRatio(i64);

impl FollowerRatio {
    /// A bucket: no lever.
    pub const BUCKET: Self = Self(1_000);
    /// Ratios that a follower can have, in thousandths; deliberately wide. From memory of the trade:
    /// fingers have 0.6 to 0.9, rockers up to 1.
    pub(crate) const RANGE: (i64, i64) = (400, 1_500);

    /// The ratio; `None` outside the range, or finer than a thousandth.
    #[must_use]
    pub fn new(ratio: Decimal) -> Option<Self> {
        let (low, high) = Self::RANGE;
        let milli = ratio.milli().filter(|_| ratio.places() <= 3)?;
        (low..=high).contains(&milli).then_some(Self(milli))
    }

    /// The ratio as a number.
    #[must_use]
    pub const fn decimal(self) -> Decimal {
        Decimal::new(self.0, 3)
    }

    /// In thousandths.
    #[must_use]
    pub(crate) const fn milli(self) -> i64 {
        self.0
    }

    /// What a change at the valve, such as of its shim, comes to at the lobe.
    #[must_use]
    pub fn at_lobe(self, at_valve: Length) -> Length {
        Length::from_nm(scaled(at_valve.nm(), self.0, 1_000).unwrap_or(at_valve.nm()))
    }

    /// What a change at the lobe, such as of the clearance, comes to at the valve.
    #[must_use]
    pub fn at_valve(self, at_lobe: Length) -> Length {
        Length::from_nm(scaled(at_lobe.nm(), 1_000, self.0).unwrap_or(at_lobe.nm()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Arithmetic: a lever of 0.8.
    #[test]
    fn a_shim_moves_the_lobe_by_the_ratio() {
        let ratio = FollowerRatio::new(Decimal::new(8, 1)).unwrap_or(FollowerRatio::BUCKET);
        assert_eq!(ratio.at_lobe(Length::from_um(50)), Length::from_um(40));
        assert_eq!(ratio.at_valve(Length::from_um(-40)), Length::from_um(-50));
        let bucket = FollowerRatio::BUCKET;
        assert_eq!(bucket.at_valve(Length::from_um(25)), Length::from_um(25));
        for out in [
            Decimal::new(39, 2),
            Decimal::new(151, 2),
            Decimal::new(8_005, 4),
        ] {
            assert_eq!(FollowerRatio::new(out), None, "{out}");
        }
    }
}
