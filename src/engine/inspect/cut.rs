//! What cutting, grinding or lapping does to the clearance, before it is done.
//!
//! Metal taken off seat or face lets the valve move towards the cam, so the clearance falls by as
//! much and a thinner shim is needed. The thinnest shim is the end of that road.

use super::error::InspectError;
use super::finding::{Against, Finding, Verdict, judge};
use super::limit::{Figure, Limit};
use super::seat::angle_error;
use crate::engine::geometry;
use crate::measure::{Length, LengthUnit};
use serde::Serialize;

/// How much is taken off, seat and face together.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Removed {
    /// Square to the face, at this seat angle in milli-degrees.
    Square(Length, i64),
    /// Along the stem.
    Axial(Length),
}

impl Removed {
    /// How far the valve moves towards the cam: `t / cos θ`.
    ///
    /// # Errors
    /// A negative cut, or an angle that cannot be.
    pub fn drop_nm(self) -> Result<Length, InspectError> {
        let by = match self {
            Self::Square(by, _) | Self::Axial(by) => by,
        };
        if by < Length::ZERO {
            return Err(InspectError::Impossible {
                what: "the cut".to_owned(),
                value: by.to_string(),
                expected: "expected zero or more",
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

/// The valve as it stands, and the shims that there are.
#[derive(Clone, Copy, Debug)]
pub struct Room<'a> {
    /// The shim fitted.
    pub shim_nm: Length,
    /// The clearance measured with it.
    pub clearance_nm: Length,
    /// The clearance wanted.
    pub target_nm: Length,
    /// The thinnest shim, and where that is said; `None` where the job has no series.
    pub thinnest: Option<(Length, &'a str)>,
}

/// What a cut would do.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct CutEffect {
    /// How far the valve moves towards the cam.
    pub drop_nm: Length,
    /// Clearance with the same shim; below zero the valve would be held open.
    pub clearance_after_nm: Length,
    /// The shim that would be needed: `S + c - drop - T`.
    pub shim_needed_nm: Length,
    /// How far the valve may move at most; `None` without a series. Below zero it is too far
    /// already.
    pub most_drop_nm: Option<Length>,
    /// The verdict, a warning to be heard before cutting.
    pub finding: Finding,
}

/// Works out a cut before it is made, against the thinnest shim.
///
/// # Errors
/// A cut or an angle that cannot be.
pub fn after_cut(
    removed: Removed,
    room: Room,
    unit: LengthUnit,
) -> Result<CutEffect, InspectError> {
    let drop_nm = removed.drop_nm()?;
    let clearance_after_nm = room.clearance_nm - drop_nm;
    let before = room.shim_nm + room.clearance_nm - room.target_nm;
    let needed = before - drop_nm;
    let limit = room
        .thinnest
        .map(|(thinnest, source)| Limit::at_least(Figure::length(thinnest), source));
    let against = Against {
        limit: limit.as_ref(),
        unit,
    };
    let mut finding = judge("shim needed after cutting", Figure::length(needed), against)?;
    let most_drop_nm = room.thinnest.map(|(thinnest, _)| before - thinnest);
    match (finding.verdict, most_drop_nm) {
        (Verdict::OutOfLimit, Some(most)) if most < Length::ZERO => finding.reason.push_str(
            ". Stop: the valve stands too high already, no shim is thin enough even without cutting",
        ),
        (Verdict::OutOfLimit, Some(most)) => finding.reason.push_str(&format!(
            ". Stop before cutting: no shim is thin enough; the valve may move {} at most. Replace the seat, or grind the tip only where the manual allows it",
            most.show(unit)
        )),
        _ => {}
    }
    if clearance_after_nm < Length::ZERO {
        finding
            .reason
            .push_str("; with the shim now fitted the valve would be held open");
    }
    Ok(CutEffect {
        drop_nm,
        clearance_after_nm,
        shim_needed_nm: needed,
        most_drop_nm,
        finding,
    })
}

/// Clearance after the tip was ground by `removed`: it grows by as much.
#[must_use]
pub fn tip_ground(clearance: Length, removed: Length) -> Length {
    clearance + removed
}

/// How far a valve sank, by its depth before and after: `D_after - D_before`, the direct measure
/// of what cutting did. Its clearance falls by the same.
///
/// # Errors
/// A limit that cannot be, or a valve that came out of its seat.
pub fn depth_change(
    before: Length,
    after: Length,
    against: Against,
) -> Result<Finding, InspectError> {
    let change = after - before;
    if change < Length::ZERO {
        return Err(InspectError::Impossible {
            what: "valve depth gained".to_owned(),
            value: change.show(against.unit),
            expected: "expected zero or more; before and after swapped?",
        });
    }
    judge("valve depth gained", Figure::length(change), against)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

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

    fn effect(axial: i64, thinnest: Option<i64>) -> CutEffect {
        let room = Room {
            shim_nm: um(2_100),
            clearance_nm: um(120),
            target_nm: um(170),
            thinnest: thinnest.map(|t| (um(t), "shim series of the profile")),
        };
        after_cut(Removed::Axial(um(axial)), room, LengthUnit::Millimetre).unwrap()
    }

    /// S 2.10, c 0.12, cut 0.15 axial, T 0.17: 1.90, not in a series from 2.00 (arithmetic).
    #[test]
    fn stop_before_cutting_too_far() {
        let found = effect(150, Some(2_000));
        assert_eq!(found.shim_needed_nm, um(1_900));
        assert_eq!(found.clearance_after_nm, um(-30));
        assert_eq!(found.most_drop_nm, Some(um(50)));
        assert_eq!(found.finding.verdict, Verdict::OutOfLimit);
        let reason = &found.finding.reason;
        assert!(reason.contains("Stop before cutting"), "{reason}");
        assert!(reason.contains("0.05 mm at most"), "{reason}");
        assert!(reason.contains("held open"), "{reason}");
    }

    #[test]
    fn the_last_cut_that_goes() {
        assert_eq!(effect(50, Some(2_000)).finding.verdict, Verdict::Good);
        assert_eq!(effect(51, Some(2_000)).finding.verdict, Verdict::OutOfLimit);
        let hopeless = effect(0, Some(2_060));
        assert!(hopeless.finding.reason.contains("even without cutting"));
        let unknown = effect(150, None);
        assert_eq!(unknown.finding.verdict, Verdict::NoLimit);
        assert_eq!(unknown.most_drop_nm, None);
    }

    /// 0.010 in is the most of one manual (TM 10-3930-664-24).
    #[test]
    fn depth_and_tip() {
        let limit = Limit::at_most(Figure::length(Length::from_thou(10)), "TM 10-3930-664-24");
        let against = Against {
            limit: Some(&limit),
            unit: LengthUnit::Thou,
        };
        let verdict = |after| {
            depth_change(Length::from_thou(30), Length::from_thou(after), against)
                .unwrap()
                .verdict
        };
        assert_eq!(verdict(40), Verdict::Good);
        assert_eq!(verdict(41), Verdict::OutOfLimit);
        assert!(depth_change(um(2), um(1), against).is_err());
        assert_eq!(tip_ground(um(120), um(50)), um(170));
    }
}
