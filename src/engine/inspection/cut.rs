//! What cutting, grinding or lapping does to the clearance, before it is done.
//!
//! Metal taken off seat or face lets the valve move towards the cam, so the clearance falls by as
//! much and a thinner shim is needed. The thinnest shim is the end of that road.

use super::error::InspectError;
use super::finding::{Finding, Verdict};
use super::limit::Figure;
use super::seat::angle_error;
use crate::engine::clearance::bench::Bench;
use crate::engine::clearance::shim::shown;
use crate::engine::profile::{FollowerRatio, Profile, SideSpec};
use crate::engine::sums::geometry;
use crate::event::Position;
use crate::measure::{Length, LengthUnit};
use serde::Serialize;

/// How much is taken off, seat and face together.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Removed {
    /// Square to the face, at this seat angle in milli-degrees.
    Square(Length, i64),
    /// Along the stem.
    Axial(Length),
}

impl Removed {
    /// How far the valve moves towards the cam: `t / cos θ`.
    ///
    /// # Errors
    /// A cut below zero or above a millimetre, or an angle that cannot be.
    pub(crate) fn drop_nm(self) -> Result<Length, InspectError> {
        let by = match self {
            Self::Square(by, _) | Self::Axial(by) => by,
        };
        if !(Length::ZERO..=MOST_REMOVED).contains(&by) {
            return Err(InspectError::Impossible {
                what: "the cut".to_owned(),
                value: by.to_string(),
                expected: "expected 0 to 1 mm, 0 to 39 thou",
            });
        }
        match self {
            Self::Axial(by) => Ok(by),
            Self::Square(by, angle) => {
                geometry::over_cos(by, angle).ok_or_else(|| angle_error(angle))
            }
        }
    }
}

/// More than this is not taken off a seat, its face and the valve's together. Common practice, no
/// source; published limits stand at 0.25 to 0.4 mm (TM 5-3805-255-14).
const MOST_REMOVED: Length = Length::from_um(1_000);

/// A valve before the cut, and the shims that there are.
#[derive(Clone, Copy, Debug)]
pub(crate) struct BeforeCut<'a> {
    /// The shim fitted.
    pub shim_nm: Length,
    /// The clearance measured with it.
    pub clearance_nm: Length,
    /// What a fitted shim must land in, and what it aims at.
    pub side: &'a SideSpec,
    /// The sizes on sale, thinnest first, and where that is said.
    pub series: (&'a [Length], &'a str),
    /// What a movement of the valve, or a shim, does to the clearance.
    pub ratio: FollowerRatio,
}

/// What is missing before a cut can be judged.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub(crate) enum NotReady {
    /// Clearance is set by screws.
    #[error("this engine has screws: the clearance is set again after the cut")]
    Screw,
    /// The shim was not read.
    #[error("its shim is not known yet")]
    Shim,
    /// Nothing was measured with it.
    #[error("its clearance is not known yet")]
    Clearance,
    /// The clearance has no lower end.
    #[error("no blade goes, so nothing says how far it may be cut")]
    NoGap,
}

impl<'a> BeforeCut<'a> {
    /// The valve at `position` as it lies on the bench, at the tightest that its reading allows: a
    /// cut that goes there goes anywhere in the interval.
    ///
    /// # Errors
    /// The engine has no shims, its shim or its clearance is not known, or no blade goes.
    pub(crate) fn of(
        profile: &'a Profile,
        bench: &Bench,
        position: Position,
    ) -> Result<Self, NotReady> {
        if !profile.shims.kind.has_shims() {
            return Err(NotReady::Screw);
        }
        let valve = bench.valves.get(&position);
        let shim_nm = valve.and_then(|v| v.size()).ok_or(NotReady::Shim)?;
        let interval = valve.and_then(|v| v.interval());
        let interval = interval.ok_or(NotReady::Clearance)?;
        Ok(Self {
            shim_nm,
            clearance_nm: interval.low.ok_or(NotReady::NoGap)?,
            side: profile.side(position.side),
            series: (&profile.shims.series, &profile.source),
            ratio: profile.shims.ratio,
        })
    }
}

