//! Finger followers, whose ratio stands between lobe and shim, and screws, which have no shims.
//! The arithmetic beside each check is done by hand.

use super::allocation::bench_of;
use super::*;
use crate::engine::plan::moves::Action;

fn finger() -> Profile {
    shipped("fingertwin")
}

fn flat() -> Profile {
    shipped("flattwin")
}

fn shipped(key: &str) -> Profile {
    let (_, text) = SHIPPED.iter().find(|(known, _)| *known == key).unwrap();
    Profile::parse(text, key).unwrap()
}

fn left(cylinder: u8, side: Side) -> Position {
    Position {
        cylinder,
        side,
        valve: Some(crate::event::Valve::Left),
    }
}

/// Ratio 0.80, shim 2.200, clearance 0.07, target 0.15: 0.08 more clearance is 0.10 less shim, 2.100.
/// From 2.125 it would be 0.07 + 0.80 × 0.075 = 0.13.
#[test]
fn a_shim_changes_the_clearance_by_the_ratio() {
    let profile = finger();
    let valve = left(1, Side::Inlet);
    let exact = Interval::exact(um(70));
    let wanted = ideal(um(2_200), exact, profile.inlet.target, profile.shims.ratio);
    assert_eq!(wanted, Interval::exact(um(2_100)));
    let gives = predict(um(2_200), exact, um(2_125), profile.shims.ratio);
    assert_eq!(gives, Interval::exact(um(130)));
    let bench = bench_of(&profile, &[(valve, 2_200, exact)], &[]);
    let plan = ShimPlan::of(&profile, &bench, &Options::default());
    let fitting = &plan.fittings[0];
    assert_eq!((fitting.new_nm, fitting.fit), (um(2_100), Fit::Sure));
    assert_eq!(fitting.expected, Interval::exact(um(150)));
    assert_eq!(
        plan.cams_words().as_deref(),
        Some("The inlet camshaft comes out.")
    );
}

/// 0.06 goes, 0.08 does not: the shim in reach of 0.15 ± 0.01 at the lobe is 2.0875 to 2.1125.
#[test]
fn the_ideal_shim_of_a_reading_is_wider_than_the_reading() {
    let profile = finger();
    let reading = Interval::between(um(60), um(80));
    let wanted = ideal(
        um(2_200),
        reading,
        profile.inlet.target,
        profile.shims.ratio,
    );
    let um = |tenths: i64| Length::from_nm(tenths * 100);
    assert_eq!(wanted, Interval::between(um(20_875), um(21_125)));
}

/// After fitting, what is measured is held against what the ratio predicts: 2.10 for 2.20 gives 0.15,
/// not the 0.17 of a bucket.
#[test]
fn a_new_reading_is_held_against_the_ratio() {
    let profile = finger();
    let valve = left(1, Side::Inlet);
    let facts = |goes, stops| {
        vec![
            between(valve, 60, 80),
            marked(valve, 2_200),
            marked(valve, 2_100),
            between(valve, goes, stops),
        ]
    };
    let compared = |goes, stops| {
        let bench = Bench::fold(&profile, &profile.blades, &events(facts(goes, stops)));
        Remeasure::of(&profile, &bench).comparisons[0].clone()
    };
    let same = compared(130, 150);
    assert_eq!(same.predicted, Interval::between(um(140), um(160)));
    assert!(same.agrees);
    let other = compared(200, 220);
    assert!(!other.agrees);
    // 0.21 - 0.15 is 0.06 at the lobe, 0.075 at the valve: a 2.025.
    let words = other.causes.join(" ");
    assert!(words.contains("as if a 2.025 mm were there"), "{words}");
}

/// Marked shims are not known to 5.8 µm each; 0.80 of that reaches the lobe.
#[test]
fn what_is_not_known_of_a_shim_reaches_the_lobe_by_the_ratio() {
    let profile = finger();
    let valve = left(1, Side::Inlet);
    let share = |profile: &Profile| {
        let near = Interval::exact(um(185));
        let bench = bench_of(profile, &[(valve, 2_200, Interval::exact(um(25)))], &[]);
        let mut plan_for = profile.clone();
        plan_for.shims.series = vec![um(2_000)];
        let plan = ShimPlan::of(&plan_for, &bench, &Options::default());
        assert_eq!(plan.fittings[0].expected, near);
        plan.fittings[0].in_band_permille.unwrap()
    };
    let finger = share(&profile);
    let mut bucket = profile.clone();
    bucket.shims.ratio = FollowerRatio::BUCKET;
    // The same expected clearance with a bucket needs a shim 0.16 thinner.
    let bench = bench_of(&bucket, &[(valve, 2_160, Interval::exact(um(25)))], &[]);
    bucket.shims.series = vec![um(2_000)];
    let plan = ShimPlan::of(&bucket, &bench, &Options::default());
    assert_eq!(plan.fittings[0].expected, Interval::exact(um(185)));
    let with_bucket = plan.fittings[0].in_band_permille.unwrap();
    assert!(finger > with_bucket, "{finger} {with_bucket}");
}

