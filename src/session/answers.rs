//! Commands: confirmations, stand by, how the voice is to be, and what the person asks.

use super::bolts::Wrong;
use super::decision::{ask_place, place_awaited};
use super::place::{self, Placed};
use super::settle::{Force, settle};
use super::state::waits_for_a_head;
use super::{
    Decision, Hearing, JobSetup, State, asked, bolts, dictation, errands, help, reading, several,
    shims, steps, undo, verdict,
};
use crate::engine::Verdict;
use crate::event::{Fact, Outcome, Position, Question};
use crate::grammar::{Command, Whereabouts};

pub(super) fn command(
    setup: &JobSetup,
    state: &State,
    hearing: &Hearing,
    command: Command,
    said: &Whereabouts,
) -> Decision {
    let understood = || Decision::new(Outcome::Stored, "a command");
    let close = state.question.is_some().then_some(Fact::Closed);
    match command {
        Command::Affirm => affirm(setup, state),
        Command::Negative if state.question.is_some() => denied(setup, state),
        // "Okay" is received, not a yes: what waits for one is said again.
        Command::Roger if let Some(question) = to_confirm(state) => Decision::unanswered(question),
        Command::Negative | Command::Roger => Decision::new(
            Outcome::Ignored,
            "no question waits for it, and it confirms nothing",
        ),
        Command::Disregard if !said.is_empty() => match place::complete(&setup.profile, said) {
            Placed::At(position) => undo::at(setup, state, position).closing(close),
            Placed::Missing(doubt) => ask_place(setup, state, doubt, said, None).closing(close),
        },
        Command::Disregard | Command::DisregardIfMeant if state.question.is_some() => {
            denied(setup, state)
        }
        Command::Disregard => undo::last(setup, state),
        Command::DisregardIfMeant => undo::if_meant(setup, state),
        Command::DisregardTwo => undo::last_two(setup, state).closing(close),
        Command::Correction => undo::correction(setup, state),
        Command::SayAgain => understood().say(state.last_spoken.clone()),
        Command::StandBy => understood()
            .say(setup.answer("stand_by", &[]))
            .adds([Fact::StandBy]),
        Command::Listen => understood()
            .say(setup.answer("listening", &[]))
            .adds([Fact::Listening]),
        Command::SameAgain => same_again(setup, state, said),
        Command::Moved => {
            let moved = several::moved(setup, state, said);
            // A place was named all the same.
            match moved.outcome {
                Outcome::Refused => {
                    let words = moved.spoken.clone();
                    moved.asks(place_awaited(words)).closing(close)
                }
                _ => moved.closing(close),
            }
        }
        Command::Next | Command::Back if let Some(step) = state.plan_step => {
            steps::walk(setup, state, step, command == Command::Next)
        }
        Command::Next => match state.view.next(state.open) {
            Some(position) => opens(setup, state, position).closing(close),
            None => understood().say(setup.answer("all_measured", &[])),
        },
        Command::Back => match state.counting().opened_before(state.open) {
            Some(position) => opens(setup, state, position).closing(close),
            None => understood().say(setup.answer("which_position", &[])),
        },
        Command::WhatsNext => match state.view.next(state.open) {
            Some(position) => {
                let place = setup.wording(state).place(position);
                understood()
                    .about(Some(position))
                    .say(setup.answer("next", &[("place", &place)]))
            }
            None => understood().say(setup.answer("all_measured", &[])),
        },
        Command::HowManyLeft => asked::how_many_left(setup, state),
        Command::WhatsTight => {
            let tight = [Verdict::NoGap, Verdict::Tight];
            asked::valves_that_are(setup, state, &tight, "none_tight")
        }
        Command::WhatsLoose => {
            asked::valves_that_are(setup, state, &[Verdict::Loose], "none_loose")
        }
        Command::WhatsOut => {
            let out = [Verdict::NoGap, Verdict::Tight, Verdict::Loose];
            asked::valves_that_are(setup, state, &out, "none_out")
        }
        Command::IsItIn => asked::is_it_in(setup, state, said),
        Command::Tightest => asked::least_room(setup, state, said, asked::End::Low),
        Command::Loosest => asked::least_room(setup, state, said, asked::End::High),
        Command::ReadAll => asked::read_all(setup, state),
        Command::Fitted => steps::fitted(setup, state).closing(close),
        Command::ReadBack => asked::read_back(setup, state, said),
        Command::WhichShim => steps::which_shim(setup, state, said),
        Command::ShimIn => asked::shim_in(setup, state, said),
        Command::Plan => steps::begin(setup, state),
        Command::ToBuy => steps::to_buy(setup, state),
        Command::InTheBox => asked::in_the_box(setup, state),
        Command::HowMuchCut => steps::how_much_cut(setup, state, said),
        Command::Target => asked::target(setup, state, said),
        Command::Band => asked::band(setup, state, said),
        Command::Limit => asked::limit(setup, state),
        Command::WhatTorque => bolts::torque(setup, state, said),
        Command::NextBolt => bolts::next(setup, state, said),
        Command::SecondRound => errands::new_round(setup, state).closing(close),
        Command::Swapped => several::swapped(setup, state, said).closing(close),
        Command::ReadAgain => match shims::asked(state) {
            Some(reading) => shims::read_again(setup, state, reading),
            // "I misread it", and no question waits: it is asked whether the last reading goes.
            None => undo::if_meant(setup, state),
        },
        Command::Changed => match shims::asked(state) {
            Some(reading) => shims::changed(setup, state, reading),
            None => Decision::new(Outcome::Ignored, "no question waits for it"),
        },
        Command::PartOfNote | Command::AQuestion => {
            Decision::new(Outcome::Ignored, "no question waits for it")
        }
        Command::CompressionRatio => asked::compression_ratio(setup, state, said),
        Command::Choice => choice(setup, state, hearing),
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
        Command::MeasureBegun => begun(setup, hearing, said, None).closing(close),
        Command::NoteBegun => dictation::begin(setup, state, said),
        Command::NoteEnded => Decision::new(Outcome::Ignored, "no long note is open"),
        Command::WhatsOpen => understood().say(errands::open(setup, state)),
        Command::WhereAmI => understood().say(errands::where_am_i(setup, state)),
        Command::HowManyPins => pins(setup),
        Command::WhereToTurn => where_to_turn(setup, state),
        Command::Help => understood().say(help::all(setup, state)),
        Command::StopTalking => understood(),
        Command::FullReadBack
        | Command::ShortReadBack
        | Command::GiveMeTime
        | Command::NormalPace
        | Command::Slower
        | Command::Faster
        | Command::Louder
        | Command::Quieter => understood().say(setup.answer(command.key(), &[])),
    }
}

