//! What one utterance does, and when it is asked first: what was heard half, heard badly, or is
//! unlikely in this job. Asks for just the word in doubt: "seven or eleven?"

use super::{Acceptance, Decision, Hearing, JobSetup, State, decide};
use crate::event::{Doubt, Fact, Outcome, Position};

/// What an utterance does.
pub(super) fn decide(setup: &JobSetup, state: &State, hearing: &Hearing) -> Decision {
    if !state.standing_by
        && let Some(id) = hearing.doubted
    {
        return of_half(setup, state, hearing, id);
    }
    if let Some(decision) = decide::whatever_it_means(setup, state, hearing) {
        return decision;
    }
    let decision = decide::by_meaning(setup, state, hearing);
    let unsure = hearing.acceptance == Acceptance::Confirm
        || rival_is_likelier(setup, state, hearing, &decision);
    if unsure {
        named(
            setup,
            state,
            hearing,
            decide::doubted(setup, state, decision),
        )
    } else {
        decision
    }
}

/// Whether the rival is a reading of the valve whose turn it is, and what was heard is one of
/// another valve. What was said before makes a thing likelier; that may ask, never store.
fn rival_is_likelier(setup: &JobSetup, state: &State, hearing: &Hearing, heard: &Decision) -> bool {
    let place = |decision: &Decision| -> Option<Position> {
        decision.facts.iter().find_map(|f| match f {
            Fact::Read(reading) => reading.position,
            Fact::Opened(position) => Some(*position),
            _ => None,
        })
    };
    let (Some(mine), Some(theirs)) = (place(heard), rival(setup, state, hearing)) else {
        return false;
    };
    let Some(theirs) = place(&theirs) else {
        return false;
    };
    let due = |p: Position| state.open == Some(p) || state.view.next(state.open) == Some(p);
    mine != theirs && due(theirs) && !due(mine)
}

/// The event `id` may have stored half of what was said: it no longer counts. The longer phrase takes
/// its place, or is asked, where `hearing` is one; else what the event stored is asked.
fn of_half(setup: &JobSetup, state: &State, hearing: &Hearing, id: u64) -> Decision {
    let alone = Hearing {
        doubted: None,
        ..hearing.clone()
    };
    let decision = decide(setup, state, &alone);
    let stored = state.counting().event(id);
    let again: Vec<Fact> = stored
        .iter()
        .flat_map(|e| &e.facts)
        .filter(|f| matches!(f, Fact::Read(_) | Fact::Spare { .. } | Fact::Cancelled(_)))
        .cloned()
        .collect();
    let spoken = again.iter().map(|f| setup.wording(state).fact(f));
    let Some(read_back) = spoken.rev().find(|t| !t.is_empty()) else {
        return decision;
    };
    let whole = |f: &Fact| matches!(f, Fact::Asked(_) | Fact::Read(_) | Fact::Spare { .. });
    let instead = if decision.facts.iter().any(whole) {
        decision
    } else {
        Decision::new(Outcome::Asked, "the words went on, and make no phrase")
            .about(stored.and_then(|e| e.subject))
            .asks(decide::to_confirm(setup, again, &read_back))
    };
    let half = Fact::Cancelled(id);
    let gone = instead.facts.contains(&half);
    instead.closing((!gone).then_some(half))
}

/// What the best rival would have done.
fn rival(setup: &JobSetup, state: &State, hearing: &Hearing) -> Option<Decision> {
    let (near, interpretation) = hearing.rival.as_ref()?;
    let other = Hearing {
        said: near.said.clone(),
        interpretation: interpretation.clone(),
        acceptance: Acceptance::Accept,
        rival: None,
        ..hearing.clone()
    };
    Some(decide(setup, state, &other))
}

/// Names the one word in which what was heard differs from its best rival, before the question
/// that `asked` asks; for two values of one place, either can be answered.
fn named(setup: &JobSetup, state: &State, hearing: &Hearing, mut asked: Decision) -> Decision {
    let (Some((near, _)), Some(other)) = (&hearing.rival, rival(setup, state, hearing)) else {
        return asked;
    };
    let words = differing(setup, &hearing.said, &near.said);
    for fact in &mut asked.facts {
        let Fact::Asked(question) = fact else {
            continue;
        };
        if question.doubt != Doubt::Uncertain {
            continue;
        }
        let read = |f: &&Fact| matches!(f, Fact::Read(_));
        let mine = question.proposed.iter().find(read);
        let theirs = other.facts.iter().find(read);
        if let (Some(Fact::Read(a)), Some(Fact::Read(b))) = (mine, theirs)
            && a.position == b.position
        {
            question.choices = vec![Fact::Read(*a), Fact::Read(*b)];
        }
        if let Some((one, another)) = &words {
            question.words = format!("{one} or {another}. {}", question.words);
            asked.spoken.clone_from(&question.words);
        }
    }
    asked
}

/// The one word in which two texts of equal length differ, where the voice has both.
fn differing(setup: &JobSetup, said: &str, rival: &str) -> Option<(String, String)> {
    let (a, b) = (setup.grammar.words_of(said), setup.grammar.words_of(rival));
    let mut pairs = a.iter().zip(&b).filter(|(a, b)| a != b);
    let (one, another) = pairs.next()?;
    let spoken = |word: &String| setup.grammar.wording.pieces().contains(word);
    (a.len() == b.len() && pairs.next().is_none() && spoken(one) && spoken(another))
        .then(|| (one.clone(), another.clone()))
}
