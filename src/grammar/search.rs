//! All ways through the network that a text may take, some of its words passed over if it may be.

use super::edge::{Edge, NO_OUT};
use super::net::{Match, Net, Ways, holds};
use super::paths::closure;

/// A text that is looked for.
pub(super) struct Sought<'a> {
    /// Its words.
    pub(super) words: &'a [String],
    /// For each word those that it may stand for.
    pub(super) alike: Vec<&'a [String]>,
    /// For each word what it costs to pass over it; `None` if it must be matched.
    pub(super) passing: Vec<Option<usize>>,
    /// So much may be passed over in all.
    pub(super) most: usize,
}

/// For each place between the words, and for each cost so far, states in order.
type Lattice = Vec<Vec<Vec<usize>>>;

impl<'a> Sought<'a> {
    /// Every word has to be matched.
    pub(super) fn exact(words: &'a [String], alike: Vec<&'a [String]>) -> Self {
        Self {
            words,
            alike,
            passing: vec![None; words.len()],
            most: 0,
        }
    }
}

/// What was found: the phrases, and what was passed over for them.
#[derive(Default)]
pub(super) struct Found {
    pub(super) cost: usize,
    pub(super) matches: Vec<Match>,
}

/// The states on the ways that count, and what is passed over on them.
struct Leading {
    cost: usize,
    states: Lattice,
}

impl Net {
    /// The phrases that a text is, with as little passed over as can be; only those that count.
    pub(super) fn find(&self, sought: &Sought, counts: impl Fn(usize) -> bool) -> Found {
        let Some(Leading { cost, states }) = self.leading(sought, counts) else {
            return Found::default();
        };
        let mut ways = vec![Ways::default(); cost + 1];
        ways[0] = self.start(&states[0][0]);
        for (i, word) in sought.words.iter().enumerate() {
            let mut next = vec![Ways::default(); cost + 1];
            for (so_far, ways) in ways.iter().enumerate() {
                let kept = &states[i + 1];
                next[so_far].extend(self.advance(ways, word, sought.alike[i], &kept[so_far]));
                let passed = sought.passing[i].map(|c| so_far + c);
                if let Some(so_far) = passed.filter(|c| *c <= cost) {
                    next[so_far].extend(ways.through(&kept[so_far]));
                }
            }
            ways = next;
        }
        let matches = self.matches(&ways[cost]);
        Found { cost, matches }
    }

    /// Whether a text is a phrase.
    pub(super) fn is_phrase(&self, sought: &Sought) -> bool {
        self.leading(sought, |_| true).is_some()
    }

    /// The states on a way from the start to a phrase that counts, at the least cost; `None` if there
    /// is no such way.
    fn leading(&self, sought: &Sought, counts: impl Fn(usize) -> bool) -> Option<Leading> {
        let words = sought.words;
        let known: Vec<Option<usize>> = words.iter().map(|w| self.word(w)).collect();
        let alike = |words: &&[String]| words.iter().filter_map(|w| self.word(w)).collect();
        let alike: Vec<Vec<usize>> = sought.alike.iter().map(alike).collect();
        let takes = |edge: &Edge, i: usize| match edge {
            Edge::Word(word, out) => {
                Some(*word) == known[i] || *out == NO_OUT && alike[i].contains(word)
            }
            Edge::Any => sought.most == 0,
            _ => false,
        };
        // The states that can be reached, and the steps from them by each word. Those before the first
        // word are many, and left out if nothing but passed over has been said.
        let none = || vec![Vec::new(); sought.most + 1];
        let mut reached: Lattice = vec![none(); words.len() + 1];
        let mut at_start = vec![vec![false; sought.most + 1]; words.len() + 1];
        let mut said = vec![vec![Vec::new(); sought.most + 1]; words.len()];
        at_start[0][0] = true;
        for i in 0..words.len() {
            let first = self.first(known[i].iter().chain(&alike[i]));
            for cost in 0..=sought.most {
                let from = std::mem::take(&mut reached[i][cost]);
                let mut steps = self.steps_by(&from, |edge| takes(edge, i));
                if at_start[i][cost] {
                    steps.extend(self.steps_by(&first, |edge| takes(edge, i)));
                }
                let to: Vec<usize> = steps.iter().map(|(_, to)| *to).collect();
                merge(
                    &mut reached[i + 1][cost],
                    &closure(&self.states, &to, |_| true),
                );
                let passed = sought.passing[i].map(|c| cost + c);
                if let Some(passed) = passed.filter(|c| *c <= sought.most) {
                    merge(&mut reached[i + 1][passed], &from);
                    at_start[i + 1][passed] |= at_start[i][cost];
                }
                said[i][cost] = steps;
                reached[i][cost] = from;
            }
        }
        let whole = |state: &usize| self.accepts.get(state).is_some_and(|p| counts(*p));
        let least = reached[words.len()]
            .iter()
            .position(|all| all.iter().any(whole))?;
        let mut leading: Lattice = vec![none(); words.len() + 1];
        for i in (0..=words.len()).rev() {
            for cost in 0..=least {
                let within = |state: usize| {
                    holds(&reached[i][cost], state)
                        || at_start[i][cost] && holds(&self.paths.start, state)
                };
                let mut todo: Vec<usize> = Vec::new();
                if i == words.len() {
                    let ends = reached[i][cost].iter();
                    todo.extend(ends.filter(|s| cost == least && whole(s)));
                } else {
                    let next = &leading[i + 1];
                    let goes_on = said[i][cost]
                        .iter()
                        .filter(|(_, to)| holds(&next[cost], *to));
                    todo.extend(goes_on.map(|(from, _)| *from));
                    let passed = sought.passing[i].map(|c| cost + c);
                    if let Some(cost) = passed.filter(|c| *c <= least) {
                        todo.extend(next[cost].iter().filter(|s| within(**s)));
                    }
                }
                let mut all: Vec<usize> = Vec::new();
                while let Some(state) = todo.pop() {
                    if !all.contains(&state) {
                        all.push(state);
                        let before = self.paths.before[state].iter();
                        todo.extend(before.filter(|s| within(**s)));
                    }
                }
                all.sort_unstable();
                leading[i][cost] = all;
            }
        }
        Some(Leading {
            cost: least,
            states: leading,
        })
    }

    /// The steps from some states by the edges that are taken, each from where to where.
    fn steps_by(&self, from: &[usize], takes: impl Fn(&Edge) -> bool) -> Vec<(usize, usize)> {
        let mut taken = Vec::new();
        for from in from {
            let steps = self.states[*from].iter().filter(|(edge, _)| takes(edge));
            taken.extend(steps.map(|(_, to)| (*from, *to)));
        }
        taken
    }

    /// The states before the first word that one of some words leaves, or free text.
    fn first<'a>(&self, words: impl Iterator<Item = &'a usize>) -> Vec<usize> {
        let by_words = words.filter_map(|w| self.paths.first.get(w)).flatten();
        let mut all: Vec<usize> = by_words.chain(&self.paths.first_free).copied().collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}

/// Adds states in order to states in order.
fn merge(all: &mut Vec<usize>, more: &[usize]) {
    if all.is_empty() {
        all.extend(more);
        return;
    }
    all.extend(more);
    all.sort_unstable();
    all.dedup();
}
