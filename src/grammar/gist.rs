//! What a sentence says, if the words that belong to no phrase are passed over.

use super::meaning::{Heard, Meaning, Said};
use super::means::{Command, Means};
use super::net::{Match, Net};
use super::scope::Scope;
use super::search::{Found, Sought};
use super::source::Grammar;
use super::{build, gap};
use crate::event::{Gap, Value};
use std::cmp::Ordering;

/// So much may be passed over for a reading or an undoing, and of a reading no more than two thirds:
/// with more it is another sentence. Chosen by us, no source.
const MOST: usize = 12;
/// What an unknown word costs, or one without a meaning of its own, and what any other. Chosen by
/// us, no source.
const LIGHT: usize = 1;
const OTHER: usize = 2;

impl Grammar {
    /// What a text says, if as few words as possible are passed over; never a number, a place, a
    /// verdict or what may turn one round. `None` if that is nothing, if it is several things, or if
    /// the sentence may as well be said to anybody. A reading or a check may be asked, never stored; a
    /// question may be answered.
    #[must_use]
    pub(crate) fn gist(&self, text: &str, scope: &Scope) -> Option<Heard> {
        let words = self.words_of(text);
        let question = self.question_among(&words, scope);
        let answered = question.or_else(|| self.undoing_among(&words, scope));
        if answered.is_some() {
            return answered;
        }
        if words.iter().any(|w| self.turns_round.contains(w)) {
            return None;
        }
        let reading = self.reading_among(&words, scope);
        let other = self.phrase_among(&words, scope);
        match (reading, other) {
            (Some((one, reading)), Some((two, other))) if reading != other => match one.cmp(&two) {
                Ordering::Less => Some(reading),
                Ordering::Equal => None,
                Ordering::Greater => Some(other),
            },
            (reading, other) => reading.or(other).map(|(_, heard)| heard),
        }
    }

    /// A reading of a place that is named, or of both blades at the open valve.
    fn reading_among(&self, words: &[String], scope: &Scope) -> Option<(usize, Heard)> {
        // Most talk names no place, and costs nothing here.
        let names_a_side = words.iter().any(|w| self.spelled_sides.contains(w));
        if !names_a_side && (scope.open.is_none() || words.len() <= 3) {
            return None;
        }
        let sought = among(words, self.passing(words), MOST.min(words.len() * 2 / 3));
        let readings = self.readings.get_or_init(|| self.readings_in_any_order());
        let Found { cost, mut matches } = readings.find(&sought, |_| true);
        matches.retain(is_sure);
        let heard = without_at_least(self.meaning(&matches, scope));
        let here = scope.open.is_some() && matches.iter().all(tells_several_blades);
        is_plain_reading(&heard, names_a_side, here).then_some((cost, heard))
    }

    /// Something else that is asked before it is stored. A sentence of which more than a third is talk
    /// is left alone (chosen by us, no source).
    fn phrase_among(&self, words: &[String], scope: &Scope) -> Option<(usize, Heard)> {
        if !words.iter().any(|w| self.trade_words.contains(w)) {
            return None;
        }
        let passing = words.iter().map(|w| match () {
            () if self.passed_over.contains(w) || !self.known.contains(w) => Some(LIGHT),
            () if self.weighty.contains(w) || self.bench_words.contains(w) => None,
            () => Some(OTHER),
        });
        let sought = among(words, passing.collect(), words.len() / 3);
        let mut found = self.net.find(&sought, |p| is_asked(self.phrases[p].means));
        found.matches.retain(is_sure);
        let heard = self.meaning(&found.matches, scope);
        matches!(heard, Heard::Accepted(_)).then_some((found.cost, heard))
    }

    /// "Forget that, the blade was bent": what would go is asked.
    fn undoing_among(&self, words: &[String], scope: &Scope) -> Option<Heard> {
        // "Get rid of that old battery": another thing is spoken of.
        let is_a_thing = |i: usize| {
            i > 0 && self.pointing.contains(&words[i - 1]) && !self.passed_over.contains(&words[i])
        };
        let is_light = |i: &usize| !self.begins_a_reading.contains(&words[*i]) && !is_a_thing(*i);
        let passing = (0..words.len()).map(|i| Some(LIGHT).filter(|_| is_light(&i)));
        let sought = among(
            words,
            passing.collect(),
            MOST.min(words.len().saturating_sub(2)),
        );
        let undoes = |means| {
            let both = [Command::Disregard, Command::DisregardIfMeant];
            both.map(Means::Command).contains(&means)
        };
        let found = self.net.find(&sought, |p| undoes(self.phrases[p].means));
        let Heard::Accepted(mut said) = self.meaning(&found.matches, scope) else {
            return None;
        };
        said.meaning = Meaning::Command(Command::DisregardIfMeant);
        Some(Heard::Accepted(said))
    }

