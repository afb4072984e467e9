//! What is looked at, what is still to be done, and the stages of the job.

use super::place::{self, Placed};
use super::{Decision, JobSetup, State};
use crate::event::{Fact, Outcome, Position};
use crate::grammar::Whereabouts;
use crate::record::Task;

/// The valve that is named, or that was named last: "that one".
pub(super) fn on(setup: &JobSetup, state: &State, said: &Whereabouts) -> Option<Position> {
    if said.is_empty() {
        return state.named.or(state.open);
    }
    match place::resolve(setup, state, said) {
        Placed::At(position) => Some(position),
        Placed::Missing(_) => None,
    }
}

/// "Plugs in, dowels two": looked at and found as it should be, or not.
pub(super) fn check(
    setup: &JobSetup,
    position: Option<Position>,
    items: Vec<(String, Option<u16>)>,
    good: bool,
) -> Decision {
    let fact = |(item, count)| Fact::Checked {
        item,
        count,
        good,
        position,
    };
    let facts: Vec<Fact> = items.into_iter().map(fact).collect();
    Decision::new(Outcome::Stored, "something looked at")
        .about(position)
        .say(setup.grammar.wording.facts(&facts))
        .adds(facts)
}

/// "Remind me …", "order …", "mark that one for lapping".
pub(super) fn task(
    setup: &JobSetup,
    state: &State,
    said: &Whereabouts,
    kind: String,
    text: String,
) -> Decision {
    // A task in free words belongs to the job; one without words to a valve.
    let position = on(setup, state, said).filter(|_| text.is_empty() || !said.is_empty());
    if text.is_empty() && position.is_none() {
        return Decision::new(Outcome::Refused, "no valve was named and none is open")
            .say(setup.answer("which_position", &[]));
    }
    let place = position.map(|p| setup.grammar.wording.place(p));
    let spoken = setup.answer("listed", &[("place", place.as_deref().unwrap_or_default())]);
    Decision::new(Outcome::Stored, "on the list of what is still open")
        .about(position)
        .say(spoken)
        .adds([Fact::Task {
            kind,
            text,
            position,
        }])
}

/// "Tick off …": the one open task that has these words.
pub(super) fn tick(setup: &JobSetup, state: &State, text: &str) -> Decision {
    let wanted: Vec<&str> = text.split(' ').collect();
    let found: Vec<_> = state
        .counting()
        .tasks()
        .into_iter()
        .filter(|t| {
            let has: Vec<&str> = t.text.split(' ').collect();
            wanted.iter().all(|w| has.contains(w))
        })
        .collect();
    match found[..] {
        [one] => Decision::new(Outcome::Stored, format!("done: {}", one.text))
            .about(one.position)
            .say(setup.answer("ticked", &[]))
            .adds([Fact::Ticked(one.event)]),
        [] => Decision::new(
            Outcome::Refused,
            format!("nothing on the list has the words \"{text}\""),
        )
        .say(setup.answer("not_listed", &[])),
        _ => Decision::new(
            Outcome::Asked,
            format!("{} tasks have the words \"{text}\"", found.len()),
        )
        .say(setup.answer("not_understood", &[])),
    }
}

/// A stage is begun, its cautions read out the first time, or finished.
pub(super) fn stage(setup: &JobSetup, state: &State, stage: String, done: bool) -> Decision {
    // "Done" alone ends the stage that was begun.
    let stage = match state.counting().stage() {
        Some((open, false)) if stage.is_empty() => open.to_owned(),
        _ => stage,
    };
    let Some(known) = setup.grammar.stage(&stage) else {
        return Decision::new(Outcome::Ignored, "no stage of the job");
    };
    let name = known.name.as_str();
    let key = if done { "stage_done" } else { "stage_begun" };
    let mut spoken = setup.answer(key, &[("stage", name)]);
    if !done && !state.counting().was_begun(&stage) {
        for caution in &known.cautions {
            spoken.push_str(if spoken.ends_with('.') { " " } else { ". " });
            spoken.push_str(caution);
        }
    }
    Decision::new(
        Outcome::Stored,
        "the order of stages is advice, never a lock",
    )
    .say(spoken)
    .adds([Fact::Stage { stage, done }])
}

/// What is still open, in words.
pub(super) fn open(setup: &JobSetup, state: &State) -> String {
    let tasks = state.counting().tasks();
    if tasks.is_empty() {
        return setup.answer("nothing_open", &[]);
    }
    let wording = &setup.grammar.wording;
    let one = |task: &Task<'_>| {
        let kind = wording.tasks.get(task.kind).cloned().unwrap_or_default();
        let place = task.position.map(|p| wording.place(p)).unwrap_or_default();
        [place, kind, task.text.to_owned()]
            .into_iter()
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    };
    tasks.iter().map(one).collect::<Vec<_>>().join(". ")
}

/// The stage, the last thing done, and what is open.
pub(super) fn where_am_i(setup: &JobSetup, state: &State) -> String {
    let mut parts = Vec::new();
    if let Some((key, done)) = state.counting().stage()
        && let Some(stage) = setup.grammar.stage(key)
    {
        let form = if done { "stage_done" } else { "stage_now" };
        parts.push(setup.answer(form, &[("stage", &stage.name)]));
    }
    if let Some(fact) = state.counting().last_done() {
        let last = setup.grammar.wording.fact(fact);
        parts.push(setup.answer("last_done", &[("reading", &last)]));
    }
    let left = state.view.remaining().len();
    if left > 0 {
        let count = setup.grammar.wording.number(&left.to_string());
        parts.push(setup.answer("to_measure", &[("count", &count)]));
    }
    let tasks = state.counting().tasks().len();
    let count = setup.grammar.wording.number(&tasks.to_string());
    parts.push(if tasks == 0 {
        setup.answer("nothing_open", &[])
    } else {
        setup.answer("open_tasks", &[("count", &count)])
    });
    parts.join(". ")
}
