//! Random phrases of the grammar, for tests and for training.

use super::pattern::{Node, ways};
use super::{Grammar, Means, Phrase};
use std::collections::{BTreeMap, BTreeSet};

/// A small repeatable generator: SplitMix64 (Steele, Lea, Flood 2014). Not for secrets.
#[derive(Clone, Debug)]
pub struct Dice(u64);

impl Dice {
    /// Begins at a seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// A number below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((z ^ (z >> 31)) % (n.max(1) as u64)).unwrap_or(0)
    }
}

/// What free text becomes: invented remarks of the bench.
const FREE_TEXT: [&str; 12] = [
    "seat ring even all round",
    "new cover gasket",
    "two stem seals",
    "the guide feels loose when the valve is lifted",
    "carbon on the back of the valve",
    "light pitting near the edge",
    "bucket is scored on one side",
    "clean the gasket face again",
    "ask about the collets",
    "half moon plugs and sealant",
    "paste is nearly gone",
    "chain guide has a groove",
];

impl Grammar {
    /// A random phrase of one of `meanings` and the words of it. It may name places that a job
    /// lacks. Free text becomes a short invented note.
    pub fn sample(&self, dice: &mut Dice, meanings: &[Means]) -> Option<(&Phrase, String)> {
        let wanted = *meanings.get(dice.below(meanings.len()))?;
        let mut phrases: Vec<&Phrase> = self.phrases.iter().filter(|p| p.means == wanted).collect();
        // One quantity is as likely as another, however many ways there are to call it.
        let quantities: BTreeSet<_> = phrases.iter().map(|p| p.quantity).collect();
        let pick = dice.below(quantities.len());
        let quantity = quantities.into_iter().nth(pick);
        phrases.retain(|p| Some(p.quantity) == quantity);
        let nodes: Vec<&Node> = phrases.iter().map(|p| &p.node).collect();
        let phrase = *phrases.get(self.pick(&nodes, dice))?;
        let mut words = Vec::new();
        self.walk(&phrase.node, dice, &mut words);
        Some((phrase, words.join(" ")))
    }

    /// The meanings that the phrases have, each once.
    #[must_use]
    pub fn meanings(&self) -> Vec<Means> {
        let all: BTreeSet<Means> = self.phrases.iter().map(|p| p.means).collect();
        all.into_iter().collect()
    }

    fn walk(&self, node: &Node, dice: &mut Dice, words: &mut Vec<String>) {
        match node {
            Node::Word { word, .. } => words.push(word.clone()),
            Node::Out(_) => {}
            Node::Rule { rule, .. } => {
                if let Some(body) = self.rules.get(rule) {
                    self.walk(body, dice, words);
                }
            }
            Node::Rest(_) => words.push(FREE_TEXT[dice.below(FREE_TEXT.len())].to_owned()),
            Node::Seq(all) => all.iter().for_each(|n| self.walk(n, dice, words)),
            Node::Alt(all) => {
                let nodes: Vec<&Node> = all.iter().collect();
                self.walk(nodes[self.pick(&nodes, dice)], dice, words);
            }
            Node::Often(_, inner) => self.walk(inner, dice, words),
            // What may be left out mostly is.
            Node::Opt(inner) => {
                if dice.below(100) < percent(inner).unwrap_or(33) {
                    self.walk(inner, dice, words);
                }
            }
            Node::Many(inner) => loop {
                self.walk(inner, dice, words);
                if dice.below(100) >= percent(inner).unwrap_or(20) {
                    break;
                }
            },
        }
    }

    /// One of several ways: those with a percentage by it, and the others, which share the rest, by
    /// how much each can say.
    fn pick(&self, nodes: &[&Node], dice: &mut Dice) -> usize {
        let given: usize = nodes.iter().filter_map(|n| percent(n)).sum();
        let others = nodes.iter().filter(|n| percent(n).is_none());
        let all_others: usize = others.map(|n| weight(n, &self.ways)).sum();
        let share = |n: &&Node| match percent(n) {
            Some(percent) => percent * all_others.max(1),
            None => weight(n, &self.ways) * 100_usize.saturating_sub(given).max(1),
        };
        let weights: Vec<usize> = nodes.iter().map(share).collect();
        pick_by(&weights, dice)
    }
}

/// How often a way is taken, in a hundred, if the pattern says so.
fn percent(node: &Node) -> Option<usize> {
    match node {
        Node::Often(percent, _) => Some(usize::from(*percent)),
        _ => None,
    }
}

/// How likely one of several ways is: the more it can say, the likelier, by the bits of that
/// number, so that figures are drawn more often than a rare turn of phrase.
fn weight(node: &Node, rules: &BTreeMap<String, u64>) -> usize {
    (u64::BITS - ways(node, rules).leading_zeros()) as usize
}

fn pick_by(weights: &[usize], dice: &mut Dice) -> usize {
    let mut left = dice.below(weights.iter().sum());
    for (at, weight) in weights.iter().enumerate() {
        if left < *weight {
            return at;
        }
        left -= weight;
    }
    0
}
