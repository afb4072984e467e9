//! The tightening of a group of bolts: its stages, what a call means in them, and what is due.

use crate::engine::inspection::torque::{Stage, next_bolt};
use crate::engine::profile::Torque;
use crate::event::{Part, Reading};
use crate::measure::Quantity;

/// A called torque may differ from the manual's by this many thousandths: a click wrench is good to
/// 4 % (ISO 6789, from memory), and "twenty" is said for 20.3.
const WRENCH_MILLI: i64 = 40;

/// Whether a called torque is the wanted one, as near as a wrench can be set.
#[must_use]
pub(crate) fn is_near(called_mnm: i64, wanted_mnm: i64) -> bool {
    (called_mnm - wanted_mnm)
        .saturating_abs()
        .saturating_mul(1_000)
        <= wanted_mnm * WRENCH_MILLI
}

/// A called angle may differ from the manual's by so much: an angle gauge is read to five degrees
/// (common practice, no source).
const GAUGE_MDEG: i64 = 5_000;

/// Whether a called angle is the wanted one, as near as a gauge is read.
#[must_use]
pub(crate) fn is_near_angle(called_mdeg: i64, wanted_mdeg: i64) -> bool {
    (called_mdeg - wanted_mdeg).abs() <= GAUGE_MDEG
}

impl Torque {
    /// The stages in order: those by torque, then the one by angle.
    #[must_use]
    pub(crate) fn stages(&self) -> Vec<Stage> {
        let torques = self.torques.iter().filter_map(|d| d.milli());
        let torques = torques.map(|milli| self.unit.in_base(milli));
        let angle = self.angle_deg.map(|deg| i64::from(deg) * 1_000);
        torques
            .map(Stage::TorqueMnm)
            .chain(angle.map(Stage::AngleMdeg))
            .collect()
    }

    /// The torque that was meant by one that was called: of its stage, or without a stage the one
    /// that it is near to, else the last. `None` if the stage has no torque.
    #[must_use]
    pub(crate) fn wanted_mnm(&self, stage: Option<u8>, called_mnm: i64) -> Option<i64> {
        let stages = self.stages();
        let torques = || {
            stages.iter().filter_map(|s| match s {
                Stage::TorqueMnm(torque) => Some(*torque),
                Stage::AngleMdeg(_) => None,
            })
        };
        match stage {
            Some(stage) => match stages.get(usize::from(stage).checked_sub(1)?)? {
                Stage::TorqueMnm(torque) => Some(*torque),
                Stage::AngleMdeg(_) => None,
            },
            None => torques()
                .find(|t| is_near(called_mnm, *t))
                .or_else(|| torques().next_back()),
        }
    }

    /// The bolt and the stage, from 0, that a reading calls done; `None` for the number means all of
    /// them. A torque without a stage is the last one by torque, since the angle is said.
    #[must_use]
    pub(crate) fn step(&self, reading: &Reading) -> Option<(Option<u8>, usize)> {
        let Some(Part::Bolt {
            kind,
            number,
            stage,
            ..
        }) = reading.part
        else {
            return None;
        };
        if Some(kind) != self.bolts {
            return None;
        }
        let stage = match (reading.quantity, stage) {
            (Quantity::AngleStage, _) => self.angle_deg.map(|_| self.stages().len())?,
            (_, Some(stage)) => usize::from(stage),
            (_, None) => self.torques.len(),
        };
        Some((number, stage.checked_sub(1)?))
    }

    /// The bolt and the stage, from 0, that are due after these; `None` if all are done, or if the
    /// profile gives no order.
    #[must_use]
    pub(crate) fn due(&self, done: &[(u8, usize)]) -> Option<(u8, usize)> {
        next_bolt(&self.order, self.stages().len(), done)
    }
}
