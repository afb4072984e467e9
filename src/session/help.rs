//! What fits now: examples for a person who does not know what to say.

use super::{JobSetup, State};
use crate::event::Position;
use crate::grammar::{Command, Means};
use crate::measure::Quantity;

/// One example that fits what goes on: a place, and what is called there.
pub(super) fn example(setup: &JobSetup, state: &State) -> String {
    examples(setup, state)
        .into_iter()
        .next()
        .unwrap_or_default()
}

/// Three examples, the likeliest first; one if only one thing can be said.
pub(crate) fn examples(setup: &JobSetup, state: &State) -> Vec<String> {
    let key = |key: &str, place: &str| setup.answer(key, &[("place", place)]);
    if state.standing_by {
        // Never spoken: who asks for help while the tool stands by is not heard.
        let listen = Means::Command(Command::Listen);
        let (examples, _) = setup
            .grammar
            .cheat_sheet()
            .remove(&listen)
            .unwrap_or_default();
        return examples.into_iter().take(1).collect();
    }
    if state.dictating_since_ms.is_some() {
        return vec![
            key("say_end_of_note", ""),
            key("say_strike", ""),
            key("say_again_please", ""),
        ];
    }
    if state.question.is_some() {
        return vec![
            key("say_yes", ""),
            key("say_no", ""),
            key("say_the_value", ""),
        ];
    }
    let any = || setup.profile.valves().into_iter().next();
    let valve: Option<Position> = state.open.or_else(|| state.view.next(None)).or_else(any);
    let place = valve
        .map(|p| setup.wording(state).place(p))
        .unwrap_or_default();
    if state.is_fitting() || state.view.remaining().is_empty() {
        return vec![
            key("say_plan", ""),
            key("say_shim", &place),
            key("say_which_shim", &place),
        ];
    }
    let shims = state
        .said_last()
        .is_some_and(|r| r.quantity == Quantity::ShimFitted);
    let (first, second) = if shims {
        ("say_shim", "say_gap")
    } else {
        ("say_gap", "say_shim")
    };
    vec![key(first, &place), key(second, &place), key("say_left", "")]
}

/// "What can I say?": three examples.
pub(super) fn all(setup: &JobSetup, state: &State) -> String {
    let examples = examples(setup, state);
    let at = |i: usize| examples.get(i).map_or("", String::as_str);
    let (first, second, third) = (at(0), at(1), at(2));
    setup.answer(
        "help",
        &[("first", first), ("second", second), ("third", third)],
    )
}