/// "Kilometres", "seat": the choice of the question that waits in whose words alone this is.
fn choice(setup: &JobSetup, state: &State, hearing: &Hearing) -> Decision {
    let Some(question) = state.question.as_ref().filter(|q| !q.choices.is_empty()) else {
        return Decision::new(Outcome::Ignored, "no question waits for it");
    };
    let words = |fact: &Fact| {
        let words = setup.wording(state).fact(fact);
        setup.grammar.words_of(&words)
    };
    let choices: Vec<_> = question.choices.iter().map(|f| (f, words(f))).collect();
    let mut said = setup.grammar.words_of(&hearing.said);
    said.retain(|word| choices.iter().any(|(_, words)| words.contains(word)));
    let mut named = choices
        .iter()
        .filter(|(_, words)| !said.is_empty() && said.iter().all(|word| words.contains(word)));
    let close = Some(Fact::Closed);
    match (named.next(), named.next()) {
        (Some((Fact::Read(reading), _)), None) => {
            settle(setup, state, *reading, Force::default()).closing(close)
        }
        (Some((Fact::About { what, text }, _)), None) => {
            errands::told(setup, state, *what, text).closing(close)
        }
        _ => Decision::unanswered(question),
    }
}

/// What was named is kept in mind and repeated, with what is wrong with it.
pub(super) fn begun(
    setup: &JobSetup,
    hearing: &Hearing,
    said: &Whereabouts,
    wrong: Option<Wrong>,
) -> Decision {
    let named = setup.grammar.words_of(&hearing.said).join(" ");
    let words = match wrong {
        Some(Wrong::NoSuchBolt(words)) => {
            return Decision::new(Outcome::Refused, "the engine has no such bolt").say(words);
        }
        Some(Wrong::Asked(words) | Wrong::NotNew(words)) => format!("{named}. {words}"),
        None => named,
    };
    Decision::new(Outcome::Asked, "the value is still to come")
        .about(place::partial(said))
        .say(words)
}

