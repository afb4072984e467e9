//! Tests of the turning plan against published check sets, printed tables and a brute force.
#![allow(clippy::unwrap_used)]
use super::*;
use proptest::prelude::*;

const ROAD: Timing = Timing::known(30_000, 60_000, 60_000, 30_000);
const MILD: Timing = Timing::known(15_000, 50_000, 50_000, 15_000);

fn at(cylinder: u8, side: Side) -> Position {
    Position {
        cylinder,
        side,
        valve: None,
    }
}

fn all(stops: &Stops) -> Vec<Position> {
    let mut numbers: Vec<u8> = stops.cylinders.iter().map(|c| c.number).collect();
    numbers.sort_unstable();
    numbers
        .into_iter()
        .flat_map(|n| [at(n, Side::Inlet), at(n, Side::Exhaust)])
        .collect()
}

fn firing(positions_deg: &[i64], timing: Option<Timing>) -> Stops {
    let cylinders = (1_u8..)
        .zip(positions_deg)
        .map(|(number, deg)| Cylinder {
            number,
            fires_mdeg: deg * 1_000,
        })
        .collect();
    Stops::new(cylinders, timing).unwrap()
}

fn shown(stops: &Stops, crank_deg: i64, side: Side) -> Vec<u8> {
    all(stops)
        .into_iter()
        .filter(|v| v.side == side && stops.shows(*v, crank_deg * 1_000).unwrap())
        .map(|v| v.cylinder)
        .collect()
}

/// An engine that fires evenly in `order`, which begins with cylinder 1.
fn evenly(order: &[u8], timing: Option<Timing>) -> Result<Stops, TurnError> {
    let count = i64::try_from(order.len()).unwrap();
    let cylinders = (0_i64..).zip(order).map(|(at, &number)| Cylinder {
        number,
        fires_mdeg: at * CYCLE_MDEG / count,
    });
    Stops::new(cylinders.collect(), timing)
}

