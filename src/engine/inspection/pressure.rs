//! Compression and leak-down: spread under a named rule, altitude, units.
//!
//! Pressures are gauge pressures in whole pascals. Cold readings are not corrected: there is no
//! trustworthy published factor, so compare cylinders with each other on the same day.

use crate::engine::sums::geometry;
use crate::event::Escape;
use crate::measure::{Decimal, Unit};
use crate::measure::{ratio, scaled};
use serde::Serialize;

/// `value` in whole pascals; `None` if it does not fit or is not a pressure.
#[must_use]
pub(crate) fn to_pa(value: Decimal, unit: Unit) -> Option<i64> {
    unit.convert(value, Unit::Bar, 5).map(Decimal::mantissa)
}

/// A pressure in `unit`, rounded to `places`.
#[must_use]
pub(crate) fn from_pa(pa: i64, unit: Unit, places: u8) -> Option<Decimal> {
    Unit::Bar.convert(Decimal::new(pa, 5), unit, places)
}

/// Which rule judges the spread. The verdict is always given with the rule's name, because one
/// set of readings can pass one and fail another.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Rule {
    /// Every cylinder at least this share of the highest, in thousandths of a per cent.
    /// 75 %: TM 5-4210-230-14&P-1.
    ShareOfHighest(i64),
    /// Every cylinder within this share of the mean, in thousandths of a per cent.
    /// 20 %: TM 1-1500-204-23-1.
    WithinOfMean(i64),
    /// All within this much of each other, in pascal. 10 psi: TM 10-3930-618-20;
    /// 25 psi on a large diesel: TM 5-3895-359-14&P.
    WithinOfEachOther(i64),
}

impl Rule {
    /// The rule in words.
    #[must_use]
    pub(crate) fn words(self) -> String {
        let percent = |milli| {
            let text = Decimal::new(milli, 3).to_string();
            format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
        };
        let pressure = |pa| {
            let (bar, psi) = (from_pa(pa, Unit::Bar, 2), from_pa(pa, Unit::Psi, 0));
            match (bar, psi) {
                (Some(bar), Some(psi)) => format!("{bar} bar ({psi} psi)"),
                _ => format!("{pa} Pa"),
            }
        };
        match self {
            Self::ShareOfHighest(milli) => format!("at least {} of the highest", percent(milli)),
            Self::WithinOfMean(milli) => format!("within {} of the mean", percent(milli)),
            Self::WithinOfEachOther(pa) => format!("within {} of each other", pressure(pa)),
        }
    }
}

/// Why readings of pressure give no answer.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub(crate) enum PressureError {
    /// Nothing to compare.
    #[error("{0} compression reading(s): a spread needs two or more")]
    TooFew(usize),
    /// A reading that cannot be.
    #[error("cylinder {cylinder}: {pa} Pa is not a compression, expected 0 to 10 MPa")]
    Reading {
        /// Which.
        cylinder: u8,
        /// As called.
        pa: i64,
    },
    /// All are zero.
    #[error("no cylinder shows any pressure: throttle open, gauge tight, valve of the gauge good?")]
    AllZero,
    /// Two readings of one cylinder.
    #[error("cylinder {0} stands twice among the readings")]
    Twice(u8),
    /// Leak-down figures that cannot be.
    #[error(
        "leak-down of {cylinder_pa} Pa behind {in_pa} Pa: expected 0 to the supply, and a supply above 0"
    )]
    LeakDown {
        /// Supply.
        in_pa: i64,
        /// In the cylinder.
        cylinder_pa: i64,
    },
    /// A height outside the table.
    #[error("{0} m above the sea: the standard atmosphere is used from -500 to 11000 m")]
    Height(i64),
}

/// The figures of a set of readings; the verdict needs a rule.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct Spread {
    /// Cylinder and pressure in pascal, as called.
    pub readings: Vec<(u8, i64)>,
    /// Highest less lowest, in pascal.
    pub spread_pa: i64,
    /// Mean in pascal.
    pub mean_pa: i64,
    /// Lowest over highest, in millionths.
    pub ratio_ppm: i64,
    /// Each cylinder against the mean, in millionths, negative below it.
    pub from_mean_ppm: Vec<(u8, i64)>,
}

/// A verdict under one rule.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct SpreadVerdict {
    /// The rule.
    pub rule: Rule,
    /// Cylinders that fail it; none: it passes.
    pub failing: Vec<u8>,
    /// In words, with the rule's name and its source.
    pub reason: String,
}

/// A pascal reading is rounded by up to half a pascal on both sides of a comparison.
const ROUNDING_PA: i64 = 2;

