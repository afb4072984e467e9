//! The turning plan while one measures, and what remains.
#![allow(clippy::unwrap_used)]

use super::JobView;
use super::counting_tests::event;
use crate::engine::crank::turns::{Places, turn_plan};
use crate::engine::{Profile, SHIPPED};
use crate::event::{Fact, Gap, Position, Reading, Value};
use crate::measure::{Length, LengthUnit, Quantity};

fn profile() -> Profile {
    Profile::parse(SHIPPED[0].1, "triple").unwrap()
}

fn gap(position: Position) -> Fact {
    Fact::Read(Reading {
        position: Some(position),
        part: None,
        head: None,
        quantity: Quantity::Clearance,
        value: Value::Gap(Gap::Between {
            goes_nm: Length::from_um(150),
            stops_nm: Length::from_um(180),
        }),
        unit: LengthUnit::Millimetre,
    })
}

#[test]
fn the_stops_stay_while_one_measures() {
    let profile = profile();
    let mut view = JobView::new(&profile, &profile.blades);
    let whole = turn_plan(&profile, &profile.valves(), Places::default()).unwrap();
    assert_eq!(view.turns().unwrap(), whole);
    let order: Vec<Position> = whole.valves().collect();
    for (n, id) in (0..order.len()).zip(1..) {
        assert_eq!(view.next(None), Some(order[n]));
        let stop = view.stop_of(order[n]).unwrap();
        let planned = whole.stops.iter().find(|s| s.valves.contains(&order[n]));
        assert_eq!(stop.crank_mdeg, planned.unwrap().crank_mdeg);
        // The crank gets as far as the stop itself, whatever was left out before it.
        assert_eq!(stop.turn_forward_mdeg, stop.crank_mdeg, "of the first stop");
        view.apply(&event(id, vec![gap(order[n])]));
    }
    assert_eq!((view.next(None), view.next(Some(order[0]))), (None, None));
    assert_eq!(view.turns().unwrap().stops, []);
}

#[test]
fn a_plan_is_made_anew_where_more_remains_than_before() {
    let profile = profile();
    let mut view = JobView::new(&profile, &profile.blades);
    for (valve, id) in profile.valves().into_iter().zip(1..) {
        view.apply(&event(id, vec![gap(valve)]));
    }
    view.apply(&event(13, vec![Fact::Cancelled(5)]));
    let again = profile.valves()[4];
    assert_eq!(view.remaining(), [again]);
    let plan = turn_plan(&profile, &[again], Places::default()).unwrap();
    assert_eq!(view.turns().unwrap(), plan);
    // The open one is next only where nothing else is left.
    assert_eq!(view.next(Some(again)), Some(again));
    view.apply(&event(14, vec![Fact::Cancelled(2)]));
    assert_eq!(view.next(Some(again)), Some(profile.valves()[1]));
    assert_eq!(view.stop_of(profile.valves()[0]), None, "it is measured");
}
