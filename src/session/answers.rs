//! Commands: confirmations, corrections, stand by, and questions that the person asks.

use super::place::{self, Placed};
use super::{Decision, Hearing, JobSetup, State, dictation, errands, reading};
use crate::engine::Verdict;
use crate::event::{Doubt, Fact, Outcome, Position, Question};
use crate::grammar::{Command, Whereabouts};
use crate::measure::LengthUnit;

pub(super) fn command(
    setup: &JobSetup,
    state: &State,
    hearing: &Hearing,
    command: Command,
    said: &Whereabouts,
) -> Decision {
    let understood = || Decision::new(Outcome::Stored, "a command");
    match command {
        Command::Affirm => affirm(setup, state),
        Command::Negative if state.question.is_some() => denied(setup, state),
        // "Okay" is received, no yes: what waits for one is said again.
        Command::Roger if let Some(question) = to_confirm(state) => {
            Decision::new(Outcome::Asked, "it neither confirms nor denies").say(&question.words)
        }
        Command::Negative | Command::Roger => Decision::new(
            Outcome::Ignored,
            "no question waits for it, and it confirms nothing",
        ),
        Command::Disregard if state.question.is_some() => denied(setup, state),
        Command::Disregard => disregard(setup, state),
        Command::Correction => correction(setup, state),
        Command::SayAgain => understood().say(state.last_spoken.clone()),
        Command::StandBy => understood()
            .say(setup.answer("stand_by", &[]))
            .adds([Fact::StandBy]),
        Command::Listen => understood()
            .say(setup.answer("listening", &[]))
            .adds([Fact::Listening]),
        Command::SameAgain => same_again(setup, state, said),
        Command::Next => match state.view.next(state.open) {
            Some(position) => understood()
                .about(Some(position))
                .say(setup.grammar.wording.place(position))
                .adds([Fact::Opened(position)]),
            None => understood().say(setup.answer("all_measured", &[])),
        },
        Command::WhatsNext => match state.view.next(state.open) {
            Some(position) => {
                let place = setup.grammar.wording.place(position);
                understood()
                    .about(Some(position))
                    .say(setup.answer("next", &[("place", &place)]))
            }
            None => understood().say(setup.answer("all_measured", &[])),
        },
        Command::HowManyLeft => {
            let left = state.view.remaining().len();
            let count = setup
                .grammar
                .wording
                .cylinders
                .get(left.wrapping_sub(1))
                .cloned();
            let count = count.unwrap_or_else(|| setup.grammar.wording.number(&left.to_string()));
            understood().say(setup.answer(
                if left == 0 {
                    "all_measured"
                } else {
                    "remaining"
                },
                &[("count", &count)],
            ))
        }
        Command::WhatsTight => tight(setup, state),
        Command::ReadBack => read_back(setup, state, said),
        Command::WhichShim => which_shim(setup, state, said),
        Command::Back => match state.counting().opened_before(state.open) {
            Some(position) => understood()
                .about(Some(position))
                .say(setup.grammar.wording.place(position))
                .adds([Fact::Opened(position)]),
            None => understood().say(setup.answer("which_position", &[])),
        },
        Command::Hold => Decision::new(Outcome::Ignored, "a moment's pause, and no value"),
        Command::Unclear if state.open.is_some() || state.question.is_some() => Decision::new(
            Outcome::Asked,
            "it may mean several things: say the figures",
        )
        .say(setup.answer("not_understood", &[])),
        Command::Unclear => Decision::new(
            Outcome::Ignored,
            "not clear, and no valve is open that it could be about",
        ),
        // Each value comes with its valve, so that one that was missed does not shift the rest.
        Command::WhichPlace => Decision::new(
            Outcome::Asked,
            "no valve of this job by that name: each reading names its own",
        )
        .say(setup.answer("which_position", &[])),
        Command::WhichBlade => reading::which_blade(setup, state, said),
        // What was named is kept in mind, and repeated.
        Command::MeasureBegun => Decision::new(Outcome::Asked, "the value is still to come")
            .say(setup.grammar.words_of(&hearing.said).join(" "))
            .closing(state.question.is_some().then_some(Fact::Closed)),
        Command::NoteBegun => dictation::begin(setup, said),
        Command::NoteEnded => Decision::new(Outcome::Ignored, "no long note is open"),
        Command::WhatsOpen => understood().say(errands::open(setup, state)),
        Command::WhereAmI => understood().say(errands::where_am_i(setup, state)),
        Command::HowManyPins => pins(setup),
        Command::WhereToTurn => where_to_turn(setup, state),
    }
}