/// The figures of the readings `(cylinder, pascal)`.
///
/// # Errors
/// Fewer than two readings, a cylinder twice, or a reading that cannot be.
pub(crate) fn spread(readings: &[(u8, i64)]) -> Result<Spread, PressureError> {
    if readings.len() < 2 {
        return Err(PressureError::TooFew(readings.len()));
    }
    for (at, &(cylinder, pa)) in readings.iter().enumerate() {
        if !(0..=10_000_000).contains(&pa) {
            return Err(PressureError::Reading { cylinder, pa });
        }
        if readings[..at].iter().any(|r| r.0 == cylinder) {
            return Err(PressureError::Twice(cylinder));
        }
    }
    let pressures = || readings.iter().map(|r| r.1);
    let (high, low) = (
        pressures().max().unwrap_or(0),
        pressures().min().unwrap_or(0),
    );
    let sum: i128 = pressures().map(i128::from).sum();
    let count = readings.len() as i128;
    let mean = ratio(sum, count).filter(|&m| m > 0);
    let (Some(mean_pa), Some(ratio_ppm)) = (mean, scaled(low, 1_000_000, high)) else {
        return Err(PressureError::AllZero);
    };
    let from_mean = |pa: i64| ratio((i128::from(pa) * count - sum) * 1_000_000, sum);
    Ok(Spread {
        readings: readings.to_vec(),
        spread_pa: high - low,
        mean_pa,
        ratio_ppm,
        from_mean_ppm: readings
            .iter()
            .map(|&(cylinder, pa)| (cylinder, from_mean(pa).unwrap_or(0)))
            .collect(),
    })
}

impl Spread {
    /// The verdict under `rule`; `source` says where the rule comes from.
    #[must_use]
    pub(crate) fn under(&self, rule: Rule, source: &str) -> SpreadVerdict {
        let high = self.readings.iter().map(|r| r.1).max().unwrap_or(0);
        let fails = |pa: i64| match rule {
            Rule::ShareOfHighest(milli) => {
                let least = scaled(high, milli, 100_000).unwrap_or(i64::MAX);
                pa + ROUNDING_PA < least
            }
            Rule::WithinOfMean(milli) => {
                let most = scaled(self.mean_pa, milli, 100_000).unwrap_or(0);
                (pa - self.mean_pa).abs() > most.saturating_add(ROUNDING_PA)
            }
            Rule::WithinOfEachOther(most) => high - pa > most.saturating_add(ROUNDING_PA),
        };
        let failing: Vec<u8> = self
            .readings
            .iter()
            .filter(|r| fails(r.1))
            .map(|r| r.0)
            .collect();
        let names: Vec<String> = failing.iter().map(u8::to_string).collect();
        let verdict = match failing.len() {
            0 => "passes".to_owned(),
            1 => format!("cylinder {} fails", names[0]),
            _ => format!("cylinders {} fail", names.join(", ")),
        };
        let reason = format!("{verdict} the rule \"{}\" ({source})", rule.words());
        SpreadVerdict {
            rule,
            failing,
            reason,
        }
    }
}

/// A gauge pressure carried from one air pressure to another: it goes with the ambient pressure,
/// `P_g = p_a (r^n - 1)`. Any two figures in the same ratio serve, such as densities.
#[must_use]
pub(crate) fn at_ambient(gauge_pa: i64, from: i64, to: i64) -> Option<i64> {
    if from <= 0 || to <= 0 {
        return None;
    }
    scaled(gauge_pa, to, from)
}

/// A gauge pressure carried from one height above the sea to another, in the standard
/// atmosphere. The day's weather moves the air by a few per cent more.
///
/// # Errors
/// A height outside -500 to 11 000 m.
pub(crate) fn at_height(gauge_pa: i64, from_m: i64, to_m: i64) -> Result<i64, PressureError> {
    let air = |m| geometry::standard_pressure_pa(m).ok_or(PressureError::Height(m));
    at_ambient(gauge_pa, air(from_m)?, air(to_m)?).ok_or(PressureError::Height(to_m))
}

/// Loss in thousandths of a per cent: `100 (P_in - P_cyl) / P_in`. It depends on the tester's
/// orifice, so readings of different testers do not compare. Both pressures in one unit.
///
/// # Errors
/// [`PressureError::LeakDown`].
pub(crate) fn leak_down_milli_percent(in_pa: i64, cylinder_pa: i64) -> Result<i64, PressureError> {
    let error = PressureError::LeakDown { in_pa, cylinder_pa };
    if in_pa <= 0 || !(0..=in_pa).contains(&cylinder_pa) {
        return Err(error);
    }
    scaled(in_pa - cylinder_pa, 100_000, in_pa).ok_or(error)
}

/// What leaks where escaping air is heard (FAA AC 43.13-1B para 8-14).
#[must_use]
pub(crate) const fn leaks(heard: Escape) -> &'static str {
    match heard {
        Escape::InletTract => "inlet valve",
        Escape::Exhaust => "exhaust valve",
        Escape::OilFiller => "piston rings",
        Escape::CoolantBubbles => "head gasket",
    }
}

#[cfg(test)]
#[path = "pressure_tests.rs"]
mod tests;