/// A cut of 0.05 along the stem takes 0.04 off the clearance: 0.12 less 0.04 is 0.08, and the shim for
/// 0.15 is 2.200 - 0.07 / 0.80 = 2.1125.
#[test]
fn a_cut_closes_the_clearance_by_the_ratio() {
    use crate::engine::inspection::{BeforeCut, Removed, after_cut};
    let profile = finger();
    let before = BeforeCut {
        shim_nm: um(2_200),
        clearance_nm: um(120),
        side: &profile.inlet,
        series: (&profile.shims.series, "test"),
        ratio: profile.shims.ratio,
    };
    let effect = after_cut(Removed::Axial(um(50)), before, LengthUnit::Millimetre).unwrap();
    assert_eq!(effect.clearance_after_nm, um(80));
    assert_eq!(effect.shim_needed_nm, Length::from_nm(2_112_500));
    // 2.100 gives 0.08 + 0.80 × 0.10; the thinnest, 1.700, allows (0.12 - 0.11) / 0.80 + 0.5 of cut.
    assert_eq!(effect.fit_gives_nm, Some(um(160)));
    assert_eq!(effect.most_drop_nm, Some(Length::from_nm(512_500)));
}

#[test]
fn a_screw_is_set_and_nothing_is_bought() {
    let profile = flat();
    let (one, two) = (at(1, Side::Exhaust), at(2, Side::Inlet));
    let events = events(vec![
        between(at(1, Side::Inlet), 100, 120),
        between(one, 220, 250),
        gap(two, Gap::None),
    ]);
    let bench = Bench::fold(&profile, &profile.blades, &events);
    let plan = ShimPlan::of(&profile, &bench, &Options::default());
    let set: Vec<(Position, Action)> = plan.moves.iter().map(|m| (m.position, m.action)).collect();
    let to = |target| Action::Set {
        clearance_nm: um(target),
    };
    assert_eq!(set, [(one, to(150)), (two, to(100))]);
    assert!(plan.purchases.is_empty() && plan.cams_out.is_empty() && plan.screws);
    assert_eq!(plan.stuck.len(), 1, "2 exhaust is not measured");
    let words = &plan.moves[0].words;
    assert!(
        words.contains("Slacken the locknut of 1 exhaust, set 0.15 mm with the blade, lock it and measure again"),
        "{words}"
    );
    let sheet = Sheet::of(&profile, &bench, &plan);
    let next = sheet.rows.iter().find(|r| r.position == one);
    assert!(
        next.unwrap()
            .next
            .as_deref()
            .unwrap()
            .starts_with("Slacken")
    );
}

/// "Adjusted" makes the reading one of before, and the next one that of after.
#[test]
fn a_valve_that_was_set_is_measured_again() {
    let profile = flat();
    let valve = at(1, Side::Exhaust);
    let set = Fact::Repaired {
        position: valve,
        work: crate::event::Repair::Adjusted,
    };
    let mut facts = vec![between(valve, 220, 250), set];
    let bench = |facts: &[Fact]| Bench::fold(&profile, &profile.blades, &events(facts.to_vec()));
    let (verdict, _) = bench(&facts).verdict(&profile, valve);
    assert_eq!(verdict, Verdict::Unmeasured);
    facts.push(between(valve, 150, 180));
    let now = bench(&facts);
    assert_eq!(now.verdict(&profile, valve).0, Verdict::InBand);
    assert!(now.conflicts.is_empty(), "{:?}", now.conflicts);
    let rounds: Vec<&str> = now.rounds_of(valve).iter().map(|r| r.round.key()).collect();
    assert_eq!(rounds, ["as_found", "after_setting"]);
}

#[test]
fn a_profile_of_followers_or_screws_says_what_it_must() {
    let (finger, flat) = (SHIPPED[6].1, SHIPPED[5].1);
    for (text, old, new, expected) in [
        (
            finger,
            "follower_ratio = \"0.80\"",
            "",
            "expected follower_ratio, such as \"0.80\"",
        ),
        (
            finger,
            "cams_out = true",
            "",
            "and cams_out = true or false",
        ),
        (
            finger,
            "\"0.80\"",
            "\"8\"",
            "\"8\": expected a ratio of 0.4 to 1.5",
        ),
        (finger, "\"0.80\"", "\"0.8005\"", "to a thousandth"),
        (
            finger,
            "kind = \"under_follower\"",
            "kind = \"under_bucket\"",
            "only shims under followers have it",
        ),
        (
            flat,
            "kind = \"screw\"",
            "kind = \"screw\"\nsizes_mm = [\"2.50\"]",
            "screws have no shims: expected no sizes",
        ),
        (
            finger,
            "bore_mm = \"85\"",
            "bore_mm = \"8.5\"",
            "8.50 mm: expected 20.00 mm to 200.00 mm",
        ),
        (
            finger,
            "dome_cc = \"3.0\"",
            "dome_cc = \"-300\"",
            "expected -100 to 100 cm³",
        ),
    ] {
        let changed = text.replacen(old, new, 1);
        assert_ne!(changed, text, "{old}");
        let error = Profile::parse(&changed, "x").unwrap_err().to_string();
        assert!(error.contains(expected), "{error}");
    }
    let without = finger.split("[displacement]").next().unwrap();
    let limit = "[[limit]]\nquantity = \"compression_ratio\"\nmin = \"9\"\nunit = \"ratio\"\nsource = \"x\"\n";
    let error = Profile::parse(&format!("{without}{limit}"), "x").unwrap_err();
    assert!(error.message.contains("expected [displacement]"), "{error}");
}
