//! Torque: stages by torque and by angle, their order, and slips of unit.

use crate::measure::scaled;
use serde::Serialize;

/// A stage of a sequence that cannot be done.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[error("stage {stage}: {why}")]
pub(crate) struct StageError {
    /// From 1.
    stage: usize,
    /// What was expected.
    why: &'static str,
}

/// One stage of a tightening sequence.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Stage {
    /// To this torque.
    TorqueMnm(i64),
    /// On by this angle.
    AngleMdeg(i64),
}

/// Whether a sequence can be done: torques do not fall, angles follow a torque.
///
/// # Errors
/// The first stage that cannot be.
pub(crate) fn check_stages(stages: &[Stage]) -> Result<(), StageError> {
    let mut torque = 0;
    let mut turned = false;
    for (at, stage) in stages.iter().enumerate() {
        let fault = match *stage {
            Stage::TorqueMnm(t) if t <= 0 => Some("a torque must be above zero"),
            Stage::TorqueMnm(_) if turned => Some("no torque can follow an angle"),
            Stage::TorqueMnm(t) if t < torque => Some("the torque falls"),
            Stage::AngleMdeg(a) if a <= 0 => Some("an angle must be above zero"),
            Stage::AngleMdeg(_) if torque == 0 => Some("an angle needs a torque before it"),
            _ => None,
        };
        match *stage {
            _ if fault.is_some() => {}
            Stage::TorqueMnm(t) => torque = t,
            Stage::AngleMdeg(_) => turned = true,
        }
        if let Some(why) = fault {
            return Err(StageError { stage: at + 1, why });
        }
    }
    Ok(())
}

/// The next bolt and stage: every bolt of a stage in `order` before the next stage begins.
/// `done` holds `(bolt, stage from 0)` as called; `None` when all is done.
#[must_use]
pub(crate) fn next_bolt(order: &[u8], stages: usize, done: &[(u8, usize)]) -> Option<(u8, usize)> {
    (0..stages)
        .flat_map(|stage| order.iter().map(move |&bolt| (bolt, stage)))
        .find(|step| !done.contains(step))
}

/// Names the slip where a called torque is about 12 times too large or too small (lbf·in for
/// lbf·ft), or about 1.36 or 9.81 times (lbf·ft or kgf·m for N·m); `None` otherwise. Within 4 %.
#[must_use]
pub(crate) fn unit_slip(called_mnm: i64, wanted_mnm: i64) -> Option<&'static str> {
    let times = scaled(called_mnm, 1_000, wanted_mnm)?;
    let near = |thousandths: i64| {
        times.abs_diff(thousandths).saturating_mul(25) <= thousandths.unsigned_abs()
    };
    match () {
        () if near(12_000) || near(83) => {
            Some("12 times apart: pound inches and pound feet mixed?")
        }
        () if near(1_356) || near(738) => {
            Some("1.36 times apart: pound feet and newton metres mixed?")
        }
        () if near(9_807) || near(102) => {
            Some("9.8 times apart: kilogram metres and newton metres mixed?")
        }
        () => None,
    }
}

#[cfg(test)]
#[path = "torque_tests.rs"]
mod tests;
