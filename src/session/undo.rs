//! What was said is taken back: the last entry, the last two, or a value that is to be said anew.

use super::{Decision, JobSetup, State, errands};
use crate::event::{Doubt, Fact, Outcome, Position, Question};
use crate::grammar::Command;
use crate::measure::Quantity;

fn nothing(setup: &JobSetup, why: &str) -> Decision {
    Decision::new(Outcome::Refused, why).say(setup.answer("nothing_to_correct", &[]))
}

/// What an event added, read back.
fn read_again(setup: &JobSetup, state: &State, id: u64) -> String {
    let facts = state.counting().facts_of(id);
    let words = facts.iter().rev().map(|f| words_of(setup, state, f));
    words
        .into_iter()
        .find(|w| !w.is_empty())
        .unwrap_or_default()
}

/// A fact that can be taken back, in words.
fn words_of(setup: &JobSetup, state: &State, fact: &Fact) -> String {
    let stage = || errands::stage_name(setup, fact);
    stage().unwrap_or_else(|| setup.wording(state).fact(fact))
}

/// That something is taken back. A note is not read out again.
fn disregarded(setup: &JobSetup, reading: &str) -> String {
    match reading {
        "" => setup.answer("note_disregarded", &[]),
        reading => setup.answer("disregarded", &[("reading", reading)]),
    }
}

/// The events that facts only take back; `None` where they do anything else.
fn taken_back(facts: &[Fact]) -> Option<Vec<u64>> {
    let ids = facts.iter().map(|f| match f {
        Fact::Cancelled(id) => Some(*id),
        _ => None,
    });
    ids.collect::<Option<Vec<u64>>>()
        .filter(|ids| !ids.is_empty())
}

/// What facts take back, read back as gone.
pub(super) fn gone(setup: &JobSetup, state: &State, facts: &[Fact]) -> Option<String> {
    let ids = taken_back(facts)?;
    let one = |id: &u64| disregarded(setup, &read_again(setup, state, *id));
    Some(ids.iter().map(one).collect::<Vec<_>>().join(". "))
}

/// What the question that waits would take back, and a no lets stand.
pub(super) fn stands(setup: &JobSetup, state: &State) -> Option<String> {
    let ids = taken_back(&state.question.as_ref()?.proposed)?;
    let one = |id: &u64| read_again(setup, state, *id);
    Some(ids.iter().map(one).collect::<Vec<_>>().join(". "))
}

/// The last entry no longer counts. After another disregard it is asked first: the second may be a
/// slip.
pub(super) fn last(setup: &JobSetup, state: &State) -> Decision {
    match state.last_command() {
        Some(Command::Disregard) => if_meant(setup, state),
        _ => take_back(setup, state),
    }
}

/// The last clearance of a valve no longer counts, once it is affirmed.
pub(super) fn at(setup: &JobSetup, state: &State, position: Position) -> Decision {
    let latest = state.counting().latest(position, Quantity::Clearance);
    let Some((id, _)) = latest else {
        return nothing(setup, "nothing was read of this valve").about(Some(position));
    };
    let facts = vec![Fact::Cancelled(id)];
    let gone = gone(setup, state, &facts).unwrap_or_default();
    Decision::new(Outcome::Asked, "it is to be taken back")
        .about(Some(position))
        .asks(question(setup, facts, &gone))
}

/// The last entry no longer counts, once it is affirmed.
pub(super) fn if_meant(setup: &JobSetup, state: &State) -> Decision {
    let decision = take_back(setup, state);
    if decision.outcome != Outcome::Stored {
        return decision;
    }
    let question = question(setup, decision.facts, &decision.spoken);
    Decision::new(Outcome::Asked, "it is to be taken back")
        .about(decision.subject)
        .asks(question)
}

fn question(setup: &JobSetup, proposed: Vec<Fact>, gone: &str) -> Question {
    Question::plain(
        Doubt::Repeated,
        proposed,
        setup.answer("confirm", &[("reading", gone)]),
    )
}

/// "Undo the last two": both are read out, and only a yes takes them back.
pub(super) fn last_two(setup: &JobSetup, state: &State) -> Decision {
    let ids = state.counting().undoable();
    let facts: Vec<Fact> = ids.take(2).map(Fact::Cancelled).collect();
    let Some(gone) = gone(setup, state, &facts) else {
        return nothing(setup, "there is nothing to disregard");
    };
    let why = format!("{} entries are to be taken back", facts.len());
    let question = question(setup, facts, &gone);
    Decision::new(Outcome::Asked, why).asks(question)
}

fn take_back(setup: &JobSetup, state: &State) -> Decision {
    let wording = setup.wording(state);
    let Some((id, fact)) = state.counting().last_undoable() else {
        return nothing(setup, "there is nothing to disregard");
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
        true => words_of(setup, state, fact),
        false => wording.facts(&together),
    };
    let mut spoken = disregarded(setup, &reading);
    // After a correction, what it had replaced counts again, and is said.
    let replaced = event.iter().flat_map(|e| &e.facts).find_map(|f| match f {
        Fact::Cancelled(old) => state.counting().event(*old),
        _ => None,
    });
    for fact in replaced.iter().flat_map(|e| &e.facts) {
        if matches!(fact, Fact::Read(_) | Fact::Spare { .. }) {
            spoken = format!("{spoken}. {}", wording.fact(fact));
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

/// "Correction": the value is still to come.
pub(super) fn correction(setup: &JobSetup, state: &State) -> Decision {
    let Some((_, last)) = state.counting().last_reading() else {
        return nothing(setup, "there is no reading to correct");
    };
    let words = setup.answer("correction", &[]);
    let question = Question::plain(Doubt::Correction, Vec::new(), words);
    Decision::new(Outcome::Asked, "the corrected value is still to come")
        .about(last.position)
        .asks(question)
}
