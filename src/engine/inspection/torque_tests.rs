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

/// 20 N·m, 40 N·m, 60°, 80° (a maker's workshop manual).
#[test]
fn stages() {
    let angled = [
        Stage::TorqueMnm(20_000),
        Stage::TorqueMnm(40_000),
        Stage::AngleMdeg(60_000),
        Stage::AngleMdeg(80_000),
    ];
    assert_eq!(check_stages(&angled), Ok(()));
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
