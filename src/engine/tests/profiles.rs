//! Profiles: the shipped ones hold, wrong ones say where and what was expected.

use super::*;
use crate::event::Valve;

#[test]
fn the_shipped_profiles_hold() {
    for (key, text) in SHIPPED {
        let profile = Profile::parse(text, key).unwrap();
        assert_eq!(profile.key, key);
        assert!(profile.source.contains("invented"), "{key}");
        assert!(profile.valves().iter().all(|p| profile.has(p)));
    }
    let count = |i: usize| Profile::parse(SHIPPED[i].1, "x").unwrap().valves().len();
    assert_eq!([count(0), count(1), count(2)], [12, 8, 12]);
}

#[test]
fn valves_in_order_and_no_others() {
    let triple = triple();
    let first = triple.valves();
    assert_eq!(first[0].to_string(), "1 inlet left");
    assert_eq!(first[3].to_string(), "1 exhaust right");
    assert_eq!(first[11].to_string(), "3 exhaust right");
    let of = |cylinder, valve| Position {
        cylinder,
        side: Side::Inlet,
        valve,
    };
    assert!(triple.has(&of(3, Some(Valve::Left))));
    for missing in [
        of(7, Some(Valve::Left)),
        of(0, Some(Valve::Left)),
        of(1, Some(Valve::Rear)),
        of(1, None),
    ] {
        assert!(!triple.has(&missing), "{missing}");
    }
}

/// Series sizes: 2.00-3.50 by 0.05 are 31, 1.20-3.50 by 0.025 are 93 (from memory of the trade);
/// 2.50-3.30 by 0.05 are 17 and 2.00-2.98 by 0.02 are 50 (makers' workshop manuals).
#[test]
fn series_have_as_many_sizes_as_published() {
    for (from, to, step, count) in [
        ("2.00", "3.50", "0.05", 31),
        ("1.20", "3.50", "0.025", 93),
        ("2.50", "3.30", "0.05", 17),
        ("2.00", "2.98", "0.02", 50),
    ] {
        let range = format!("from_mm = \"{from}\", to_mm = \"{to}\", step_mm = \"{step}\"");
        let text = SHIPPED[0].1.replace(
            "from_mm = \"2.00\", to_mm = \"3.50\", step_mm = \"0.05\"",
            &range,
        );
        assert_eq!(
            Profile::parse(&text, "x").unwrap().shims.series.len(),
            count,
            "{range}"
        );
    }
}

#[test]
fn a_series_can_have_gaps_and_a_profile_can_be_in_thou() {
    let text = SHIPPED[0].1.replace(
        "kind = \"over_bucket\"",
        "kind = \"over_bucket\"\nexcept_mm = [\"2.05\", \"3.45\"]",
    );
    assert_eq!(Profile::parse(&text, "x").unwrap().shims.series.len(), 29);
    let text = SHIPPED[2]
        .1
        .replace(
            "check_band_mm = [\"0.15\", \"0.25\"]",
            "check_band_thou = [\"6\", \"10\"]",
        )
        .replace(
            "set_band_mm = [\"0.16\", \"0.25\"]",
            "set_band_thou = [\"6.5\", \"9.5\"]",
        )
        .replace("target_mm = \"0.21\"", "target_thou = \"8\"");
    let profile = Profile::parse(&text, "x").unwrap();
    assert_eq!(profile.inlet.check.low, Length::from_thou(6));
    assert_eq!(profile.inlet.target, Length::from_thou(8));
}

