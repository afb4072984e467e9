//! A reading on its way in: placed, joined with what was said before, asked or stored.

use super::bolts::{self, Wrong};
use super::decision::ask_place;
use super::place::{self, Placed};
use super::{Decision, Hearing, JobSetup, State, shims, verdict};
use crate::event::{Doubt, Fact, Gap, Outcome, Position, Question, Reading, Side, Value};
use crate::grammar::{Meaning, Said, Whereabouts};
use crate::measure::{Amount, Home, Length, LengthUnit, Place, Quantity, Zone, bounds};

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

/// A reading as it was said.
pub(super) fn read(setup: &JobSetup, state: &State, hearing: &Hearing, said: &Said) -> Decision {
    let Meaning::Reading {
        quantity,
        part,
        value,
        unit,
        fix,
        fresh,
        unusual,
    } = said.meaning
    else {
        return Decision::new(Outcome::Ignored, "no reading");
    };
    let close = state.question.is_some().then_some(Fact::Closed);
    let correcting = state
        .question
        .as_ref()
        .is_some_and(|q| q.doubt == Doubt::Correction);
    let mut reading = Reading {
        position: None,
        part,
        quantity,
        value,
        unit,
    };
    // A place was begun, and its rest is awaited: the value is of that place, not of the valve before.
    if said.place.is_empty()
        && quantity.home() == Home::Valve
        && let Some(unplaced) = state.place_question().and_then(|q| q.unplaced)
    {
        let waiting = unplaced.reading.filter(|r| r.quantity == quantity);
        if let Some(joined) = waiting.and_then(|r| join(r.value, reading.value)) {
            reading.value = joined;
        }
        let known = Whereabouts {
            cylinder: unplaced.cylinder,
            side: unplaced.side,
            valve: unplaced.valve,
        };
        let kept = (!unusual || outside(setup, &reading)).then_some(reading);
        let doubt = match place::complete(&setup.profile, &known) {
            Placed::Missing(doubt) => doubt,
            Placed::At(_) => Doubt::Valve,
        };
        return ask_place(setup, state, doubt, &known, kept).closing(close);
    }
    // Where the place was not certain, or another was named since, a value that follows is not either.
    let doubtful = state.place_in_doubt() || state.elsewhere && quantity.home() == Home::Valve;
    let unusual = unusual || said.place.is_empty() && doubtful;
    if fix || correcting {
        return correct(setup, state, said, reading, unusual).closing(close);
    }
    if let Some(chosen) = chosen(state, &reading, said) {
        return settle(setup, state, chosen, Force::default()).closing(close);
    }
    // A number alone, with no valve open, is most likely somebody else's talk.
    let alone = setup.grammar.words_of(&hearing.said).len() == 1;
    if said.place.is_empty() && state.open.is_none() && alone {
        return Decision::new(Outcome::Ignored, "a single word, and no valve is open");
    }
    if quantity.home() != Home::Valve {
        return of_a_part(setup, state, reading, unusual).closing(close);
    }
    match place::resolve(setup, state, &said.place) {
        Placed::Missing(doubt) => {
            // A doubt that the value alone does not show would be lost with the answer: then only
            // the place is asked, and the value must be said again.
            let kept = (!unusual || outside(setup, &reading)).then_some(reading);
            ask_place(setup, state, doubt, &said.place, kept).closing(close)
        }
        Placed::At(position) => {
            reading.position = Some(position);
            settle(
                setup,
                state,
                reading,
                Force {
                    fresh,
                    unusual,
                    ..Force::default()
                },
            )
            .closing(close)
        }
    }
}

/// A reading of a cylinder, a camshaft, a bolt, the head.
fn of_a_part(setup: &JobSetup, state: &State, reading: Reading, unusual: bool) -> Decision {
    let whole = reading.quantity.home() == Home::Head || reading.part.is_some();
    if !whole {
        return Decision::new(
            Outcome::Asked,
            format!("{} of which one was not said", reading.quantity),
        )
        .say(setup.answer("which_part", &[]));
    }
    let force = Force {
        unusual,
        ..Force::default()
    };
    settle(setup, state, reading, force)
}

