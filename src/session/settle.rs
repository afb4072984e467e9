//! A placed reading: stored, joined with what was said of it before, or asked.

use super::bolts::{self, Wrong};
use super::{Decision, JobSetup, State, blades, heads, shims, verdict};
use crate::engine::inspection::apart_from;
use crate::event::{Doubt, Fact, Gap, Outcome, Position, Question, Reading, Side, Value};
use crate::measure::{Amount, Length, Place, Quantity, Zone, bounds};

/// What has been said about a reading that would otherwise be asked.
#[derive(Clone, Copy, Default)]
pub(super) struct Force {
    /// It replaces this event.
    pub(super) fixes: Option<u64>,
    /// It is meant to follow an earlier one.
    pub(super) fresh: bool,
    /// It lies outside the usual range.
    pub(super) unusual: bool,
}

/// Stores a placed reading, or asks.
pub(super) fn settle(setup: &JobSetup, state: &State, reading: Reading, force: Force) -> Decision {
    let reading = heads::complete(setup, state, reading);
    if heads::lacks(setup, &reading) {
        let in_doubt = force.unusual && !outside(setup, &reading);
        return heads::ask(setup, state, reading, in_doubt);
    }
    let wording = setup.wording(state);
    let earlier = state
        .counting()
        .latest_like(&reading)
        .filter(|_| !reading.quantity.gathers());
    let mut facts = Vec::new();
    let (mut reading, mut fixes) = (reading, force.fixes);
    let mut overturns = false;
    if let (None, Some((id, old))) = (fixes, earlier) {
        if let Some(joined) = join(old.value, reading.value) {
            reading.value = joined;
            fixes = Some(id);
        } else {
            overturns = old.value != reading.value
                && !force.fresh
                && !remeasured(state, id, &reading)
                && !shims::is_expected(state, &old, &reading);
        }
    }
    facts.extend(fixes.map(Fact::Cancelled));
    if let Some(position) = reading.position.filter(|p| state.open != Some(*p)) {
        facts.push(Fact::Opened(position));
    }
    facts.extend(shim_from(state, &reading));
    facts.push(Fact::Read(reading));
    let spoken = wording.reading(&reading);
    let ask = |doubt, key, why: &str| {
        let words = setup.answer(key, &[("reading", &spoken)]);
        let question = Question::plain(doubt, facts.clone(), words);
        Decision::new(Outcome::Asked, why)
            .about(reading.position)
            .asks(question)
    };
    match bolts::wrong(setup, state, &reading) {
        Some(Wrong::NoSuchBolt(words)) => {
            return Decision::new(Outcome::Refused, "the engine has no such bolt").say(words);
        }
        Some(wrong @ (Wrong::Asked(_) | Wrong::NotNew(_))) => {
            let words = match wrong {
                Wrong::NotNew(words) => {
                    facts.push(Fact::Checked {
                        item: bolts::NEW_BOLTS.to_owned(),
                        count: None,
                        good: true,
                        position: None,
                        head: reading.head,
                    });
                    words
                }
                Wrong::Asked(words) | Wrong::NoSuchBolt(words) => words,
            };
            let spoken = format!("{spoken}. {words}");
            let words = setup.answer("confirm", &[("reading", &spoken)]);
            let question = Question::plain(Doubt::Unusual, facts, words);
            return Decision::new(Outcome::Asked, "not as the profile has it").asks(question);
        }
        None => {}
    }
    if overturns && reading.quantity == Quantity::ShimFitted && !force.unusual {
        let question = shims::question(setup, state, &reading, facts);
        return Decision::new(Outcome::Asked, "another size than the shim that was read")
            .about(reading.position)
            .asks(question);
    }
    if outside(setup, &reading) {
        return ask(Doubt::Unusual, "outside", "outside the usual range");
    }
    if let Some(question) = blades::question(setup, state, &reading, &facts) {
        return Decision::new(Outcome::Asked, "a blade that is not among those owned")
            .about(reading.position)
            .asks(question);
    }
    if force.unusual {
        return ask(Doubt::Unusual, "confirm", "unusual, or not quite clear");
    }
    if let Value::Shim {
        marked_nm: Some(size),
        measured_nm: None,
    } = reading.value
        && shims::sounds_like_another(setup, size)
    {
        return ask(Doubt::Unusual, "confirm", shims::SOUNDS_LIKE_ANOTHER);
    }
    if let Some(middle) = apart_from_sisters(setup, state, &reading).filter(|_| fixes.is_none()) {
        let middle = wording.length(middle, reading.unit);
        let values = [("reading", spoken.as_str()), ("value", &middle)];
        let question = Question::plain(Doubt::Unusual, facts, setup.answer("apart", &values));
        return Decision::new(Outcome::Asked, "it does not agree with its sisters")
            .about(reading.position)
            .asks(question);
    }
    if overturns {
        return ask(
            Doubt::Overturns,
            "overturns",
            "it differs from the earlier reading of this valve",
        );
    }
    let why = if force.fixes.is_some() {
        "correction of the reading before"
    } else {
        "in range, certain, one meaning"
    };
    // Said at once, while the cover is off: a shim does not give what it was fitted for.
    let spoken = match unexpected(state, &reading) {
        Some((low, high)) => {
            let low = wording.length(low, setup.unit);
            let high = wording.length(high, setup.unit);
            let values = [("reading", spoken.as_str()), ("low", &low), ("high", &high)];
            setup.answer("unexpected", &values)
        }
        None => spoken,
    };
    Decision::new(Outcome::Stored, why)
        .about(reading.position)
        .say(verdict::after(setup, state, &reading, &spoken))
        .adds(facts)
}