/// Opens a valve, and says which.
fn opens(setup: &JobSetup, state: &State, position: Position) -> Decision {
    Decision::new(Outcome::Stored, "a command")
        .about(Some(position))
        .say(setup.wording(state).place(position))
        .adds([Fact::Opened(position)])
}

/// The question that waits for a yes or no.
pub(super) fn to_confirm(state: &State) -> Option<&Question> {
    state.question.as_ref().filter(|q| !q.proposed.is_empty())
}

/// Only "affirm" and its like store what was asked; silence and "roger" do not.
fn affirm(setup: &JobSetup, state: &State) -> Decision {
    let Some(question) = to_confirm(state) else {
        return Decision::new(
            Outcome::Ignored,
            "no question waits that a yes could answer",
        );
    };
    // "Read again, or changed?" has two answers, and a yes is neither; nor is it a head.
    if shims::asked(state).is_some() || waits_for_a_head(question).is_some() {
        return Decision::unanswered(question);
    }
    let proposed = question.proposed.clone();
    let position = proposed.iter().find_map(|f| match f {
        Fact::Read(r) => r.position,
        Fact::Opened(p) => Some(*p),
        _ => None,
    });
    let spoken = confirmed(setup, state, &proposed);
    Decision::new(Outcome::Stored, "confirmed")
        .about(position)
        .say(spoken)
        .adds([Fact::Closed])
        .adds(proposed)
}

/// What was stored by a yes, in words.
fn confirmed(setup: &JobSetup, state: &State, proposed: &[Fact]) -> String {
    let wording = setup.wording(state);
    if let Some(stage) = proposed
        .iter()
        .find_map(|f| errands::stage_words(setup, state, f))
    {
        return stage;
    }
    let readings: Vec<_> = proposed
        .iter()
        .filter_map(|f| match f {
            Fact::Read(reading) => Some(*reading),
            _ => None,
        })
        .collect();
    match readings[..] {
        [] => {}
        [one] => return verdict::after(setup, state, &one, &wording.reading(&one)),
        _ => return several::read_back(setup, state, &readings),
    }
    if proposed.iter().any(|f| matches!(f, Fact::Task { .. })) {
        return setup.answer("listed", &[]);
    }
    let gone = undo::gone(setup, state, proposed);
    let all = proposed.iter().map(|f| wording.fact(f));
    let all: Vec<String> = all.filter(|t| !t.is_empty()).collect();
    gone.unwrap_or_else(|| all.join(". "))
}

/// A no: what was asked is not stored. The valve that it was about is open and is said, unless it was
/// the place that was not certain.
fn denied(setup: &JobSetup, state: &State) -> Decision {
    let valve = state.asked_valve().filter(|_| !state.place_in_doubt());
    let nothing = setup.answer("nothing_stored", &[]);
    let spoken = match (undo::stands(setup, state), valve) {
        // What was asked was to take something back: it stands.
        (Some(stands), _) => stands,
        (None, Some(valve)) => format!("{nothing}. {}", setup.wording(state).place(valve)),
        (None, None) => nothing,
    };
    Decision::new(Outcome::Stored, "a command")
        .about(valve)
        .say(spoken)
        .adds([Fact::Closed])
}

fn same_again(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    // A torque or a compression is of no valve.
    let last = state.counting().last_reading();
    let Some((_, last)) = last.filter(|(_, last)| last.position.is_some()) else {
        return Decision::new(Outcome::Refused, "there is no reading of a valve to repeat")
            .say(setup.answer("which_position", &[]));
    };
    let known = last.position.map(Whereabouts::from).unwrap_or_default();
    let joined = place::join(said, &known);
    match place::complete(&setup.profile, &joined) {
        Placed::At(position) if !said.is_empty() => settle(
            setup,
            state,
            crate::event::Reading {
                position: Some(position),
                ..last
            },
            Force::default(),
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
            let count = setup.grammar.wording.whole(u32::from(pins));
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
    let degrees = u32::try_from(stop.crank_mdeg / 1_000).unwrap_or_default();
    let degrees = setup.grammar.wording.whole(degrees);
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
