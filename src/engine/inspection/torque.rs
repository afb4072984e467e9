//! Torque: adaptors, stages, angle stages and preload.

use crate::engine::sums::geometry;
use crate::measure::Length;
use crate::measure::{ratio, scaled};
use serde::Serialize;

/// Why a torque sum has no answer.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum TorqueError {
    /// A wrench without length, or a torque below nothing.
    #[error("{what} must be above zero")]
    NotPositive {
        /// Which figure.
        what: &'static str,
    },
    /// The adaptor folds back past the hand.
    #[error("the adaptor folds back as far as the grip: no setting gives this torque")]
    FoldedBack,
    /// Stages that fall, or an angle without a torque before it.
    #[error("stage {stage}: {why}")]
    Stage {
        /// From 1.
        stage: usize,
        /// What was expected.
        why: &'static str,
    },
    /// A figure too large to work with.
    #[error("{what} is too large to work with")]
    TooLarge {
        /// Which figure.
        what: &'static str,
    },
}

/// A torque wrench with an adaptor on its square drive.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Adaptor {
    /// From the square drive to the mark where the hand holds.
    pub wrench_nm: Length,
    /// From the square drive to the bolt.
    pub extension_nm: Length,
    /// Between wrench and adaptor: 0 straight on, 90 000 square to it, 180 000 folded back.
    pub angle_mdeg: i64,
}

impl Adaptor {
    /// `L` and `L + E cos β`. The wrench must be held at its grip mark only.
    fn arms(&self) -> Result<(i64, i64), TorqueError> {
        let what = "the length of the wrench";
        if self.wrench_nm <= Length::ZERO {
            return Err(TorqueError::NotPositive { what });
        }
        let reach = geometry::times_cos(self.extension_nm, self.angle_mdeg)
            .ok_or(TorqueError::TooLarge { what })?;
        let whole = self.wrench_nm + reach;
        if whole <= Length::ZERO {
            return Err(TorqueError::FoldedBack);
        }
        Ok((self.wrench_nm.nm(), whole.nm()))
    }

    /// What to set for `wanted` on the bolt: `T L / (L + E cos β)`. Same unit in and out.
    ///
    /// # Errors
    /// Lengths or torques that cannot be.
    pub fn setting(&self, wanted: i64) -> Result<i64, TorqueError> {
        let (wrench, whole) = self.arms()?;
        carried(wanted, wrench, whole)
    }

    /// What the bolt gets at `setting`: `S (L + E cos β) / L`. Same unit in and out.
    ///
    /// # Errors
    /// As [`Adaptor::setting`].
    pub fn applied(&self, setting: i64) -> Result<i64, TorqueError> {
        let (wrench, whole) = self.arms()?;
        carried(setting, whole, wrench)
    }
}

fn carried(torque: i64, by: i64, over: i64) -> Result<i64, TorqueError> {
    let what = "the torque";
    if torque <= 0 {
        return Err(TorqueError::NotPositive { what });
    }
    scaled(torque, by, over).ok_or(TorqueError::TooLarge { what })
}

/// One stage of a tightening sequence.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// To this torque.
    TorqueMnm(i64),
    /// On by this angle.
    AngleMdeg(i64),
}

/// Torque stages from shares of the last one in whole per cent, such as 50, 80, 100.
///
/// # Errors
/// Shares that fall, or that do not end at 100.
pub fn shares(last_mnm: i64, percent: &[u8]) -> Result<Vec<Stage>, TorqueError> {
    if percent.last() != Some(&100) {
        return Err(TorqueError::Stage {
            stage: percent.len(),
            why: "the last share must be 100 per cent",
        });
    }
    let stages: Result<Vec<Stage>, TorqueError> = percent
        .iter()
        .map(|&share| carried(last_mnm, i64::from(share), 100).map(Stage::TorqueMnm))
        .collect();
    let stages = stages?;
    check_stages(&stages)?;
    Ok(stages)
}

/// Whether a sequence can be done: torques do not fall, angles follow a torque.
///
/// # Errors
/// The first stage that cannot be.
pub fn check_stages(stages: &[Stage]) -> Result<(), TorqueError> {
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
            return Err(TorqueError::Stage { stage: at + 1, why });
        }
    }
    Ok(())
}

/// The next bolt and stage: every bolt of a stage in `order` before the next stage begins.
/// `done` holds `(bolt, stage from 0)` as called; `None` when all is done.
#[must_use]
pub fn next_bolt(order: &[u8], stages: usize, done: &[(u8, usize)]) -> Option<(u8, usize)> {
    (0..stages)
        .flat_map(|stage| order.iter().map(move |&bolt| (bolt, stage)))
        .find(|step| !done.contains(step))
}

/// Names the slip where a called torque is about 12 times too large or too small (lbf·in for
/// lbf·ft), or about 1.36 or 9.81 times (lbf·ft or kgf·m for N·m); `None` otherwise. Within 4 %.
#[must_use]
pub fn unit_slip(called_mnm: i64, wanted_mnm: i64) -> Option<&'static str> {
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

/// Torque in thousandths of a newton metre for a preload: `T = K D F`. `nut_factor_milli` is K in
/// thousandths, `load_mn` the preload in millinewtons.
///
/// K of about 0.20 dry and 0.15 oiled is from memory of the trade; preload scatters by a quarter
/// to a third with a torque wrench, so this is a size of thing, never a specification.
#[must_use]
pub fn torque_for_preload(nut_factor_milli: i64, bolt: Length, load_mn: i64) -> Option<i64> {
    let top = i128::from(nut_factor_milli)
        .checked_mul(i128::from(bolt.nm()))?
        .checked_mul(i128::from(load_mn))?;
    ratio(top, 1_000_000_000_000)
}

/// How far the nut advances over an angle: `P β / 360`.
#[must_use]
pub fn advance(pitch: Length, angle_mdeg: i64) -> Option<Length> {
    scaled(pitch.nm(), angle_mdeg, 360_000).map(Length::from_nm)
}

/// Preload gained over an advance, in newtons: the advance times the stiffness of bolt and
/// clamped parts in series, both in newtons per millimetre. Pitch alone overstates it, because
/// the parts give as well.
#[must_use]
pub fn preload_gain_n(advance: Length, bolt_n_per_mm: i64, parts_n_per_mm: i64) -> Option<i64> {
    let top = i128::from(bolt_n_per_mm)
        .checked_mul(i128::from(parts_n_per_mm))?
        .checked_mul(i128::from(advance.nm()))?;
    let both = i128::from(bolt_n_per_mm) + i128::from(parts_n_per_mm);
    ratio(top, both.checked_mul(1_000_000)?)
}

#[cfg(test)]
#[path = "torque_tests.rs"]
mod tests;
