//! All phrases as one network of states: what matches, what may follow, what could go on.

use super::pattern::Node;
use std::collections::{BTreeMap, BTreeSet, HashSet};

/// The network of one language.
#[derive(Clone, Debug, Default)]
pub struct Net {
    pub(super) states: Vec<Vec<(Edge, usize)>>,
    pub(super) accepts: BTreeMap<usize, usize>,
    slots: Vec<String>,
}

#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) enum Edge {
    Free,
    Word(String, String),
    Out(String),
    Any,
    Open(usize),
    Close,
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
#[derive(Clone, Debug)]
pub struct Ways(Vec<Thread>);

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
    pub(super) fn new() -> Self {
        Self {
            states: vec![Vec::new()],
            ..Self::default()
        }
    }

    pub(super) fn add_phrase(
        &mut self,
        phrase: usize,
        node: &Node,
        rules: &BTreeMap<String, Node>,
    ) {
        let start = self.state();
        self.states[0].push((Edge::Free, start));
        let end = self.state();
        self.add(node, start, end, rules);
        self.accepts.insert(end, phrase);
    }

    fn state(&mut self) -> usize {
        self.states.push(Vec::new());
        self.states.len() - 1
    }

    fn slot(&mut self, name: &str) -> usize {
        self.slots
            .iter()
            .position(|s| s == name)
            .unwrap_or_else(|| {
                self.slots.push(name.to_owned());
                self.slots.len() - 1
            })
    }

    fn add(&mut self, node: &Node, from: usize, to: usize, rules: &BTreeMap<String, Node>) {
        match node {
            Node::Word { word, out } => {
                self.states[from].push((Edge::Word(word.clone(), out.clone()), to));
            }
            Node::Out(out) => self.states[from].push((Edge::Out(out.clone()), to)),
            Node::Opt(inner) => {
                self.add(inner, from, to, rules);
                self.states[from].push((Edge::Free, to));
            }
            Node::Alt(all) => {
                for one in all {
                    self.add(one, from, to, rules);
                }
            }
            Node::Seq(all) => {
                let mut at = from;
                for (i, one) in all.iter().enumerate() {
                    let next = if i + 1 == all.len() { to } else { self.state() };
                    self.add(one, at, next, rules);
                    at = next;
                }
            }
            Node::Rule { slot, rule, .. } => {
                let Some(body) = rules.get(rule) else { return };
                if let Some(slot) = slot {
                    let slot = self.slot(slot);
                    let (inner_from, inner_to) = (self.state(), self.state());
                    self.states[from].push((Edge::Open(slot), inner_from));
                    self.add(body, inner_from, inner_to, rules);
                    self.states[inner_to].push((Edge::Close, to));
                } else {
                    let (inner_from, inner_to) = (self.state(), self.state());
                    self.states[from].push((Edge::Free, inner_from));
                    self.add(body, inner_from, inner_to, rules);
                    self.states[inner_to].push((Edge::Free, to));
                }
            }
            Node::Rest(slot) => {
                let slot = self.slot(slot);
                let (inside, after) = (self.state(), self.state());
                self.states[from].push((Edge::Open(slot), inside));
                self.states[inside].push((Edge::Any, after));
                self.states[after].push((Edge::Free, inside));
                self.states[after].push((Edge::Close, to));
            }
        }
    }

    /// The ways before anything was said, through the states that are `kept`.
    #[must_use]
    pub(super) fn start(&self, kept: &[bool]) -> Ways {
        let start = Thread {
            state: 0,
            open: None,
            caught: Vec::new(),
            repaired: 0,
            free_words: 0,
        };
        self.close(vec![start], kept)
    }

    fn close(&self, mut todo: Vec<Thread>, kept: &[bool]) -> Ways {
        let mut seen = HashSet::new();
        let mut all = Vec::new();
        while let Some(thread) = todo.pop() {
            if !kept[thread.state] || !seen.insert(thread.clone()) {
                continue;
            }
            for (edge, to) in &self.states[thread.state] {
                if !kept[*to] {
                    continue;
                }
                let mut next = thread.clone();
                next.state = *to;
                match edge {
                    Edge::Free => {}
                    Edge::Out(out) => next.push(out),
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
        kept: &[bool],
    ) -> Ways {
        let mut next = Vec::new();
        for thread in &ways.0 {
            for (edge, to) in &self.states[thread.state] {
                if !kept[*to] || !matches!(edge, Edge::Word(..) | Edge::Any) {
                    continue;
                }
                let mut step = thread.clone();
                step.state = *to;
                match edge {
                    Edge::Word(word, out) if word == heard => step.push(out),
                    // A word that carries a value is never repaired.
                    Edge::Word(word, out) if out.is_empty() && alike.contains(word) => {
                        step.repaired += 1;
                    }
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
                    .map(|(s, v)| (self.slots[*s].clone(), v.clone()))
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

    /// Every word of the language.
    #[must_use]
    pub fn words(&self) -> BTreeSet<&str> {
        let edges = self.states.iter().flatten();
        edges
            .filter_map(|(edge, _)| {
                if let Edge::Word(word, _) = edge {
                    Some(word.as_str())
                } else {
                    None
                }
            })
            .collect()
    }

    /// Every word that carries a value: it is never repaired.
    #[must_use]
    pub fn value_words(&self) -> BTreeSet<&str> {
        let edges = self.states.iter().flatten();
        edges
            .filter_map(|(edge, _)| match edge {
                Edge::Word(word, out) if !out.is_empty() => Some(word.as_str()),
                _ => None,
            })
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
