//! The words that could have been said instead: rivals and margins along a decoded text.

use std::collections::BTreeSet;

use super::tokens::Tokeniser;
use super::{Rival, Transcript, words};

/// The vocabulary as tokens.
pub(super) struct Vocabulary {
    words: Vec<Vec<i32>>,
}

impl Vocabulary {
    /// From words or phrases; phrases are taken word by word.
    pub(super) fn new(tokeniser: &Tokeniser, vocabulary: &[String]) -> Self {
        let singles: BTreeSet<&str> = vocabulary
            .iter()
            .flat_map(|v| v.split_whitespace())
            .collect();
        let words = singles.iter().map(|word| tokeniser.encode(word));
        Self {
            words: words.filter(|tokens| !tokens.is_empty()).collect(),
        }
    }

    /// The tokens that may come after `begun`, the tokens of the word so far: what continues it,
    /// and, if it may be complete, what starts a word.
    fn next(&self, begun: &[i32]) -> BTreeSet<i32> {
        let mut next: BTreeSet<i32> = self
            .words
            .iter()
            .filter(|word| word.starts_with(begun))
            .filter_map(|word| word.get(begun.len()).copied())
            .collect();
        let known = self.words.iter().any(|word| word == begun);
        if known || next.is_empty() {
            next.extend(self.words.iter().map(|word| word[0]));
        }
        next
    }
}

/// Collects the rivals while a text is decoded.
pub(super) struct Rivals<'a> {
    tokeniser: &'a Tokeniser,
    vocabulary: Vocabulary,
    begun: Vec<i32>,
    /// Where the word begun has its entry in `found`, once it has one.
    open: Option<usize>,
    found: Vec<Rival>,
}

impl<'a> Rivals<'a> {
    pub(super) fn new(tokeniser: &'a Tokeniser, vocabulary: &[String]) -> Self {
        Self {
            tokeniser,
            vocabulary: Vocabulary::new(tokeniser, vocabulary),
            begun: Vec::new(),
            open: None,
            found: Vec::new(),
        }
    }

    /// The best token of the vocabulary at this place other than `taken`, with its `logp`.
    fn best(&self, taken: i32, logp: impl Fn(i32) -> f32) -> Option<(i32, f32)> {
        let next = self.vocabulary.next(&self.begun);
        let others = next.into_iter().filter(|&id| id != taken);
        others
            .map(|id| (id, logp(id)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// One more token was taken, where each token had the probability `logp`.
    pub(super) fn take(&mut self, taken: i32, logp: impl Fn(i32) -> f32) {
        let best = self.best(taken, &logp);
        if self.begun.is_empty() || self.tokeniser.starts_word(taken) {
            self.begun.clear();
            self.open = None;
        }
        self.begun.push(taken);
        let spelt: Vec<u8> = self
            .begun
            .iter()
            .flat_map(|&id| self.tokeniser.bytes(id))
            .copied()
            .collect();
        let word = words(&String::from_utf8_lossy(&spelt));
        if word.is_empty() {
            return;
        }
        let rival = best.map(|(id, other)| Rival {
            word: word.clone(),
            rival: self.tokeniser.text(id).trim().to_owned(),
            margin: logp(taken) - other,
        });
        match (self.open, rival) {
            (Some(i), Some(rival)) if rival.margin < self.found[i].margin => self.found[i] = rival,
            (Some(i), _) => self.found[i].word = word,
            (None, Some(rival)) => {
                self.open = Some(self.found.len());
                self.found.push(rival);
            }
            (None, None) => {}
        }
    }

    /// The text ended with probability `end`: gives the rivals and the end's own margin.
    pub(super) fn end(self, end: f32, logp: impl Fn(i32) -> f32) -> (Vec<Rival>, f32) {
        let margin = self
            .best(-1, logp)
            .map_or(f32::INFINITY, |(_, other)| end - other);
        (self.found, margin)
    }

    /// The rivals of a text that did not come to its end.
    pub(super) fn unfinished(self) -> (Vec<Rival>, f32) {
        (self.found, f32::NEG_INFINITY)
    }
}

impl Transcript {
    /// The least margin of `rivals`, in nats; infinite when there is none.
    pub(super) fn least(rivals: &[Rival]) -> f32 {
        rivals
            .iter()
            .map(|rival| rival.margin)
            .fold(f32::INFINITY, f32::min)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_word_meets_its_best_rival() {
        let tokens = [" in", "let", "ner", " ex", " one", " on"];
        let tokeniser = Tokeniser::new(tokens.map(|t| t.as_bytes().to_vec()).to_vec());
        let mut rivals = Rivals {
            tokeniser: &tokeniser,
            vocabulary: Vocabulary {
                words: vec![vec![0], vec![0, 1], vec![0, 2], vec![3], vec![4]],
            },
            begun: Vec::new(),
            open: None,
            found: Vec::new(),
        };
        rivals.take(0, |id| [-0.1, -9.0, -9.0, -4.1, -6.0, -9.0][id as usize]);
        rivals.take(1, |id| [-9.0, -0.2, -1.2, -4.0, -6.0, -9.0][id as usize]);
        rivals.take(5, |id| [-3.0, -9.0, -9.0, -4.0, -3.5, -0.5][id as usize]);
        let (found, end) = rivals.end(-0.5, |id| if id == 4 { -0.5 } else { -3.0 });
        let got: Vec<_> = found
            .iter()
            .map(|r| (r.word.as_str(), r.rival.as_str(), r.margin))
            .collect();
        assert_eq!(got, [("inlet", "ner", 1.0), ("on", "in", 2.5)]);
        assert_eq!(end, 0.0);
        assert_eq!(Transcript::least(&found), 1.0);
    }
}
