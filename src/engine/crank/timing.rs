//! Cam timing: duration, lobe centre, lobe separation, overlap, equal lift, chain pins.
//!
//! Angles are crank degrees in thousandths (`_mdeg`) unless a name says cam. One degree of cam is
//! two of the crank.

use crate::measure::{ratio, scaled};
use serde::Serialize;

/// Opening and closing of one lobe: an inlet before top and after bottom dead centre, an exhaust
/// before bottom and after top dead centre.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct Lobe {
    /// Opens, before its dead centre; negative when it opens after.
    pub opens_mdeg: i64,
    /// Closes, after its dead centre; negative when it closes before.
    pub closes_mdeg: i64,
}

impl Lobe {
    /// `open + 180 + close`.
    #[must_use]
    pub(crate) const fn duration_mdeg(self) -> i64 {
        self.opens_mdeg
            .saturating_add(180_000)
            .saturating_add(self.closes_mdeg)
    }

    /// Lobe centre of an inlet, after top dead centre: `duration / 2 - opening`.
    #[must_use]
    pub(crate) const fn inlet_centre_atdc_mdeg(self) -> i64 {
        (self.duration_mdeg() / 2).saturating_sub(self.opens_mdeg)
    }

    /// Lobe centre of an exhaust, before top dead centre: `duration / 2 - closing`.
    #[must_use]
    pub(crate) const fn exhaust_centre_btdc_mdeg(self) -> i64 {
        (self.duration_mdeg() / 2).saturating_sub(self.closes_mdeg)
    }
}

/// Inlet opening plus exhaust closing.
#[must_use]
pub(crate) const fn overlap_mdeg(inlet: Lobe, exhaust: Lobe) -> i64 {
    inlet.opens_mdeg.saturating_add(exhaust.closes_mdeg)
}

/// Lobe separation in **cam** degrees: half the sum of the two centres.
#[must_use]
pub(crate) const fn separation_cam_mdeg(inlet: Lobe, exhaust: Lobe) -> i64 {
    inlet
        .inlet_centre_atdc_mdeg()
        .saturating_add(exhaust.exhaust_centre_btdc_mdeg())
        / 2
}

/// Mean of two wheel readings: the lobe centre from the same lift on both flanks, or true top
/// dead centre from a positive stop, the readings before it being negative.
#[must_use]
pub(crate) fn middle_mdeg(one_mdeg: i64, other_mdeg: i64) -> Option<i64> {
    ratio(i128::from(one_mdeg) + i128::from(other_mdeg), 2)
}

/// Why chain pins give no answer.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub(crate) enum PinError {
    /// A camshaft sprocket that cannot be.
    #[error("a camshaft sprocket of {0} teeth: expected 10 to 200")]
    Teeth(i64),
    /// A count that cannot be.
    #[error("{0} pins: expected 1 or more, the pin at the mark being \"one\"")]
    Count(i64),
}

/// Pitches between the marks: one less than a count in which the pin at the mark is "one".
///
/// # Errors
/// [`PinError::Count`].
pub(crate) const fn pitches(pins: i64) -> Result<i64, PinError> {
    match pins.saturating_sub(1) {
        ..0 => Err(PinError::Count(pins)),
        pitches => Ok(pitches),
    }
}

/// Crank angle of `pins` pins, in **micro**-degrees: 720 / N degrees a pin, N being the teeth of
/// the camshaft sprocket.
///
/// # Errors
/// [`PinError::Teeth`]; [`PinError::Count`] where the answer does not fit.
pub(crate) fn pins_crank_udeg(pins: i64, cam_teeth: i64) -> Result<i64, PinError> {
    if !(10..=200).contains(&cam_teeth) {
        return Err(PinError::Teeth(cam_teeth));
    }
    scaled(pins, 720_000_000, cam_teeth).ok_or(PinError::Count(pins))
}

/// What a called count of pins means against the count that the manual wants.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct PinCheck {
    /// Called less wanted, in pins.
    pub off_pins: i64,
    /// The same in micro-degrees of the crank.
    pub off_crank_udeg: i64,
    /// In words.
    pub words: String,
}