/// The question that waits for a yes or no.
pub(super) fn to_confirm(state: &State) -> Option<&Question> {
    state.question.as_ref().filter(|q| !q.proposed.is_empty())
}

/// Only "affirm" and its like store what was asked; silence and "roger" do not.
fn affirm(setup: &JobSetup, state: &State) -> Decision {
    let proposed = state
        .question
        .as_ref()
        .map(|q| q.proposed.clone())
        .unwrap_or_default();
    if proposed.is_empty() {
        return Decision::new(
            Outcome::Ignored,
            "no question waits that a yes could answer",
        );
    }
    let position = proposed.iter().find_map(|f| match f {
        Fact::Read(r) => r.position,
        Fact::Opened(p) => Some(*p),
        _ => None,
    });
    let spoken = proposed
        .iter()
        .rev()
        .map(|f| setup.grammar.wording.fact(f))
        .find(|t| !t.is_empty());
    let spoken = match taken_back(state) {
        Some(id) => setup.answer("disregarded", &[("reading", &read_again(setup, state, id))]),
        None => spoken.unwrap_or_default(),
    };
    Decision::new(Outcome::Stored, "confirmed")
        .about(position)
        .say(spoken)
        .adds([Fact::Closed])
        .adds(proposed)
}

/// A no: what was asked is not stored. The valve that it was about is open and is said, unless it was
/// the place that was not certain.
fn denied(setup: &JobSetup, state: &State) -> Decision {
    let valve = state.asked_valve().filter(|_| !state.place_in_doubt());
    let nothing = setup.answer("nothing_stored", &[]);
    let spoken = match (taken_back(state), valve) {
        // What was asked was to take something back: it stands.
        (Some(id), _) => read_again(setup, state, id),
        (None, Some(valve)) => format!("{nothing}. {}", setup.grammar.wording.place(valve)),
        (None, None) => nothing,
    };
    Decision::new(Outcome::Stored, "a command")
        .about(valve)
        .say(spoken)
        .adds([Fact::Closed])
}

/// The event that the question that waits would only take back.
fn taken_back(state: &State) -> Option<u64> {
    match state.question.as_ref()?.proposed[..] {
        [Fact::Cancelled(id)] => Some(id),
        _ => None,
    }
}

/// What an event added, read back.
fn read_again(setup: &JobSetup, state: &State, id: u64) -> String {
    let facts = state.counting().facts_of(id);
    let words = facts.iter().rev().map(|f| setup.grammar.wording.fact(f));
    words
        .into_iter()
        .find(|w| !w.is_empty())
        .unwrap_or_default()
}

/// The last entry no longer counts. After another disregard it is asked first: the second may be a slip.
fn disregard(setup: &JobSetup, state: &State) -> Decision {
    let decision = take_back(setup, state);
    let again = state.last_command() == Some(Command::Disregard);
    if decision.outcome != Outcome::Stored || !again {
        return decision;
    }
    let question = Question {
        doubt: Doubt::Repeated,
        proposed: decision.facts,
        unplaced: None,
        choices: Vec::new(),
        words: setup.answer("confirm", &[("reading", &decision.spoken)]),
    };
    Decision::new(Outcome::Asked, "one more is to be taken back")
        .about(decision.subject)
        .asks(question)
}

