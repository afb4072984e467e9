//! Random phrases of the grammar, for tests and for training.

use super::pattern::Node;
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

impl Grammar {
    /// A random phrase of one of `meanings` and the words of it. It may name places that a job
    /// lacks. Free text becomes a short invented note.
    pub fn sample(&self, dice: &mut Dice, meanings: &[Means]) -> Option<(&Phrase, String)> {
        let wanted = *meanings.get(dice.below(meanings.len()))?;
        let phrases: Vec<&Phrase> = self.phrases.iter().filter(|p| p.means == wanted).collect();
        let phrase = *phrases.get(dice.below(phrases.len()))?;
        let mut words = Vec::new();
        walk(&phrase.node, &self.rules, dice, &mut words);
        Some((phrase, words.join(" ")))
    }

    /// The meanings that the phrases have, each once.
    #[must_use]
    pub fn meanings(&self) -> Vec<Means> {
        let all: BTreeSet<Means> = self.phrases.iter().map(|p| p.means).collect();
        all.into_iter().collect()
    }
}

fn walk(node: &Node, rules: &BTreeMap<String, Node>, dice: &mut Dice, words: &mut Vec<String>) {
    match node {
        Node::Word { word, .. } => words.push(word.clone()),
        Node::Out(_) => {}
        Node::Rule { rule, .. } => {
            if let Some(body) = rules.get(rule) {
                walk(body, rules, dice, words);
            }
        }
        Node::Rest(_) => words.push("seat ring even all round".to_owned()),
        Node::Seq(all) => all.iter().for_each(|n| walk(n, rules, dice, words)),
        Node::Alt(all) => walk(&all[dice.below(all.len())], rules, dice, words),
        Node::Opt(inner) => {
            if dice.below(2) == 0 {
                walk(inner, rules, dice, words);
            }
        }
    }
}