/// The choice of the waiting question that this value names.
fn chosen(state: &State, reading: &Reading, said: &Said) -> Option<Reading> {
    let question = state.question.as_ref().filter(|_| said.place.is_empty())?;
    question.choices.iter().find_map(|fact| match fact {
        Fact::Read(r)
            if r.quantity == reading.quantity
                && (r.value == reading.value || is_of(&question.choices, r, reading))
                && (r.position.is_some() || r.part.is_some()) =>
        {
            Some(*r)
        }
        _ => None,
    })
}

/// Whether a bare value names the blade by which one choice differs from the others.
fn is_of(choices: &[Fact], choice: &Reading, said: &Reading) -> bool {
    let Value::Gap(Gap::Single(blade)) = said.value else {
        return false;
    };
    let has = |reading: &Reading| match reading.value {
        Value::Gap(Gap::Between { goes_nm, stops_nm }) => goes_nm == blade || stops_nm == blade,
        Value::Gap(Gap::AtLeast(b) | Gap::Below(b)) => b == blade,
        _ => false,
    };
    let of = choices
        .iter()
        .filter(|f| matches!(f, Fact::Read(r) if has(r)));
    has(choice) && of.count() == 1
}

/// "Correction …": replaces the last reading, or the named one.
fn correct(
    setup: &JobSetup,
    state: &State,
    said: &Said,
    reading: Reading,
    unusual: bool,
) -> Decision {
    let position = match place::complete(&setup.profile, &said.place) {
        Placed::At(position) => Some(position),
        Placed::Missing(_) if said.place.is_empty() => None,
        Placed::Missing(doubt) => {
            return ask_place(setup, state, doubt, &said.place, Some(reading));
        }
    };
    let named = Reading {
        position,
        ..reading
    };
    // While a question waits, a correction is of what was asked.
    let asked = state.asked_reading().filter(|_| position.is_none());
    let asked = asked.filter(|(_, asked)| {
        let stage_unsaid = |p| asked.part.is_some_and(|a| bolts::is_without_stage(a, p));
        reading
            .part
            .is_none_or(|p| asked.part == Some(p) || stage_unsaid(p))
    });
    if let Some((fixes, asked)) = asked {
        let reading = Reading {
            position: asked.position,
            part: asked.part,
            ..reading
        };
        let force = Force {
            fixes,
            unusual,
            fresh: false,
        };
        return settle(setup, state, reading, force);
    }
    let last = state
        .counting()
        .last_reading()
        .filter(|_| position.is_none());
    let of_last = last.filter(|(_, old)| reading.part.is_none_or(|p| old.part == Some(p)));
    let earlier = of_last.or_else(|| state.counting().latest_like(&named));
    let Some((id, old)) = earlier else {
        if position.is_some() || reading.part.is_some() {
            let force = Force {
                unusual,
                ..Force::default()
            };
            return instead_of_last(setup, state, named, settle(setup, state, named, force));
        }
        return Decision::new(Outcome::Refused, "there is no reading to correct")
            .say(setup.answer("nothing_to_correct", &[]));
    };
    let reading = Reading {
        position: old.position,
        part: reading.part.or(old.part),
        ..reading
    };
    settle(
        setup,
        state,
        reading,
        Force {
            fixes: Some(id),
            unusual,
            fresh: false,
        },
    )
}