fn take_back(setup: &JobSetup, state: &State) -> Decision {
    let Some((id, fact)) = state.counting().last_undoable() else {
        return Decision::new(Outcome::Refused, "there is nothing to disregard")
            .say(setup.answer("nothing_to_correct", &[]));
    };
    // What was looked at in one breath goes together.
    let looked =
        |f: &&Fact| matches!(f, Fact::Checked { .. }) && matches!(fact, Fact::Checked { .. });
    let event = state.counting().event(id);
    let together: Vec<Fact> = event
        .iter()
        .flat_map(|e| e.facts.iter().filter(looked).cloned())
        .collect();
    let reading = match together.is_empty() {
        true => setup.grammar.wording.fact(fact),
        false => setup.grammar.wording.facts(&together),
    };
    let mut spoken = if reading.is_empty() {
        setup.answer("note_disregarded", &[])
    } else {
        setup.answer("disregarded", &[("reading", &reading)])
    };
    // Where it was a correction, what it had replaced counts again, and is said.
    let replaced = event.iter().flat_map(|e| &e.facts).find_map(|f| match f {
        Fact::Cancelled(old) => state.counting().event(*old),
        _ => None,
    });
    for fact in replaced.iter().flat_map(|e| &e.facts) {
        if matches!(fact, Fact::Read(_) | Fact::Spare { .. }) {
            spoken = format!("{spoken}. {}", setup.grammar.wording.fact(fact));
        }
    }
    let position = if let Fact::Read(r) = fact {
        r.position
    } else {
        None
    };
    Decision::new(Outcome::Stored, format!("event {id} no longer counts"))
        .about(position)
        .say(spoken)
        .adds([Fact::Cancelled(id)])
}

fn correction(setup: &JobSetup, state: &State) -> Decision {
    let Some((_, last)) = state.counting().last_reading() else {
        return Decision::new(Outcome::Refused, "there is no reading to correct")
            .say(setup.answer("nothing_to_correct", &[]));
    };
    let words = setup.answer("correction", &[]);
    let question = Question {
        doubt: Doubt::Correction,
        proposed: Vec::new(),
        unplaced: None,
        choices: Vec::new(),
        words,
    };
    Decision::new(Outcome::Asked, "the corrected value is still to come")
        .about(last.position)
        .asks(question)
}

fn same_again(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let Some((_, last)) = state.counting().last_reading() else {
        return Decision::new(Outcome::Refused, "there is no reading to repeat")
            .say(setup.answer("nothing_to_correct", &[]));
    };
    let known = last.position.map(place::whereabouts).unwrap_or_default();
    let joined = place::join(said, &known);
    match place::complete(&setup.profile, &joined) {
        Placed::At(position) if !said.is_empty() => reading::settle(
            setup,
            state,
            crate::event::Reading {
                position: Some(position),
                ..last
            },
            reading::Force::default(),
        ),
        _ => Decision::new(
            Outcome::Refused,
            "\"same again\" needs the other valve's place",
        )
        .say(setup.answer("which_position", &[])),
    }
}

/// The pins that the job wants between the marks.
fn pins(setup: &JobSetup) -> Decision {
    let pins = setup.profile.chain.and_then(|c| c.pins_between_marks);
    let spoken = match pins {
        Some(pins) => {
            let count = setup.grammar.wording.number(&pins.to_string());
            setup.answer("pins", &[("count", &count)])
        }
        None => setup.answer("not_in_profile", &[]),
    };
    Decision::new(Outcome::Stored, "as the engine's profile has it").say(spoken)
}

