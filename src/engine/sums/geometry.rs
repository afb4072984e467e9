//! The one file of the engine's sums that uses floats: cosines and the standard atmosphere.
//!
//! Every function takes integers and rounds to an integer at once, so that nothing outside this
//! file ever sees a float. A double carries 53 bits; the largest length at a bench (1 m =
//! 10⁹ nm) needs 30, so the rounded nanometre is right except at an exact half.
#![allow(clippy::cast_precision_loss, clippy::cast_possible_truncation)]

use crate::measure::Length;

fn radians(mdeg: i64) -> f64 {
    (mdeg as f64 / 1_000.0).to_radians()
}

/// `value` as an integer where it is one that fits.
fn whole(value: f64) -> Option<i64> {
    let rounded = value.round();
    (rounded.is_finite() && rounded.abs() < 9.0e18).then_some(rounded as i64)
}

/// `length / cos(angle)`; `None` unless `0° <= angle < 90°`.
#[must_use]
pub(crate) fn over_cos(length: Length, angle_mdeg: i64) -> Option<Length> {
    if !(0..90_000).contains(&angle_mdeg) {
        return None;
    }
    whole(length.nm() as f64 / radians(angle_mdeg).cos()).map(Length::from_nm)
}

/// The angle in milli-degrees whose tangent is `across / along`; `None` unless `along > 0`.
#[must_use]
pub(crate) fn slope_mdeg(across: Length, along: Length) -> Option<i64> {
    if along <= Length::ZERO {
        return None;
    }
    let angle = (across.nm() as f64).atan2(along.nm() as f64).to_degrees();
    whole(angle * 1_000.0)
}

/// Air pressure of the standard atmosphere in pascal at `height_m` metres above the sea;
/// `None` outside -500 m to 11 000 m.
///
/// `p = 101.325 (1 - 2.25577e-5 h)^5.25588` kPa (US/International Standard Atmosphere).
#[must_use]
pub(crate) fn standard_pressure_pa(height_m: i64) -> Option<i64> {
    if !(-500..=11_000).contains(&height_m) {
        return None;
    }
    let base = 1.0 - 2.255_77e-5 * height_m as f64;
    whole(101_325.0 * base.powf(5.255_88))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn right_angles_are_exact() {
        let l = Length::from_um(50_000);
        assert_eq!(over_cos(l, 90_000), None);
        assert_eq!(over_cos(l, -1), None);
        assert_eq!(slope_mdeg(l, l), Some(45_000));
        assert_eq!(slope_mdeg(l, Length::ZERO), None);
    }

    /// Standard atmosphere (published tables): metres, kPa to two places.
    #[test]
    fn standard_atmosphere() {
        for (height_m, centi_kpa) in [
            (0, 10_133),
            (500, 9_546),
            (1_000, 8_987),
            (1_500, 8_456),
            (2_000, 7_950),
            (3_000, 7_011),
        ] {
            let pa = standard_pressure_pa(height_m).unwrap_or(0);
            assert!((pa - centi_kpa * 10).abs() <= 20, "{height_m} m: {pa} Pa");
        }
        assert_eq!(standard_pressure_pa(20_000), None);
    }
}
