//! Several things said in one breath: readings of several valves, and a list of spares.

use super::{Acceptance, Decision, Hearing, JobSetup, State, decide, reading};
use crate::event::{Doubt, Fact, Outcome, Question};
use crate::grammar::{Heard, Meaning, Said};

/// The readings that one hearing holds, each as a hearing of its own, in the order in which they were
/// said. Just the hearing itself if it holds one, or if any of them cannot be stored as it is: then
/// all are asked together.
#[must_use]
pub fn one_by_one(setup: &JobSetup, state: &State, hearing: Hearing) -> Vec<Hearing> {
    let Heard::Accepted(Said {
        meaning: Meaning::Several(all),
        ..
    }) = &hearing.interpretation
    else {
        return vec![hearing];
    };
    let certain = hearing.acceptance == Acceptance::Accept
        && hearing.doubted.is_none()
        && !hearing.overlapped;
    let one = |said: &Said| Hearing {
        interpretation: Heard::Accepted(said.clone()),
        rival: None,
        ..hearing.clone()
    };
    let parts: Vec<Hearing> = all.iter().map(one).collect();
    let stored = |part: &Hearing| decide::decide(setup, state, part).outcome == Outcome::Stored;
    if certain && !state.standing_by && parts.iter().all(stored) {
        return parts;
    }
    vec![hearing]
}

/// All of it is read back, and only a yes stores it.
pub(super) fn asked(setup: &JobSetup, state: &State, hearing: &Hearing, all: &[Said]) -> Decision {
    let mut proposed: Vec<Fact> = Vec::new();
    let mut unusual = false;
    for said in all {
        let decision = match said.meaning {
            Meaning::Spare { size, count, .. } => {
                reading::spare(setup, state, (size, count), false, false)
            }
            _ => reading::read(setup, state, hearing, said),
        };
        if decision.outcome == Outcome::Refused {
            return decision;
        }
        unusual |= decision.outcome == Outcome::Asked;
        let asked = decision.facts.iter().flat_map(|fact| match fact {
            Fact::Asked(question) => question.proposed.clone(),
            Fact::Closed => Vec::new(),
            fact => vec![fact.clone()],
        });
        let asked: Vec<Fact> = asked.collect();
        if asked.is_empty() {
            return Decision::new(Outcome::Asked, "one of several readings was not clear")
                .say(setup.answer("not_understood", &[]));
        }
        proposed.extend(asked);
    }
    let wording = &setup.grammar.wording;
    let spoken: Vec<String> = proposed.iter().map(|f| wording.fact(f)).collect();
    let spoken: Vec<&str> = spoken
        .iter()
        .map(String::as_str)
        .filter(|t| !t.is_empty())
        .collect();
    let words = setup.answer("confirm", &[("reading", &spoken.join(". "))]);
    let question = Question {
        doubt: if unusual {
            Doubt::Unusual
        } else {
            Doubt::Several
        },
        proposed,
        unplaced: None,
        choices: Vec::new(),
        words,
    };
    Decision::new(Outcome::Asked, format!("{} in one breath", all.len())).asks(question)
}
