//! Prices that are no sum over valves: packs, and the fewest different sizes. Both are a charge
//! for opening a size, searched by branch and bound over the assignment problem.

use super::supply::{Aim, Choice, Problem, Shop, Total};
use super::tariff::{PARTS, Tariff};
use crate::event::Source;
use crate::measure::Length;
use std::collections::{BTreeMap, BTreeSet};

/// Assignments solved before the search gives up its proof and returns the best so far.
const PATIENCE: usize = 2_000;

/// The best choices under a tariff, what they cost, and whether that is proven to be the least.
pub(super) fn search(problem: &Problem<'_>, tariff: Tariff) -> (Vec<Choice>, Total, bool) {
    let level = problem.options.aim.price_level();
    let mut best: Option<(Total, Vec<Choice>)> = None;
    let mut stack = vec![Node::default()];
    let mut solved = 0;
    while let Some(node) = stack.pop() {
        if solved == PATIENCE {
            break;
        }
        solved += 1;
        let (choices, relaxed) = problem.solve(&node.shop(problem, &tariff), None);
        let used = used(&choices);
        let mut bound = relaxed;
        bound.0[level] += node.paid(&tariff);
        let whole = bound.0[level].div_euclid(PARTS) + i64::from(bound.0[level] % PARTS != 0);
        if whole * PARTS > bound.0[level] {
            bound.0[level] = whole * PARTS;
            for later in &mut bound.0[level + 1..] {
                *later = 0;
            }
        }
        let mut real = relaxed;
        real.0[level] = used.values().map(|n| tariff.cheapest(*n).2 * PARTS).sum();
        if best.as_ref().is_none_or(|(least, _)| real < *least) {
            best = Some((real, choices));
        }
        if best.as_ref().is_some_and(|(least, _)| bound >= *least) {
            continue;
        }
        stack.extend(node.branch(&used, &tariff));
    }
    let (mut total, choices) = best.unwrap_or((Total::default(), Vec::new()));
    total.0[level] /= PARTS;
    (choices, total, stack.is_empty())
}

fn used(choices: &[Choice]) -> BTreeMap<Length, u16> {
    let mut used = BTreeMap::new();
    for choice in choices.iter().filter(|c| c.source == Source::Bought) {
        *used.entry(choice.size).or_insert(0) += 1;
    }
    used
}

/// What is decided: packs paid for, and sizes of which no further pack is bought.
#[derive(Clone, Default)]
struct Node {
    packs: BTreeMap<Length, u16>,
    closed: BTreeSet<Length>,
}

impl Node {
    fn paid(&self, tariff: &Tariff) -> i64 {
        self.packs
            .values()
            .map(|n| i64::from(*n) * i64::from(tariff.pack_cents) * PARTS)
            .sum()
    }

    fn pieces(&self, size: Length, tariff: &Tariff) -> u16 {
        self.packs.get(&size).copied().unwrap_or(0) * tariff.pieces
    }

    fn shop(&self, problem: &Problem<'_>, tariff: &Tariff) -> Shop {
        let further = |size: &Length| {
            let price = if self.closed.contains(size) {
                tariff.single()
            } else {
                Some(tariff.share())
            };
            price.map(|price| (*size, price))
        };
        Shop {
            paid: self
                .packs
                .keys()
                .map(|size| (*size, self.pieces(*size, tariff)))
                .collect(),
            further: problem.series.iter().filter_map(further).collect(),
        }
    }

    /// One more pack of the most used undecided size, or no more of it.
    fn branch(&self, used: &BTreeMap<Length, u16>, tariff: &Tariff) -> Vec<Self> {
        let open = used
            .iter()
            .filter(|(size, n)| !self.closed.contains(size) && **n > self.pieces(**size, tariff))
            .max_by_key(|(size, n)| (**n - self.pieces(**size, tariff), **size));
        let Some((size, _)) = open else {
            return Vec::new();
        };
        let mut more = self.clone();
        *more.packs.entry(*size).or_insert(0) += 1;
        let mut none = self.clone();
        none.closed.insert(*size);
        vec![none, more]
    }
}

impl Aim {
    /// Where the price stands among the levels of a total.
    pub(super) const fn price_level(self) -> usize {
        match self {
            Self::LowestPrice(_) => 2,
            _ => 3,
        }
    }
}
