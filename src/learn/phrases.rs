//! The phrases that a person reads aloud: few, and all that matters is in them.

use crate::grammar::{Dice, Grammar, Means, Net};
use std::collections::{BTreeMap, BTreeSet};

/// How often each example is varied.
const VARIED: usize = 30;
/// Words of a phrase: shorter ones teach little, longer ones are hard to read in one breath.
const WORDS: (usize, usize) = (2, 9);
/// What is said most at the bench, and must not be misheard: numbers, places and verdicts are in it.
const READINGS: [Means; 5] = [
    Means::Clearance,
    Means::ShimFitted,
    Means::ShimSpare,
    Means::Measure,
    Means::Open,
];
/// A word of so many meanings ("please", "mate") says nothing of any.
const FILLER: usize = 20;
/// What is left of a word's worth once it was read.
const LEFT: f32 = 0.2;
/// Words on top of a phrase's own by which its worth is divided: whole readings before scraps.
const REST: f32 = 6.0;
/// Words that are worth as much as any other, however seldom they are drawn: a wrong one is a wrong
/// figure or a wrong valve.
const FIRST: &str = "zero oh nought one two three four five six seven eight nine ten eleven twelve \
    thirteen fourteen fifteen sixteen seventeen eighteen nineteen twenty thirty forty fifty sixty \
    seventy eighty ninety hundred point left right inlet exhaust goes wont shim cylinder";

/// Words that may stand for one another: an example with another of them is as natural.
const ALIKE: [&str; 6] = [
    "one two three four five six seven eight nine",
    "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen",
    "twenty thirty forty fifty sixty seventy eighty ninety",
    "zero oh nought",
    "left right",
    "inlet exhaust",
];

/// Examples of the grammar and variations of them, chosen one after the other for the words that those before lack, the ones
/// that are said most first. Two of three are readings. The same every time; at most as many as
/// are asked for.
#[must_use]
pub fn phrases_to_read(grammar: &Grammar, most: usize) -> Vec<String> {
    let all: Vec<Means> = grammar.meanings();
    let others: Vec<Means> = (all.iter().copied())
        .filter(|m| !READINGS.contains(m))
        .collect();
    let mut dice = Dice::new(1);
    let mut pools =
        [&READINGS[..], &others].map(|meanings| Pool::of_examples(grammar, meanings, &mut dice));
    let mut meanings: BTreeMap<&String, BTreeSet<Means>> = BTreeMap::new();
    for (phrase, means) in pools.iter().flat_map(|pool| &pool.phrases) {
        for word in phrase {
            meanings.entry(word).or_default().insert(*means);
        }
    }
    let first: BTreeSet<&str> = FIRST.split_whitespace().collect();
    let fillers: BTreeSet<String> = (meanings.into_iter())
        .filter(|(word, of)| of.len() >= FILLER && !first.contains(word.as_str()))
        .map(|(word, _)| word.clone())
        .collect();
    for pool in &mut pools {
        pool.worth.retain(|word, _| !fillers.contains(word));
        let most = pool.worth.values().copied().fold(0.0, f32::max);
        for word in &first {
            pool.worth
                .entry((*word).to_owned())
                .and_modify(|w| *w = most);
        }
    }
    let mut chosen = Vec::new();
    for turn in 0..most {
        let [readings, others] = &mut pools;
        let (pool, other) = match turn % 3 {
            2 => (others, readings),
            _ => (readings, others),
        };
        let Some(best) = std::iter::from_fn(|| pool.best()).find(|p| is_whole(grammar.net(), p))
        else {
            break;
        };
        pool.is_read(&best);
        other.is_read(&best);
        chosen.push(best.join(" "));
    }
    chosen
}

/// Whether another word of the same kind in its place would be another number or another place.
#[must_use]
pub fn is_of_value(word: &str) -> bool {
    let mut all = ALIKE.iter().flat_map(|class| class.split(' '));
    all.any(|of_value| of_value == word)
}

