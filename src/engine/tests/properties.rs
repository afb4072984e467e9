//! What holds for every plan.

use super::allocation::bench_of;
use super::reference::twelve;
use super::*;
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

type Setup = (Vec<(Position, i64, Interval)>, Vec<i64>);

fn setup() -> impl Strategy<Value = Setup> {
    let valve = (prop::bool::ANY, 40_i64..=72, 0_i64..=40, 0_i64..=3);
    (
        prop::collection::vec(valve, 1..=12),
        prop::collection::vec(40_i64..=72, 0..=12),
    )
        .prop_map(|(valves, box_)| {
            let valves = valves
                .into_iter()
                .zip(1..)
                .map(|((inlet, size, low, width), cylinder)| {
                    let side = if inlet { Side::Inlet } else { Side::Exhaust };
                    let interval = if width == 0 {
                        Interval::exact(um(low * 10))
                    } else {
                        Interval::between(um(low * 10), um((low + width) * 10))
                    };
                    (at(cylinder, side), size * 50, interval)
                })
                .collect();
            (valves, box_.into_iter().map(|size| size * 50).collect())
        })
}

fn aims() -> impl Strategy<Value = Aim> {
    prop_oneof![
        Just(Aim::FewestPurchases),
        Just(Aim::FewestChanges),
        Just(Aim::FewestSizes),
        Just(Aim::WorstValve),
        Just(Aim::LowestPrice(Tariff {
            pieces: 5,
            pack_cents: 1_200,
            single_cents: Some(450)
        })),
        Just(Aim::LowestPrice(Tariff {
            pieces: 3,
            pack_cents: 900,
            single_cents: None
        })),
    ]
}

