//! Three zones: store, ask, ignore. The figures behind the numbers stand in DEVELOPERS.md.

use super::ear::{Evidence, Fit, Meanings, Opinion, RIVAL_NATS};
use crate::grammar::{Heard, Meaning};
use crate::session::Certainty;

/// Least margin over the best phrase of another meaning that stores, in nats.
const STORE_MARGIN_NATS: f32 = 2.0;
/// Farthest below the free text that a phrase may be and still be stored, in nats.
const STORE_DEFICIT_NATS: f32 = 2.5;
/// Farthest below the free text that a phrase is asked for, in nats.
const ASK_DEFICIT_NATS: f32 = 4.0;
/// Below this mean log-probability of its tokens, in nats, a text is more likely made of noise.
const NOISE_LOGP_NATS: f32 = -1.0;
/// From this margin on, in nats, and at most `ALONE_DEFICIT_NATS` below the free text, one pass is
/// enough.
const ALONE_MARGIN_NATS: f32 = 4.0;
const ALONE_DEFICIT_NATS: f32 = 0.2;
const ALONE_LOGP_NATS: f32 = -0.3;

/// Margin of the phrase over its best rival of another meaning; rivals farther off than were
/// looked for count as that far.
pub(super) fn margin(phrase: &Fit, rival: Option<&Fit>) -> f32 {
    rival.map_or(RIVAL_NATS, |r| {
        (r.deficit_nats - phrase.deficit_nats).min(RIVAL_NATS)
    })
}

/// Words, zone and probability.
pub(super) fn weigh(meanings: &Meanings, e: &Evidence) -> (String, Certainty, f32) {
    let free = e.free.first().cloned().unwrap_or_default();
    let Some(phrase) = &e.phrase else {
        return (free, Certainty::Noise, 0.0);
    };
    let note = matches!(meanings.of(&phrase.text), Heard::Accepted(s) if matches!(s.meaning, Meaning::Note(_)));
    let margin = margin(phrase, e.rival.as_ref());
    let weak = e.mean_logp.iter().any(|m| *m < NOISE_LOGP_NATS);
    let agree = e
        .best
        .iter()
        .all(|b| meanings.of(b) == meanings.of(&phrase.text));
    let certainty = if weak || phrase.deficit_nats > ASK_DEFICIT_NATS {
        Certainty::Noise
    } else if note {
        Certainty::Sure
    } else if agree && margin >= STORE_MARGIN_NATS && phrase.deficit_nats <= STORE_DEFICIT_NATS {
        Certainty::Sure
    } else {
        Certainty::Unsure
    };
    let said = if certainty == Certainty::Noise {
        free
    } else {
        phrase.text.clone()
    };
    (said, certainty, 1.0 / (1.0 + (-margin).exp()))
}

/// Whether one pass leaves no doubt, so that a second would add nothing.
pub(super) fn is_clear(meanings: &Meanings, opinion: &Opinion) -> bool {
    let Some((text, deficit)) = opinion.near.first() else {
        return false;
    };
    let meaning = meanings.of(text);
    let rival = opinion.near.iter().find(|n| meanings.of(&n.0) != meaning);
    let margin = rival.map_or(RIVAL_NATS, |r| r.1 - deficit);
    let tokens = &opinion.heard.tokens;
    let mean = tokens.iter().map(|t| t.logp).sum::<f32>() / tokens.len().max(1) as f32;
    margin >= ALONE_MARGIN_NATS && *deficit <= ALONE_DEFICIT_NATS && mean >= ALONE_LOGP_NATS
}

/// The best phrase of all opinions; empty without one near enough to be asked.
pub(super) fn best(opinions: &[Opinion]) -> String {
    super::ear::fits(opinions)
        .into_iter()
        .next()
        .filter(|f| f.deficit_nats <= ASK_DEFICIT_NATS)
        .map(|f| f.text)
        .unwrap_or_default()
}
