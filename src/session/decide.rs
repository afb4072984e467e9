//! What one utterance does: which rule of the conversation applies.

use super::decision::{ask_place, place_awaited};
use super::place::{self, Placed};
use super::settle::{Force, settle};
use super::state::waits_for_a_head;
use super::{
    Acceptance, Decision, Hearing, JobSetup, State, answers, asked, bolts, cylinders, dictation,
    errands, heads, reading, several, spares, steps,
};
use crate::event::{Doubt, Fact, Gap, Outcome, Position, Question, Reading, Unplaced, Value};
use crate::grammar::{Command, Heard, Meaning, Refusal, Said, Scope, Whereabouts};
use crate::measure::Quantity;

/// What is decided whatever the words mean: the tool stands by, they are noise, they were begun while
/// its voice sounded, or they are a line of a note.
pub(super) fn whatever_it_means(
    setup: &JobSetup,
    state: &State,
    hearing: &Hearing,
) -> Option<Decision> {
    let heard = &hearing.interpretation;
    if state.standing_by {
        let listen =
            matches!(heard, Heard::Accepted(s) if s.meaning == Meaning::Command(Command::Listen));
        if !listen {
            let why = "standing by: only \"listen\" counts";
            return Some(Decision::new(Outcome::Ignored, why));
        }
    }
    if hearing.overlapped {
        return Some(overlapped(setup, state, hearing));
    }
    if hearing.acceptance == Acceptance::Reject && *heard != Heard::Nothing {
        let why = "heard in sound that is more likely noise than speech";
        return Some(Decision::new(Outcome::Ignored, why));
    }
    dictation::line(setup, state, hearing, heard)
        .or_else(|| asked_in_a_note(setup, state, hearing, heard))
}

/// What the words do if they were heard rightly.
pub(super) fn by_meaning(setup: &JobSetup, state: &State, hearing: &Hearing) -> Decision {
    let scope = setup.scope(state);
    match without_stray_answers(state, hearing.interpretation.clone()) {
        Heard::Nothing if dictating(state) && setup.grammar.words_of(&hearing.said).len() > 1 => {
            let unplaced = state.question.as_ref().and_then(|q| q.unplaced);
            let position = unplaced.and_then(|u| {
                Some(Position {
                    cylinder: u.cylinder?,
                    side: u.side?,
                    valve: u.valve,
                })
            });
            let text = setup.grammar.words_of(&hearing.said).join(" ");
            note(setup, position, text).closing(Some(Fact::Closed))
        }
        Heard::Nothing => no_phrase(setup, state, hearing),
        Heard::Refused(refusal) => refused(setup, &scope, &refusal, hearing),
        Heard::Ambiguous(choices) => ambiguous(setup, state, &choices),
        Heard::Accepted(said) => accepted(setup, state, hearing, said),
    }
}

/// "A question", said of what was heard in a long note: it is answered, and the note goes on.
fn asked_in_a_note(
    setup: &JobSetup,
    state: &State,
    hearing: &Hearing,
    heard: &Heard,
) -> Option<Decision> {
    let said = dictation::asked(state).filter(|_| dictation::is_a_question(heard))?;
    let meant = setup.grammar.parse(said, &setup.scope(state));
    let Heard::Accepted(meant) = meant else {
        return None;
    };
    Some(accepted(setup, state, hearing, meant).closing(Some(Fact::Closed)))
}

/// Speech that was begun while the voice sounded has lost its beginning: it is asked for again, unless
/// it is the voice itself. A place may have been lost with it, but not with a word or two that answer
/// an open question.
fn overlapped(setup: &JobSetup, state: &State, hearing: &Hearing) -> Decision {
    if hearing.acceptance == Acceptance::Reject {
        return Decision::new(
            Outcome::Ignored,
            "no other words than the tool's own, while its voice sounded",
        );
    }
    let asked = Decision::new(Outcome::Asked, "it was begun while the voice sounded");
    let again = setup.answer("not_understood", &[]);
    match &state.question {
        Some(_) if setup.grammar.words_of(&hearing.said).len() <= 2 => asked.say(again),
        _ => asked.asks(place_awaited(again)),
    }
}

