//! Options of a plan, its moves, its reasons; what-if.

use super::allocation::bench_of;
use super::*;
use crate::engine::crank::turns::stops_of;
use crate::engine::plan::cams::Cam;

fn profile() -> Profile {
    four([100, 200, 110, 200, 160], [200, 300, 210, 300, 260])
}

fn inlet(cylinder: u8) -> Position {
    at(cylinder, Side::Inlet)
}

fn exhaust(cylinder: u8) -> Position {
    at(cylinder, Side::Exhaust)
}

fn exact(value: i64) -> Interval {
    Interval::exact(um(value))
}

fn plan_with(valves: &[(Position, i64, Interval)], spares: &[i64], options: &Options) -> ShimPlan {
    let profile = profile();
    ShimPlan::of(&profile, &bench_of(&profile, valves, spares), options)
}

fn plan(valves: &[(Position, i64, Interval)], spares: &[i64]) -> ShimPlan {
    plan_with(valves, spares, &Options::default())
}

/// The camshaft of a side of an engine with one head.
const fn cam(side: Side) -> Cam {
    Cam {
        head: None,
        side: Some(side),
    }
}

/// 1E wants the 2.55 of 1I or that of 2E, and either can do with its 2.60: with that of 2E the inlet
/// camshaft stays in.
#[test]
fn of_plans_that_cost_the_same_one_leaves_a_camshaft_in() {
    let mut profile = profile();
    (profile.shims.kind, profile.shims.cams_out) = (ShimKind::UnderBucket, true);
    let valves = [
        (exhaust(1), 2_600, exact(190)),
        (inlet(1), 2_550, exact(190)),
        (exhaust(2), 2_550, exact(290)),
    ];
    let bench = bench_of(&profile, &valves, &[]);
    let plan = ShimPlan::of(&profile, &bench, &Options::default());
    assert_eq!(plan.cams_out, [cam(Side::Exhaust)]);
    assert_eq!((plan.score.purchases, plan.score.changes), (0, 2));
    // Where the inlet has to be changed itself, both come out.
    let valves = [
        (exhaust(1), 2_600, exact(190)),
        (inlet(1), 2_550, exact(210)),
    ];
    let bench = bench_of(&profile, &valves, &[]);
    let plan = ShimPlan::of(&profile, &bench, &Options::default());
    assert_eq!(plan.cams_out, [Side::Inlet, Side::Exhaust].map(cam));
}

#[test]
fn a_chain_starts_at_the_box_and_a_ring_is_broken() {
    // 1I wants 2.55, the shim of 2I; 2I wants 2.60 from the box.
    let chain = plan(
        &[
            (inlet(1), 2_600, exact(110 - 20)),
            (inlet(2), 2_550, exact(210)),
        ],
        &[2_600],
    );
    let words: Vec<&str> = chain.moves.iter().map(|m| m.words.as_str()).collect();
    assert_eq!(
        words,
        [
            "Crank at 0°. Take the 2.55 mm out of 2 inlet; it goes to 1 inlet.",
            "Fit a 2.60 mm from the box to 2 inlet.",
            "Take the 2.60 mm out of 1 inlet; it is left over.",
            "Fit the 2.55 mm from 2 inlet to 1 inlet.",
        ]
    );
    let ring = plan(
        &[(inlet(1), 2_600, exact(90)), (inlet(2), 2_550, exact(210))],
        &[],
    );
    let actions: Vec<Action> = ring.moves.iter().map(|m| m.action).collect();
    assert_eq!(
        actions,
        [
            Action::LayAside,
            Action::TakeOutFor(inlet(1)),
            Action::Fit(Source::Valve(inlet(2))),
            Action::Fit(Source::Valve(inlet(1))),
        ]
    );
    assert!(ring.moves[0].words.contains("do not turn the crank"));
}