/// What a cut would do.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct CutEffect {
    /// How far the valve moves towards the cam.
    pub drop_nm: Length,
    /// Clearance with the same shim; below zero the valve would be held open.
    pub clearance_after_nm: Length,
    /// The shim that would hit the target: `S + (c - drop × ratio - T) / ratio`.
    pub shim_needed_nm: Length,
    /// The size on sale that comes nearest to the target inside the set band, or nearest at all;
    /// `None` without a series.
    pub fit_nm: Option<Length>,
    /// The clearance that it would give.
    pub fit_gives_nm: Option<Length>,
    /// How far the valve may move at most, so that the thinnest shim still lands in the set band;
    /// `None` without a series. Below zero it is too far already.
    pub most_drop_nm: Option<Length>,
    /// The verdict, a warning to be heard before cutting.
    pub finding: Finding,
}

/// Works out a cut before it is made: whether a shim on sale still brings the valve into its set
/// band.
///
/// # Errors
/// A cut or an angle that cannot be.
pub(crate) fn after_cut(
    removed: Removed,
    before: BeforeCut,
    unit: LengthUnit,
) -> Result<CutEffect, InspectError> {
    let drop_nm = removed.drop_nm()?;
    let ratio = before.ratio;
    let clearance_after_nm = before.clearance_nm - ratio.at_lobe(drop_nm);
    let (series, source) = before.series;
    let set = before.side.set;
    let shim_needed_nm = before.shim_nm + ratio.at_valve(clearance_after_nm - before.side.target);
    let gives = |size: Length| clearance_after_nm + ratio.at_lobe(before.shim_nm - size);
    let rank = |size: &Length| {
        let off = (*size - shim_needed_nm).abs();
        (!set.holds(gives(*size)), off, *size)
    };
    let fit_nm = series.iter().copied().min_by_key(rank);
    let most_drop_nm = series
        .first()
        .map(|thinnest| before.shim_nm - *thinnest + ratio.at_valve(before.clearance_nm - set.low));
    let (low, high) = (set.low.show(unit), set.high.show(unit));
    let needed = shown(shim_needed_nm, unit);
    let (verdict, mut reason) = match (fit_nm, most_drop_nm) {
        (Some(size), _) if set.holds(gives(size)) => {
            let (size, gives) = (shown(size, unit), gives(size).show(unit));
            let reason = format!(
                "{needed} would hit the target: {size} gives {gives}, inside {low} to {high}"
            );
            (Verdict::Good, reason)
        }
        (Some(size), Some(most)) => {
            let (size, gives) = (shown(size, unit), gives(size).show(unit));
            let nearest = format!(
                "{needed} would hit the target; the nearest, {size}, gives {gives}, outside {low} to {high}"
            );
            if most < Length::ZERO {
                let words = "Stop: the valve stands too high already, no shim is thin enough even without cutting";
                (Verdict::OutOfLimit, format!("{nearest}. {words}"))
            } else if most < drop_nm {
                let words = format!(
                    "Stop before cutting: no shim is thin enough; the valve may move {} at most. Replace the seat, or grind the tip, but only if the manual allows it",
                    most.show(unit)
                );
                (Verdict::OutOfLimit, format!("{nearest}. {words}"))
            } else {
                (
                    Verdict::Doubtful,
                    format!("{nearest}: no size on sale fits"),
                )
            }
        }
        _ => (
            Verdict::NoLimit,
            format!("{needed} would hit the target; the job names no shims on sale"),
        ),
    };
    if clearance_after_nm < Length::ZERO {
        reason.push_str("; with the shim now fitted the valve would be held open");
    }
    Ok(CutEffect {
        drop_nm,
        clearance_after_nm,
        shim_needed_nm,
        fit_nm,
        fit_gives_nm: fit_nm.map(gives),
        most_drop_nm,
        finding: Finding {
            verdict,
            value: Figure::length(shim_needed_nm),
            reason,
            limit_source: (!series.is_empty()).then(|| source.to_owned()),
        },
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::engine::profile::Band;

    const fn um(um: i64) -> Length {
        Length::from_um(um)
    }

    /// Arithmetic: square 0.05 and 0.10 at 45°, 0.10 at 30°.
    #[test]
    fn drops() {
        for (by, angle, nm) in [
            (50, 45_000, 70_711),
            (100, 45_000, 141_421),
            (100, 30_000, 115_470),
        ] {
            let drop = Removed::Square(um(by), angle).drop_nm();
            assert_eq!(drop, Ok(Length::from_nm(nm)));
        }
        assert!(Removed::Square(um(1), 90_000).drop_nm().is_err());
        assert!(Removed::Axial(um(-1)).drop_nm().is_err());
    }

    /// Set band 0.13 to 0.22, target 0.17.
    fn effect(by: i64, thinnest: Option<i64>) -> CutEffect {
        let band = Band {
            low: um(130),
            high: um(220),
        };
        let side = SideSpec {
            valves: vec![],
            check: band,
            set: band,
            target: um(170),
            opens_deg: None,
            closes_deg: None,
        };
        let series: Vec<Length> = thinnest
            .into_iter()
            .flat_map(|t| (0..30).map(move |k| um(t + 50 * k)))
            .collect();
        let before = BeforeCut {
            shim_nm: um(2_100),
            clearance_nm: um(120),
            side: &side,
            series: (&series, "shim series of the profile"),
            ratio: FollowerRatio::BUCKET,
        };
        after_cut(Removed::Axial(um(by)), before, LengthUnit::Millimetre).unwrap()
    }

    /// S 2.10, c 0.12, cut 0.15 axial, T 0.17: 1.90, not in a series from 2.00 (arithmetic).
    #[test]
    fn stop_before_cutting_too_far() {
        let found = effect(150, Some(2_000));
        assert_eq!(found.shim_needed_nm, um(1_900));
        assert_eq!(found.clearance_after_nm, um(-30));
        assert_eq!(found.most_drop_nm, Some(um(90)));
        assert_eq!(found.fit_gives_nm, Some(um(70)));
        assert_eq!(found.finding.verdict, Verdict::OutOfLimit);
        let reason = &found.finding.reason;
        assert!(reason.contains("Stop before cutting"), "{reason}");
        assert!(reason.contains("0.09 mm at most"), "{reason}");
        assert!(reason.contains("held open"), "{reason}");
    }

    /// The band decides, not the target: 1.999 would hit 0.17, and 2.00 gives 0.169.
    #[test]
    fn the_last_cut_that_goes() {
        let near = effect(51, Some(2_000));
        assert_eq!(near.finding.verdict, Verdict::Good);
        assert_eq!(
            (near.fit_nm, near.fit_gives_nm),
            (Some(um(2_000)), Some(um(169)))
        );
        let reason = &near.finding.reason;
        assert!(
            reason.contains("2.00 mm gives 0.169 mm, inside 0.13 mm to 0.22 mm"),
            "{reason}"
        );
        assert_eq!(effect(90, Some(2_000)).finding.verdict, Verdict::Good);
        assert_eq!(effect(91, Some(2_000)).finding.verdict, Verdict::OutOfLimit);
        let hopeless = effect(0, Some(2_100));
        assert!(hopeless.finding.reason.contains("even without cutting"));
        let unknown = effect(150, None);
        assert_eq!(unknown.finding.verdict, Verdict::NoLimit);
        assert_eq!(unknown.most_drop_nm, None);
    }

    #[test]
    fn a_cut_that_nobody_makes_is_refused() {
        for by in [-1, 1_001, 5_000] {
            let error = Removed::Axial(um(by)).drop_nm().unwrap_err().to_string();
            assert!(error.contains("expected 0 to 1 mm"), "{error}");
        }
    }
}
