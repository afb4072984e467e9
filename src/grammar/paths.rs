//! The ways through the network that need no word, found once.

use super::edge::{Edge, Steps};
use std::collections::BTreeMap;

/// What the walks would find anew each time, once the network is built.
#[derive(Clone, Debug, Default)]
pub(super) struct Paths {
    /// All states before the first word.
    pub(super) start: Vec<usize>,
    /// Those that a word leaves, by the word.
    pub(super) first: BTreeMap<usize, Vec<usize>>,
    /// Those that free text leaves.
    pub(super) first_free: Vec<usize>,
    /// For each state those that lead to it without a word.
    pub(super) before: Vec<Vec<usize>>,
}

impl Paths {
    pub(super) fn of(states: &[Steps]) -> Self {
        let mut paths = Self {
            start: closure(states, &[0], |_| true),
            before: vec![Vec::new(); states.len()],
            ..Self::default()
        };
        for (from, steps) in states.iter().enumerate() {
            for (_, to) in steps.iter().filter(|(edge, _)| edge.is_silent()) {
                paths.before[*to].push(from);
            }
        }
        for &from in &paths.start {
            for (edge, _) in &states[from] {
                match edge {
                    Edge::Word(word, _) => paths.first.entry(*word).or_default().push(from),
                    Edge::Any => paths.first_free.push(from),
                    _ => {}
                }
            }
        }
        paths
    }
}

/// All states that follow without a word, by the edges that `follows` allows.
pub(super) fn closure(
    states: &[Steps],
    from: &[usize],
    follows: impl Fn(&Edge) -> bool,
) -> Vec<usize> {
    if from.is_empty() {
        return Vec::new();
    }
    let mut seen = vec![false; states.len()];
    let mut todo = from.to_vec();
    let mut all = Vec::new();
    while let Some(state) = todo.pop() {
        if std::mem::replace(&mut seen[state], true) {
            continue;
        }
        all.push(state);
        let silent = |(edge, _): &&(Edge, usize)| edge.is_silent() && follows(edge);
        todo.extend(states[state].iter().filter(silent).map(|(_, to)| *to));
    }
    all.sort_unstable();
    all
}