/// What is not a phrase is other people's talk, unless its words say that it was meant for the tool.
fn no_phrase(setup: &JobSetup, state: &State, hearing: &Hearing) -> Decision {
    if let Some(decision) = among_other_words(setup, state, hearing) {
        return decision;
    }
    if hearing.acceptance != Acceptance::Reject && setup.grammar.is_bench_talk(&hearing.said) {
        let words = setup.answer("not_understood", &[]);
        return Decision::new(Outcome::Asked, "words of the bench, but no phrase")
            .asks(place_awaited(words));
    }
    // "Three exhaust reft": what is said next is not of the valve before.
    if hearing.acceptance != Acceptance::Reject && setup.grammar.names_a_place(&hearing.said) {
        let words = setup.answer("not_caught", &[]);
        return Decision::new(Outcome::Ignored, "a place, and no phrase: a tone")
            .asks(place_awaited(words));
    }
    let for_the_tool = hearing.acceptance != Acceptance::Reject
        && setup.grammar.may_be_for_the_tool(&hearing.said);
    if for_the_tool {
        return Decision::new(
            Outcome::Ignored,
            "a word of the bench, but no phrase: a tone",
        )
        .say(setup.answer("not_caught", &[]));
    }
    Decision::new(Outcome::Ignored, "no phrase of the bench")
}

/// A question is answered, and what may have been meant is asked.
fn among_other_words(setup: &JobSetup, state: &State, hearing: &Hearing) -> Option<Decision> {
    if hearing.acceptance == Acceptance::Reject {
        return None;
    }
    let (grammar, scope) = (&setup.grammar, setup.scope(state));
    let said = &hearing.said;
    let among = |meant| asked_as(setup, state, hearing, said.clone(), meant);
    // "So what size for the inlet" asks, and "for" is no four in it.
    let question = grammar.question(said, &scope).and_then(among);
    question
        .or_else(|| sounds_like_a_value(setup, state, hearing))
        .or_else(|| grammar.gist(said, &scope).and_then(among))
}

/// "To", "ate", "fifteen cow" as written: a value may have been meant. Asked while a valve is open,
/// never taken. (The recogniser weighs sounds itself.)
fn sounds_like_a_value(setup: &JobSetup, state: &State, hearing: &Hearing) -> Option<Decision> {
    if state.open.is_none() || hearing.acceptance != Acceptance::Accept {
        return None;
    }
    let said = setup.grammar.as_values(&hearing.said)?;
    let scope = setup.scope(state);
    let meant = setup.grammar.parse_after(state.begun(), &said, &scope);
    asked_as(setup, state, hearing, said, meant)
}

/// Asks whether that was meant which other words say, or some of those that were heard: "inlet on the
/// left of number two, eighteen's fine". A question is answered: "would you be so kind as to read me the
/// lot".
fn asked_as(
    setup: &JobSetup,
    state: &State,
    hearing: &Hearing,
    said: String,
    interpretation: Heard,
) -> Option<Decision> {
    let meant = Hearing {
        interpretation,
        said,
        acceptance: Acceptance::Confirm,
        rival: None,
        ..hearing.clone()
    };
    let decision = doubted(setup, state, by_meaning(setup, state, &meant));
    matches!(decision.outcome, Outcome::Asked | Outcome::Stored).then_some(decision)
}

/// A part of a place can only answer the question that waits for just that part.
fn without_stray_answers(state: &State, heard: Heard) -> Heard {
    let Heard::Ambiguous(all) = heard else {
        return heard;
    };
    let unplaced = state.question.as_ref().and_then(|q| q.unplaced);
    let is_answer = |s: &Said| s.meaning == Meaning::Answer;
    let head_asked = state.question.as_ref().and_then(waits_for_a_head);
    let answers = |s: &Said| {
        is_answer(s)
            && unplaced.is_some_and(|u| {
                if head_asked.is_some() {
                    return s.place.head.is_some();
                }
                u.cylinder.is_none() && s.place.cylinder.is_some()
                    || u.side.is_none() && s.place.side.is_some()
                    || u.valve.is_none() && s.place.valve.is_some()
            })
    };
    // "Front" alone, a valve or a head, and nothing was asked.
    if all.iter().all(is_answer) && !all.iter().any(answers) {
        return all
            .into_iter()
            .next()
            .map_or(Heard::Nothing, Heard::Accepted);
    }
    let mut kept: Vec<Said> = if all.iter().any(answers) {
        all.into_iter().filter(answers).collect()
    } else {
        all.into_iter().filter(|s| !is_answer(s)).collect()
    };
    if kept.len() == 1 {
        Heard::Accepted(kept.swap_remove(0))
    } else {
        Heard::Ambiguous(kept)
    }
}