/// The middle one of the sisters of a part, if it does not agree with them.
fn apart_from_sisters(setup: &JobSetup, state: &State, reading: &Reading) -> Option<Length> {
    let length = |reading: &Reading| match reading.value {
        Value::Amount(amount) | Value::Pair(amount, _) => amount.length(),
        _ => None,
    };
    let position = reading.position?;
    let valves = setup.profile.valves().into_iter();
    let sisters = valves.filter(|p| p.side == position.side && *p != position);
    let read = |sister: Position| {
        let of = Reading {
            position: Some(sister),
            ..*reading
        };
        length(&state.counting().latest_like(&of)?.1)
    };
    apart_from(
        reading.quantity,
        length(reading)?,
        sisters.filter_map(read).collect(),
    )
}

/// What a clearance was expected to be after another shim was fitted, if it is not so.
fn unexpected(state: &State, reading: &Reading) -> Option<(Length, Length)> {
    let (Some(position), Value::Gap(gap)) = (reading.position, reading.value) else {
        return None;
    };
    if reading.quantity != Quantity::Clearance {
        return None;
    }
    let expected = state.view.disagrees_with(position, gap)?;
    expected.low.zip(expected.high)
}

/// Where the shim comes from that a reading fits to a valve.
pub(super) fn shim_from(state: &State, reading: &Reading) -> Option<Fact> {
    let (position, size) = (reading.position?, reading.value.shim_size()?);
    let source = state.view.source_of(position, size)?;
    Some(Fact::ShimFrom { position, source })
}

/// Whether a value lies outside the usual range of its place, however it came here.
pub(super) fn outside(setup: &JobSetup, reading: &Reading) -> bool {
    let place = match (reading.quantity, reading.position) {
        (Quantity::ShimFitted, _) => setup.shim_place(),
        (_, Some(position)) if position.side == Side::Inlet => Place::Inlet,
        (_, Some(_)) => Place::Exhaust,
        (_, None) => Place::Any,
    };
    let row = bounds(reading.quantity, place);
    let length = Amount::LengthNm;
    let amounts = match reading.value {
        Value::Gap(Gap::Between { goes_nm, stops_nm }) => {
            [Some(length(goes_nm)), Some(length(stops_nm))]
        }
        Value::Gap(Gap::Single(l) | Gap::AtLeast(l) | Gap::Below(l)) => [Some(length(l)), None],
        Value::Shim {
            marked_nm,
            measured_nm,
        } => [marked_nm.map(length), measured_nm.map(length)],
        Value::Amount(amount) => [Some(amount), None],
        // A pair was weighed where it was read: its second has a range of its own.
        Value::Gap(Gap::None) | Value::Pair(..) | Value::Done => [None, None],
    };
    let mut zones = amounts.into_iter().flatten().map(|a| row.zone(a));
    zones.any(|zone| zone != Zone::Usual)
}

/// Whether a shim was fitted after the earlier clearance: then a new value is expected.
fn remeasured(state: &State, earlier: u64, reading: &Reading) -> bool {
    reading.quantity == Quantity::Clearance
        && reading
            .position
            .and_then(|p| state.counting().latest(p, Quantity::ShimFitted))
            .is_some_and(|(id, _)| id > earlier)
}

/// "Fifteen goes", then "eighteen doesn't": one reading in two breaths.
pub(super) fn join(old: Value, new: Value) -> Option<Value> {
    let (Value::Gap(old), Value::Gap(new)) = (old, new) else {
        return None;
    };
    let gap = match (old, new) {
        (Gap::AtLeast(goes_nm), Gap::Below(stops_nm))
        | (Gap::Below(stops_nm), Gap::AtLeast(goes_nm))
            if goes_nm < stops_nm =>
        {
            Gap::Between { goes_nm, stops_nm }
        }
        (Gap::AtLeast(a), Gap::AtLeast(b)) if b > a => new,
        (Gap::Below(a), Gap::Below(b)) if b < a => new,
        (Gap::Between { goes_nm, stops_nm }, Gap::AtLeast(b)) if b > goes_nm && b < stops_nm => {
            Gap::Between {
                goes_nm: b,
                stops_nm,
            }
        }
        (Gap::Between { goes_nm, stops_nm }, Gap::Below(b)) if b > goes_nm && b < stops_nm => {
            Gap::Between {
                goes_nm,
                stops_nm: b,
            }
        }
        _ => return None,
    };
    Some(Value::Gap(gap))
}

/// "Make it the thirty that doesn't": the other blade of the reading that is put right still stands, if
/// the two can be.
pub(super) fn mended(old: Value, new: Value) -> Value {
    let (Value::Gap(Gap::Between { goes_nm, stops_nm }), Value::Gap(gap)) = (old, new) else {
        return new;
    };
    match gap {
        Gap::AtLeast(goes_nm) if goes_nm < stops_nm => {
            Value::Gap(Gap::Between { goes_nm, stops_nm })
        }
        Gap::Below(stops_nm) if goes_nm < stops_nm => {
            Value::Gap(Gap::Between { goes_nm, stops_nm })
        }
        _ => new,
    }
}
