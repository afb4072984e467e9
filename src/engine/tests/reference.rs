//! Against another solver (SciPy; data made at development time) and against brute force.

use super::allocation::bench_of;
use super::*;
use proptest::prelude::*;
use serde::Deserialize;

#[derive(Deserialize)]
struct Data {
    by: String,
    plain: Vec<Plain>,
    shims: Vec<Shims>,
    seeded: Vec<Seeded>,
}

#[derive(Deserialize)]
struct Seeded {
    rows: usize,
    columns: usize,
    seed: u64,
    top: u64,
    least: i64,
}

#[derive(Deserialize)]
struct Plain {
    cost: Vec<Vec<i64>>,
    least: i64,
}

#[derive(Deserialize)]
struct Shims {
    sides: Vec<u8>,
    old_um: Vec<i64>,
    clearance_um: Vec<i64>,
    box_um: Vec<i64>,
    least: i64,
}

fn data() -> Data {
    let data: Data =
        serde_json::from_str(include_str!("../../../tests/reference/assignment.json")).unwrap();
    assert!(data.by.contains("SciPy 1."), "{}", data.by);
    data
}

fn sum(rows: usize, columns: usize, cost: &[i64]) -> i64 {
    let taken = assign(rows, columns, cost).unwrap();
    let mut seen = taken.clone();
    seen.sort_unstable();
    seen.dedup();
    assert_eq!(seen.len(), rows, "each column once");
    taken
        .iter()
        .enumerate()
        .map(|(row, column)| cost[row * columns + column])
        .sum()
}

#[test]
fn plain_matrices_cost_what_the_other_solver_says() {
    for case in data().plain {
        let cost: Vec<i64> = case.cost.concat();
        assert_eq!(sum(case.cost.len(), case.cost[0].len(), &cost), case.least);
    }
}

/// The generator is the one of the reference script; `top` 0 stands for products of row and column.
#[test]
fn larger_matrices_cost_what_the_other_solver_says() {
    for case in data().seeded {
        let mut state = case.seed;
        let mut draw = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            i64::try_from((state >> 33) % case.top).unwrap()
        };
        let cost: Vec<i64> = if case.top == 0 {
            let product = |k: usize| (k / case.columns + 1) * (k % case.columns + 1);
            (0..case.rows * case.columns)
                .map(|k| i64::try_from(product(k)).unwrap())
                .collect()
        } else {
            (0..case.rows * case.columns).map(|_| draw()).collect()
        };
        assert_eq!(sum(case.rows, case.columns, &cost), case.least);
    }
}

#[test]
fn shim_plans_cost_what_the_other_solver_says() {
    for (number, case) in data().shims.iter().enumerate() {
        let profile = twelve();
        let valves: Vec<_> = (0..case.sides.len())
            .map(|i| {
                let side = [Side::Inlet, Side::Exhaust][usize::from(case.sides[i])];
                let position = at(u8::try_from(i + 1).unwrap(), side);
                (
                    position,
                    case.old_um[i],
                    Interval::exact(um(case.clearance_um[i])),
                )
            })
            .collect();
        let plan = ShimPlan::of(
            &profile,
            &bench_of(&profile, &valves, &case.box_um),
            &Options::default(),
        );
        let s = plan.score;
        let cost = 1_000_000_000_000 * s.stuck
            + 10_000_000 * s.purchases
            + 100_000 * s.changes
            + s.twice_off_nm / 2_000;
        assert_eq!(cost, case.least, "case {number}");
    }
}

#[derive(Deserialize)]
struct Purchases {
    by: String,
    jobs: Vec<Purchased>,
}

#[derive(Deserialize)]
struct Purchased {
    step: i64,
    valves: Vec<(u8, i64, i64, i64)>,
    #[serde(rename = "box")]
    spares: Vec<i64>,
    pieces: u16,
    single: Option<u32>,
    sizes: [i64; 6],
    price: [i64; 6],
}

