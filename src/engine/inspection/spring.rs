//! Valve springs: rate, load at a height, free length, squareness. Loads in millinewtons.

use super::error::InspectError;
use crate::engine::sums::geometry;
use crate::measure::Length;
use crate::measure::{ratio, scaled};

/// A load at a height.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct SpringPoint {
    /// Height of the spring.
    pub height_nm: Length,
    /// Load in millinewtons.
    pub load_mn: i64,
}

/// The straight line through two loads at two heights.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct SpringLine {
    /// The taller one, at installed height.
    pub closed: SpringPoint,
    /// The shorter one, with the valve open.
    pub open: SpringPoint,
}

impl SpringLine {
    /// Two points, in either order.
    ///
    /// # Errors
    /// Points that no spring goes through: heights or loads at or below zero, the same height
    /// twice, or more load at the greater height.
    pub(crate) fn new(one: SpringPoint, other: SpringPoint) -> Result<Self, InspectError> {
        let (closed, open) = if one.height_nm >= other.height_nm {
            (one, other)
        } else {
            (other, one)
        };
        let sound = open.height_nm > Length::ZERO
            && closed.load_mn > 0
            && closed.height_nm > open.height_nm
            && open.load_mn > closed.load_mn;
        if !sound {
            return Err(InspectError::Impossible {
                what: "the pair of spring loads".to_owned(),
                value: format!(
                    "{} N at {} and {} N at {}",
                    closed.load_mn / 1_000,
                    closed.height_nm,
                    open.load_mn / 1_000,
                    open.height_nm
                ),
                expected: "expected two heights above zero, with more load at the shorter",
            });
        }
        Ok(Self { closed, open })
    }

    fn travel(&self) -> (i128, i128) {
        let by = i128::from(self.closed.height_nm.nm()) - i128::from(self.open.height_nm.nm());
        let more = i128::from(self.open.load_mn) - i128::from(self.closed.load_mn);
        (by, more)
    }

    /// `k = (F₂ - F₁) / (h₁ - h₂)` in micronewtons per millimetre; `None` where it does not fit.
    #[must_use]
    pub(crate) fn rate_un_per_mm(&self) -> Option<i64> {
        let (by, more) = self.travel();
        ratio(more * 1_000_000_000, by)
    }

    /// Where the line meets no load: `h₁ + F₁ / k`.
    #[must_use]
    pub(crate) fn free_length_nm(&self) -> Option<Length> {
        let (by, more) = self.travel();
        let beyond = ratio(i128::from(self.closed.load_mn).checked_mul(by)?, more)?;
        Some(self.closed.height_nm + Length::from_nm(beyond))
    }

    /// Load at another height: `F₁ + k (h₁ - h)`; zero at and above the free length.
    #[must_use]
    pub(crate) fn load_mn_at(&self, height: Length) -> Option<i64> {
        let (by, more) = self.travel();
        let shorter = i128::from(self.closed.height_nm.nm()) - i128::from(height.nm());
        let extra = ratio(shorter.checked_mul(more)?, by)?;
        Some(self.closed.load_mn.checked_add(extra)?.max(0))
    }

    /// Says so where the line asks for a free length above twice the installed height: a misprint
    /// or a mis-hearing. The factor is from memory of the trade; published springs stand near 1.2.
    #[must_use]
    pub(crate) fn doubt(&self) -> Option<String> {
        let free = self.free_length_nm()?;
        let twice = self.closed.height_nm + self.closed.height_nm;
        (free > twice).then(|| {
            format!(
                "these loads would need a free length of {free}, above twice the installed {}: misprint or misheard?",
                self.closed.height_nm
            )
        })
    }
}

/// Rate in micronewtons per millimetre from the free length and one point.
///
/// # Errors
/// A free length not above the height, or a load at or below zero.
pub(crate) fn rate_from_free_length(free: Length, point: SpringPoint) -> Result<i64, InspectError> {
    let by = free - point.height_nm;
    let sound = by > Length::ZERO && point.load_mn > 0;
    scaled(point.load_mn, 1_000_000_000, by.nm())
        .filter(|_| sound)
        .ok_or_else(|| InspectError::Impossible {
            what: "the spring's deflection".to_owned(),
            value: by.to_string(),
            expected: "expected a free length above the height under load, and a load above zero",
        })
}

