//! Flatness by straight edge and feeler blades.

use super::error::InspectError;
use super::finding::{Against, Finding, judge_between};
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
pub fn flatness(
    lines: &[(&str, Gap)],
    blades: &[Length],
    against: Against,
) -> Result<Finding, InspectError> {
    let mut worst: Option<(&str, Length, Option<Length>)> = None;
    for &(line, gap) in lines {
        let (low, high) = bounds(gap, blades);
        if low < Length::ZERO || high.is_some_and(|h| h <= low) {
            return Err(InspectError::Impossible {
                what: format!("flatness {line}"),
                value: low.show(against.unit),
                expected: "expected zero or more, and the blade that stops larger than the one that goes",
            });
        }
        worst = Some(match worst {
            None => (line, low, high),
            Some((name, least, most)) => {
                let most = most.zip(high).map(|(a, b)| a.max(b));
                if low > least {
                    (line, low, most)
                } else {
                    (name, least, most)
                }
            }
        });
    }
    let (line, low, high) = worst.ok_or_else(|| InspectError::NoReading {
        what: "flatness".to_owned(),
    })?;
    let what = format!("flatness, worst {line},");
    judge_between(
        &what,
        Figure::length(low),
        high.map(Figure::length),
        against,
    )
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
    use crate::engine::inspect::{Limit, Verdict};
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