/// The crank angle of the first stop at which a valve is still to be measured.
fn where_to_turn(setup: &JobSetup, state: &State) -> Decision {
    let stop = state.view.turns().map(|plan| plan.stops.into_iter().next());
    let stop = match stop {
        Ok(Some(stop)) => stop,
        Ok(None) => {
            return Decision::new(Outcome::Stored, "a command")
                .say(setup.answer("all_measured", &[]));
        }
        Err(error) => {
            return Decision::new(Outcome::Stored, error.to_string())
                .say(setup.answer("not_in_profile", &[]));
        }
    };
    let degrees = setup
        .grammar
        .wording
        .number(&(stop.crank_mdeg / 1_000).to_string());
    let cylinders = &setup.grammar.wording.cylinders;
    let mark = stop.mark.and_then(|c| cylinders.get(usize::from(c) - 1));
    let spoken = match mark {
        Some(cylinder) => {
            let values = [("degrees", degrees.as_str()), ("cylinder", cylinder)];
            setup.answer("turn_to_mark", &values)
        }
        None => setup.answer("turn_to", &[("degrees", &degrees)]),
    };
    Decision::new(Outcome::Stored, "only forwards, by hand, plugs out")
        .about(stop.valves.first().copied())
        .say(spoken)
}

fn tight(setup: &JobSetup, state: &State) -> Decision {
    let tight = |p: &Position| matches!(state.view.verdict(*p), Verdict::Tight | Verdict::NoGap);
    let valves = setup.profile.valves().into_iter().filter(tight);
    let places: Vec<String> = valves.map(|p| setup.grammar.wording.place(p)).collect();
    let decision = Decision::new(Outcome::Stored, "a command");
    if places.is_empty() {
        decision.say(setup.answer("none_tight", &[]))
    } else {
        decision.say(setup.answer("tight", &[("places", &places.join(", "))]))
    }
}

fn read_back(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let decision = Decision::new(Outcome::Stored, "a command");
    if said.is_empty() {
        let spoken = state
            .counting()
            .last_reading()
            .map(|(_, r)| setup.grammar.wording.reading(&r));
        return decision.say(spoken.unwrap_or_else(|| setup.answer("nothing_to_correct", &[])));
    }
    let wanted = |p: &Position| {
        said.cylinder.is_none_or(|c| c == p.cylinder)
            && said.side.is_none_or(|s| s == p.side)
            && said.valve.is_none_or(|v| Some(v) == p.valve)
    };
    let valves: Vec<Position> = setup.profile.valves().into_iter().filter(wanted).collect();
    let wording = &setup.grammar.wording;
    let one = |position: &Position| {
        let readings = state.counting().latest_of(*position);
        if readings.is_empty() {
            return vec![setup.answer("no_plan", &[("place", &wording.place(*position))])];
        }
        readings.iter().map(|r| wording.reading(r)).collect()
    };
    let spoken: Vec<String> = valves.iter().flat_map(one).collect();
    decision.about(place::partial(said)).say(spoken.join(". "))
}

fn which_shim(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let Placed::At(position) = place::resolve(setup, state, said) else {
        return Decision::new(Outcome::Refused, "no valve was named and none is open")
            .say(setup.answer("which_position", &[]));
    };
    let place = setup.grammar.wording.place(position);
    let row = state
        .view
        .sheet()
        .rows
        .iter()
        .find(|r| r.position == position);
    let stays = |p: Position| state.view.plan().untouched.iter().any(|u| u.position == p);
    let spoken = match row.and_then(|r| r.fit_nm) {
        Some(size) => {
            let wording = &setup.grammar.wording;
            let value = wording.length(size, LengthUnit::Millimetre);
            let fit = [("place", place.as_str()), ("value", value.as_str())];
            let unsure = row.filter(|r| r.fit_sure == Some(false));
            match (unsure, unsure.and_then(|r| r.fit_finer_nm)) {
                (None, _) => setup.answer("fit", &fit),
                (Some(_), None) => setup.answer("fit_on_limit", &fit),
                (Some(_), Some(blade)) => {
                    let blade = wording.length(blade, setup.unit);
                    let with_blade = [fit[0], fit[1], ("blade", blade.as_str())];
                    setup.answer("fit_blade_first", &with_blade)
                }
            }
        }
        None if stays(position) => setup.answer("leave", &[("place", &place)]),
        None => setup.answer("no_plan", &[("place", &place)]),
    };
    Decision::new(
        Outcome::Stored,
        row.map_or("a command".to_owned(), |r| r.reason.clone()),
    )
    .about(Some(position))
    .say(spoken)
}
