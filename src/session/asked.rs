//! What a person asks of the job: what is left, tight or loose, the band, the limit, what is in the box.

use super::place::{self, Placed};
use super::{Decision, JobSetup, State, verdict};
use crate::engine::Verdict;
use crate::engine::inspection::Figure;
use crate::event::{About, Fact, Head, Outcome, Part, Position, Reading, Side, until_next_check};
use crate::grammar::Whereabouts;
use crate::measure::{LengthUnit, Quantity};

fn answer(spoken: impl Into<String>) -> Decision {
    Decision::new(Outcome::Stored, "a question of the person's").say(spoken)
}

/// How many valves are to be measured; a few of them by name.
pub(super) fn how_many_left(setup: &JobSetup, state: &State) -> Decision {
    let left = state.view.remaining();
    if left.is_empty() {
        return answer(setup.answer("all_measured", &[]));
    }
    let wording = setup.wording(state);
    let count = wording.whole(u32::try_from(left.len()).unwrap_or(u32::MAX));
    let mut spoken = setup.answer("to_measure", &[("count", &count)]);
    if left.len() <= 3 {
        let places: Vec<String> = left.iter().map(|p| wording.place(*p)).collect();
        spoken = format!("{spoken}, {}", places.join(", "));
    }
    answer(spoken)
}

/// The valves with one of these verdicts, each with its verdict; `none` is said where there is none.
pub(super) fn valves_that_are(
    setup: &JobSetup,
    state: &State,
    wanted: &[Verdict],
    none: &str,
) -> Decision {
    let wording = setup.wording(state);
    let mut groups = Vec::new();
    for verdict in wanted {
        let valves = setup.profile.valves().into_iter();
        let places: Vec<String> = valves
            .filter(|p| state.view.verdict(*p) == *verdict)
            .map(|p| wording.place(p))
            .collect();
        if !places.is_empty() {
            let word = match verdict {
                Verdict::NoGap => setup.answer("no_gap", &[]),
                other => verdict::word(setup, *other),
            };
            groups.push(format!("{}, {word}", places.join(", ")));
        }
    }
    if groups.is_empty() {
        return answer(setup.answer(none, &[]));
    }
    answer(groups.join(". "))
}

/// The verdict on what was read last, or on the clearance of the valve that is named.
pub(super) fn is_it_in(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let read = match place::complete(&setup.profile, said) {
        Placed::At(position) => state.counting().latest(position, Quantity::Clearance),
        Placed::Missing(_) if said.is_empty() => state.counting().last_reading(),
        Placed::Missing(_) => return answer(setup.answer("which_position", &[])),
    };
    let Some((_, last)) = read else {
        return match place::partial(said) {
            Some(position) => read_back(setup, state, said).about(Some(position)),
            None => answer(setup.answer("nothing_measured", &[])),
        };
    };
    let read_back = setup.wording(state).reading(&last);
    let verdict = verdict::of(setup, &last);
    let verdict = match verdict.is_empty() {
        true => setup.answer("no_limit", &[]),
        false => verdict,
    };
    answer(format!("{read_back}, {verdict}")).about(last.position)
}

/// An end of the band.
#[derive(Clone, Copy)]
pub(super) enum End {
    Low,
    High,
}

/// The valve that lies nearest to one end of its band, or farthest beyond it.
pub(super) fn least_room(
    setup: &JobSetup,
    state: &State,
    said: &Whereabouts,
    end: End,
) -> Decision {
    let bench = state.view.bench();
    let room = |position: Position| {
        let twice = bench.valves.get(&position)?.interval()?.twice_middle_nm()?;
        let band = setup.profile.side(position.side).check;
        let room = match end {
            End::Low => twice - 2 * band.low.nm(),
            End::High => 2 * band.high.nm() - twice,
        };
        Some((room, position))
    };
    let valves = setup.profile.valves().into_iter();
    let of_side = valves.filter(|p| said.side.is_none_or(|s| s == p.side));
    let of_side: Vec<Position> = of_side.collect();
    let is_shut = |p: &&Position| state.view.verdict(**p) == Verdict::NoGap;
    let shut = of_side.iter().find(is_shut).copied();
    let shut = shut.filter(|_| matches!(end, End::Low));
    let nearest = || of_side.iter().filter_map(|p| room(*p)).min();
    match shut.or_else(|| nearest().map(|(_, p)| p)) {
        Some(position) => is_it_in(setup, state, &Whereabouts::from(position)),
        None => answer(setup.answer("nothing_measured", &[])),
    }
}

