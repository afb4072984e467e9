//! Seat width from rings.
//!
//! Angles in milli-degrees from the plane square to the stem: a 45° seat is 45 000.

use super::error::InspectError;
use super::finding::{Against, Finding, judge};
use super::limit::Figure;
use crate::engine::sums::geometry;
use crate::measure::Length;

pub(super) fn angle_error(angle_mdeg: i64) -> InspectError {
    InspectError::Impossible {
        what: "the seat angle".to_owned(),
        value: format!("{angle_mdeg} milli-degrees"),
        expected: "expected 0 to below 90 degrees from the plane square to the stem",
    }
}

/// Face width from the outer and inner diameter of the contact ring:
/// `(D_o - D_i) / (2 cos θ)` (arithmetic).
///
/// # Errors
/// Rings the wrong way round, an angle that cannot be, or a limit that cannot be.
pub(crate) fn seat_width(
    outer: Length,
    inner: Length,
    angle_mdeg: i64,
    against: Against,
) -> Result<Finding, InspectError> {
    if inner <= Length::ZERO || outer <= inner {
        return Err(InspectError::Impossible {
            what: "seat width".to_owned(),
            value: (outer - inner).show(against.unit),
            expected: "expected the outer ring larger than the inner; the two swapped?",
        });
    }
    let slant = geometry::over_cos(outer - inner, angle_mdeg);
    let slant = slant.ok_or_else(|| angle_error(angle_mdeg))?;
    let width = Length::from_nm((slant.nm() + 1) / 2);
    judge("seat width", Figure::length(width), against)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::engine::inspection::{Limit, Verdict};
    use crate::measure::LengthUnit;

    const fn um(um: i64) -> Length {
        Length::from_um(um)
    }

    fn width(outer: i64, inner: i64, angle: i64, limit: Option<&Limit>) -> Finding {
        let against = Against {
            limit,
            unit: LengthUnit::Millimetre,
        };
        seat_width(um(outer), um(inner), angle, against).unwrap()
    }

    /// Arithmetic: 29.0/27.3 at 45° is 1.20208, 25.4/23.6 is 1.27279, 29.0/27.3 at 30° is 0.98150.
    #[test]
    fn widths() {
        for (outer, inner, angle, nm) in [
            (29_000, 27_300, 45_000, 1_202_082),
            (25_400, 23_600, 45_000, 1_272_792),
            (29_000, 27_300, 30_000, 981_495),
        ] {
            let found = width(outer, inner, angle, None).value.base();
            assert!((found - nm).abs() <= 1, "{found}");
        }
    }

    /// Limit at most 1.5 mm inlet (TM 10-3930-664-24, p. 4-12).
    #[test]
    fn judged() {
        let limit = Limit::at_most(Figure::length(um(1_500)), "TM 10-3930-664-24");
        let verdict = |outer| width(outer, 27_300, 45_000, Some(&limit)).verdict;
        assert_eq!(verdict(29_000), Verdict::Good);
        assert_eq!(verdict(29_500), Verdict::OutOfLimit);
    }

    #[test]
    fn nonsense_is_named() {
        let against = Against {
            limit: None,
            unit: LengthUnit::Millimetre,
        };
        let wrong = |o, i, angle| {
            seat_width(um(o), um(i), angle, against)
                .unwrap_err()
                .to_string()
        };
        assert!(wrong(27_300, 29_000, 45_000).contains("swapped"));
        assert!(wrong(29_000, 27_300, 90_000).contains("below 90"));
    }
}
