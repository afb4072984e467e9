//! All phrases as one network of states: what matches, what may follow, what could go on.

use super::edge::{Edge, NO_OUT, Steps};
use super::paths::Paths;
use std::collections::{BTreeMap, BTreeSet, HashSet};

/// The network of one language.
#[derive(Clone, Debug, Default)]
pub struct Net {
    pub(super) states: Vec<Steps>,
    pub(super) accepts: BTreeMap<usize, usize>,
    pub(super) paths: Paths,
    pub(super) slots: Names,
    pub(super) words: Names,
    pub(super) outs: Names,
}

/// Texts, each once.
#[derive(Clone, Debug, Default)]
pub(super) struct Names {
    pub(super) all: Vec<String>,
    at: BTreeMap<String, usize>,
}

impl Names {
    pub(super) fn add(&mut self, name: &str) -> usize {
        if let Some(at) = self.at.get(name) {
            return *at;
        }
        let at = self.all.len();
        self.all.push(name.to_owned());
        self.at.insert(name.to_owned(), at);
        at
    }
}

/// One way through the words so far.
#[derive(Clone, PartialEq, Eq, Hash, Debug)]
struct Thread {
    state: usize,
    open: Option<usize>,
    caught: Vec<(usize, String)>,
    repaired: u8,
    free_words: u8,
}

/// All ways through the words so far.
#[derive(Clone, Debug, Default)]
pub struct Ways(Vec<Thread>);

impl Ways {
    /// Takes others among them.
    pub(super) fn extend(&mut self, more: Self) {
        self.0.extend(more.0);
    }

    /// Those that are at one of the states.
    pub(super) fn through(&self, kept: &[usize]) -> Self {
        let all = self.0.iter().filter(|t| holds(kept, t.state));
        Self(all.cloned().collect())
    }
}

/// Whether a state is among states in order.
pub(super) fn holds(kept: &[usize], state: usize) -> bool {
    kept.binary_search(&state).is_ok()
}

/// A phrase that matched, with what its slots caught.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Match {
    /// Which phrase of the grammar.
    pub phrase: usize,
    /// Slot name and what it caught, in order.
    pub slots: Vec<(String, String)>,
    /// How many command words were taken for a sound-alike.
    pub repaired: u8,
    /// How many words fell to free text.
    pub free_words: u8,
}

impl Match {
    /// What a slot caught; the last where it caught several times.
    #[must_use]
    pub fn slot(&self, name: &str) -> Option<&str> {
        self.slots
            .iter()
            .rev()
            .find(|(n, _)| n == name)
            .map(|(_, v)| v.as_str())
    }

    /// All that a slot caught, in order.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        let caught = self.slots.iter().filter(move |(n, _)| n == name);
        caught.map(|(_, v)| v.as_str())
    }

    /// Whether a slot caught different things in one phrase.
    #[must_use]
    pub fn contradicts(&self, name: &str) -> bool {
        let mut caught = self.slots.iter().filter(|(n, _)| n == name).map(|(_, v)| v);
        let first = caught.next();
        caught.any(|v| Some(v) != first)
    }
}

impl Net {
    /// The ways before anything was said, through the states that are `kept`.
    #[must_use]
    pub(super) fn start(&self, kept: &[usize]) -> Ways {
        let start = Thread {
            state: 0,
            open: None,
            caught: Vec::new(),
            repaired: 0,
            free_words: 0,
        };
        self.close(vec![start], kept)
    }

    fn close(&self, mut todo: Vec<Thread>, kept: &[usize]) -> Ways {
        let mut seen = HashSet::new();
        let mut all = Vec::new();
        while let Some(thread) = todo.pop() {
            if !holds(kept, thread.state) || !seen.insert(thread.clone()) {
                continue;
            }
            for (edge, to) in &self.states[thread.state] {
                if !holds(kept, *to) {
                    continue;
                }
                let mut next = thread.clone();
                next.state = *to;
                match edge {
                    Edge::Free => {}
                    Edge::Out(out) => next.push(&self.outs.all[*out]),
                    Edge::Open(slot) => {
                        next.open = Some(*slot);
                        next.caught.push((*slot, String::new()));
                    }
                    Edge::Close => next.open = None,
                    Edge::Word(..) | Edge::Any => continue,
                }
                todo.push(next);
            }
            all.push(thread);
        }
        Ways(all)
    }