fn refused(setup: &JobSetup, scope: &Scope, refusal: &Refusal, hearing: &Hearing) -> Decision {
    let words = &setup.grammar.wording;
    let spoken = match refusal {
        Refusal::Cylinder(_) => setup.answer("no_such_cylinder", &[]),
        Refusal::Valve(..) => setup.answer("no_such_valve", &[]),
        Refusal::Range { raw, .. } => {
            setup.answer("out_of_range", &[("value", &words.number(raw))])
        }
        Refusal::Crossed(goes, stops) => setup.answer(
            "blades_crossed",
            &[
                ("goes", &words.length(*goes, setup.unit)),
                ("stops", &words.length(*stops, setup.unit)),
            ],
        ),
        Refusal::Contradiction => setup.answer("not_understood", &[]),
    };
    let decision = Decision::new(Outcome::Refused, refusal.explain(scope));
    // A place was named, whatever was wrong: what is said next is not of the valve before.
    if setup.grammar.names_a_side(&hearing.said) {
        return decision.asks(place_awaited(spoken));
    }
    decision.say(spoken)
}

fn ambiguous(setup: &JobSetup, state: &State, choices: &[Said]) -> Decision {
    let mut facts = Vec::new();
    let mut names = Vec::new();
    for said in choices {
        if let Some((fact, value)) = reading::as_choice(setup, state, said)
            && !names.contains(&value)
        {
            names.push(value);
            facts.push(fact);
        }
    }
    let words = match names.is_empty() {
        true => setup.answer("not_understood", &[]),
        false => setup.answer("which_value", &[("choices", &names.join(", or "))]),
    };
    let subject = choices
        .first()
        .and_then(|s| place::partial(&s.place))
        .or(state.open);
    let question = Question::choice(facts, words);
    Decision::new(
        Outcome::Asked,
        format!("{} meanings: {}", names.len(), names.join(" or ")),
    )
    .about(subject)
    .asks(question)
}

fn accepted(setup: &JobSetup, state: &State, hearing: &Hearing, said: Said) -> Decision {
    let close = state.question.is_some().then_some(Fact::Closed);
    if !setup.profile.shims.kind.has_shims() && is_of_shims(&said.meaning) {
        return Decision::new(
            Outcome::Refused,
            "clearance is set by screws: there are no shims",
        )
        .say(setup.answer("no_shims", &[]))
        .closing(close);
    }
    match said.meaning {
        Meaning::Open => opened(setup, state, said.place).closing(close),
        Meaning::Answer => answered(setup, state, &said.place),
        Meaning::Several(all) => several::in_one_breath(setup, state, hearing, &all).closing(close),
        Meaning::Reading { .. } => reading::read(setup, state, hearing, &said),
        Meaning::Spare {
            size,
            count,
            fix,
            unusual,
        } => spares::spare(setup, state, (size, count), fix, unusual).closing(close),
        Meaning::Group(group, gap, unit) => {
            several::group(setup, state, &said.place, group, gap, unit).closing(close)
        }
        Meaning::ShimStep { steps, by } => {
            several::shim_step(setup, state, steps, by).closing(close)
        }
        Meaning::LimitOf(quantity) => {
            asked::limit_of(setup, state, &said.place, quantity).closing(close)
        }
        Meaning::AskedAbout(what) => asked::told(setup, state, what).closing(close),
        Meaning::WhatIfCut(cut) => steps::what_if_cut(setup, state, &said.place, cut),
        Meaning::BoltCalled(part) => {
            let head = said.place.head;
            let wrong = bolts::wrong_if_called(setup, state, part, head);
            answers::begun(setup, hearing, &said.place, wrong)
                .closing(close)
                .command(Command::MeasureBegun)
        }
        Meaning::Check { here, items, good } => {
            let of_valve = Whereabouts {
                head: None,
                ..said.place
            };
            let partly = !of_valve.is_empty()
                && matches!(
                    place::complete(&setup.profile, &said.place),
                    Placed::Missing(_)
                );
            if partly {
                return errands::check_each(setup, state, &said.place, &items, good).closing(close);
            }
            let position =
                errands::on(setup, state, &of_valve).filter(|_| here || !of_valve.is_empty());
            errands::check(setup, state, position, said.place.head, items, good).closing(close)
        }
        Meaning::Repaired { work, reading } => {
            errands::repaired(setup, state, &said.place, work, reading).closing(close)
        }
        Meaning::About { what, text } => errands::told(setup, state, what, &text).closing(close),
        Meaning::Task { kind, text, unsure } => {
            let task = errands::task(setup, state, &said.place, kind, text);
            if !unsure || task.outcome != Outcome::Stored {
                return task.closing(close);
            }
            let question = to_confirm(setup, task.facts, &task.spoken);
            Decision::new(Outcome::Asked, "it may have been said to anybody")
                .asks(question)
                .closing(close)
        }
        Meaning::Tick(text) => errands::tick(setup, state, &text).closing(close),
        Meaning::Stage { stage, done } => errands::stage(setup, state, stage, done).closing(close),
        // "No, three left …" heard as "note …" would lose a correction.
        Meaning::Note(_) if holds_a_reading(setup, state, hearing) => {
            Decision::new(Outcome::Asked, "a reading after \"note\": was it \"no\"?")
                .say(setup.answer("not_understood", &[]))
                .closing(close)
        }
        Meaning::Note(text) => {
            let position = match place::complete(&setup.profile, &said.place) {
                Placed::At(position) => Some(position),
                Placed::Missing(_) => None,
            };
            if text.is_empty() {
                return dictation(setup, state, position).closing(close);
            }
            note(setup, position, text)
        }
        Meaning::Seen(text) => match errands::on(setup, state, &said.place) {
            Some(position) => note(setup, Some(position), text).closing(close),
            None => Decision::new(
                Outcome::Ignored,
                "no valve was named that it could be seen at",
            ),
        },
        Meaning::Command(command) => {
            answers::command(setup, state, hearing, command, &said.place).command(command)
        }
    }
}