/// Every move is made where the lobe of its valve points away, and no bucket is empty while the crank
/// is turned: every ring of three valves of a four, those too for which no common place exists.
#[test]
fn no_bucket_is_empty_while_the_crank_turns() {
    let profile = profile();
    let stops = stops_of(&profile).unwrap();
    let valves = profile.valves();
    let mut broken = 0;
    for (i, a) in valves.iter().enumerate() {
        for (j, b) in valves.iter().enumerate().skip(i + 1) {
            for c in &valves[j + 1..] {
                for spares in [&[][..], &[2_400]] {
                    let with = |size: i64, fits: i64, p: &Position| {
                        let target = profile.side(p.side).target.nm() / 1_000;
                        (*p, size, exact(target + fits - size))
                    };
                    let ring = [
                        with(2_500, 2_600, a),
                        with(2_600, 2_700, b),
                        with(2_700, 2_500, c),
                    ];
                    let plan = ShimPlan::of(
                        &profile,
                        &bench_of(&profile, &ring, spares),
                        &Options::default(),
                    );
                    assert_eq!(plan.purchases.len(), 0);
                    let mut inside: Vec<Position> = vec![*a, *b, *c];
                    let mut crank = None;
                    for step in &plan.moves {
                        let now = step.crank_mdeg.unwrap();
                        assert!(stops.shows(step.position, now).unwrap(), "{}", step.words);
                        if crank.is_some_and(|before| before != now) {
                            assert_eq!(inside.len(), 3, "empty: {}", step.words);
                        }
                        crank = Some(now);
                        match step.action {
                            Action::Fit(_) | Action::FillIn => inside.push(step.position),
                            _ => inside.retain(|p| *p != step.position),
                        }
                        broken += usize::from(step.action == Action::FillIn);
                    }
                    assert_eq!(inside.len(), 3);
                }
            }
        }
    }
    assert!(broken > 0, "some ring has no common place");
}

#[test]
fn a_camshaft_that_stays_in_keeps_and_lends_no_shim() {
    let valves = [
        (inlet(1), 2_600, exact(90)),
        (exhaust(1), 2_550, exact(310)),
        (exhaust(2), 2_500, exact(350)),
    ];
    let free = plan(&valves, &[]);
    let side_of = |source: Source| match source {
        Source::Valve(from) => Some(from.side),
        _ => None,
    };
    assert!(
        free.fittings
            .iter()
            .any(|f| side_of(f.source).is_some_and(|s| s != f.position.side))
    );
    let options = Options {
        cams_out: vec![Side::Inlet],
        ..Options::default()
    };
    let held = plan_with(&valves, &[], &options);
    assert_eq!(held.fittings.len(), 1);
    assert_eq!(held.fittings[0].source, Source::Bought);
    let stuck: Vec<_> = held
        .stuck
        .iter()
        .filter(|s| s.reason.contains("camshaft stays in"))
        .map(|s| s.position)
        .collect();
    assert_eq!(stuck, [exhaust(1), exhaust(2)]);
    assert_eq!(held.stuck[0].next, "Take the exhaust camshaft out.");
}

/// One camshaft over inlet and exhaust comes out for either, so leaving "the inlet" in leaves all in.
#[test]
fn one_camshaft_over_both_sides_comes_out_once() {
    let mut profile = profile();
    (profile.shims.kind, profile.shims.cams_out) = (ShimKind::UnderBucket, true);
    profile.shims.one_camshaft = true;
    let valves = [
        (exhaust(1), 2_600, exact(190)),
        (inlet(1), 2_550, exact(210)),
    ];
    let bench = bench_of(&profile, &valves, &[]);
    let plan = ShimPlan::of(&profile, &bench, &Options::default());
    assert_eq!(
        plan.cams_words().as_deref(),
        Some("The only camshaft comes out.")
    );
    assert_eq!(plan.fittings.len(), 2);
    let keeps_inlet = Options {
        cams_out: vec![Side::Exhaust],
        ..Options::default()
    };
    let plan = ShimPlan::of(&profile, &bench, &keeps_inlet);
    assert!(plan.fittings.is_empty(), "{:?}", plan.fittings);
    assert!(
        plan.stuck[0]
            .reason
            .contains("but the only camshaft stays in")
    );
}

#[test]
fn cams_to_pull_are_named_for_shims_under_the_bucket() {
    let mut profile = profile();
    let valves = [
        (inlet(1), 2_600, exact(90)),
        (exhaust(1), 2_550, exact(260)),
    ];
    let bench = bench_of(&profile, &valves, &[]);
    let options = |aim| Options {
        aim,
        ..Options::default()
    };
    let cams = |profile: &Profile, aim| ShimPlan::of(profile, &bench, &options(aim)).cams_out;
    assert!(cams(&profile, Aim::FewestPurchases).is_empty());
    (profile.shims.kind, profile.shims.cams_out) = (ShimKind::UnderBucket, true);
    assert_eq!(cams(&profile, Aim::FewestChanges), [cam(Side::Inlet)]);
    // Saving the purchase swaps with the good exhaust valve, and says what it takes.
    assert_eq!(
        cams(&profile, Aim::FewestPurchases),
        [Side::Inlet, Side::Exhaust].map(cam)
    );
}

