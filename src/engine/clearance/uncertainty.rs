//! Uncertainty of a clearance, after the GUM (JCGM 100:2008) and JCGM 106:2012. The only place
//! of the engine that uses floating point; whole numbers go in and come out.

use crate::engine::clearance::interval::Interval;
use crate::engine::profile::{Band, FollowerRatio};
use crate::measure::{Length, LengthUnit};
use serde::Serialize;

/// One contribution to the uncertainty of a clearance.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct Contribution {
    /// What it comes from.
    pub name: &'static str,
    /// Its standard uncertainty in nanometres.
    pub standard_nm: i64,
    /// Where the figure comes from.
    pub source: &'static str,
}

/// How a shim's thickness is known.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Known {
    /// By micrometer.
    Measured,
    /// Only by its mark.
    Marked,
}

/// Half-width of a blade's tolerance in micrometres. Assumption: the standard for blades was not
/// read.
const BLADE_UM: f64 = 5.0;
/// Repeatability of feel, one standard deviation, in micrometres. Assumption.
const FEEL_UM: f64 = 5.0;
/// Half-width of the head's temperature in kelvin, between "cold" and really at room temperature.
/// Assumption.
const COLD_K: f64 = 3.0;
/// Limit of error of a 0-25 mm micrometer in micrometres (DIN 863, table).
const MICROMETER_UM: f64 = 4.0;
/// Half-width between a mark and the shim in micrometres. Assumption: wear of a used shim.
const MARK_UM: f64 = 10.0;
/// Cam bearing to valve seat in millimetres; usual are 90 to 120 (from memory of the trade).
const STACK_MM: f64 = 100.0;
/// Expansion of an aluminium head and of the steel valve, in parts per million and kelvin (Swyt,
/// J. Res. Natl. Inst. Stand. Technol. 99, 31 (1994)).
const HEAD_PPM: f64 = 23.1;
const STEEL_PPM: f64 = 11.5;
/// Guard band in standard uncertainties: 95 % one-sided, the default of ISO 14253-1:2017 (as
/// public summaries give it).
const GUARD: f64 = 1.65;
/// Coverage factor for about 95 % (GUM, 6.3.3).
const COVERAGE: f64 = 2.0;

/// The budget of a measured clearance, and of one that is predicted with another shim where
/// `shims` says how the old and the new one are known; a follower hands on its `ratio` of what is
/// not known of them (GUM 5.1.3, sensitivity coefficient).
#[must_use]
pub(crate) fn budget(
    clearance: Interval,
    shims: &[Known],
    ratio: FollowerRatio,
) -> Vec<Contribution> {
    let sensitivity = ratio.milli() as f64 / 1_000.0;
    let line = |name, um: f64, source| Contribution {
        name,
        standard_nm: nm(um),
        source,
    };
    let width_um = match (clearance.low, clearance.high) {
        (Some(low), Some(high)) => um(high - low),
        _ => 0.0,
    };
    let mut lines = vec![
        line(
            "between the blades",
            width_um / 12.0_f64.sqrt(),
            "rectangular, GUM 4.3.7",
        ),
        line(
            "blade",
            BLADE_UM / 3.0_f64.sqrt(),
            "assumed 5 um either way",
        ),
        line("feel", FEEL_UM, "assumed"),
        line(
            "temperature",
            COLD_K * expansion_um(STACK_MM, 1.0) / 3.0_f64.sqrt(),
            "assumed 3 K either way",
        ),
    ];
    for shim in shims {
        lines.push(match shim {
            Known::Measured => line(
                "shim by micrometer",
                sensitivity * MICROMETER_UM / 3.0_f64.sqrt(),
                "limit of error, DIN 863 table",
            ),
            Known::Marked => line(
                "shim by its mark",
                sensitivity * MARK_UM / 3.0_f64.sqrt(),
                "assumed 10 um either way",
            ),
        });
    }
    lines
}

/// Combined standard uncertainty of a budget in nanometres.
#[must_use]
pub(crate) fn combined(lines: &[Contribution]) -> Length {
    let sum: f64 = lines.iter().map(|l| (l.standard_nm as f64).powi(2)).sum();
    Length::from_nm(sum.sqrt().round() as i64)
}