#[test]
fn wrong_files_say_where_and_what_was_expected() {
    for (old, new, says) in [
        ("count = 3", "count = 17", "17 cylinders: expected 1 to 16"),
        ("count = 3", "count = 0", "0 cylinders: expected 1 to 16"),
        (
            "count = 3",
            "count = -1",
            "`-1`, expected a whole number, 0 to 255",
        ),
        (
            "kind = \"over_bucket\"",
            "kind = \"over_bucket\"\none_camshaft = true",
            "no camshaft comes out for a shim of this engine",
        ),
        (
            "count = 3",
            "cont = 3",
            "unknown field `cont`, expected one of `count`",
        ),
        (
            "key = \"triple\"",
            "key = \"The Triple\"",
            "expected small letters",
        ),
        ("[1, 2, 3]", "[1, 2, 2]", "names each cylinder once"),
        (
            "[0, 240, 480]",
            "[0, 240]",
            "expected one for each of 3 cylinders",
        ),
        ("[0, 240, 480]", "[0, 240, 720]", "expected 0 to 719"),
        (
            "[0, 240, 480]",
            "[0, 480, 240]",
            "do not follow the firing order",
        ),
        (
            "check_band_mm = [\"0.10\", \"0.20\"]",
            "check_band_mm = [\"0.20\", \"0.20\"]",
            "is empty",
        ),
        (
            "set_band_mm = [\"0.11\"",
            "set_band_mm = [\"0.09\"",
            "expected it inside 0.10 mm to 0.20 mm",
        ),
        (
            "target_mm = \"0.16\"",
            "target_mm = \"0.21\"",
            "target outside the set band",
        ),
        (
            "target_mm = \"0.16\"",
            "target_mm = \"0,16\"",
            "expected digits",
        ),
        (
            "target_mm = \"0.16\"",
            "target_mm = \"NaN\"",
            "expected digits",
        ),
        (
            "target_mm = \"0.16\"",
            "target_mm = \"-0.16\"",
            "expected more than zero",
        ),
        (
            "target_mm = \"0.16\"",
            "target_mm = 0.16",
            "expected a string",
        ),
        (
            "target_mm = \"0.16\"",
            "target_mm = \"0.16\"\ntarget_thou = \"6\"",
            "exactly one of target_mm and target_thou",
        ),
        (
            "valves = [\"left\", \"right\"]",
            "valves = [\"left\", \"left\"]",
            "expected distinct names",
        ),
        (
            "valves = [\"left\", \"right\"]",
            "valves = [\"left\", \"upper\"]",
            "\"upper\" is not a valve name",
        ),
        (
            "valves = [\"left\", \"right\"]",
            "valves = [\"left\"]",
            "expected [] for one valve",
        ),
        (
            "step_mm = \"0.05\"",
            "step_mm = \"0.07\"",
            "whole number of steps",
        ),
        (
            "step_mm = \"0.05\"",
            "step_mm = \"0\"",
            "expected more than zero",
        ),
        (
            "ranges = [{ from_mm = \"2.00\", to_mm = \"3.50\", step_mm = \"0.05\" }]",
            "ranges = []",
            "no shim size",
        ),
        (
            "kind = \"over_bucket\"",
            "kind = \"beside\"",
            "unknown variant `beside`",
        ),
        (
            "kind = \"over_bucket\"",
            "kind = \"over_bucket\"\nexcept_mm = [\"2.01\"]",
            "not in the series",
        ),
        (
            "cam_teeth = 34",
            "cam_teeth = 3",
            "expected 10 to 120 teeth",
        ),
        ("max = \"0.08\"", "", "a limit without an end"),
        ("opens_deg = 30", "opens_deg = 200", "expected 0 to 120"),
    ] {
        let text = SHIPPED[0].1.replacen(old, new, 1);
        assert_ne!(text, SHIPPED[0].1, "{old}");
        let error = Profile::parse(&text, "my.toml").unwrap_err();
        let line = SHIPPED[0]
            .1
            .split(old)
            .next()
            .unwrap()
            .matches('\n')
            .count()
            + 1;
        assert!(
            error.to_string().contains(says),
            "{error} should say {says}"
        );
        assert!(error.to_string().starts_with("my.toml:"), "{error}");
        assert!(
            error.line.abs_diff(line) <= 7 && error.column >= 1,
            "{error} at {line}"
        );
    }
}

#[test]
fn a_place_is_exact() {
    let text = SHIPPED[0]
        .1
        .replace("target_mm = \"0.16\"", "target_mm = \"0.x6\"");
    let line = text.lines().position(|l| l.contains("0.x6")).unwrap() + 1;
    let error = Profile::parse(&text, "my.toml").unwrap_err();
    assert_eq!((error.line, error.column), (line, 13));
}