/// A phrase with other numbers and places. Numbers keep their order, as "fifteen goes, eighteen doesn't".
fn varied(words: &[String], dice: &mut Dice) -> Vec<String> {
    let mut varied = words.to_vec();
    for class in ALIKE {
        let class: Vec<&str> = class.split(' ').collect();
        let rank = |word: &str| class.iter().position(|w| *w == word);
        let mut places: Vec<usize> = (0..words.len())
            .filter(|i| rank(&words[*i]).is_some())
            .collect();
        let mut drawn: Vec<usize> = places.iter().map(|_| dice.below(class.len())).collect();
        places.sort_by_key(|i| rank(&words[*i]));
        drawn.sort_unstable();
        for (place, drawn) in places.into_iter().zip(drawn) {
            varied[place] = class[drawn].to_owned();
        }
    }
    varied
}

/// Whether words are a phrase in which nothing is free text.
fn is_whole(net: &Net, words: &[String]) -> bool {
    let start = net.stand_at_start();
    let end = (words.iter()).fold(start, |stand, word| net.step(&stand, word));
    net.is_whole(&end)
}

/// Phrases to choose from, and what each word of them is worth: how often it is said.
struct Pool {
    phrases: BTreeMap<Vec<String>, Means>,
    worth: BTreeMap<String, f32>,
}

impl Pool {
    fn of_examples(grammar: &Grammar, meanings: &[Means], dice: &mut Dice) -> Self {
        let (mut phrases, mut worth) = (BTreeMap::new(), BTreeMap::<String, f32>::new());
        let of_these = grammar
            .phrases
            .iter()
            .filter(|p| meanings.contains(&p.means));
        for (phrase, example) in of_these.flat_map(|p| p.examples.iter().map(move |e| (p, e))) {
            let words = grammar.words_of(example);
            if !(WORDS.0..=WORDS.1).contains(&words.len()) {
                continue;
            }
            for _ in 0..VARIED {
                let words = varied(&words, dice);
                for word in &words {
                    *worth.entry(word.clone()).or_default() += 1.0;
                }
                phrases.insert(words, phrase.means);
            }
        }
        worth.values_mut().for_each(|w| *w = w.sqrt());
        Self { phrases, worth }
    }

    /// Takes the phrase whose words are worth most.
    fn best(&mut self) -> Option<Vec<String>> {
        let gain = |phrase: &Vec<String>| {
            let words: BTreeSet<&String> = phrase.iter().collect();
            let worth: f32 = words.iter().filter_map(|w| self.worth.get(*w)).sum();
            worth / (phrase.len() as f32 + REST)
        };
        let all = self.phrases.keys();
        let best = all.max_by(|a, b| gain(a).total_cmp(&gain(b)))?.clone();
        self.phrases.remove(&best);
        Some(best)
    }

    /// The words of a phrase are worth less from now on.
    fn is_read(&mut self, phrase: &[String]) {
        for word in phrase.iter().collect::<BTreeSet<_>>() {
            if let Some(worth) = self.worth.get_mut(word) {
                *worth *= LEFT;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn english() -> Grammar {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("grammars/en");
        let mut files: Vec<(String, String)> = (std::fs::read_dir(folder).unwrap())
            .map(|e| e.unwrap().path())
            .map(|p| (p.display().to_string(), std::fs::read_to_string(p).unwrap()))
            .collect();
        files.sort();
        let files: Vec<(&str, &str)> = (files.iter()).map(|(n, t)| (&**n, &**t)).collect();
        Grammar::from_files(&files).unwrap()
    }

    #[test]
    fn thirty_phrases_hold_numbers_and_places_and_are_the_same_each_time() {
        let english = english();
        let phrases = phrases_to_read(&english, 30);
        assert_eq!(phrases.len(), 30);
        assert!(phrases == phrases_to_read(&english, 30));
        let said: BTreeSet<&str> = phrases.iter().flat_map(|p| p.split(' ')).collect();
        let missing: Vec<&str> = (FIRST.split_whitespace())
            .filter(|w| !said.contains(w))
            .collect();
        // Another grammar draws other phrases: a word or two may be in none of thirty.
        assert!(missing.len() <= 2, "{missing:?} in none of {phrases:#?}");
        for phrase in &phrases {
            let words: Vec<String> = phrase.split(' ').map(str::to_owned).collect();
            assert!((WORDS.0..=WORDS.1).contains(&words.len()), "{phrase}");
            assert!(is_whole(english.net(), &words), "{phrase}");
        }
        let commands = ["correction", "next", "wrong", "read", "no"];
        let found = commands.iter().filter(|c| said.contains(**c)).count();
        assert!(found >= 3, "few commands in {phrases:#?}");
    }
}