/// Probability in thousandths that a clearance lies in a band (JCGM 106:2012): its middle taken
/// as the best estimate, normally distributed. `None` where an end of the reading is missing.
#[must_use]
pub(crate) fn in_band_permille(
    clearance: Interval,
    band: Band,
    shims: &[Known],
    ratio: FollowerRatio,
) -> Option<u16> {
    let middle = clearance.twice_middle_nm()? as f64 / 2_000.0;
    let u = um(combined(&budget(clearance, shims, ratio)));
    Some((probability(um(band.low), um(band.high), middle, u) * 1_000.0).round() as u16)
}

/// Whether the middle of a reading lies within the guard band of an end of `band`, on either side.
#[must_use]
pub(crate) fn near_limit(clearance: Interval, band: Band) -> bool {
    let Some(twice) = clearance.twice_middle_nm() else {
        return false;
    };
    let guard = GUARD * um(combined(&budget(clearance, &[], FollowerRatio::BUCKET)));
    [band.low, band.high]
        .into_iter()
        .any(|end| (twice as f64 / 2_000.0 - um(end)).abs() < guard)
}

/// How far a re-measured clearance may lie from its prediction: twice the uncertainty of the
/// difference, both shims by micrometer.
#[must_use]
pub(crate) fn difference_limit(
    predicted: Interval,
    measured: Interval,
    ratio: FollowerRatio,
) -> Length {
    let mut lines = budget(predicted, &[Known::Measured; 2], ratio);
    lines.extend(budget(measured, &[], ratio));
    Length::from_nm(nm(COVERAGE * um(combined(&lines))))
}

/// What a room other than 20 degrees Celsius (ISO 1) does to a cold clearance, in a sentence. It is
/// shown and never applied: it is smaller than the step between two blades.
#[must_use]
pub(crate) fn room_note(room_milli_celsius: i64, unit: LengthUnit) -> Option<String> {
    let kelvin = room_milli_celsius as f64 / 1_000.0 - 20.0;
    let change = Length::from_nm((expansion_um(STACK_MM, kelvin) * 1_000.0).round() as i64);
    let way = if change > Length::ZERO {
        "looser"
    } else {
        "tighter"
    };
    (change.abs() >= Length::from_um(5)).then(|| {
        format!(
            "At {} °C every clearance reads about {} {way} than at 20 °C; the readings are left as they are.",
            crate::measure::Decimal::new((room_milli_celsius + 50).div_euclid(100), 1),
            rounded(change.abs(), unit)
        )
    })
}

fn rounded(length: Length, unit: LengthUnit) -> String {
    let places = if unit == LengthUnit::Millimetre { 3 } else { 1 };
    format!("{} {}", length.rounded(unit, places), unit.sign())
}

/// Change of clearance of a steel valve in an aluminium head, in micrometres.
fn expansion_um(stack_mm: f64, kelvin: f64) -> f64 {
    (HEAD_PPM - STEEL_PPM) * stack_mm * kelvin / 1_000.0
}

/// `P(low <= x <= high)` for a normal `x` around `y` with standard uncertainty `u`.
fn probability(low: f64, high: f64, y: f64, u: f64) -> f64 {
    normal((high - y) / u) - normal((low - y) / u)
}

/// The normal distribution function, by the series of erf near the middle and the continued
/// fraction of erfc outside (Abramowitz & Stegun 7.1.6 and 7.1.14).
fn normal(z: f64) -> f64 {
    let x = z.abs() / 2.0_f64.sqrt();
    let tail = if x < 3.0 {
        let mut term = x;
        let mut sum = x;
        for n in 1..80 {
            term *= 2.0 * x * x / f64::from(2 * n + 1);
            sum += term;
        }
        1.0 - 2.0 / std::f64::consts::PI.sqrt() * (-x * x).exp() * sum
    } else {
        let mut fraction = x;
        for n in (1..40).rev() {
            fraction = x + f64::from(n) / 2.0 / fraction;
        }
        (-x * x).exp() / (std::f64::consts::PI.sqrt() * fraction)
    };
    if z < 0.0 {
        tail / 2.0
    } else {
        1.0 - tail / 2.0
    }
}

fn um(length: Length) -> f64 {
    length.nm() as f64 / 1_000.0
}

