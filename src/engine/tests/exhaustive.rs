//! Every aim of a plan against all plans there are, on small benches.

use super::allocation::bench_of;
use super::reference::twelve;
use super::*;
use proptest::prelude::*;
use std::collections::BTreeMap;

/// Everything that a plan is judged by.
#[derive(Clone, Default)]
struct Made {
    stuck: i64,
    unsure: i64,
    changes: i64,
    off: i64,
    worst: i64,
    bought: BTreeMap<Length, u16>,
}

impl Made {
    fn rank(&self, aim: Aim) -> Vec<i64> {
        let purchases: i64 = self.bought.values().map(|n| i64::from(*n)).sum();
        let sizes = i64::try_from(self.bought.len()).unwrap();
        let mut rank = vec![self.stuck, self.unsure];
        rank.extend(match aim {
            Aim::FewestPurchases => vec![purchases, self.changes],
            Aim::FewestChanges => vec![self.changes, purchases],
            Aim::FewestSizes => vec![purchases, sizes, self.changes],
            Aim::WorstValve => vec![purchases, self.worst, self.changes],
            Aim::LowestPrice(t) => {
                let price = self.bought.values().map(|n| t.cheapest(*n).2).sum();
                vec![price, purchases, self.changes]
            }
        });
        rank.push(self.off);
        rank
    }
}

type Valves = [(Position, i64, Interval)];

/// All ways to give the valves from `row` on a shim; `taken` marks the shared ones in use.
fn all(
    profile: &Profile,
    valves: &Valves,
    shared: &[Length],
    row: usize,
    taken: &mut Vec<bool>,
    made: &Made,
    out: &mut Vec<Made>,
) {
    let Some((position, own, interval)) = valves.get(row) else {
        out.push(made.clone());
        return;
    };
    let spec = profile.side(position.side);
    let off = |i: Interval| (i.twice_middle_nm().unwrap() - 2 * spec.target.nm()).abs();
    for k in 0..shared.len() {
        if taken[k] {
            continue;
        }
        let mut next = made.clone();
        if k == row {
            // The blade of 0.20 goes and that of 0.25 does not; the test engine has none above 0.30.
            let on_limit = interval.low == Some(spec.check.high)
                && spec.check.high == um(200)
                && interval.high.unwrap() <= um(250);
            if interval.middle_in(spec.check) || on_limit {
                next.off += off(*interval);
            } else {
                next.stuck += 1;
            }
        } else if !fitted(&mut next, spec, um(*own), *interval, shared[k]) {
            continue;
        }
        taken[k] = true;
        all(profile, valves, shared, row + 1, taken, &next, out);
        taken[k] = false;
    }
    for size in &profile.shims.series {
        let mut next = made.clone();
        if fitted(&mut next, spec, um(*own), *interval, *size) {
            *next.bought.entry(*size).or_insert(0) += 1;
            all(profile, valves, shared, row + 1, taken, &next, out);
        }
    }
}

fn fitted(made: &mut Made, spec: &SideSpec, old: Length, interval: Interval, size: Length) -> bool {
    let result = interval.shifted(old - size);
    let (low, high) = (result.low.unwrap(), result.high.unwrap());
    if high < spec.set.low || low > spec.set.high || (high == spec.set.low && low < high) {
        return false;
    }
    let off = ((low + high).nm() - 2 * spec.target.nm()).abs();
    made.changes += 1;
    made.off += off;
    made.worst = made.worst.max(off);
    made.unsure += i64::from(low < spec.set.low || high > spec.set.high);
    true
}

fn made(plan: &ShimPlan) -> Made {
    Made {
        stuck: plan.score.stuck,
        unsure: i64::try_from(plan.fittings.iter().filter(|f| f.fit != Fit::Sure).count()).unwrap(),
        changes: i64::try_from(plan.fittings.len()).unwrap(),
        off: plan.score.twice_off_nm,
        worst: 0,
        bought: plan
            .purchases
            .iter()
            .map(|p| (p.size_nm, p.count))
            .collect(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn no_plan_beats_the_plan(
        kinds in prop::collection::vec((prop::bool::ANY, 50_i64..=56, 1_i64..=40, 0_i64..=2), 1..=4),
        spares in prop::collection::vec(50_i64..=56, 0..=2),
        pieces in 2_u16..=4,
        single in prop::option::of(200_u32..600),
        fine in prop::bool::ANY,
    ) {
        let mut profile = twelve();
        if fine {
            profile.shims.series = (100..=130).map(|k| um(k * 25)).collect();
        }
        let valves: Vec<_> = kinds.iter().zip(1..).map(|((inlet, size, low, width), cylinder)| {
            let side = if *inlet { Side::Inlet } else { Side::Exhaust };
            let interval = if *width == 0 { Interval::exact(um(low * 10)) } else { Interval::between(um(low * 10), um((low + width * 3) * 10)) };
            (at(cylinder, side), size * 50, interval)
        }).collect();
        let spares: Vec<i64> = spares.iter().map(|s| s * 50).collect();
        let shared: Vec<Length> = valves.iter().map(|(_, size, _)| um(*size)).chain(spares.iter().map(|s| um(*s))).collect();
        let mut plans = Vec::new();
        all(&profile, &valves, &shared, 0, &mut vec![false; shared.len()], &Made::default(), &mut plans);
        let bench = bench_of(&profile, &valves, &spares);
        let tariff = Tariff { pieces, pack_cents: 1_000, single_cents: single };
        for aim in [Aim::FewestPurchases, Aim::FewestChanges, Aim::FewestSizes, Aim::WorstValve, Aim::LowestPrice(tariff)] {
            let plan = ShimPlan::of(&profile, &bench, &Options { aim, ..Options::default() });
            let best = plans.iter().map(|m| m.rank(aim)).min().unwrap();
            let mut got = made(&plan);
            got.worst = plan.fittings.iter().map(|f| {
                (f.expected.twice_middle_nm().unwrap() - 2 * profile.side(f.position.side).target.nm()).abs()
            }).max().unwrap_or(0);
            prop_assert_eq!(got.rank(aim), best, "{:?}", aim);
        }
    }
}