    /// The ways after one more word, through the states that are `kept`; `alike` gives the words
    /// that the heard one may stand for.
    #[must_use]
    pub(super) fn advance(
        &self,
        ways: &Ways,
        heard: &str,
        alike: &[String],
        kept: &[usize],
    ) -> Ways {
        let heard_at = self.word(heard);
        let alike: Vec<usize> = alike.iter().filter_map(|w| self.word(w)).collect();
        let mut next = Vec::new();
        for thread in &ways.0 {
            for (edge, to) in &self.states[thread.state] {
                if !holds(kept, *to) || edge.is_silent() {
                    continue;
                }
                let mut step = thread.clone();
                step.state = *to;
                match edge {
                    Edge::Word(word, out) if Some(*word) == heard_at => {
                        step.push(&self.outs.all[*out]);
                    }
                    // A word that carries a value is never repaired.
                    Edge::Word(word, NO_OUT) if alike.contains(word) => step.repaired += 1,
                    Edge::Any => {
                        step.free_words = step.free_words.saturating_add(1);
                        if let Some((_, text)) = step.caught.last_mut() {
                            if !text.is_empty() {
                                text.push(' ');
                            }
                            text.push_str(heard);
                        }
                    }
                    _ => continue,
                }
                next.push(step);
            }
        }
        self.close(next, kept)
    }

    /// The phrases that are complete here.
    #[must_use]
    pub fn matches(&self, ways: &Ways) -> Vec<Match> {
        let mut all: Vec<Match> = Vec::new();
        for thread in &ways.0 {
            if let Some(phrase) = self.accepts.get(&thread.state) {
                let slots = thread
                    .caught
                    .iter()
                    .map(|(s, v)| (self.slots.all[*s].clone(), v.clone()))
                    .collect();
                let found = Match {
                    phrase: *phrase,
                    slots,
                    repaired: thread.repaired,
                    free_words: thread.free_words,
                };
                if !all.contains(&found) {
                    all.push(found);
                }
            }
        }
        all
    }

    /// A word's place in the list of words; none if no phrase uses it.
    pub(super) fn word(&self, word: &str) -> Option<usize> {
        self.words.at.get(word).copied()
    }

    /// How many words the phrases use.
    pub(super) fn word_count(&self) -> usize {
        self.words.all.len()
    }

    /// The words that are marked.
    pub(super) fn spelled(&self, marked: &[bool]) -> Vec<&str> {
        let all = self.words.all.iter().zip(marked);
        all.filter(|(_, marked)| **marked)
            .map(|(word, _)| word.as_str())
            .collect()
    }

    /// Whether a word also stands where it carries no value: "in" goes, and is a side.
    pub(super) fn is_plain(&self, word: &str) -> bool {
        let word = self.word(word);
        let edges = self.states.iter().flatten();
        let mut plain = edges.filter_map(|(edge, _)| match edge {
            Edge::Word(w, NO_OUT) => Some(*w),
            _ => None,
        });
        plain.any(|w| Some(w) == word)
    }

    /// Whether an output begins with a figure.
    pub(super) fn is_figure(&self, out: usize) -> bool {
        self.outs.all[out].starts_with(|c: char| c.is_ascii_digit())
    }

    /// Every word of the language.
    #[must_use]
    pub fn words(&self) -> BTreeSet<&str> {
        self.words.all.iter().map(String::as_str).collect()
    }

    /// Every word that carries a value: it is never repaired.
    #[must_use]
    pub fn value_words(&self) -> BTreeSet<&str> {
        let edges = self.states.iter().flatten();
        let carriers: BTreeSet<usize> = edges
            .filter_map(|(edge, _)| match edge {
                Edge::Word(word, out) if *out != NO_OUT => Some(*word),
                _ => None,
            })
            .collect();
        carriers
            .into_iter()
            .map(|w| self.words.all[w].as_str())
            .collect()
    }
}

impl Thread {
    fn push(&mut self, out: &str) {
        if self.open.is_some()
            && let Some((_, text)) = self.caught.last_mut()
        {
            text.push_str(out);
        }
    }
}