/// Compares a count with the manual's; in both the pin at the mark is "one".
///
/// # Errors
/// Counts or teeth that cannot be.
pub(crate) fn check_pins(called: i64, wanted: i64, cam_teeth: i64) -> Result<PinCheck, PinError> {
    let off_pins = pitches(called)?.saturating_sub(pitches(wanted)?);
    let off_crank_udeg = pins_crank_udeg(off_pins, cam_teeth)?;
    let words = match off_pins {
        0 => "the count agrees".to_owned(),
        n => {
            let tenths = ratio(i128::from(off_crank_udeg.abs()), 100_000).unwrap_or(0);
            let pins = if n.abs() == 1 { "pin" } else { "pins" };
            let way = if n > 0 { "more" } else { "fewer" };
            format!(
                "{} {pins} {way} than wanted: {}.{} degrees of crank",
                n.abs(),
                tenths / 10,
                tenths % 10
            )
        }
    };
    Ok(PinCheck {
        off_pins,
        off_crank_udeg,
        words,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const fn lobe(opens: i64, closes: i64) -> Lobe {
        Lobe {
            opens_mdeg: opens * 1_000,
            closes_mdeg: closes * 1_000,
        }
    }

    /// 6/42: a maker's or publisher's manual, public example: 228 and 108, overlap 18 with an
    /// exhaust closing at 12.
    #[test]
    fn published_inlet() {
        let inlet = lobe(6, 42);
        assert_eq!(inlet.duration_mdeg(), 228_000);
        assert_eq!(inlet.inlet_centre_atdc_mdeg(), 108_000);
        assert_eq!(overlap_mdeg(inlet, lobe(0, 12)), 18_000);
    }

    /// IO, IC, EO, EC, durations, centres, separation in cam milli-degrees, overlap. 20/60/60/20:
    /// durations from a public example; the rest arithmetic.
    #[test]
    fn whole_cams() {
        for (io, ic, eo, ec, din, dex, cin, cex, separation, overlap) in [
            (20, 60, 60, 20, 260, 260, 110, 110, 110_000, 40),
            (30, 60, 60, 30, 270, 270, 105, 105, 105_000, 60),
            (10, 30, 35, 5, 220, 220, 100, 105, 102_500, 15),
        ] {
            let (inlet, exhaust) = (lobe(io, ic), lobe(eo, ec));
            assert_eq!(inlet.duration_mdeg(), din * 1_000);
            assert_eq!(exhaust.duration_mdeg(), dex * 1_000);
            assert_eq!(inlet.inlet_centre_atdc_mdeg(), cin * 1_000);
            assert_eq!(exhaust.exhaust_centre_btdc_mdeg(), cex * 1_000);
            assert_eq!(separation_cam_mdeg(inlet, exhaust), separation);
            assert_eq!(overlap_mdeg(inlet, exhaust), overlap * 1_000);
        }
    }

    /// Up 151.5, down 58.5: 105.0 (arithmetic). Stop readings -20 and 24: zero is 2 late.
    #[test]
    fn equal_lift_and_true_dead_centre() {
        assert_eq!(middle_mdeg(151_500, 58_500), Some(105_000));
        assert_eq!(middle_mdeg(-20_000, 24_000), Some(2_000));
        assert_eq!(middle_mdeg(i64::MAX, i64::MAX), Some(i64::MAX));
    }

    /// Crank degrees a pin (arithmetic): 30 teeth 24, 32 22.5, 34 21.17647, 36 20, 40 18.
    #[test]
    fn one_pin() {
        for (teeth, udeg) in [
            (30, 24_000_000),
            (32, 22_500_000),
            (34, 21_176_471),
            (36, 20_000_000),
            (40, 18_000_000),
        ] {
            assert_eq!(pins_crank_udeg(1, teeth), Ok(udeg));
        }
        assert_eq!(pins_crank_udeg(1, 0), Err(PinError::Teeth(0)));
    }

    /// A maker's workshop manual counts 22 pins from the one at the mark as "one".
    #[test]
    fn counts_from_one() {
        assert_eq!(pitches(22), Ok(21));
        assert_eq!(pitches(0), Err(PinError::Count(0)));
        let check = |called, wanted| check_pins(called, wanted, 34).unwrap();
        assert_eq!(check(22, 22).off_pins, 0);
        let fence = check(23, 22);
        assert_eq!(fence.off_pins, 1);
        assert!(fence.words.contains("21.2 degrees"), "{}", fence.words);
    }
}
