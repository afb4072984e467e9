//! A reading on its way in: which place it is of, and what it answers or corrects.

use super::correction::correct;
use super::decision::ask_place;
use super::place::{self, Placed};
use super::settle::{Force, join, outside, settle};
use super::{Decision, Hearing, JobSetup, State, cylinders};
use crate::event::{Doubt, Fact, Gap, Outcome, Position, Reading, Value};
use crate::grammar::{Meaning, Said, Whereabouts};
use crate::measure::{Home, LengthUnit};

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
        head: said.place.head,
        quantity,
        value,
        unit,
    };
    // A bare figure is no answer to "which cylinder", and no other valve's either.
    let waits = state.place_question().filter(|q| {
        let reading = q.unplaced.and_then(|u| u.reading);
        reading.is_some_and(|r| r.lacks_cylinder())
    });
    if let Some(question) = waits.filter(|_| said.place.is_empty())
        && quantity.home() == Home::Valve
    {
        return Decision::unanswered(question);
    }
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
            ..Whereabouts::default()
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
    let reading = match setup.profile.cylinders {
        1 if reading.lacks_cylinder() => cylinders::of(reading, 1),
        _ => reading,
    };
    if reading.lacks_cylinder() {
        return cylinders::ask(setup, state, reading, unusual);
    }
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
            // Of what belongs to a cylinder the choices may differ by that.
            let bare = Reading {
                position: None,
                part: part.filter(|_| quantity.home() == Home::Cylinder),
                head: said.place.head,
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
