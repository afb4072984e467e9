//! What if: another target, series or box of spares, without touching the job.

use super::bench::Bench;
use super::profile::Profile;
use crate::event::Side;
use crate::measure::{Decimal, Length, LengthUnit};
use std::collections::BTreeMap;

/// What is different from the job.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct WhatIf {
    /// Target of the inlet side.
    pub inlet_target: Option<Length>,
    /// Target of the exhaust side.
    pub exhaust_target: Option<Length>,
    /// Sizes on sale.
    pub series: Option<Vec<Length>>,
    /// Shims in the box, one entry a shim.
    pub spares: Option<Vec<Length>>,
}

/// Why a what-if cannot be answered.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum WhatIfError {
    /// Not a known key.
    #[error(
        "\"{0}\" cannot be asked: expected inlet_target, exhaust_target, series or spares, such as inlet_target=0.15"
    )]
    Key(String),
    /// Not a length above zero.
    #[error("\"{0}\" is no size: expected a number above zero in the job's unit, such as 2.55")]
    Size(String),
    /// Not a range.
    #[error(
        "\"{0}\" is no series: expected FROM:TO:STEP, such as 2.00:3.50:0.025, or sizes with commas"
    )]
    Series(String),
    /// The target lies outside the set band.
    #[error(
        "a target of {target} lies outside the set band of the {side} side: expected {low} to {high}"
    )]
    Target {
        /// Which side.
        side: &'static str,
        /// As asked.
        target: String,
        /// Smallest.
        low: String,
        /// Largest.
        high: String,
    },
}

impl WhatIf {
    /// Reads one `key=value`: `inlet_target=0.15`, `exhaust_target=0.25`,
    /// `series=2.00:3.50:0.025`, `spares=2.50,2.55` or `spares=none`; lengths in `unit`.
    ///
    /// # Errors
    /// What is wrong with it and what was expected.
    pub fn set(&mut self, text: &str, unit: LengthUnit) -> Result<(), WhatIfError> {
        let Some((key, value)) = text.split_once('=') else {
            return Err(WhatIfError::Key(text.to_owned()));
        };
        match key.trim() {
            "inlet_target" => self.inlet_target = Some(size(value, unit)?),
            "exhaust_target" => self.exhaust_target = Some(size(value, unit)?),
            "series" => self.series = Some(series(value, unit)?),
            "spares" if value.trim() == "none" => self.spares = Some(Vec::new()),
            "spares" => self.spares = Some(sizes(value, unit)?),
            other => return Err(WhatIfError::Key(other.to_owned())),
        }
        Ok(())
    }

    /// The profile and the bench as they would be.
    ///
    /// # Errors
    /// A target outside the set band.
    pub fn apply(&self, profile: &Profile, bench: &Bench) -> Result<(Profile, Bench), WhatIfError> {
        let (mut profile, mut bench) = (profile.clone(), bench.clone());
        for (side, target) in [
            (Side::Inlet, self.inlet_target),
            (Side::Exhaust, self.exhaust_target),
        ] {
            let Some(target) = target else { continue };
            let spec = match side {
                Side::Inlet => &mut profile.inlet,
                Side::Exhaust => &mut profile.exhaust,
            };
            if !spec.set.holds(target) {
                return Err(WhatIfError::Target {
                    side: side.key(),
                    target: target.show(bench.unit),
                    low: spec.set.low.show(bench.unit),
                    high: spec.set.high.show(bench.unit),
                });
            }
            spec.target = target;
        }
        if let Some(series) = &self.series {
            profile.shims.series = series.clone();
        }
        if let Some(spares) = &self.spares {
            let mut loose = BTreeMap::new();
            for spare in spares {
                *loose.entry(*spare).or_insert(0) += 1;
            }
            bench.loose = loose;
        }
        Ok((profile, bench))
    }
}

fn size(text: &str, unit: LengthUnit) -> Result<Length, WhatIfError> {
    text.trim()
        .parse::<Decimal>()
        .ok()
        .and_then(|d| Length::from_decimal(d, unit))
        .filter(|l| *l > Length::ZERO)
        .ok_or_else(|| WhatIfError::Size(text.trim().to_owned()))
}

fn sizes(text: &str, unit: LengthUnit) -> Result<Vec<Length>, WhatIfError> {
    text.split(',').map(|t| size(t, unit)).collect()
}

fn series(text: &str, unit: LengthUnit) -> Result<Vec<Length>, WhatIfError> {
    let parts: Vec<&str> = text.split(':').collect();
    let mut series = match parts.as_slice() {
        [_] => sizes(text, unit)?,
        [from, to, step] => {
            let (from, to, step) = (
                size(from, unit)?.nm(),
                size(to, unit)?.nm(),
                size(step, unit)?.nm(),
            );
            if to < from || (to - from) % step != 0 || (to - from) / step > 2_000 {
                return Err(WhatIfError::Series(text.to_owned()));
            }
            (0..=(to - from) / step)
                .map(|k| Length::from_nm(from + k * step))
                .collect()
        }
        _ => return Err(WhatIfError::Series(text.to_owned())),
    };
    series.sort_unstable();
    series.dedup();
    Ok(series)
}
