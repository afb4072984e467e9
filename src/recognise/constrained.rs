//! Which phrases of the grammar a sound may have been: a search through the word network, token
//! by token, against the decoder.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::prefix_cache::Step;
use super::{Candidate, Error};
use crate::grammar::{Net, Stand};

/// A word as the model writes it: with the apostrophe that the grammar leaves out.
pub(super) fn written(word: &str) -> String {
    const NOT: [&str; 10] = [
        "wo", "does", "do", "did", "ca", "is", "are", "was", "has", "have",
    ];
    const IS: [&str; 5] = ["what", "that", "it", "there", "where"];
    match (word.strip_suffix("nt"), word.strip_suffix('s')) {
        (Some(stem), _) if NOT.contains(&stem) => format!("{stem}n't"),
        (_, Some(stem)) if IS.contains(&stem) => format!("{stem}'s"),
        _ => word.to_owned(),
    }
}

/// The step after a text; none when the search has gone on for long enough.
pub(super) type Ask<'a> = dyn FnMut(&[i32]) -> Result<Option<Arc<Step>>, Error> + 'a;

/// A walk through the phrases, the likelier ways first.
pub(super) struct Search<'a> {
    pub(super) net: &'a Net,
    /// Tokens of a word of the grammar, as the model writes it.
    pub(super) spell: &'a dyn Fn(&str) -> Vec<i32>,
    pub(super) eot: i32,
    /// Ways less likely than this are left, in nats.
    pub(super) least_logp: f32,
    pub(super) ask: &'a mut Ask<'a>,
}

/// The words so far and their tokens.
#[derive(Default)]
struct Said {
    words: Vec<String>,
    tokens: Vec<i32>,
}

impl Search<'_> {
    /// All phrases that are likely enough, the likeliest first.
    pub(super) fn run(mut self) -> Result<Vec<Candidate>, Error> {
        let mut found = Vec::new();
        let start = self.net.stand_at_start();
        self.visit(&start, &mut Said::default(), 0.0, &mut found)?;
        found.sort_by(|a, b| b.logp.total_cmp(&a.logp).then(a.text.cmp(&b.text)));
        Ok(found)
    }

    fn visit(
        &mut self,
        stand: &Stand,
        said: &mut Said,
        so_far: f32,
        found: &mut Vec<Candidate>,
    ) -> Result<(), Error> {
        let Some(step) = (self.ask)(&said.tokens)? else {
            return Ok(());
        };
        let ended = so_far + step.logp(self.eot);
        if ended >= self.least_logp && self.net.is_whole(stand) {
            found.push(Candidate {
                text: said.words.join(" "),
                logp: ended,
            });
        }
        let next: Vec<(&str, Vec<i32>)> = self
            .net
            .next_words(stand)
            .into_iter()
            .map(|word| (word, (self.spell)(word)))
            .collect();
        let next: Vec<&(&str, Vec<i32>)> = next.iter().collect();
        self.word(stand, &next, 0, &step, said, so_far, found)
    }

    /// Follows `words` from their `at`-th token on.
    #[allow(clippy::too_many_arguments)]
    fn word(
        &mut self,
        stand: &Stand,
        words: &[&(&str, Vec<i32>)],
        at: usize,
        step: &Step,
        said: &mut Said,
        so_far: f32,
        found: &mut Vec<Candidate>,
    ) -> Result<(), Error> {
        let mut by_token: BTreeMap<i32, Vec<&(&str, Vec<i32>)>> = BTreeMap::new();
        for &word in words {
            if let Some(&token) = word.1.get(at) {
                by_token.entry(token).or_default().push(word);
            }
        }
        let mut likely: Vec<(f32, i32)> = by_token
            .keys()
            .map(|&token| (so_far + step.logp(token), token))
            .filter(|(logp, _)| *logp >= self.least_logp)
            .collect();
        likely.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (logp, token) in likely {
            let group = &by_token[&token];
            said.tokens.push(token);
            if let Some((word, _)) = group.iter().find(|w| w.1.len() == at + 1) {
                said.words.push((*word).to_owned());
                let after = self.net.step(stand, word);
                self.visit(&after, said, logp, found)?;
                said.words.pop();
            }
            let longer: Vec<&(&str, Vec<i32>)> = group
                .iter()
                .copied()
                .filter(|w| w.1.len() > at + 1)
                .collect();
            if !longer.is_empty()
                && let Some(step) = (self.ask)(&said.tokens)?
            {
                self.word(stand, &longer, at + 1, &step, said, logp, found)?;
            }
            said.tokens.pop();
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn apostrophes_come_back() {
        let cases = [("wont", "won't"), ("doesnt", "doesn't"), ("cant", "can't")];
        let plain = ["front", "goes", "passes", "its"].map(|w| (w, w));
        for (word, wanted) in cases.into_iter().chain(plain[..3].iter().copied()) {
            assert_eq!(written(word), wanted);
        }
        assert_eq!(written("whats"), "what's");
    }
}