    /// A question, with nothing passed over but courtesies.
    fn question_among(&self, words: &[String], scope: &Scope) -> Option<Heard> {
        let passing = words
            .iter()
            .map(|w| self.courtesies.contains(w).then_some(LIGHT));
        let sought = among(words, passing.collect(), words.len().saturating_sub(2));
        let found = self
            .net
            .find(&sought, |p| is_question(self.phrases[p].means));
        let heard = self.meaning(&found.matches, scope);
        matches!(heard, Heard::Accepted(_)).then_some(heard)
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

    /// What it costs to pass over each word of a reading; `None` if it may mean something there. What
    /// comes before the first number or place is talk, but for a "no".
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

/// Words to be found with some of them passed over, none taken for another.
fn among(words: &[String], passing: Vec<Option<usize>>, most: usize) -> Sought<'_> {
    Sought {
        words,
        alike: vec![&[]; words.len()],
        passing,
        most,
    }
}

/// What may be asked if it stands among other words.
fn is_asked(means: Means) -> bool {
    matches!(
        means,
        Means::Measure
            | Means::Check
            | Means::Repaired
            | Means::ShimFitted
            | Means::ShimSpare
            | Means::Group
    )
}

/// What may be answered if it stands among courtesies.
fn is_question(means: Means) -> bool {
    match means {
        Means::WhatIfCut | Means::AskedAbout | Means::LimitOf => true,
        Means::Command(command) => command.is_a_question(),
        _ => false,
    }
}

/// "Eighteen goes, twenty is just right" is 0.20, and not only 0.20 or more.
fn without_at_least(heard: Heard) -> Heard {
    let Heard::Ambiguous(mut all) = heard else {
        return heard;
    };
    all.retain(|said| {
        let is_at_least = |m: &Meaning| {
            let at_least = |value: &Value| matches!(value, Value::Gap(Gap::AtLeast(_)));
            matches!(m, Meaning::Reading { value, .. } if at_least(value))
        };
        !is_at_least(&said.meaning)
    });
    match all.len() {
        1 => Heard::Accepted(all.swap_remove(0)),
        _ => Heard::Ambiguous(all),
    }
}

/// A reading of a place that is named, or of the open valve; or several, each of a place that is
/// named.
fn is_plain_reading(heard: &Heard, names_a_side: bool, of_the_open_valve: bool) -> bool {
    let Heard::Accepted(said) = heard else {
        return false;
    };
    match &said.meaning {
        Meaning::Several(all) => names_a_side && all.iter().all(|s| is_reading(s) && s.is_placed()),
        _ if said.place.is_empty() => is_reading(said) && of_the_open_valve,
        _ => is_reading(said) && names_a_side && said.is_placed(),
    }
}

/// Among other words "two fifty" is rather a shim than a blade, and "no" after a blade rather a verdict
/// than a slip.
fn is_sure(m: &Match) -> bool {
    let is_blade = |slot: &str| ["goes", "stops"].contains(&slot);
    let may_be_a_shim =
        |(slot, said): &(String, String)| is_blade(slot) && gap::has_three_figures(said);
    let mut before_no = m.slots.split(|(slot, said)| slot == "slip" && said == "no");
    let first = before_no.next().unwrap_or_default();
    let mends_a_blade = before_no.next().is_some()
        && first
            .iter()
            .any(|(slot, _)| is_blade(slot) || slot == "value");
    !m.slots.iter().any(may_be_a_shim) && !mends_a_blade
}

/// Whether several blades were judged: hardly anybody says that of anything else.
fn tells_several_blades(m: &Match) -> bool {
    m.all("goes").chain(m.all("stops")).count() > 1 || m.slot("walked").is_some()
}

fn is_reading(said: &Said) -> bool {
    matches!(said.meaning, Meaning::Reading { fix: false, .. })
}