/// Whether it can only be said of an engine with shims.
fn is_of_shims(meaning: &Meaning) -> bool {
    match meaning {
        Meaning::Reading { quantity, .. } => *quantity == Quantity::ShimFitted,
        Meaning::Several(all) => all.iter().any(|s| is_of_shims(&s.meaning)),
        Meaning::Spare { .. } | Meaning::ShimStep { .. } => true,
        _ => false,
    }
}

/// Whether what follows the first word is itself a reading, or holds one of two blades: "nowt wrong
/// with two inlet left, fifteen goes, eighteen doesn't" may be heard as "note …".
fn holds_a_reading(setup: &JobSetup, state: &State, hearing: &Hearing) -> bool {
    let rest = setup.grammar.words_of(&hearing.said).split_off(1).join(" ");
    let scope = setup.scope(state);
    let of_blades = |said: &Said| {
        let between = |value: &Value| matches!(value, Value::Gap(Gap::Between { .. }));
        matches!(&said.meaning, Meaning::Reading { value, .. } if between(value))
    };
    match setup.grammar.parse(&rest, &scope) {
        Heard::Accepted(said) => matches!(said.meaning, Meaning::Reading { .. }),
        _ => setup
            .grammar
            .gist(&rest, &scope)
            .is_some_and(|heard| matches!(heard, Heard::Accepted(said) if of_blades(&said))),
    }
}

fn note(setup: &JobSetup, position: Option<Position>, text: String) -> Decision {
    Decision::new(Outcome::Stored, "a note")
        .about(position)
        .say(setup.answer("noted", &[]))
        .adds([Fact::Note { position, text }])
}

/// "Note three inlet right", and a pause: the next sentence is the note.
fn dictation(setup: &JobSetup, state: &State, position: Option<Position>) -> Decision {
    let place = position
        .map(|p| setup.wording(state).place(p))
        .unwrap_or_default();
    let unplaced = position.map(|p| Unplaced {
        cylinder: Some(p.cylinder),
        side: Some(p.side),
        valve: p.valve,
        reading: None,
    });
    let words = setup.answer("note_begun", &[("place", &place)]);
    let question = Question {
        doubt: Doubt::Dictation,
        proposed: Vec::new(),
        unplaced,
        choices: Vec::new(),
        words,
    };
    Decision::new(Outcome::Asked, "the note's text is still to come")
        .about(position)
        .asks(question)
}

fn dictating(state: &State) -> bool {
    state
        .question
        .as_ref()
        .is_some_and(|q| q.doubt == Doubt::Dictation)
}

/// A place called alone opens the valve.
fn opened(setup: &JobSetup, state: &State, said: Whereabouts) -> Decision {
    if let Some(head) = said.head {
        return heads::opened(setup, state, head);
    }
    match place::complete(&setup.profile, &said) {
        Placed::At(position) => Decision::new(
            Outcome::Stored,
            "opened: values belong to it until another is opened",
        )
        .about(Some(position))
        .say(setup.wording(state).place(position))
        .adds([Fact::Opened(position)]),
        Placed::Missing(doubt) => ask_place(setup, state, doubt, &said, None),
    }
}

