//! What if: another target, series or box of spares, without touching the job.

use crate::engine::clearance::bench::Bench;
use crate::engine::profile::Profile;
use crate::event::Side;
use crate::measure::{Decimal, Length, LengthUnit};
use std::collections::BTreeMap;

/// What is different from the job.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub(crate) struct WhatIf {
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
pub(crate) enum WhatIfError {
    /// Not a known key.
    #[error(
        "\"{0}\" cannot be asked: expected inlet_target, exhaust_target, series or spares, such as inlet_target=0.15"
    )]
    Key(String),
    /// Not a length above zero.
    #[error(
        "\"{text}\" is not a {what}: expected a number above zero in {unit}, such as {example}"
    )]
    Size {
        /// As asked.
        text: String,
        /// Clearance or shim.
        what: &'static str,
        /// The unit that it is read in.
        unit: &'static str,
        /// What would have been read.
        example: &'static str,
    },
    /// Not a range.
    #[error(
        "\"{0}\" is not a series: expected FROM:TO:STEP, such as 2.00:3.50:0.025, or sizes with commas"
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
    /// `series=2.00:3.50:0.025`, `spares=2.50,2.55` or `spares=none`; targets in the job's unit,
    /// shims in millimetres, as they are marked.
    ///
    /// # Errors
    /// What is wrong with it and what was expected.
    pub(crate) fn set(&mut self, text: &str, unit: LengthUnit) -> Result<(), WhatIfError> {
        let Some((key, value)) = text.split_once('=') else {
            return Err(WhatIfError::Key(text.to_owned()));
        };
        match key.trim() {
            "inlet_target" => self.inlet_target = Some(target(value, unit)?),
            "exhaust_target" => self.exhaust_target = Some(target(value, unit)?),
            "series" => self.series = Some(series(value)?),
            "spares" if value.trim() == "none" => self.spares = Some(Vec::new()),
            "spares" => self.spares = Some(sizes(value)?),
            other => return Err(WhatIfError::Key(other.to_owned())),
        }
        Ok(())
    }

    /// The profile and the bench as they would be.
    ///
    /// # Errors
    /// A target outside the set band.
    pub(crate) fn apply(
        &self,
        profile: &Profile,
        bench: &Bench,
    ) -> Result<(Profile, Bench), WhatIfError> {
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

fn positive(text: &str, unit: LengthUnit) -> Option<Length> {
    let value = text.trim().parse::<Decimal>().ok()?;
    Length::from_decimal(value, unit).filter(|l| *l > Length::ZERO)
}

fn target(text: &str, unit: LengthUnit) -> Result<Length, WhatIfError> {
    positive(text, unit).ok_or_else(|| WhatIfError::Size {
        text: text.trim().to_owned(),
        what: "clearance",
        unit: unit.sign(),
        example: if unit == LengthUnit::Thou {
            "6"
        } else {
            "0.15"
        },
    })
}

fn size(text: &str) -> Result<Length, WhatIfError> {
    let mm = LengthUnit::Millimetre;
    positive(text, mm).ok_or_else(|| WhatIfError::Size {
        text: text.trim().to_owned(),
        what: "shim",
        unit: mm.sign(),
        example: "2.55",
    })
}

fn sizes(text: &str) -> Result<Vec<Length>, WhatIfError> {
    text.split(',').map(size).collect()
}

fn series(text: &str) -> Result<Vec<Length>, WhatIfError> {
    let parts: Vec<&str> = text.split(':').collect();
    let mut series = match parts.as_slice() {
        [_] => sizes(text)?,
        [from, to, step] => {
            let (from, to, step) = (size(from)?.nm(), size(to)?.nm(), size(step)?.nm());
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
