//! The acceptance policy: accept, confirm or reject. The figures behind the numbers stand beside the
//! model's card.

use super::hypothesis::{Evidence, Hypothesis, Pass, RIVAL_NATS, n_best};
use crate::grammar::{Heard, Meaning};
use crate::session::{Acceptance, Interpreter, means_the_same};

/// What a phrase needs, in nats: a margin over the best phrase of another meaning, a distance below
/// the free text at most, a mean log-probability of the free text's tokens at least.
struct Need {
    margin: f32,
    deficit: f32,
    mean_logp: f32,
}

/// Any of these stores. Margins of 2 to 3 held 29 right phrases and 2 wrong ones, one of them with
/// another digit ("two point" heard as "two oh", at 5 dB of noise): they are asked.
const STORE: [Need; 2] = [need(3.0, 0.3, -0.6), need(3.5, 2.5, -0.5)];
/// Any of these stores a value or a place while a question waits for one: a single word then has
/// few rivals, and its tokens are less likely than those of a sentence.
const STORE_ANSWER: [Need; 2] = [need(2.0, 0.3, -1.0), need(3.0, 1.5, -2.0)];
/// Any of these is likely enough to ask.
const ASK: [Need; 2] = [need(0.0, 2.5, -0.9), need(4.0, 4.0, -0.2)];
const ASK_ANSWER: Need = need(0.0, 4.0, -2.6);
/// A note keeps its sound and changes no sum.
const NOTE: Need = need(2.0, 0.3, -0.8);
/// One pass is enough.
const CLEAR: Need = need(4.0, 0.2, -0.3);

const fn need(margin: f32, deficit: f32, mean_logp: f32) -> Need {
    Need {
        margin,
        deficit,
        mean_logp,
    }
}

impl Need {
    fn met(&self, margin: f32, deficit: f32, mean_logp: f32) -> bool {
        margin >= self.margin && deficit <= self.deficit && mean_logp >= self.mean_logp
    }
}

/// Margin of the phrase over its best rival of another meaning; rivals farther off than were
/// looked for count as that far.
fn margin(phrase: &Hypothesis, rival: Option<&Hypothesis>) -> f32 {
    rival.map_or(RIVAL_NATS, |r| {
        (r.deficit_nats - phrase.deficit_nats).min(RIVAL_NATS)
    })
}

/// Words, zone and probability.
pub(super) fn weigh(interpreter: &Interpreter, e: &Evidence) -> (String, Acceptance, f32) {
    let free = e.free.first().cloned().unwrap_or_default();
    if interpreter.dictating
        && let Some(found) = sentence(e, &free)
    {
        return found;
    }
    let Some(phrase) = &e.phrase else {
        return (free.clone(), no_phrase(interpreter, e, &free), 0.0);
    };
    let meaning = &phrase.interpretation;
    let margin = margin(phrase, e.rival.as_ref());
    let mean_logp = e.mean_logp.iter().copied().fold(0.0, f32::min);
    let agrees = |h: &Hypothesis| means_the_same(&h.interpretation, meaning);
    let agree = e.best.iter().all(|b| b.as_ref().is_some_and(agrees));
    let met = |need: &Need| need.met(margin, phrase.deficit_nats, mean_logp);
    let answer = interpreter.answering && is_value(meaning);
    let (store, ask) = match () {
        // "No, …" is one sound away from "note …".
        () if is_note(meaning) => (met(&NOTE), e.rival.is_some() && met(&ASK[0])),
        () if answer => (STORE_ANSWER.iter().any(met), met(&ASK_ANSWER)),
        () => (STORE.iter().any(met), ASK.iter().any(met)),
    };
    let acceptance = match (store && agree, ask) {
        (true, _) => Acceptance::Accept,
        (false, true) => Acceptance::Confirm,
        (false, false) => no_phrase(interpreter, e, &free),
    };
    let said = match (store && agree) || ask {
        false => free,
        true => phrase.text.clone(),
    };
    (
        said,
        acceptance,
        probability(margin, phrase.deficit_nats, mean_logp),
    )
}

/// If no phrase is near: words that were clearly heard and belong to the bench were still meant
/// for the tool, which asks for them again.
fn no_phrase(interpreter: &Interpreter, e: &Evidence, free: &str) -> Acceptance {
    let clear =
        e.mean_logp.iter().all(|m| *m >= CLEAR.mean_logp) && e.free.iter().all(|f| f == free);
    let is_legal = interpreter.of(free) != Heard::Nothing;
    let for_the_tool = || interpreter.grammar.is_bench_talk(free) || interpreter.has_gist(free);
    match clear && !is_legal && for_the_tool() {
        true => Acceptance::Confirm,
        false => Acceptance::Reject,
    }
}

/// A sentence of a long note: its words as they were heard freely. `None` for a command, which is
/// weighed as ever, and for what is more likely noise.
fn sentence(e: &Evidence, free: &str) -> Option<(String, Acceptance, f32)> {
    let is_command = |phrase: &Hypothesis| matches!(&phrase.interpretation, Heard::Accepted(said) if matches!(said.meaning, Meaning::Command(_)));
    let command = e
        .phrase
        .as_ref()
        .is_some_and(|p| p.deficit_nats <= CLEAR.deficit && is_command(p));
    let mean_logp = e.mean_logp.iter().copied().fold(0.0, f32::min);
    (!command && !free.is_empty() && mean_logp >= NOTE.mean_logp)
        .then(|| (free.to_owned(), Acceptance::Accept, mean_logp.exp()))
}

/// Free words, kept with their sound: they change no sum.
fn is_note(meaning: &Heard) -> bool {
    matches!(
        meaning,
        Heard::Accepted(said) if matches!(
            &said.meaning,
            Meaning::Note(_) | Meaning::Tick(_) | Meaning::Task { .. }
        )
    )
}

/// A value or a part of a place: never a command, which a noise would give by chance.
fn is_value(meaning: &Heard) -> bool {
    match meaning {
        Heard::Accepted(said) => {
            matches!(
                said.meaning,
                Meaning::Reading { .. } | Meaning::Answer | Meaning::Open
            )
        }
        Heard::Ambiguous(_) | Heard::Refused(_) => true,
        Heard::Nothing => false,
    }
}

/// How often a phrase with this evidence was meant: a logistic fit to 400 phrases of held-out
/// voices and 390 of espeak-ng, neither ever trained on.
fn probability(margin: f32, deficit: f32, mean_logp: f32) -> f32 {
    let x = -0.37 + 1.12 * margin - 0.39 * deficit.max(0.0) + 0.83 * mean_logp;
    1.0 / (1.0 + (-x).exp())
}

/// Whether one pass leaves no doubt, so that a second would add nothing.
pub(super) fn is_clear(pass: &Pass) -> bool {
    let best = pass.hypotheses.first();
    best.is_some_and(|best| CLEAR.met(pass.margin(), best.deficit_nats, pass.mean_logp()))
}

/// The best hypothesis of all passes, if it is near enough to be asked.
pub(super) fn best(passes: &[Pass]) -> Option<Hypothesis> {
    let best = n_best(passes).into_iter().next();
    best.filter(|h| h.deficit_nats <= ASK_ANSWER.deficit)
}