/// Random jobs with an almost empty box, solved level by level by a constraint solver: stuck, unsure,
/// then purchases and sizes, or price and purchases, then changes and distance. Every plan is
/// proven, within the work of half a second.
#[test]
fn fewest_sizes_and_packs_are_what_the_other_solver_says() {
    let text = include_str!("../../../tests/reference/purchases.json");
    let data: Purchases = serde_json::from_str(text).unwrap();
    assert!(data.by.contains("OR-Tools 9."), "{}", data.by);
    assert_eq!(data.jobs.len(), 60);
    for (number, job) in data.jobs.into_iter().enumerate() {
        let mut profile = twelve();
        profile.shims.series = (0..=1_500 / job.step)
            .map(|k| um(2_000 + k * job.step))
            .collect();
        let mut next = [0_u8, 0];
        let valves: Vec<_> = job
            .valves
            .iter()
            .map(|(side, old, low, high)| {
                let count = &mut next[usize::from(*side)];
                *count += 1;
                let side = [Side::Inlet, Side::Exhaust][usize::from(*side)];
                let interval = if low == high {
                    Interval::exact(um(*low))
                } else {
                    Interval::between(um(*low), um(*high))
                };
                (at(*count, side), *old, interval)
            })
            .collect();
        profile.cylinders = 24;
        let bench = bench_of(&profile, &valves, &job.spares);
        let tariff = Tariff {
            pieces: job.pieces,
            pack_cents: 1_000,
            single_cents: job.single,
        };
        for (aim, least) in [
            (Aim::FewestSizes, job.sizes),
            (Aim::LowestPrice(tariff), job.price),
        ] {
            let options = Options {
                aim,
                ..Options::default()
            };
            let plan = ShimPlan::of(&profile, &bench, &options);
            let s = plan.score;
            let third = match aim {
                Aim::FewestSizes => [s.purchases, s.price],
                _ => [s.price, s.purchases],
            };
            let off = s.twice_off_nm / 1_000;
            let got = [s.stuck, s.unsure, third[0], third[1], s.changes, off];
            assert_eq!((got, plan.proven), (least, true), "job {number}, {aim:?}");
        }
    }
}

/// Twelve cylinders, one valve a side, the bands of the reference data.
pub(super) fn twelve() -> Profile {
    let mut profile = four([100, 200, 120, 190, 160], [200, 300, 220, 290, 260]);
    profile.cylinders = 12;
    profile
}

/// The least cost over all ways to give the rows different columns.
fn brute_force(rows: usize, columns: usize, cost: &[i64]) -> i64 {
    fn go(row: usize, rows: usize, columns: usize, cost: &[i64], used: &mut Vec<bool>) -> i64 {
        if row == rows {
            return 0;
        }
        let mut least = i64::MAX;
        for column in 0..columns {
            if !used[column] {
                used[column] = true;
                let rest = go(row + 1, rows, columns, cost, used);
                least = least.min(cost[row * columns + column] + rest);
                used[column] = false;
            }
        }
        least
    }
    go(0, rows, columns, cost, &mut vec![false; columns])
}

fn matrix() -> impl Strategy<Value = (usize, usize, Vec<i64>)> {
    (
        1_usize..=7,
        0_usize..=2,
        prop_oneof![Just(3_i64), Just(40), Just(100_000)],
    )
        .prop_flat_map(|(rows, more, top)| {
            let columns = rows + more.min(7 - rows.min(7));
            (
                Just(rows),
                Just(columns),
                prop::collection::vec(-top..=top, rows * columns),
            )
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn never_beaten_by_brute_force((rows, columns, cost) in matrix()) {
        prop_assert_eq!(sum(rows, columns, &cost), brute_force(rows, columns, &cost));
    }

    /// Levels are compared one after the other, as one weighed sum would be.
    #[test]
    fn levels_are_as_good_as_weights((rows, columns, cost) in matrix(), second in prop::collection::vec(0_i64..50, 81)) {
        let second = &second[..cost.len().min(81)];
        let levels: Vec<Levels<2>> = cost.iter().zip(second).map(|(a, b)| Levels([*a, *b])).collect();
        let weighed: Vec<i64> = levels.iter().map(|l| l.0[0] * 10_000 + l.0[1]).collect();
        let taken = assign(rows, columns, &levels).unwrap();
        let got: i64 = taken.iter().enumerate().map(|(r, c)| weighed[r * columns + c]).sum();
        prop_assert_eq!(got, brute_force(rows, columns, &weighed));
    }
}
