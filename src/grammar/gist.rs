//! What a sentence says of a valve, if the words that belong to no phrase are passed over.

use super::build;
use super::meaning::{Heard, Meaning, Said};
use super::means::Means;
use super::net::Net;
use super::scope::Scope;
use super::search::Sought;
use super::source::Grammar;
use crate::event::{Gap, Value};
use std::collections::BTreeSet;

/// So much may be passed over: with more it is another sentence. Chosen by us, no source.
const MOST: usize = 8;
/// What an unknown word costs, or one without a meaning of its own, and what any other. Chosen by
/// us, no source.
const LIGHT: usize = 1;
const OTHER: usize = 2;

impl Grammar {
    /// The reading in a text, if as few words as possible are passed over; never a number, a place, a
    /// verdict or what may turn one round. `None` if there is no such reading, if there are several, or
    /// if it names no place and does not say which blade goes and which does not. It may be asked,
    /// never stored.
    #[must_use]
    pub(crate) fn gist(&self, text: &str, scope: &Scope) -> Option<Heard> {
        let words = self.words_of(text);
        let has = |set: &BTreeSet<String>| words.iter().any(|w| set.contains(w));
        // Most talk names no place, and costs nothing here.
        let may_be = has(&self.sides) || scope.open.is_some() && words.len() > 3;
        if has(&self.turns_round) || !may_be {
            return None;
        }
        let sought = Sought {
            words: &words,
            alike: vec![&[]; words.len()],
            passing: self.passing(&words),
            most: MOST,
        };
        let found = self.readings.get_or_init(|| self.readings_in_any_order());
        let heard = self.meaning(&found.find(&sought, |_| true), scope);
        is_plain_reading(&heard, scope).then_some(heard)
    }

    /// The readings that the phrases know, and those in an order that is no phrase. The recogniser
    /// never listens for them.
    fn readings_in_any_order(&self) -> Net {
        let readings = self.phrases.iter().enumerate();
        let mut readings = readings
            .filter(|(_, p)| p.means == Means::Clearance)
            .peekable();
        let first = readings.peek().map_or(0, |(i, _)| *i);
        let phrases = readings.map(|(_, p)| &p.node);
        let patterns = phrases.chain(self.rules.get("any_order")).collect();
        build::network(std::iter::once((first, patterns)), &self.rules)
    }

    /// What it costs to pass over each word; `None` if it may mean something there. What comes before
    /// the first number or place is talk, but for a "no".
    fn passing(&self, words: &[String]) -> Vec<Option<usize>> {
        let begins = |w: &String| self.begins_a_reading.contains(w);
        let begun = words.iter().position(begins).unwrap_or(words.len());
        let cost = |(i, word): (usize, &String)| match () {
            () if self.passed_over.contains(word) => Some(if i < begun { 0 } else { LIGHT }),
            () if i < begun && !self.denials.contains(word) => Some(0),
            () if !self.known.contains(word) => Some(LIGHT),
            () if self.weighty.contains(word) => None,
            () => Some(OTHER),
        };
        words.iter().enumerate().map(cost).collect()
    }
}

/// A reading of a place that is named, or of both blades at the valve that is open; or several, each of
/// a place that is named.
fn is_plain_reading(heard: &Heard, scope: &Scope) -> bool {
    let Heard::Accepted(said) = heard else {
        return false;
    };
    match &said.meaning {
        Meaning::Several(all) => all.iter().all(|s| is_reading(s) && is_placed(s)),
        _ => is_reading(said) && (is_placed(said) || scope.open.is_some() && is_both_blades(said)),
    }
}

fn is_reading(said: &Said) -> bool {
    matches!(said.meaning, Meaning::Reading { fix: false, .. })
}

fn is_placed(said: &Said) -> bool {
    said.place.cylinder.is_some() && said.place.side.is_some()
}

fn is_both_blades(said: &Said) -> bool {
    let between = matches!(
        said.meaning,
        Meaning::Reading {
            value: Value::Gap(Gap::Between { .. }),
            ..
        }
    );
    between && said.place.is_empty()
}