/// Does the moves by hand: which shim is where, and nothing twice.
fn carry_out(
    plan: &ShimPlan,
    valves: &[(Position, i64, Interval)],
    spares: &[i64],
) -> BTreeMap<Position, Length> {
    let mut inside: BTreeMap<Position, Length> =
        valves.iter().map(|(p, size, _)| (*p, um(*size))).collect();
    let mut in_hand: BTreeMap<Position, Length> = BTreeMap::new();
    let mut boxed: Vec<Length> = spares.iter().map(|s| um(*s)).collect();
    let mut to_buy: BTreeMap<Length, u16> = plan
        .purchases
        .iter()
        .map(|p| (p.size_nm, p.count))
        .collect();
    for step in &plan.moves {
        match step.action {
            Action::TakeOut | Action::TakeOutFor(_) | Action::LayAside => {
                assert_eq!(
                    inside.remove(&step.position),
                    Some(step.shim_nm),
                    "{}",
                    step.words
                );
                in_hand.insert(step.position, step.shim_nm);
            }
            Action::FillIn | Action::TakeFillerOut | Action::Set { .. } => panic!("{}", step.words),
            Action::Fit(source) => {
                match source {
                    Source::Valve(from) => {
                        assert_eq!(in_hand.remove(&from), Some(step.shim_nm), "{}", step.words);
                    }
                    Source::Box => {
                        let found = boxed
                            .iter()
                            .position(|s| *s == step.shim_nm)
                            .expect("it is in the box");
                        boxed.swap_remove(found);
                    }
                    Source::Bought => {
                        *to_buy.get_mut(&step.shim_nm).expect("it is on the list") -= 1;
                    }
                }
                assert_eq!(
                    inside.insert(step.position, step.shim_nm),
                    None,
                    "{}",
                    step.words
                );
            }
        }
    }
    assert!(
        to_buy.values().all(|n| *n == 0),
        "everything bought is used"
    );
    inside
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn a_plan_can_be_carried_out((valves, spares) in setup(), aim in aims()) {
        let profile = twelve();
        let options = Options { aim, ..Options::default() };
        let plan = ShimPlan::of(&profile, &bench_of(&profile, &valves, &spares), &options);
        let inside = carry_out(&plan, &valves, &spares);
        prop_assert_eq!(inside.len(), valves.len(), "no bucket stays empty");
        for fitting in &plan.fittings {
            prop_assert_eq!(inside[&fitting.position], fitting.new_nm);
            let spec = profile.side(fitting.position.side);
            if fitting.fit == Fit::Sure {
                prop_assert!(fitting.expected.low.unwrap() >= spec.set.low && fitting.expected.high.unwrap() <= spec.set.high);
            }
        }
        let touched: BTreeSet<Position> = plan.fittings.iter().map(|f| f.position).collect();
        for (position, size, interval) in &valves {
            let stuck = plan.stuck.iter().any(|s| s.position == *position);
            let alone = plan.untouched.iter().any(|u| u.position == *position);
            prop_assert_eq!(u8::from(stuck) + u8::from(alone) + u8::from(touched.contains(position)), 1);
            if !touched.contains(position) {
                prop_assert_eq!(inside[position], um(*size));
            }
            if alone {
                prop_assert!(interval.is_accepted(profile.side(position.side).check, &profile.blades));
            }
        }
        let bought: u16 = plan.purchases.iter().map(|p| p.count).sum();
        prop_assert!(usize::from(bought) <= valves.len());
        prop_assert_eq!(i64::from(bought), plan.score.purchases);
        prop_assert!(plan.proven);
    }

    /// Each aim is at least as good as every other plan in what it asks for.
    #[test]
    fn each_aim_is_best_at_its_own((valves, spares) in setup()) {
        let profile = twelve();
        let bench = bench_of(&profile, &valves, &spares);
        let tariff = Tariff { pieces: 3, pack_cents: 900, single_cents: Some(400) };
        let aims = [Aim::FewestPurchases, Aim::FewestChanges, Aim::FewestSizes, Aim::LowestPrice(tariff), Aim::WorstValve];
        let plans = aims.map(|aim| ShimPlan::of(&profile, &bench, &Options { aim, ..Options::default() }));
        let sizes = |p: &ShimPlan| i64::try_from(p.purchases.len()).unwrap();
        let price = |p: &ShimPlan| p.purchases.iter().map(|b| tariff.cheapest(b.count).2).sum::<i64>();
        let worst = |p: &ShimPlan| {
            let off = |f: &Fitting| (f.expected.twice_middle_nm().unwrap() - 2 * profile.side(f.position.side).target.nm()).abs();
            p.fittings.iter().map(off).max().unwrap_or(0)
        };
        prop_assert_eq!(plans[2].score.price, sizes(&plans[2]));
        prop_assert_eq!(plans[3].score.price, price(&plans[3]));
        for plan in &plans {
            prop_assert_eq!((plan.score.stuck, plan.score.unsure), (plans[0].score.stuck, plans[0].score.unsure));
            prop_assert!(plans[0].score.purchases <= plan.score.purchases);
            prop_assert!(plans[1].score.changes <= plan.score.changes);
            prop_assert!(price(&plans[3]) <= price(plan));
            if plan.score.purchases == plans[0].score.purchases {
                prop_assert!(sizes(&plans[2]) <= sizes(plan));
                prop_assert!(worst(&plans[4]) <= worst(plan));
            }
        }
    }

    #[test]
    fn nothing_said_can_panic(facts in prop::collection::vec((0_u8..6, 0_u8..20, -200_i64..4_000, -200_i64..4_000), 0..40)) {
        let profile = four([100, 200, 120, 190, 160], [200, 300, 220, 290, 260]);
        let facts = facts.into_iter().map(|(kind, cylinder, a, b)| {
            let position = at(cylinder % 6, if a % 2 == 0 { Side::Inlet } else { Side::Exhaust });
            match kind {
                0 => between(position, a, b),
                1 => gap(position, Gap::Single(um(a))),
                2 => shim(position, Some(a), (b % 3 == 0).then_some(b)),
                3 => Fact::Spare { size_nm: um(a), count: u16::from(cylinder) },
                4 => gap(position, [Gap::None, Gap::AtLeast(um(a)), Gap::Below(um(a))][usize::from(cylinder) % 3]),
                _ => Fact::Cancelled(u64::from(cylinder)),
            }
        });
        let bench = Bench::fold(&profile, &profile.blades, &events(facts.collect()));
        let sheet = sheet(&profile, &bench);
        prop_assert_eq!(sheet.measured + sheet.remaining, sheet.rows.len());
        let plan = ShimPlan::of(&profile, &bench, &Options::default());
        prop_assert_eq!(plan.fittings.len() + plan.untouched.len() + plan.stuck.len(), sheet.rows.len());
        let _ = Remeasure::of(&profile, &bench);
    }
}