/// What would be missed at the bench: each entry with what is said of it.
#[test]
fn an_entry_without_an_effect_or_that_cannot_be_meant_is_an_error() {
    let limit = |entries: &str| {
        format!("[[limit]]\n{entries}\nsource = \"x\"\n\n[[limit]]\nquantity = \"runout\"")
    };
    let seat = "[[limit]]\nquantity = \"runout\"";
    for (old, new, says) in [
        (
            "crank_deg = [0, 240, 480]",
            "crank_deg = [10, 240, 480]",
            "cylinder 1 fires at 10: expected 0",
        ),
        (
            "quantity = \"seat_width\"",
            "quantity = \"seat width\"",
            "a limit \"seat width\": expected one of stem_clearance",
        ),
        (
            "quantity = \"seat_width\"",
            "quantity = \"piston_to_head\"",
            "expected one of stem_clearance",
        ),
        (
            "unit = \"percent\"",
            "unit = \"pct\"",
            "compression_share_of_highest in \"pct\": expected percent",
        ),
        (
            "max = \"0.08\"\nunit = \"mm\"",
            "max = \"0.08\"\nunit = \"bar\"",
            "stem_clearance in \"bar\": expected mm or thou or in",
        ),
        (
            "min = \"9.5\"\nunit = \"bar\"",
            "min = \"9.5\"\nunit = \"mm\"",
            "compression in \"mm\": expected bar or psi or kPa",
        ),
        (
            "min = \"0.9\"\nmax = \"1.4\"",
            "min = \"1.4\"\nmax = \"0.9\"",
            "\"0.9\" after \"1.4\": expected the smaller one first",
        ),
        (
            "max = \"0.08\"",
            "max = \"-0.08\"",
            "\"-0.08\" mm: expected 0.00 mm to 0.30 mm",
        ),
        (
            "min = \"75\"",
            "min = \"500\"",
            "\"500\" percent: expected 0 % to 100 %",
        ),
        (
            "min = \"75\"",
            "max = \"75\"",
            "has no such end: expected min",
        ),
        (
            seat,
            &limit("quantity = \"seat_width\"\nmax = \"2\"\nunit = \"mm\""),
            "a second limit of seat_width for the same",
        ),
        (
            seat,
            &limit("quantity = \"flatness\"\nside = \"inlet\"\nmax = \"0.1\"\nunit = \"mm\""),
            "expected no side",
        ),
        (
            seat,
            &limit("quantity = \"spring_load\"\nmin = \"102\"\nunit = \"N\""),
            "expected at_mm",
        ),
        (
            seat,
            &limit(
                "quantity = \"end_float\"\nat_mm = \"3\"\nside = \"inlet\"\nmax = \"0.1\"\nunit = \"mm\"",
            ),
            "expected no at_mm",
        ),
        (
            "[\"20\", \"40\"]",
            "[\"0\", \"40\"]",
            "\"0\" N·m: expected 0.5 to 250",
        ),
        (
            "[\"20\", \"40\"]",
            "[\"-20\", \"40\"]",
            "expected 0.5 to 250",
        ),
        (
            "[\"20\", \"40\"]",
            "[\"20\", \"1000000\"]",
            "expected 0.5 to 250",
        ),
        (
            "[\"20\", \"40\"]",
            "[\"40\", \"20\"]",
            "\"20\": expected stages that do not fall",
        ),
        ("[\"20\", \"40\"]", "[]", "no stage: expected at least one"),
        (
            "[4, 5, 3, 6, 2, 7, 1, 8]",
            "[4, 5, 3, 6, 2, 7, 4, 8]",
            "names each bolt once: expected the numbers 1 to 8",
        ),
        (
            "[4, 5, 3, 6, 2, 7, 1, 8]",
            "[4, 5, 3, 6, 2, 7, 1, 0]",
            "names each bolt once",
        ),
        (
            "angle_deg = 60",
            "angle_deg = 0",
            "0 degrees: expected 1 to 400",
        ),
        (
            "bolts = \"cover_bolt\"",
            "bolts = \"head_bolt\"",
            "a second table for \"head_bolt\" is never read",
        ),
        (
            "bolts = \"cover_bolt\"\n",
            "",
            "a torque without bolts is never looked at",
        ),
        (
            "pins_between_marks = 24",
            "pins_between_marks = 0",
            "0 pins: expected 2 to 200",
        ),
        (
            "pins_between_marks = 24",
            "pins_between_marks = 60000",
            "60000 pins: expected 2 to 200",
        ),
        ("pins_between_marks = 24", "", "teeth alone have no effect"),
        (
            "to_mm = \"3.50\"",
            "to_mm = \"100.00\"",
            "a shim of 4.55 mm: expected 0.80 mm to 4.50 mm",
        ),
        (
            "\"0.45\", \"0.50\"",
            "\"0.45\", \"900\"",
            "a blade of 900.00 mm: expected two or more blades of 0.01 mm to 1.00 mm",
        ),
        (
            "closes_deg = 60",
            "",
            "expected both opens_deg and closes_deg, or neither",
        ),
        (
            "[\"0.10\", \"0.20\"]",
            "[\"0.10\", \"20.0\"]",
            "a clearance of 20.00 mm: expected at most 1.00 mm",
        ),
    ] {
        let text = SHIPPED[0].1.replacen(old, new, 1);
        assert_ne!(text, SHIPPED[0].1, "{old}");
        let error = Profile::parse(&text, "my.toml").unwrap_err().to_string();
        assert!(error.contains(says), "{error} should say {says}");
        assert!(error.starts_with("my.toml:"), "{error}");
        // A job that was begun with it can still be opened.
        assert!(Profile::parse_kept(&text, "kept").is_ok(), "{old}");
    }
}