/// "Correction, …" at another valve, straight after the same value: the one before was most likely the
/// wrong valve, so it is asked whether it goes.
fn instead_of_last(setup: &JobSetup, state: &State, named: Reading, stored: Decision) -> Decision {
    let spoken_last = state
        .events()
        .iter()
        .rev()
        .find(|e| e.outcome != Outcome::Ignored);
    let last = state.counting().last_reading().filter(|(id, last)| {
        spoken_last.is_some_and(|e| e.id == *id)
            && last.quantity == named.quantity
            && last.value == named.value
            && last.position != named.position
    });
    let Some((id, last)) = last.filter(|_| stored.outcome == Outcome::Stored) else {
        return stored;
    };
    let last = setup.wording(state).reading(&last);
    let gone = setup.answer("disregarded", &[("reading", &last)]);
    let words = setup.answer("confirm", &[("reading", &gone)]);
    let question = Question::plain(Doubt::Repeated, vec![Fact::Cancelled(id)], words.clone());
    let spoken = format!("{}. {words}", stored.spoken);
    stored.adds([Fact::Asked(Box::new(question))]).say(spoken)
}

/// Stores a placed reading, or asks.
pub(super) fn settle(setup: &JobSetup, state: &State, reading: Reading, force: Force) -> Decision {
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
        Some(Wrong::Asked(words)) => {
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
    if let Some((missing, next_to_it)) = not_owned(setup, &reading) {
        let crosses = |blade: &Length| match with_blade(&reading, missing, *blade).value {
            Value::Gap(Gap::Between { goes_nm, stops_nm }) => goes_nm >= stops_nm,
            _ => false,
        };
        let owned: Vec<Length> = next_to_it.into_iter().flatten().collect();
        let owned: Vec<Length> = owned.into_iter().filter(|b| !crosses(b)).collect();
        let names: Vec<String> = owned
            .iter()
            .map(|b| wording.length(*b, reading.unit))
            .collect();
        let words = setup.answer(
            "no_such_blade",
            &[
                ("reading", &spoken),
                ("choices", &names.join(&format!(" {} ", wording.or))),
            ],
        );
        let choices = owned
            .iter()
            .map(|b| Fact::Read(with_blade(&reading, missing, *b)));
        let question = Question {
            doubt: Doubt::Unusual,
            proposed: facts.clone(),
            unplaced: None,
            choices: choices.collect(),
            words,
        };
        return Decision::new(Outcome::Asked, "a blade that is not among those owned")
            .about(reading.position)
            .asks(question);
    }
    if force.unusual {
        return ask(Doubt::Unusual, "confirm", "unusual, or not quite clear");
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
        .say(verdict::after(setup, &reading, &spoken))
        .adds(facts)
}

/// "Too tight": a blade did not go, and its size is still to come.
pub(super) fn which_blade(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let close = state.question.is_some().then_some(Fact::Closed);
    match place::resolve(setup, state, said) {
        Placed::At(position) => {
            let named = setup.wording(state).place(position);
            let opened = (state.open != Some(position)).then_some(Fact::Opened(position));
            Decision::new(Outcome::Asked, "which blade did not go was not said")
                .about(Some(position))
                .say(setup.answer("which_blade", &[("place", &named)]))
                .adds(opened)
                .closing(close)
        }
        Placed::Missing(_) if said.is_empty() => {
            Decision::new(Outcome::Ignored, "no blade and no valve, and none is open")
        }
        Placed::Missing(doubt) => ask_place(setup, state, doubt, said, None).closing(close),
    }
}

/// A blade that was named, as if the person owned it, and does not: the two that they own next to it.
fn not_owned(setup: &JobSetup, reading: &Reading) -> Option<(Length, [Option<Length>; 2])> {
    let Value::Gap(gap) = reading.value else {
        return None;
    };
    let named = match gap {
        Gap::Between { goes_nm, stops_nm } => vec![goes_nm, stops_nm],
        Gap::AtLeast(blade) | Gap::Below(blade) => vec![blade],
        Gap::Single(_) | Gap::None => Vec::new(),
    };
    // Blades that are marked in another unit say nothing.
    let step = match reading.unit {
        LengthUnit::Thou | LengthUnit::Inch => Length::from_nm(12_700),
        LengthUnit::Millimetre | LengthUnit::Micron => Length::from_um(10),
    };
    let in_unit = |blade: &Length| blade.nm() % step.nm() == 0;
    if !setup.blades.iter().any(in_unit) {
        return None;
    }
    let missing = named.into_iter().find(|b| !setup.blades.contains(b))?;
    let below = setup.blades.iter().rev().find(|b| **b < missing).copied();
    let above = setup.blades.iter().find(|b| **b > missing).copied();
    Some((missing, [below, above]))
}

/// The same reading with another blade in the place of one.
fn with_blade(reading: &Reading, missing: Length, blade: Length) -> Reading {
    let other = |b: Length| if b == missing { blade } else { b };
    let value = match reading.value {
        Value::Gap(Gap::Between { goes_nm, stops_nm }) => Value::Gap(Gap::Between {
            goes_nm: other(goes_nm),
            stops_nm: other(stops_nm),
        }),
        Value::Gap(Gap::AtLeast(b)) => Value::Gap(Gap::AtLeast(other(b))),
        Value::Gap(Gap::Below(b)) => Value::Gap(Gap::Below(other(b))),
        value => value,
    };
    Reading { value, ..*reading }
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
fn outside(setup: &JobSetup, reading: &Reading) -> bool {
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
fn join(old: Value, new: Value) -> Option<Value> {
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

/// Spare shims in the box: size and how many. With `fix` they replace those called last.
pub(super) fn spare(
    setup: &JobSetup,
    state: &State,
    (size, count): (Length, u16),
    fix: bool,
    unusual: bool,
) -> Decision {
    let last = state.counting().last_spare().filter(|_| fix);
    if fix && last.is_none() {
        return Decision::new(Outcome::Refused, "there are no spares to correct")
            .say(setup.answer("nothing_to_correct", &[]));
    }
    let already = state
        .counting()
        .spares(size, last)
        .min(u16::MAX * u16::from(count > 0));
    let fact = Fact::Spare {
        size_nm: size,
        count: if already > 0 {
            already.saturating_add(count)
        } else {
            count
        },
    };
    let facts = last.map(Fact::Cancelled).into_iter().chain([fact.clone()]);
    let spoken = setup.wording(state).fact(&fact);
    let doubt = if unusual {
        Some((Doubt::Unusual, "confirm", "unusual, or not quite clear"))
    } else if already > 0 {
        Some((
            Doubt::Repeated,
            "confirm",
            "that size is in the box already: is this one more?",
        ))
    } else {
        None
    };
    let Some((doubt, key, why)) = doubt else {
        return Decision::new(Outcome::Stored, "a spare in the box")
            .say(spoken)
            .adds(facts);
    };
    let words = setup.answer(key, &[("reading", &spoken)]);
    let question = Question::plain(doubt, facts.collect(), words);
    Decision::new(Outcome::Asked, why).asks(question)
}

/// One of several meanings as a fact that can be chosen, and its value in words.
pub(super) fn as_choice(setup: &JobSetup, state: &State, said: &Said) -> Option<(Fact, String)> {
    let wording = setup.wording(state);
    match said.meaning {
        Meaning::Reading {
            quantity,
            part,
            value,
            unit,
            ..
        } => {
            let position = match place::resolve(setup, state, &said.place) {
                Placed::At(position) => Some(position),
                Placed::Missing(_) => None,
            };
            let bare = Reading {
                position: None,
                part: None,
                quantity,
                value,
                unit,
            };
            Some((
                Fact::Read(Reading {
                    position: position.filter(|_| quantity.home() == Home::Valve),
                    part,
                    ..bare
                }),
                wording.reading(&bare),
            ))
        }
        Meaning::Spare { size, count, .. } => Some((
            Fact::Spare {
                size_nm: size,
                count,
            },
            wording.length(size, LengthUnit::Millimetre),
        )),
        Meaning::Open => {
            let position: Position = place::partial(&said.place)?;
            Some((Fact::Opened(position), wording.place(position)))
        }
        _ => None,
    }
}