/// A part of a place: only ever answers the question that waits.
fn answered(setup: &JobSetup, state: &State, part: &Whereabouts) -> Decision {
    let Some(unplaced) = state.question.as_ref().and_then(|q| q.unplaced) else {
        // "Right" may be a yes, or a side.
        if let Some(question) = answers::to_confirm(state) {
            return Decision::new(Outcome::Asked, "it neither confirms nor denies")
                .say(&question.words);
        }
        // "Exhaust left", of which cylinder? The valve before is left behind.
        if part.side.is_some() && part.valve.is_some() {
            return ask_place(setup, state, Doubt::Position, part, None);
        }
        return Decision::new(
            Outcome::Ignored,
            "a part of a place, and no question waits for one",
        );
    };
    let proposed = state.question.as_ref().map(|q| q.proposed.as_slice());
    let looks = proposed.filter(|p| p.iter().any(|f| matches!(f, Fact::Checked { .. })));
    if let Some(looks) = looks {
        return match part.head {
            Some(head) => errands::check_on(setup, state, looks, head),
            None => heads::ask_of_looks(setup, state, looks.to_vec()),
        }
        .closing(Some(Fact::Closed));
    }
    let known = Whereabouts {
        cylinder: unplaced.cylinder,
        side: unplaced.side,
        valve: unplaced.valve,
        ..Whereabouts::default()
    };
    if let Some(reading) = unplaced.reading.filter(|r| heads::lacks(setup, r)) {
        let head = part.head;
        let reading = Reading { head, ..reading };
        return settle(setup, state, reading, Force::default()).closing(Some(Fact::Closed));
    }
    if let Some(reading) = unplaced.reading.filter(Reading::lacks_cylinder) {
        let number = part.cylinder;
        return cylinders::answered(setup, state, reading, number).closing(Some(Fact::Closed));
    }
    let joined = place::join(part, &known);
    match (place::complete(&setup.profile, &joined), unplaced.reading) {
        (Placed::At(position), Some(reading)) => settle(
            setup,
            state,
            Reading {
                position: Some(position),
                ..reading
            },
            Force::default(),
        )
        .closing(Some(Fact::Closed)),
        (Placed::At(_), None) => opened(setup, state, joined).closing(Some(Fact::Closed)),
        (Placed::Missing(doubt), reading) => {
            ask_place(setup, state, doubt, &joined, reading).closing(Some(Fact::Closed))
        }
    }
}

/// The recogniser was not certain: what would have been stored is proposed instead.
pub(super) fn doubted(setup: &JobSetup, state: &State, decision: Decision) -> Decision {
    // An uncertain value must not wait for its place and be stored with a certain answer.
    let waits = decision
        .facts
        .iter()
        .any(|f| matches!(f, Fact::Asked(q) if q.unplaced.is_some_and(|u| u.reading.is_some()) || waits_for_a_head(q).is_some()));
    if waits {
        return Decision::new(Outcome::Asked, "the recogniser was not certain")
            .asks(place_awaited(setup.answer("not_understood", &[])))
            .about(decision.subject);
    }
    let changes = decision.outcome == Outcome::Stored && !decision.facts.is_empty();
    if !changes {
        return decision;
    }
    let said = decision
        .facts
        .iter()
        .rev()
        .map(|f| setup.wording(state).fact(f))
        .find(|t| !t.is_empty());
    let Some(reading) = said else {
        let again = setup.answer("not_understood", &[]);
        let mut asked = Decision::new(Outcome::Asked, "the recogniser was not certain")
            .say(again)
            .about(decision.subject);
        asked.command = decision.command;
        return asked;
    };
    let question = to_confirm(setup, decision.facts, &reading);
    let mut asked = Decision::new(Outcome::Asked, "the recogniser was not certain")
        .about(decision.subject)
        .asks(question);
    asked.command = decision.command;
    asked
}

/// Whether these facts were meant: only a yes stores them.
pub(super) fn to_confirm(setup: &JobSetup, proposed: Vec<Fact>, read_back: &str) -> Question {
    Question::plain(
        Doubt::Uncertain,
        proposed,
        setup.answer("confirm", &[("reading", read_back)]),
    )
}