fn nm(um: f64) -> i64 {
    (um * 1_000.0).round() as i64
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const BUCKET: FollowerRatio = FollowerRatio::BUCKET;

    fn close(got: f64, expected: f64, tolerance: f64) {
        assert!(
            (got - expected).abs() <= tolerance,
            "{got}, expected {expected}"
        );
    }

    fn interval(low: i64, high: i64) -> Interval {
        Interval::between(Length::from_um(low), Length::from_um(high))
    }

    fn band(low: i64, high: i64) -> Band {
        Band {
            low: Length::from_um(low),
            high: Length::from_um(high),
        }
    }

    /// Middle and standard uncertainty of two feeler readings (derived, rectangular).
    #[test]
    fn feeler_intervals() {
        for (low, high, twice_middle_nm, standard_nm) in
            [(150, 180, 330_000, 8_660), (100, 120, 220_000, 5_774)]
        {
            let reading = interval(low, high);
            assert_eq!(reading.twice_middle_nm(), Some(twice_middle_nm));
            assert_eq!(budget(reading, &[], BUCKET)[0].standard_nm, standard_nm);
        }
    }

    /// Width of the interval -> measured and predicted uncertainty in micrometres (derived; the
    /// blade, feel and temperature entries are assumptions).
    #[test]
    fn clearance_budgets() {
        for (width, measured, predicted) in [(30, 10.6, 11.1), (20, 8.4, 9.0), (10, 6.8, 7.5)] {
            let reading = interval(100, 100 + width);
            close(um(combined(&budget(reading, &[], BUCKET))), measured, 0.05);
            close(
                um(combined(&budget(reading, &[Known::Measured; 2], BUCKET))),
                predicted,
                0.05,
            );
        }
    }

    /// GUM H.1, end gauge: 50 000 838 nm, 32 nm (JCGM 100:2008; inputs as a public library's
    /// documentation gives them).
    #[test]
    fn the_guides_own_example() {
        let (standard, difference) = (50_000_623.0_f64, 215.0);
        let (theta, alpha) = (-0.1, 11.5e-6);
        let (u_delta_alpha, u_delta_theta) = (1e-6 / 3.0_f64.sqrt(), 0.05 / 3.0_f64.sqrt());
        let lines: Vec<Contribution> = [
            25.0,
            5.8,
            3.9,
            6.7,
            standard * theta * u_delta_alpha,
            standard * alpha * u_delta_theta,
        ]
        .into_iter()
        .map(|nm| Contribution {
            name: "",
            standard_nm: (nm * 1_000.0_f64).round() as i64,
            source: "",
        })
        .collect();
        close(standard + difference, 50_000_838.0, 0.5);
        close(combined(&lines).nm() as f64 / 1_000.0, 32.0, 0.5);
    }

    /// JCGM 106 formula, derived values, micrometres.
    #[test]
    fn conformity_probabilities() {
        for (y, u, expected) in [
            (165.0, 10.0, 0.99953),
            (135.0, 10.0, 0.69146),
            (148.0, 10.6, 0.95526),
            (190.0, 11.0922, 0.81635),
        ] {
            close(probability(130.0, 200.0, y, u), expected, 1e-4);
        }
        close(normal(-5.0), 2.866_515_7e-7, 1e-12);
        close(normal(4.3), 1.0 - 8.539_905_5e-6, 1e-11);
        assert_eq!(
            in_band_permille(interval(150, 180), band(130, 200), &[], BUCKET),
            Some(999)
        );
    }

    #[test]
    fn guard_bands() {
        assert!(near_limit(interval(130, 150), band(130, 200)));
        assert!(!near_limit(interval(150, 180), band(130, 200)));
    }

    /// Stack in mm, kelvin -> micrometres (coefficients of Swyt, 1994).
    #[test]
    fn temperature() {
        for (stack, kelvin, expected) in [
            (100.0, 10.0, 11.6),
            (100.0, 15.0, 17.4),
            (110.0, 20.0, 25.52),
            (95.0, -10.0, -11.02),
        ] {
            close(expansion_um(stack, kelvin), expected, 1e-6);
        }
        // A 25 mm setting standard 10 K warm (derived).
        close(STEEL_PPM * 25.0 * 10.0 / 1_000.0, 2.875, 1e-9);
        let note = room_note(30_000, LengthUnit::Millimetre).unwrap();
        assert!(
            note.contains("30.0 °C") && note.contains("0.012 mm looser"),
            "{note}"
        );
        assert_eq!(room_note(21_000, LengthUnit::Millimetre), None);
    }
}
