//! Allocation: worked instances with known optima, and the assignment solver's own.

use super::*;
use std::collections::BTreeMap;

/// Worked instances (derived; each optimum confirmed by exhaustive dynamic programming).
type Instance = &'static [(u8, Side, i64, i64)];
const A: Instance = &[
    (1, Side::Inlet, 2_650, 90),
    (2, Side::Inlet, 2_600, 130),
    (3, Side::Inlet, 2_700, 60),
    (4, Side::Inlet, 2_650, 150),
    (1, Side::Exhaust, 2_500, 180),
    (2, Side::Exhaust, 2_550, 170),
    (3, Side::Exhaust, 2_450, 310),
    (4, Side::Exhaust, 2_600, 260),
];
const B: Instance = &[
    (1, Side::Inlet, 2_600, 70),
    (2, Side::Inlet, 2_550, 90),
    (1, Side::Exhaust, 2_500, 260),
    (2, Side::Exhaust, 2_600, 150),
];

pub(super) fn bench_of(
    profile: &Profile,
    valves: &[(Position, i64, Interval)],
    spares: &[i64],
) -> Bench {
    let mut bench = Bench::new(profile, &profile.blades);
    for (position, size, interval) in valves {
        let state = bench.valves.get_mut(position).unwrap();
        state.shim = Shim::read(1, Some(um(*size)), None);
        state.clearance = Some(Clearance {
            event: 2,
            gap: Gap::Single(um(1)),
            interval: Ok(*interval),
        });
    }
    for size in spares {
        *bench.loose.entry(um(*size)).or_insert(0) += 1;
    }
    bench
}

fn bench_for(profile: &Profile, instance: Instance, spares: &[i64]) -> Bench {
    let valves: Vec<_> = instance
        .iter()
        .map(|(c, side, size, clearance)| (at(*c, *side), *size, Interval::exact(um(*clearance))))
        .collect();
    bench_of(profile, &valves, spares)
}

fn single_band() -> Profile {
    four([100, 200, 100, 200, 150], [200, 300, 200, 300, 250])
}

fn two_bands() -> Profile {
    four([100, 200, 120, 190, 160], [200, 300, 220, 290, 260])
}

/// The cost as the worked instances write it: 10^7 a purchase, 10^5 a change, 1 a micrometre.
fn weighed(score: Score) -> i64 {
    10_000_000 * score.purchases + 100_000 * score.changes + score.twice_off_nm / 2_000
}

#[test]
fn worked_instances() {
    for (name, profile, instance, spares, expected) in [
        ("A, one band", single_band(), A, &[][..], 700_250),
        ("A, one band", single_band(), A, &[2_550], 500_200),
        ("A, one band", single_band(), A, &[2_600, 2_450], 500_130),
        (
            "A, one band",
            single_band(),
            A,
            &[2_400, 2_600, 2_550],
            500_140,
        ),
        ("A, two bands", two_bands(), A, &[], 20_500_100),
        ("A, two bands", two_bands(), A, &[2_550], 10_600_090),
        ("A, two bands", two_bands(), A, &[2_600, 2_450], 500_110),
        ("B", single_band(), B, &[], 20_300_050),
        ("B", single_band(), B, &[2_500], 10_300_050),
    ] {
        let plan = ShimPlan::of(
            &profile,
            &bench_for(&profile, instance, spares),
            &Options::default(),
        );
        assert_eq!(weighed(plan.score), expected, "{name} with {spares:?}");
        assert_eq!(plan.score.unsure, 0);
    }
}

/// Two bands, empty box: buy 2600 for 3I and 2400 for 1E; 2E to 1I, 3E to 2E, 1E to 3E.
#[test]
fn a_worked_plan_in_full() {
    let profile = two_bands();
    let plan = ShimPlan::of(&profile, &bench_for(&profile, A, &[]), &Options::default());
    let got: BTreeMap<Position, (Length, Source)> = plan
        .fittings
        .iter()
        .map(|f| (f.position, (f.new_nm, f.source)))
        .collect();
    let (inlet, exhaust) = (|c| at(c, Side::Inlet), |c| at(c, Side::Exhaust));
    let expected = BTreeMap::from([
        (inlet(1), (um(2_550), Source::Valve(exhaust(2)))),
        (inlet(3), (um(2_600), Source::Bought)),
        (exhaust(1), (um(2_400), Source::Bought)),
        (exhaust(2), (um(2_450), Source::Valve(exhaust(3)))),
        (exhaust(3), (um(2_500), Source::Valve(exhaust(1)))),
    ]);
    assert_eq!(got, expected);
    let alone: Vec<_> = plan.untouched.iter().map(|u| u.position).collect();
    assert_eq!(alone, [inlet(2), inlet(4), exhaust(4)]);
    assert!(plan.disturbed.is_empty());
    assert_eq!(plan.purchases.len(), 2);
}

/// The same with 2550 in the box moves the good valve 2I to save a purchase; the plan names it,
/// and the aim of fewest changes leaves it alone.
#[test]
fn a_good_valve_that_is_moved_is_named() {
    let profile = two_bands();
    let bench = bench_for(&profile, A, &[2_550]);
    let plan = ShimPlan::of(&profile, &bench, &Options::default());
    assert_eq!(plan.disturbed, [at(2, Side::Inlet)]);
    let options = Options {
        aim: Aim::FewestChanges,
        ..Options::default()
    };
    let plan = ShimPlan::of(&profile, &bench, &options);
    assert!(plan.disturbed.is_empty());
    assert_eq!((plan.score.changes, plan.score.purchases), (5, 2));
}

/// Small public answers: 4 x 4 cranes 275 (a general-purpose solver's own tests); 5 x 4 workers
/// 265 (a solver guide).
#[test]
fn public_assignments() {
    let cranes: [i64; 16] = [
        90, 75, 75, 80, 35, 85, 55, 65, 125, 95, 90, 105, 45, 110, 95, 115,
    ];
    let columns = assign(4, 4, &cranes).unwrap();
    assert_eq!((0..4).map(|r| cranes[r * 4 + columns[r]]).sum::<i64>(), 275);
    let workers: [[i64; 4]; 5] = [
        [90, 80, 75, 70],
        [35, 85, 55, 65],
        [125, 95, 90, 95],
        [45, 110, 95, 115],
        [50, 100, 90, 100],
    ];
    let turned: Vec<i64> = (0..4)
        .flat_map(|task| workers.iter().map(move |w| w[task]))
        .collect();
    let columns = assign(4, 5, &turned).unwrap();
    assert_eq!((0..4).map(|r| turned[r * 5 + columns[r]]).sum::<i64>(), 265);
    assert_eq!(assign::<i64>(2, 1, &[1, 2]), None);
    assert_eq!(assign::<i64>(0, 3, &[]), Some(vec![]));
}