#[test]
fn valves_that_no_shim_helps_say_what_would() {
    let plan = plan(
        &[
            (inlet(1), 2_050, exact(20)),
            (inlet(2), 3_450, exact(400)),
            (
                inlet(3),
                2_600,
                Interval {
                    low: None,
                    high: Some(um(50)),
                },
            ),
            (
                inlet(4),
                2_600,
                Interval {
                    low: Some(um(300)),
                    high: None,
                },
            ),
        ],
        &[],
    );
    let of = |p: Position| {
        plan.stuck
            .iter()
            .find(|s| s.position == p)
            .map(|s| format!("{} {}", s.reason, s.next))
            .unwrap()
    };
    assert!(
        of(inlet(1))
            .contains("thinner than the thinnest shim. The nearest, 2.00 mm, gives 0.07 mm."),
        "{}",
        of(inlet(1))
    );
    assert!(of(inlet(1)).contains("measure the valve's height"));
    assert!(of(inlet(2)).contains("thicker than the thickest shim"));
    assert!(of(inlet(3)).contains("largest blade that goes"));
    assert!(of(inlet(4)).contains("No larger blade"), "{}", of(inlet(4)));
    assert!(of(exhaust(1)).contains("Not measured yet. Measure it."));
}

/// Feasibility before cutting, derived: shim 2.10, clearance 0.12 less 0.15 by the cut, target
/// 0.17 -> 1.90: not in a series from 2.00.
#[test]
fn thinner_than_the_thinnest_is_seen_before_it_happens() {
    assert_eq!(
        ideal(um(2_100), exact(120 - 150), um(170), FollowerRatio::BUCKET),
        exact(1_900)
    );
}

#[test]
fn a_reading_too_wide_gives_a_possible_shim_and_says_so() {
    let wide = plan(
        &[(inlet(1), 2_600, Interval::between(um(20), um(110)))],
        &[],
    );
    assert_eq!(wide.score.unsure, 1);
    assert_eq!(wide.fittings[0].fit, Fit::Possible);
    // 2.50 gives 0.12 to 0.21. If the blade of 0.10 does not go, 2.50 surely lands in 0.11 to 0.20;
    // if it goes, 2.55 does (arithmetic).
    assert_eq!(wide.fittings[0].finer_nm, Some(um(100)));
    let reason = wide.fittings[0].reason(&profile().inlet, LengthUnit::Millimetre);
    let says = "inside 0.11 mm to 0.20 mm. Try the 0.10 mm blade before you fit it.";
    assert!(reason.ends_with(says), "{reason}");
    let narrow = plan(&[(inlet(1), 2_600, Interval::between(um(90), um(95)))], &[]);
    assert_eq!(narrow.fittings[0].finer_nm, None);
    assert_eq!(
        (narrow.score.unsure, narrow.fittings[0].fit),
        (0, Fit::Sure)
    );
    assert!(narrow.fittings[0].in_band_permille.unwrap() > 900);
}

/// Six valves each want 2.55 or 2.60 about equally; two want only one of them.
#[test]
fn fewest_sizes_and_packs() {
    let valves: Vec<_> = (1..=4)
        .map(|c| (inlet(c), 2_650, exact(if c % 2 == 0 { 80 } else { 90 })))
        .collect();
    // 80: 2.55 gives 180 (off 20), 2.60 gives 130 (off 30). 90: 2.60 gives 140, 2.55 gives 190.
    let nearest = plan(&valves, &[]);
    assert_eq!(nearest.purchases.len(), 2);
    let options = Options {
        aim: Aim::FewestSizes,
        ..Options::default()
    };
    let few = plan_with(&valves, &[], &options);
    assert_eq!(
        (few.purchases.len(), few.score.price, few.proven),
        (1, 1, true)
    );
    assert_eq!(
        (few.purchases[0].size_nm, few.purchases[0].count),
        (um(2_550), 4),
        "a tie: the thinner"
    );
    let tariff = Tariff {
        pieces: 5,
        pack_cents: 1_000,
        single_cents: Some(300),
    };
    let options = Options {
        aim: Aim::LowestPrice(tariff),
        ..Options::default()
    };
    let cheap = plan_with(&valves, &[], &options);
    assert_eq!(
        (
            cheap.score.price,
            cheap.purchases[0].packs,
            cheap.purchases[0].singles
        ),
        (1_000, 1, 0)
    );
    assert_eq!(tariff.cheapest(7), (1, 2, 1_600));
    assert_eq!(tariff.cheapest(9), (2, 0, 2_000));
    assert_eq!(
        Tariff {
            single_cents: None,
            ..tariff
        }
        .cheapest(6),
        (2, 0, 2_000)
    );
    assert_eq!(tariff.cheapest(0), (0, 0, 0));
}