/// Everything that was read, valve by valve.
pub(super) fn read_all(setup: &JobSetup, state: &State) -> Decision {
    let wording = setup.wording(state);
    let valves = setup.profile.valves().into_iter();
    let readings = valves.flat_map(|p| state.counting().latest_of(p));
    let all: Vec<String> = readings.map(|r| wording.reading(&r)).collect();
    if all.is_empty() {
        return answer(setup.answer("nothing_measured", &[]));
    }
    answer(all.join(". "))
}

/// The sides that a question is about: the one that is named or open, or both.
fn sides(state: &State, said: &Whereabouts) -> Vec<Side> {
    let one = said.side.or_else(|| state.open.map(|p| p.side));
    one.map_or_else(|| vec![Side::Inlet, Side::Exhaust], |side| vec![side])
}

/// The target of a side.
pub(super) fn target(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let wording = setup.wording(state);
    let one = |side: Side| {
        let value = wording.length(setup.profile.side(side).target, setup.unit);
        let side = wording.side(side);
        setup.answer("target", &[("side", &side), ("value", &value)])
    };
    let all: Vec<String> = sides(state, said).into_iter().map(one).collect();
    answer(all.join(". "))
}

/// The check band of a side.
pub(super) fn band(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let wording = setup.wording(state);
    let one = |side: Side| {
        let band = setup.profile.side(side).check;
        let (low, high) = (
            wording.length(band.low, setup.unit),
            wording.length(band.high, setup.unit),
        );
        let side = wording.side(side);
        setup.answer("band", &[("side", &side), ("low", &low), ("high", &high)])
    };
    let all: Vec<String> = sides(state, said).into_iter().map(one).collect();
    answer(all.join(". "))
}

/// The limit of what was read last; of a clearance it is the band.
pub(super) fn limit(setup: &JobSetup, state: &State) -> Decision {
    let last = state.said_last();
    let Some(last) = last.filter(|r| r.quantity != Quantity::Clearance) else {
        return band(setup, state, &Whereabouts::default());
    };
    let limit = limit_words(setup, last.quantity, last.side(), last.head);
    answer(limit.unwrap_or_else(|| setup.answer("no_limit", &[])))
}

/// The limit of a quantity that is named: of the side that is named, or of both.
pub(super) fn limit_of(
    setup: &JobSetup,
    state: &State,
    said: &Whereabouts,
    quantity: Quantity,
) -> Decision {
    let head = said.head.or(state.head);
    let of = |side: Side| limit_words(setup, quantity, Some(side), head);
    let spoken = match (said.side, of(Side::Inlet), of(Side::Exhaust)) {
        (Some(side), ..) => of(side),
        (None, inlet, exhaust) if inlet == exhaust => inlet,
        (None, inlet, exhaust) => {
            let both = [(Side::Inlet, inlet), (Side::Exhaust, exhaust)].into_iter();
            let one = |(side, words): (Side, Option<String>)| {
                Some(format!("{}, {}", setup.wording(state).side(side), words?))
            };
            Some(both.filter_map(one).collect::<Vec<_>>().join(". "))
        }
    };
    answer(spoken.unwrap_or_else(|| setup.answer("no_limit", &[])))
}

/// A limit of the profile in words: "not less than …, not more than …".
fn limit_words(
    setup: &JobSetup,
    quantity: Quantity,
    side: Option<Side>,
    head: Option<Head>,
) -> Option<String> {
    let limit = setup.profile.limit_for(quantity.key(), side, head).ok()??;
    let end = |end: Option<Figure>| match end? {
        Figure::Amount(amount) => Some(setup.amount_words(amount)),
        Figure::RateUnPerMm(_) => None,
    };
    let least = end(limit.least).map(|v| setup.answer("not_less", &[("value", &v)]));
    let most = end(limit.most).map(|v| setup.answer("not_more", &[("value", &v)]));
    let ends: Vec<String> = least.into_iter().chain(most).collect();
    Some(ends.join(", "))
}

/// What was told of the machine or the job: "next check, thirty thousand miles".
pub(super) fn told(setup: &JobSetup, state: &State, what: About) -> Decision {
    let all = state.counting().about();
    let told = all.iter().find(|(about, _)| *about == what);
    let wording = setup.wording(state);
    let left = until_next_check(&all).filter(|_| what == About::NextCheck);
    let spoken = match told {
        Some((_, text)) => {
            let text = (*text).to_owned();
            let told = wording.fact(&Fact::About { what, text });
            let left = left.map(|left| setup.answer("left", &[("value", &wording.reached(left))]));
            [Some(told), left]
                .into_iter()
                .flatten()
                .collect::<Vec<_>>()
                .join(", ")
        }
        None => setup.answer("not_told", &[("what", wording.told_of(what))]),
    };
    answer(spoken)
}

