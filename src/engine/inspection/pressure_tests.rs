//! Published and worked values of compression and leak-down.
#![allow(clippy::unwrap_used)]
use super::*;
use crate::measure::Unit::{Bar, Kilopascal, Psi};

fn pa(text: &str, unit: Unit) -> i64 {
    to_pa(text.parse().unwrap(), unit).unwrap()
}

fn set(texts: [&str; 4], unit: Unit) -> Vec<(u8, i64)> {
    (1_u8..).zip(texts.map(|t| pa(t, unit))).collect()
}

/// 1 bar = 14.5038 psi, 12.5 bar = 181 psi, 185 psi = 12.76 bar (factors NIST SP 811).
#[test]
fn conversions() {
    let shown = |pa, unit, places| from_pa(pa, unit, places).unwrap().to_string();
    assert_eq!(shown(pa("1", Bar), Psi, 4), "14.5038");
    assert_eq!(shown(pa("12.5", Bar), Psi, 0), "181");
    assert_eq!(shown(pa("185", Psi), Bar, 2), "12.76");
    assert_eq!(shown(pa("1", Bar), Kilopascal, 0), "100");
    assert_eq!(to_pa(Decimal::new(i64::MAX, 0), Bar), None);
}

/// 445, 440, 405, 435 psi, limit 25 psi: cylinder 3 fails (TM 5-3895-359-14&P, table 2); the same
/// set passes 75 % of the highest and 20 % of the mean.
#[test]
fn one_published_set_under_three_rules() {
    let found = spread(&set(["445", "440", "405", "435"], Psi)).unwrap();
    let psi = |pa| from_pa(pa, Psi, 2).unwrap().to_string();
    assert_eq!(psi(found.mean_pa), "431.25");
    assert_eq!(psi(found.spread_pa), "40.00");
    assert_eq!(found.ratio_ppm, 910_112);
    assert_eq!((1_000_000 - found.ratio_ppm + 5) / 10, 8_989);
    assert_eq!((found.from_mean_ppm[2].1 - 500) / 1_000, -61);
    let within = found.under(Rule::WithinOfEachOther(pa("25", Psi)), "the table");
    assert_eq!(within.failing, [3]);
    assert_eq!(
        within.reason,
        "cylinder 3 fails the rule \"within 1.72 bar (25 psi) of each other\" (the table)"
    );
    assert!(
        found
            .under(Rule::ShareOfHighest(75_000), "x")
            .failing
            .is_empty()
    );
    assert!(
        found
            .under(Rule::WithinOfMean(20_000), "x")
            .failing
            .is_empty()
    );
}

/// 12.5, 12.2, 11.9, 9.3 bar: ratio 0.744 fails 75 %, -19.0 % passes 20 % (arithmetic).
#[test]
fn one_worked_set_under_two_rules() {
    let found = spread(&set(["12.5", "12.2", "11.9", "9.3"], Bar)).unwrap();
    assert_eq!(found.ratio_ppm, 744_000);
    assert_eq!(found.from_mean_ppm[3], (4, -189_542));
    let share = found.under(Rule::ShareOfHighest(75_000), "TM 5-4210-230-14&P-1");
    assert_eq!(share.failing, [4]);
    let mean = found.under(Rule::WithinOfMean(20_000), "TM 1-1500-204-23-1");
    assert!(mean.failing.is_empty());
    assert_eq!(
        mean.reason,
        "passes the rule \"within 20 % of the mean\" (TM 1-1500-204-23-1)"
    );
}

#[test]
fn exactly_on_a_rule_passes_in_either_unit() {
    for (high, low, rule) in [
        (
            pa("175", Psi),
            pa("165", Psi),
            Rule::WithinOfEachOther(pa("10", Psi)),
        ),
        (pa("12", Bar), pa("9", Bar), Rule::ShareOfHighest(75_000)),
        (pa("180", Psi), pa("135", Psi), Rule::ShareOfHighest(75_000)),
    ] {
        let found = spread(&[(1, high), (2, low)]).unwrap();
        assert!(found.under(rule, "x").failing.is_empty(), "{rule:?}");
    }
}

/// 12.0 bar at the sea is 10.6 at 1000 m and 9.4 at 2000 m (standard atmosphere).
#[test]
fn altitude() {
    let at = |m| {
        let pa = at_height(1_200_000, 0, m).unwrap();
        from_pa(pa, Bar, 1).unwrap().to_string()
    };
    assert_eq!(at(1_000), "10.6");
    assert_eq!(at(2_000), "9.4");
    assert_eq!(at_height(1, 0, 50_000), Err(PressureError::Height(50_000)));
}

/// Minima with the densities printed beside them (TM 5-3895-359-14&P): scaling with the density
/// ratio lands within 0.6 %.
#[test]
fn published_minima_scale_with_the_printed_densities() {
    for (minimum, density) in [(480, 663), (440, 613), (410, 567), (380, 525)] {
        let scaled = at_ambient(515_000, 715, density).unwrap();
        let off = (scaled - minimum * 1_000).abs();
        assert!(off * 1_000 <= minimum * 1_000 * 6, "{minimum}: {scaled}");
    }
    assert_eq!(at_ambient(1, 0, 1), None);
}

/// 80/60 psi and 552/414 kPa are both printed as 25 % (FAA AC 43.13-1B para 8-14; a maker's
/// workshop manual); 80/74 is 7.5 and 100/92 is 8.0 (arithmetic).
#[test]
fn leak_down() {
    for (supply, cylinder, milli) in [
        (80, 60, 25_000),
        (552, 414, 25_000),
        (80, 74, 7_500),
        (100, 92, 8_000),
        (80, 80, 0),
    ] {
        let found = leak_down_milli_percent(supply * 1_000, cylinder * 1_000);
        assert_eq!(found, Ok(milli));
    }
    assert!(leak_down_milli_percent(80, 81).is_err());
    assert!(leak_down_milli_percent(0, 0).is_err());
    assert_eq!(leaks(Escape::OilFiller), "piston rings");
}

#[test]
fn bad_readings_are_named() {
    let wrong = |readings: &[(u8, i64)]| spread(readings).unwrap_err();
    assert_eq!(wrong(&[(1, 5)]), PressureError::TooFew(1));
    assert_eq!(wrong(&[(1, 5), (1, 6)]), PressureError::Twice(1));
    assert_eq!(wrong(&[(1, 0), (2, 0)]), PressureError::AllZero);
    assert!(wrong(&[(1, 5), (2, -6)]).to_string().contains("cylinder 2"));
}