/// How far a spring of length `free` leans, in milli-degrees, from the gap at its top coil.
///
/// # Errors
/// A spring without length, or a negative gap.
pub(crate) fn out_of_square(gap: Length, free: Length) -> Result<i64, InspectError> {
    geometry::slope_mdeg(gap, free)
        .filter(|_| gap >= Length::ZERO)
        .ok_or_else(|| InspectError::Impossible {
            what: "the spring's lean".to_owned(),
            value: format!("{gap} over {free}"),
            expected: "expected a gap of zero or more and a length above zero",
        })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::measure::LengthUnit;

    /// One pound-force is 4.4482216152605 N (NIST SP 811, appendix B).
    fn lbf(pounds: i64) -> i64 {
        ratio(i128::from(pounds) * 44_482_216_152_605, 10_000_000_000).unwrap()
    }

    const fn point(height_nm: i64, load_mn: i64) -> SpringPoint {
        SpringPoint {
            height_nm: Length::from_nm(height_nm),
            load_mn,
        }
    }

    /// 48 lbf at 1.492 in, 137 lbf at 1.082 in (TM 10-4320-344-24 table 4-1, middle values):
    /// 217.073 lbf/in, 38.0 N/mm, free 1.71312 in where 1.702-1.722 is printed.
    #[test]
    fn published_spring() {
        let low = point(1_492 * 25_400, lbf(48));
        let line = SpringLine::new(point(1_082 * 25_400, lbf(137)), low).unwrap();
        let rate = line.rate_un_per_mm().unwrap();
        assert_eq!((rate + 50_000) / 100_000, 380);
        // 1 N/mm is 25.4 / 4.4482216152605 lbf/in.
        let micro = ratio(i128::from(rate) * 254_000_000_000_000, 44_482_216_152_605);
        assert!((micro.unwrap() - 217_073_171).abs() <= 1_000, "{micro:?}");
        let free = line.free_length_nm().unwrap();
        assert_eq!(free.rounded(LengthUnit::Inch, 4).to_string(), "1.7131");
        assert!(free > Length::from_thou(1_702) && free < Length::from_thou(1_722));
        assert_eq!(line.doubt(), None);
    }

    /// 180 N at 33.5 and 480 N at 25.0: 35.2941 N/mm, free 38.6 (arithmetic).
    #[test]
    fn worked_spring() {
        let line = SpringLine::new(point(33_500_000, 180_000), point(25_000_000, 480_000)).unwrap();
        assert_eq!(line.rate_un_per_mm(), Some(35_294_118));
        assert_eq!(line.free_length_nm(), Some(Length::from_um(38_600)));
        assert_eq!(line.load_mn_at(Length::from_um(25_000)), Some(480_000));
        assert_eq!(line.load_mn_at(Length::from_um(38_600)), Some(0));
        assert_eq!(line.load_mn_at(Length::from_um(50_000)), Some(0));
    }

    /// 107, 115 and 125 N at 31.50, free 36.83 (a maker's workshop manual): 20.1, 21.6, 23.5.
    #[test]
    fn rate_from_one_load() {
        for (newton, tenths) in [(107, 201), (115, 216), (125, 235)] {
            let at = point(31_500_000, newton * 1_000);
            let rate = rate_from_free_length(Length::from_um(36_830), at).unwrap();
            assert_eq!((rate + 50_000) / 100_000, tenths);
            assert!(rate_from_free_length(Length::from_um(31_500), at).is_err());
        }
    }

    /// TM 9-4940-549-14&P prints 72-82 lbf at 1.492 in and 80-86 at 1.082: 14.6 lbf/in and a free
    /// length of 6.75 in, so a misprint.
    #[test]
    fn a_misprint_is_doubted() {
        let line = SpringLine::new(
            point(1_492 * 25_400, lbf(77)),
            point(1_082 * 25_400, lbf(83)),
        )
        .unwrap();
        let free = line.free_length_nm().unwrap();
        assert_eq!(free.rounded(LengthUnit::Inch, 2).to_string(), "6.75");
        assert!(line.doubt().unwrap().contains("misprint"));
    }

    /// 1.6 mm and 2.0° are limits of makers' workshop manuals; 1.6 over 45.8 mm is 2.0°.
    #[test]
    fn squareness() {
        let lean = |gap, free| out_of_square(Length::from_um(gap), Length::from_um(free));
        assert_eq!(lean(1_600, 45_818), Ok(2_000));
        assert_eq!(lean(0, 45_000), Ok(0));
        assert!(lean(-1, 45_000).is_err());
        assert!(lean(1, 0).is_err());
    }

    #[test]
    fn pairs_that_are_no_spring() {
        let wrong = |a, b| SpringLine::new(a, b).is_err();
        let sound = point(33_500_000, 180_000);
        assert!(wrong(sound, sound));
        assert!(wrong(sound, point(25_000_000, 170_000)));
        assert!(wrong(sound, point(0, 480_000)));
        assert!(wrong(point(33_500_000, 0), point(25_000_000, 480_000)));
    }
}