/// The compression ratio of the cylinder that is named, or of each; what is missing for it if none is
/// known.
pub(super) fn compression_ratio(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let wording = setup.wording(state);
    let all: Vec<u8> = match said.cylinder {
        Some(cylinder) => vec![cylinder],
        None => (1..=setup.profile.cylinders).collect(),
    };
    let place = |number| {
        let part = Part::Cylinder {
            number,
            wet: false,
            heard: None,
        };
        wording.part(part, None)
    };
    let one = |cylinder: u8| {
        let ratio = verdict::ratio(setup, state, None, cylinder)?;
        Some(format!("{}, {ratio}", place(cylinder)))
    };
    let known: Vec<String> = all.iter().filter_map(|c| one(*c)).collect();
    if !known.is_empty() {
        return answer(known.join(". "));
    }
    if setup.profile.displacement.is_none() {
        return answer(setup.answer("not_in_profile", &[]));
    }
    let lacks = |quantity: Quantity| {
        let mut readings = state.counting().readings();
        let is = |r: &Reading| r.cylinder().is_none_or(|c| all.contains(&c));
        !readings.any(|r| r.quantity == quantity && is(r))
    };
    let deck = setup.profile.displacement.is_some_and(|d| d.deck.is_none());
    let wanted = [
        (Quantity::ChamberVolume, true),
        (Quantity::GasketThickness, true),
        (Quantity::DeckHeight, deck),
    ];
    let missing = wanted
        .into_iter()
        .filter(|(q, wanted)| *wanted && lacks(*q));
    let missing: Vec<String> = missing.map(|(q, _)| wording.quantity(q)).collect();
    answer(setup.answer("not_yet", &[("items", &missing.join(", "))]))
}

/// The spares in the box, size by size.
pub(super) fn in_the_box(setup: &JobSetup, state: &State) -> Decision {
    let wording = setup.wording(state);
    let loose = state.view.bench().loose.iter();
    let lots: Vec<String> = loose
        .filter_map(|(size, count)| {
            let count = u32::try_from(*count).ok().filter(|c| *c > 0)?;
            let (count, value) = (
                wording.whole(count),
                wording.length(*size, LengthUnit::Millimetre),
            );
            Some(setup.answer("lot", &[("count", &count), ("value", &value)]))
        })
        .collect();
    if lots.is_empty() {
        return answer(setup.answer("box_empty", &[]));
    }
    answer(lots.join(", "))
}

/// The shim that is in a valve; without a place, every shim that is known.
pub(super) fn shim_in(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let wording = setup.wording(state);
    let one = |position: Position| {
        let read = state.counting().latest(position, Quantity::ShimFitted);
        match read {
            Some((_, reading)) => wording.reading(&reading),
            None => setup.answer("shim_unknown", &[("place", &wording.place(position))]),
        }
    };
    if !said.is_empty() {
        let Placed::At(position) = place::resolve(setup, state, said) else {
            return answer(setup.answer("which_position", &[]));
        };
        return answer(one(position)).about(Some(position));
    }
    let known = |p: &Position| state.counting().latest(*p, Quantity::ShimFitted).is_some();
    let all: Vec<String> = setup
        .profile
        .valves()
        .into_iter()
        .filter(known)
        .map(one)
        .collect();
    if all.is_empty() {
        return answer(setup.answer("nothing_measured", &[]));
    }
    answer(all.join(". "))
}

/// What was read at the valves that are named; without a place, the last reading.
pub(super) fn read_back(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let wording = setup.wording(state);
    if said.is_empty() {
        let last = state.counting().last_reading();
        let spoken = last.map(|(_, r)| wording.reading(&r));
        return answer(spoken.unwrap_or_else(|| setup.answer("nothing_to_correct", &[])));
    }
    let wanted = |p: &Position| {
        said.cylinder.is_none_or(|c| c == p.cylinder)
            && said.side.is_none_or(|s| s == p.side)
            && said.valve.is_none_or(|v| Some(v) == p.valve)
    };
    let valves: Vec<Position> = setup.profile.valves().into_iter().filter(wanted).collect();
    let one = |position: &Position| {
        let readings = state.counting().latest_of(*position);
        if readings.is_empty() {
            return vec![setup.answer("no_plan", &[("place", &wording.place(*position))])];
        }
        readings.iter().map(|r| wording.reading(r)).collect()
    };
    let spoken: Vec<String> = valves.iter().flat_map(one).collect();
    answer(spoken.join(". ")).about(place::partial(said))
}