/// The worst valve counts first: one shim in the middle for both rather than one spot on and one
/// at the end of its band.
#[test]
fn the_worst_valve_can_count_first() {
    // Box 2.52 and 2.56. Sum: 1I takes 2.52 (160, off 0), 2I takes 2.56 (off 50): 50.
    // Crossed: 1I takes 2.56 (120, off 40), 2I takes 2.52 (off 10): 50 as well; so 2.53 breaks it.
    let valves = [(inlet(1), 2_600, exact(80)), (inlet(2), 2_600, exact(70))];
    let spares = [2_520, 2_555];
    let worst = |p: &ShimPlan| {
        p.fittings
            .iter()
            .map(|f| (f.expected.low.unwrap() - um(160)).abs().nm() / 1_000)
            .max()
            .unwrap()
    };
    let sum = plan(&valves, &spares);
    let options = Options {
        aim: Aim::WorstValve,
        ..Options::default()
    };
    let best = plan_with(&valves, &spares, &options);
    assert_eq!((sum.score.purchases, best.score.purchases), (0, 0));
    assert!(worst(&best) <= worst(&sum));
    assert_eq!(worst(&best), 35);
}

#[test]
fn what_if_answers_without_touching_the_job() {
    let profile = profile();
    let bench = bench_of(&profile, &[(inlet(1), 2_600, exact(90))], &[]);
    let (before, bench_before) = (profile.clone(), bench.clone());
    let ask = |texts: &[&str]| {
        let mut what = WhatIf::default();
        for text in texts {
            what.set(text, LengthUnit::Millimetre)?;
        }
        let (profile, bench) = what.apply(&profile, &bench)?;
        Ok::<_, WhatIfError>(ShimPlan::of(&profile, &bench, &Options::default()))
    };
    let fitted = |p: ShimPlan| (p.fittings[0].new_nm, p.fittings[0].source);
    assert_eq!(fitted(ask(&[]).unwrap()), (um(2_550), Source::Bought));
    assert_eq!(
        fitted(ask(&["inlet_target=0.19"]).unwrap()),
        (um(2_500), Source::Bought)
    );
    assert_eq!(
        fitted(ask(&["series=2.00:3.50:0.025"]).unwrap()),
        (um(2_525), Source::Bought)
    );
    assert_eq!(
        fitted(ask(&["spares=2.50,2.525"]).unwrap()),
        (um(2_525), Source::Box)
    );
    assert_eq!(
        fitted(ask(&["spares=none", "series=2.5"]).unwrap()),
        (um(2_500), Source::Bought)
    );
    for (text, says) in [
        ("inlet_target=0.30", "expected 0.11 mm to 0.20 mm"),
        (
            "inlet_target=NaN",
            "expected a number above zero in mm, such as 0.15",
        ),
        ("inlet_target=-0.15", "expected a number above zero"),
        ("spares=2.5,", "expected a number above zero"),
        ("series=3:2:0.1", "expected FROM:TO:STEP"),
        ("series=1:2", "expected FROM:TO:STEP"),
        ("target=0.15", "expected inlet_target"),
        ("nonsense", "expected inlet_target"),
    ] {
        let error = ask(&[text]).unwrap_err().to_string();
        assert!(error.contains(says), "{error}");
    }
    assert_eq!((profile, bench), (before, bench_before));
}

#[test]
fn a_valve_that_is_to_be_left_keeps_and_lends_no_shim() {
    let profile = profile();
    let said = |item: &str| Fact::Checked {
        head: None,
        item: item.to_owned(),
        count: None,
        good: true,
        position: Some(inlet(2)),
    };
    // 1I is tight and wants the 2.55 of 2I, which is loose.
    let ring = |more: Vec<Fact>| {
        let mut facts = vec![
            marked(inlet(1), 2_600),
            between(inlet(1), 80, 100),
            marked(inlet(2), 2_550),
            between(inlet(2), 200, 220),
        ];
        facts.extend(more);
        let bench = Bench::fold(&profile, &[], &events(facts));
        ShimPlan::of(&profile, &bench, &Options::default())
    };
    let touched = |plan: &ShimPlan| plan.fittings.iter().any(|f| f.position == inlet(2));
    assert!(touched(&ring(vec![])));
    let left = ring(vec![said("leave")]);
    assert!(!touched(&left));
    let lent = |f: &Fitting| f.source == Source::Valve(inlet(2));
    assert!(!left.fittings.iter().any(lent));
    let reason = left.untouched.iter().find(|u| u.position == inlet(2));
    let reason = reason.map(|u| u.reason.as_str()).unwrap_or_default();
    assert!(reason.starts_with("You said to leave it. "), "{reason}");
    // The last word holds, and another shim ends it.
    assert!(touched(&ring(vec![said("leave"), said("comes_out")])));
    let refitted = Bench::fold(
        &profile,
        &[],
        &events(vec![
            marked(inlet(2), 2_550),
            said("leave"),
            marked(inlet(2), 2_600),
        ]),
    );
    assert!(refitted.valves.values().all(|v| !v.left));
}
