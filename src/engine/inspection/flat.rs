//! Flatness by straight edge and feeler blades.

use super::error::InspectError;
use super::finding::{Against, Finding, Verdict, judge_between};
use super::limit::Figure;
use crate::event::Gap;
use crate::measure::Length;

/// Judges the gap under a straight edge along several lines, each called as blades.
///
/// `blades` are the blades owned. Where only the blade that goes was called, the next larger one
/// owned bounds the gap; where none went, the smallest owned does. The widest gap lies between
/// the largest blade that goes anywhere and the largest upper bound of all lines.
///
/// # Errors
/// No lines, blades that cross, or a limit that cannot be.
pub(crate) fn flatness(
    lines: &[(&str, Gap)],
    blades: &[Length],
    against: Against,
) -> Result<Finding, InspectError> {
    let mut worst: Option<(u8, Length, Finding)> = None;
    for &(line, gap) in lines {
        let (low, high) = bounds(gap, blades);
        if low < Length::ZERO || high.is_some_and(|h| h <= low) {
            return Err(InspectError::Impossible {
                what: format!("flatness {line}"),
                value: low.show(against.unit),
                expected: "expected zero or more, and the blade that stops larger than the one that goes",
            });
        }
        let what = format!("flatness, worst {line},");
        let high = high.map(Figure::length);
        let found = judge_between(&what, Figure::length(low), high, against)?;
        let rank = match found.verdict {
            Verdict::OutOfLimit => 2,
            Verdict::Doubtful => 1,
            Verdict::Good | Verdict::Worn | Verdict::NoLimit => 0,
        };
        let worse = |(r, l, _): &(u8, Length, Finding)| (rank, low) > (*r, *l);
        if worst.as_ref().is_none_or(worse) {
            worst = Some((rank, low, found));
        }
    }
    let worst = worst.map(|(.., found)| found);
    worst.ok_or_else(|| InspectError::NoReading {
        what: "flatness".to_owned(),
    })
}

/// From the blade that goes to the one that does not.
fn bounds(gap: Gap, blades: &[Length]) -> (Length, Option<Length>) {
    let next = |goes: Length| blades.iter().copied().filter(|b| *b > goes).min();
    match gap {
        Gap::Between { goes_nm, stops_nm } => (goes_nm, Some(stops_nm)),
        Gap::Single(goes) => (goes, next(goes)),
        Gap::AtLeast(goes) => (goes, None),
        Gap::Below(stops) => (Length::ZERO, Some(stops)),
        Gap::None => (Length::ZERO, next(Length::ZERO)),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::engine::inspection::Limit;
    use crate::measure::LengthUnit;

    const fn um(um: i64) -> Length {
        Length::from_um(um)
    }

    const fn between(goes: i64, stops: i64) -> Gap {
        Gap::Between {
            goes_nm: um(goes),
            stops_nm: um(stops),
        }
    }

    fn judged(lines: &[(&str, Gap)], limit_um: i64) -> Finding {
        let limit = Limit::at_most(Figure::length(um(limit_um)), "profile");
        let blades = [um(30), um(40), um(50), um(60)];
        let against = Against {
            limit: Some(&limit),
            unit: LengthUnit::Millimetre,
        };
        flatness(lines, &blades, against).unwrap()
    }

    /// 0.04 goes, 0.05 does not, against 0.003 in (TM 5-3810-306-34) and against 0.03 mm (a
    /// maker's workshop manual).
    #[test]
    fn one_gap_against_two_published_limits() {
        let lines = [("lengthways", Gap::None), ("diagonal", between(40, 50))];
        let loose = Limit::at_most(Figure::length(Length::from_nm(76_200)), "TM 5-3810-306-34");
        let against = Against {
            limit: Some(&loose),
            unit: LengthUnit::Millimetre,
        };
        let found = flatness(&lines, &[um(30)], against).unwrap();
        assert_eq!(found.verdict, Verdict::Good);
        assert_eq!(judged(&lines, 30).verdict, Verdict::OutOfLimit);
        assert!(judged(&lines, 30).reason.contains("diagonal"));
        assert_eq!(judged(&lines, 45).verdict, Verdict::Doubtful);
    }

    #[test]
    fn blades_owned_bound_a_single_value() {
        assert_eq!(
            judged(&[("across", Gap::Single(um(40)))], 50).verdict,
            Verdict::Good
        );
        assert_eq!(judged(&[("across", Gap::None)], 30).verdict, Verdict::Good);
        assert_eq!(
            judged(&[("across", Gap::AtLeast(um(40)))], 50).verdict,
            Verdict::Doubtful
        );
        let open = [("a", between(40, 50)), ("b", Gap::AtLeast(um(30)))];
        assert_eq!(judged(&open, 50).verdict, Verdict::Doubtful);
    }

    /// The figures are those of one line: 0.03 to 0.04 along and less than 0.05 across are not
    /// 0.03 to 0.05 anywhere.
    #[test]
    fn lines_are_not_mixed() {
        let lines = [("along", between(30, 40)), ("across", Gap::Below(um(50)))];
        let reason = judged(&lines, 60).reason;
        assert!(
            reason.contains("worst along, 0.03 mm to 0.04 mm"),
            "{reason}"
        );
        let reason = judged(&lines, 45).reason;
        assert!(
            reason.contains("worst across, 0.00 mm to 0.05 mm"),
            "{reason}"
        );
    }

    #[test]
    fn crossed_blades_and_no_lines() {
        let against = Against {
            limit: None,
            unit: LengthUnit::Millimetre,
        };
        assert!(flatness(&[("x", between(50, 40))], &[], against).is_err());
        assert!(flatness(&[], &[], against).is_err());
    }
}
