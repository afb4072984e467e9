//! A round part in a round bore: stem in guide, journal in bearing, bucket in head.

use super::error::InspectError;
use super::finding::{Against, Finding, judge};
use super::limit::Figure;
use crate::measure::Length;
use serde::Serialize;

/// Clearance between a part and its bore from all readings of both.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct Fit {
    /// Widest bore less thinnest part.
    pub worst_nm: Length,
    /// Narrowest bore less thickest part.
    pub best_nm: Length,
    /// The verdict on the worst pair.
    pub finding: Finding,
}

/// Clearance of `parts` (stem, journal or bucket diameters, as called at several heights) in
/// `bores`: `bore - part`, the worst pair judged. A press fit is not a running fit: the worst pair
/// may not be below zero, the best pair may not either.
///
/// # Errors
/// No readings, a negative clearance, or a limit that cannot be.
pub(crate) fn fit(
    what: &str,
    parts: &[Length],
    bores: &[Length],
    against: Against,
) -> Result<Fit, InspectError> {
    let none = |part: &str| InspectError::NoReading {
        what: format!("{what}: {part}"),
    };
    let ends = |all: &[Length]| Some((*all.iter().min()?, *all.iter().max()?));
    let (thin, thick) = ends(parts).ok_or_else(|| none("the part"))?;
    let (narrow, wide) = ends(bores).ok_or_else(|| none("the bore"))?;
    let (worst, best) = (wide - thin, narrow - thick);
    if best < Length::ZERO || thin <= Length::ZERO {
        return Err(InspectError::Impossible {
            what: what.to_owned(),
            value: best.show(against.unit),
            expected: "expected zero or more; misheard, or part and bore swapped?",
        });
    }
    Ok(Fit {
        worst_nm: worst,
        best_nm: best,
        finding: judge(what, Figure::length(worst), against)?,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::engine::inspection::{Limit, Verdict};
    use crate::measure::LengthUnit::{Inch, Millimetre};

    fn against(limit: Option<&Limit>) -> Against<'_> {
        Against {
            limit,
            unit: Millimetre,
        }
    }

    fn lengths(unit_nm: i64, all: [i64; 2]) -> [Length; 2] {
        all.map(|v| Length::from_nm(v * unit_nm))
    }

    /// Bore, part, best and worst in the unit. 0.374-0.375 and 0.371-0.372 in: 0.002-0.004 in (TM
    /// 9-4310-397-14 p. 6-28); 24.012-24.025 and 23.959-23.980 mm: 0.032-0.066 (a maker's
    /// workshop manual, difference by arithmetic); 0.3140 less 0.309 in: 0.0050 in, the printed
    /// limit (TM 9-2320-364-34-4); 6.08 less 5.90 mm: 0.18 (TM 9-2815-257-24).
    #[test]
    fn published_pairs() {
        for (unit_nm, bore, part, best, worst) in [
            (25_400, [374, 375], [371, 372], 2, 4),
            (1_000, [24_012, 24_025], [23_959, 23_980], 32, 66),
            (2_540, [3_125, 3_140], [3_090, 3_100], 25, 50),
            (10_000, [608, 608], [590, 590], 18, 18),
        ] {
            let bores = lengths(unit_nm, bore);
            let found = fit("clearance", &lengths(unit_nm, part), &bores, against(None)).unwrap();
            assert_eq!(found.best_nm.nm(), best * unit_nm);
            assert_eq!(found.worst_nm.nm(), worst * unit_nm);
        }
    }

    /// The limit of 0.0050 in is printed with the pair (TM 9-2320-364-34-4, p. 20-136).
    #[test]
    fn judged_by_the_worst_pair() {
        let most = Figure::length(Length::from_nm(127_000));
        let limit = Limit::at_most(most, "TM 9-2320-364-34-4");
        let stems = lengths(2_540, [3_090, 3_100]);
        let judged = |bore| {
            let against = Against {
                limit: Some(&limit),
                unit: Inch,
            };
            fit(
                "stem to guide",
                &stems,
                &lengths(2_540, [3_125, bore]),
                against,
            )
            .unwrap()
            .finding
        };
        assert_eq!(judged(3_140).verdict, Verdict::Good);
        assert!(judged(3_140).reason.contains("exactly on"));
        assert_eq!(judged(3_141).verdict, Verdict::OutOfLimit);
    }

    #[test]
    fn swapped_values_are_an_error() {
        let (stem, bore) = ([Length::from_um(5_502)], [Length::from_um(5_465)]);
        let error = fit("stem to guide", &stem, &bore, against(None)).unwrap_err();
        assert!(error.to_string().contains("swapped"), "{error}");
        assert!(fit("x", &[], &bore, against(None)).is_err());
    }
}