/// Firing order, crank degrees, inlets, exhausts. Four in line: TM 5-3805-258-24-1 p. 4-28;
/// six in line: a maker's workshop manual. Timing 15/50/50/15, margin 20.
#[test]
fn published_check_sets() {
    type Row = (&'static [u8], i64, &'static [u8], &'static [u8]);
    let rows: [Row; 4] = [
        (&[1, 3, 4, 2], 0, &[1, 2], &[1, 3]),
        (&[1, 3, 4, 2], 360, &[3, 4], &[2, 4]),
        (&[1, 5, 3, 6, 2, 4], 0, &[1, 2, 4], &[1, 3, 5]),
        (&[1, 5, 3, 6, 2, 4], 360, &[3, 5, 6], &[2, 4, 6]),
    ];
    for (order, crank, inlets, exhausts) in rows {
        let stops = evenly(order, Some(MILD)).unwrap();
        assert_eq!(shown(&stops, crank, Side::Inlet), inlets, "{order:?}");
        assert_eq!(shown(&stops, crank, Side::Exhaust), exhausts, "{order:?}");
    }
}

/// Vee eight 1-2-7-3-4-5-6-8, both valves of these cylinders: TM 5-3825-226-24. The formula gives
/// a superset (1,2,8 / 2,3,7 / 3,4,5 / 5,6,8).
#[test]
fn published_vee_eight() {
    let stops = evenly(&[1, 2, 7, 3, 4, 5, 6, 8], Some(MILD)).unwrap();
    let rows: [(i64, &[u8], [u8; 3]); 4] = [
        (0, &[1, 2], [1, 2, 8]),
        (180, &[3, 7], [2, 3, 7]),
        (360, &[4, 5], [3, 4, 5]),
        (540, &[6, 8], [5, 6, 8]),
    ];
    for (crank, published, formula) in rows {
        let inlets = shown(&stops, crank, Side::Inlet);
        let exhausts = shown(&stops, crank, Side::Exhaust);
        let both: Vec<u8> = inlets
            .into_iter()
            .filter(|n| exhausts.contains(n))
            .collect();
        assert!(published.iter().all(|n| both.contains(n)), "{crank}");
        assert_eq!(both, formula, "{crank}");
    }
}

/// The same six, all valves of one cylinder at a time in firing order, done in two turns:
/// TM 6115-400-12, valve lash, 1-5-3-6-2-4.
#[test]
fn one_cylinder_at_a_time_takes_two_turns() {
    let stops = evenly(&[1, 5, 3, 6, 2, 4], None).unwrap();
    for cylinder in &stops.cylinders {
        for side in [Side::Inlet, Side::Exhaust] {
            let valve = at(cylinder.number, side);
            assert!(stops.shows(valve, cylinder.fires_mdeg).unwrap(), "{valve}");
        }
        assert!(cylinder.fires_mdeg < CYCLE_MDEG);
    }
}

/// 1-2-4-3 by half-turns, 30/60/60/30, margin 20 (arithmetic).
#[test]
fn four_in_line_by_half_turns() {
    let stops = evenly(&[1, 2, 4, 3], Some(ROAD)).unwrap();
    let rows: [(i64, [u8; 2], [u8; 2]); 4] = [
        (0, [1, 3], [1, 2]),
        (180, [1, 2], [2, 4]),
        (360, [2, 4], [3, 4]),
        (540, [3, 4], [1, 3]),
    ];
    for (crank, inlets, exhausts) in rows {
        assert_eq!(shown(&stops, crank, Side::Inlet), inlets);
        assert_eq!(shown(&stops, crank, Side::Exhaust), exhausts);
    }
}

/// Layouts from memory of the trade, plans by arithmetic: firing positions, dead-centre plan,
/// number of stops on the 15° grid and how far they turn from the firing mark of cylinder 1.
#[test]
fn motorcycle_plans() {
    type Row = (
        &'static str,
        &'static [i64],
        &'static [i64],
        usize,
        i64,
        Timing,
    );
    let wide = Timing {
        margin_mdeg: 20_000,
        ..Timing::WIDE
    };
    let rows: [Row; 8] = [
        ("four", &[0, 180, 540, 360], &[0, 360], 2, 270, ROAD),
        ("triple", &[0, 240, 480], &[0, 240], 2, 180, ROAD),
        ("twin 360", &[0, 360], &[0, 360], 2, 270, ROAD),
        ("twin 180", &[0, 180], &[0, 180], 1, 90, ROAD),
        ("twin 180, wide", &[0, 180], &[0, 180], 2, 105, Timing::WIDE),
        ("twin 180, 40/70", &[0, 180], &[0, 180], 1, 90, wide),
        ("twin 270", &[0, 270], &[0, 270], 2, 180, ROAD),
        ("vee four", &[0, 90, 360, 450], &[0, 360], 2, 270, ROAD),
    ];
    for (name, fires, marks, count, turning, timing) in rows {
        let stops = firing(fires, Some(timing));
        let grid = stops.plan(&all(&stops), None, Places::default()).unwrap();
        assert_eq!(
            (grid.stops.len(), grid.turning_mdeg()),
            (count, turning * 1_000),
            "{name}: {grid:?}"
        );
        let tdc = stops.plan(&all(&stops), None, Places::DeadCentres).unwrap();
        let cranks: Vec<i64> = tdc.stops.iter().map(|s| s.crank_mdeg / 1_000).collect();
        assert_eq!(cranks, marks, "{name}");
    }
    let six = evenly(&[1, 5, 3, 6, 2, 4], Some(ROAD)).unwrap();
    let grid = six.plan(&all(&six), None, Places::default()).unwrap();
    assert_eq!((grid.stops.len(), grid.turning_mdeg()), (2, 300_000));
    let tdc = six.plan(&all(&six), None, Places::DeadCentres).unwrap();
    assert_eq!(tdc.stops[1].crank_mdeg, 360_000);
}

#[test]
fn from_where_the_crank_stands_only_forwards_and_each_valve_once() {
    let stops = evenly(&[1, 2, 4, 3], None).unwrap();
    let valves = all(&stops);
    for now in [0, 100_000, 359_999, 719_000, -10_000] {
        let plan = stops.plan(&valves, Some(now), Places::DeadCentres).unwrap();
        assert!(plan.assumed_timing);
        assert_eq!(plan.stops.len(), 2);
        let mut crank = now;
        let mut told: Vec<Position> = Vec::new();
        for stop in &plan.stops {
            for valve in &stop.valves {
                assert!(stops.shows(*valve, stop.crank_mdeg).unwrap());
                told.push(*valve);
            }
        }
        for stop in &plan.stops {
            assert!(stop.turn_forward_mdeg >= 0);
            crank += stop.turn_forward_mdeg;
            assert_eq!(crank.rem_euclid(CYCLE_MDEG), stop.crank_mdeg);
        }
        told.sort_unstable();
        let mut wanted = valves.clone();
        wanted.sort_unstable();
        assert_eq!(told, wanted);
    }
    let none = stops.plan(&[], None, Places::default()).unwrap();
    assert_eq!(none.stops, []);
}

/// Inlet 30/60 and exhaust 60/30: the lobes' noses stand 105° after and before the dead centre of the
/// overlap, so an inlet points straight away at 105 and an exhaust at 615 after firing (arithmetic).
#[test]
fn stops_that_the_eye_finds_are_preferred() {
    let stops = firing(&[0, 240, 480], Some(ROAD));
    assert_eq!(stops.off_mdeg(at(1, Side::Inlet), 105_000), 0);
    assert_eq!(stops.off_mdeg(at(1, Side::Exhaust), 615_000), 0);
    assert_eq!(stops.off_mdeg(at(2, Side::Inlet), 240_000), 52_500);
    assert_eq!((stops.mark(600_000), stops.mark(105_000)), (Some(2), None));
    let profile = Profile::parse(crate::engine::SHIPPED[0].1, "triple").unwrap();
    let valves = profile.valves();
    let plan = turn_plan(&profile, &valves, Places::default()).unwrap();
    let grid = stops_of(&profile)
        .unwrap()
        .plan(&valves, None, Places::default());
    assert_eq!(plan.stops.len(), grid.unwrap().stops.len());
    for stop in &plan.stops {
        assert!(
            stop.mark.is_some() || stop.off_mdeg.contains(&0),
            "{stop:?}"
        );
        assert!(stop.off_mdeg.iter().all(|off| *off <= 112_500), "{stop:?}");
    }
}

#[test]
fn sixteen_cylinders_with_five_valves() {
    let order: Vec<u8> = (1..=16).collect();
    let stops = evenly(&order, None).unwrap();
    let valves: Vec<Position> = all(&stops)
        .into_iter()
        .flat_map(|v| {
            use crate::event::Valve::{Left, Middle, Right};
            [Left, Middle, Right].map(|valve| Position {
                valve: Some(valve),
                ..v
            })
        })
        .collect();
    let plan = stops.plan(&valves, None, Places::Grid(1_000)).unwrap();
    assert_eq!(plan.stops.len(), 2);
    assert_eq!(
        plan.stops.iter().map(|s| s.valves.len()).sum::<usize>(),
        valves.len()
    );
}

#[test]
fn bad_input_is_named() {
    let one = |number, fires_mdeg| Cylinder { number, fires_mdeg };
    let error = |cylinders| Stops::new(cylinders, None).unwrap_err().to_string();
    assert!(error(vec![]).contains("expected 1 to 16"));
    assert!(error(vec![one(1, 0), one(1, 0)]).contains("twice"));
    assert!(error(vec![one(1, 5)]).contains("0 for cylinder 1"));
    assert!(error(vec![one(1, 0), one(2, 720_000)]).contains("below 720000"));
    let odd = Timing::known(0, 0, 0, i64::MAX);
    assert!(evenly(&[1], Some(odd)).is_err());
    let stops = evenly(&[1, 2], None).unwrap();
    let plan = |valve, places| stops.plan(&[valve], None, places).unwrap_err();
    let here = at(1, Side::Inlet);
    assert_eq!(plan(here, Places::Grid(7_000)), TurnError::Grid(7_000));
    let absent = at(9, Side::Inlet);
    assert_eq!(
        plan(absent, Places::default()),
        TurnError::NoCylinder(absent)
    );
    let second = at(2, Side::Exhaust);
    assert_eq!(
        plan(second, Places::Grid(720_000)),
        TurnError::Hidden(second)
    );
}

/// Fewest stops, then least turning, by trying every subset in order of size.
fn brute(stops: &Stops, valves: &[Position], now: i64) -> (usize, i64) {
    let step = 45_000;
    let places: Vec<u32> = (0..16)
        .map(|i| {
            valves.iter().enumerate().fold(0_u32, |mask, (bit, v)| {
                let crank = now + (i * step - now).rem_euclid(CYCLE_MDEG);
                mask | (u32::from(stops.shows(*v, crank).unwrap()) << bit)
            })
        })
        .collect();
    let offset = |i: i64| (i * step - now).rem_euclid(CYCLE_MDEG);
    let full = (1_u32 << valves.len()) - 1;
    for size in 1..=4_u32 {
        let mut best: Option<i64> = None;
        for chosen in 0_u32..1 << 16 {
            if chosen.count_ones() != size {
                continue;
            }
            let picked = || (0..16_i64).filter(|i| chosen >> i & 1 == 1);
            let mask = picked().fold(0, |m, i| m | places[usize::try_from(i).unwrap()]);
            if mask == full {
                let last = picked().map(offset).max().unwrap();
                best = Some(best.map_or(last, |b| b.min(last)));
            }
        }
        if let Some(best) = best {
            return (size as usize, best);
        }
    }
    (usize::MAX, 0)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn never_beaten_by_brute_force(
        fires in proptest::collection::vec(0_i64..48, 1..6),
        open in 0_i64..100, margin in 0_i64..40, now in 0_i64..720,
    ) {
        let mut positions = vec![0];
        positions.extend(fires.iter().map(|f| f * 15));
        let timing = Timing { margin_mdeg: margin * 1_000,
            ..Timing::known(open * 1_000, 70_000, 70_000, open * 900) };
        let stops = firing(&positions, Some(timing));
        let valves = all(&stops);
        let plan = stops.plan(&valves, Some(now * 1_000), Places::Grid(45_000)).unwrap();
        prop_assert_eq!(
            (plan.stops.len(), plan.turning_mdeg()),
            brute(&stops, &valves, now * 1_000)
        );
    }
}
