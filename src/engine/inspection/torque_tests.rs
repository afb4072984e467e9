//! Published and worked values of torque.
#![allow(clippy::unwrap_used)]
use super::*;
use crate::measure::Unit::{self, KilogramMetre, NewtonMetre, PoundFoot, PoundInch};

fn converted(value: &str, from: Unit, to: Unit, places: u8) -> String {
    from.convert(value.parse().unwrap(), to, places)
        .unwrap()
        .to_string()
}

/// Factors NIST SP 811. Printed beside them: 22 N·m = 16 lbf·ft = 2.2 kgf·m and 12 = 9 = 1.2
/// (a maker's workshop manual); 8.5-9.5 kgf·m = 61-69 lbf·ft (TM 10-3930-653-14&P);
/// 75-80 lbf·in = 8.4-9.0 N·m (TM 9-2815-253-24).
#[test]
fn conversions() {
    for (value, from, to, expected) in [
        ("1", PoundFoot, NewtonMetre, "1.355818"),
        ("1", PoundInch, NewtonMetre, "0.112985"),
        ("1", KilogramMetre, NewtonMetre, "9.806650"),
        ("22", NewtonMetre, PoundFoot, "16.226367"),
        ("22", NewtonMetre, KilogramMetre, "2.243376"),
        ("8.5", KilogramMetre, PoundFoot, "61.480618"),
        ("9.5", KilogramMetre, PoundFoot, "68.713632"),
        ("10", NewtonMetre, PoundInch, "88.507458"),
        ("10", NewtonMetre, PoundFoot, "7.375621"),
        ("10", NewtonMetre, KilogramMetre, "1.019716"),
        ("12", NewtonMetre, PoundFoot, "8.850746"),
        ("12", NewtonMetre, KilogramMetre, "1.223659"),
        ("75", PoundInch, NewtonMetre, "8.473862"),
        ("80", PoundInch, NewtonMetre, "9.038786"),
        ("28", NewtonMetre, PoundFoot, "20.651740"),
    ] {
        assert_eq!(converted(value, from, to, 6), expected, "{value} {from:?}");
    }
}

/// Torque in thousandths, lengths in tenths, angle, setting in thousandths. 300/10/4: TM
/// 1-1500-204-23-9; 40/12/4: TM 9-2350-277-40&P; 100/12/6: NAVEDTRA 14315; 135/10/1.5 and folded
/// back: a maker's workshop manual; angled: arithmetic.
#[test]
fn adaptors() {
    for (torque, wrench, extension, angle_mdeg, setting) in [
        (300_000, 100, 40, 0, 214_286),
        (40_000, 120, 40, 0, 30_000),
        (100_000, 120, 60, 0, 66_667),
        (135_000, 100, 15, 0, 117_391),
        (135_000, 100, -15, 0, 158_824),
        (135_000, 100, 15, 180_000, 158_824),
        (40_000, 4_000, 500, 30_000, 36_093),
        (40_000, 4_000, 500, 90_000, 40_000),
        (40_000, 4_000, 500, 180_000, 45_714),
    ] {
        let adaptor = Adaptor {
            wrench_nm: Length::from_nm(wrench * 2_540_000),
            extension_nm: Length::from_nm(extension * 2_540_000),
            angle_mdeg,
        };
        assert_eq!(adaptor.setting(torque), Ok(setting));
        let back = adaptor.applied(setting).unwrap();
        assert!((back - torque).abs() <= 1, "{back}");
    }
}

/// TM 9-254: setting 60, wrench 12 in, adaptor 2 in: 70 lbf·in applied.
#[test]
fn adaptor_applied_and_its_errors() {
    let mut adaptor = Adaptor {
        wrench_nm: Length::from_thou(12_000),
        extension_nm: Length::from_thou(2_000),
        angle_mdeg: 0,
    };
    assert_eq!(adaptor.applied(60_000), Ok(70_000));
    assert!(adaptor.setting(0).is_err());
    adaptor.extension_nm = Length::from_thou(-12_000);
    assert_eq!(adaptor.setting(60_000), Err(TorqueError::FoldedBack));
    adaptor.wrench_nm = Length::ZERO;
    assert!(adaptor.setting(60_000).is_err());
}

/// 20 N·m, 40 N·m, 60°, 80° (a maker's workshop manual); 50/80/100 per cent (common practice).
#[test]
fn stages() {
    let angled = [
        Stage::TorqueMnm(20_000),
        Stage::TorqueMnm(40_000),
        Stage::AngleMdeg(60_000),
        Stage::AngleMdeg(80_000),
    ];
    assert_eq!(check_stages(&angled), Ok(()));
    assert_eq!(
        shares(40_000, &[50, 80, 100]),
        Ok([20_000, 32_000, 40_000].map(Stage::TorqueMnm).to_vec())
    );
    assert!(shares(40_000, &[50, 80]).is_err());
    assert!(shares(40_000, &[80, 50, 100]).is_err());
    let wrong = check_stages(&[Stage::AngleMdeg(60_000)]).unwrap_err();
    assert_eq!(
        wrong.to_string(),
        "stage 1: an angle needs a torque before it"
    );
    assert!(check_stages(&[angled[0], angled[2], angled[1]]).is_err());
}

#[test]
fn a_skipped_bolt_is_the_next_one() {
    let order = [3, 1, 4, 2];
    assert_eq!(next_bolt(&order, 2, &[]), Some((3, 0)));
    assert_eq!(next_bolt(&order, 2, &[(3, 0), (4, 0)]), Some((1, 0)));
    let first: Vec<_> = order.iter().map(|&b| (b, 0)).collect();
    assert_eq!(next_bolt(&order, 2, &first), Some((3, 1)));
    assert_eq!(next_bolt(&order, 1, &first), None);
}

#[test]
fn a_unit_slip_is_named() {
    assert!(unit_slip(120_000, 10_000).unwrap().contains("12 times"));
    assert!(unit_slip(1_000, 12_000).unwrap().contains("12 times"));
    assert!(unit_slip(16_200, 22_000).unwrap().contains("pound feet"));
    assert!(unit_slip(98_000, 10_000).unwrap().contains("kilogram"));
    assert_eq!(unit_slip(10_500, 10_000), None);
    assert_eq!(unit_slip(10_500, 0), None);
}

/// Arithmetic: K 0.20, 10 mm, 30 kN is 60 N·m, oiled K 0.15 is 45; M10 × 1.25 by 90° is
/// 0.3125 mm; bolt 125.5 and parts 502 kN/mm in series gain 31.4 kN.
#[test]
fn preload() {
    let bolt = Length::from_um(10_000);
    assert_eq!(torque_for_preload(200, bolt, 30_000_000), Some(60_000));
    assert_eq!(torque_for_preload(150, bolt, 30_000_000), Some(45_000));
    let along = advance(Length::from_um(1_250), 90_000).unwrap();
    assert_eq!(along, Length::from_nm(312_500));
    assert_eq!(preload_gain_n(along, 125_500, 502_000), Some(31_375));
}
