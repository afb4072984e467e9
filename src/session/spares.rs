//! Spare shims that are called for the box.

use super::{Decision, JobSetup, State, shims};
use crate::event::{Doubt, Fact, Outcome, Question};
use crate::measure::Length;

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
    } else if shims::sounds_like_another(setup, size) {
        Some((Doubt::Unusual, "confirm", shims::SOUNDS_LIKE_ANOTHER))
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
