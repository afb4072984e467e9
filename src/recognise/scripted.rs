//! A fake recogniser that hears what it is told, in order.

use std::collections::{HashMap, VecDeque};

use super::{Candidate, Error, Recogniser, Transcript, words};
use crate::grammar::Grammar;

/// Hears the given transcripts one after the other, whatever the sound.
#[derive(Debug, Default)]
pub struct Scripted {
    script: VecDeque<Transcript>,
    heard: Option<Transcript>,
    scores: HashMap<String, f32>,
}

impl Scripted {
    /// A recogniser that will hear `script`.
    pub fn new(script: impl IntoIterator<Item = Transcript>) -> Self {
        Self {
            script: script.into_iter().collect(),
            ..Self::default()
        }
    }

    /// A recogniser that will hear these texts, each accepted.
    pub fn of_texts<'a>(texts: impl IntoIterator<Item = &'a str>) -> Self {
        Self::new(texts.into_iter().map(Transcript::sure_of))
    }

    /// Sets what [`Recogniser::score`] gives for `phrase`, in nats.
    #[must_use]
    pub fn with_score(mut self, phrase: &str, logp: f32) -> Self {
        self.scores.insert(phrase.to_owned(), logp);
        self
    }
}

impl Transcript {
    /// A transcript of `raw` at full confidence.
    #[must_use]
    pub fn sure_of(raw: &str) -> Self {
        Self {
            text: words(raw),
            token_logps: raw.split_whitespace().map(|_| 0.0).collect(),
            logp: 0.0,
            nothing_p: 0.0,
            looped: false,
        }
    }
}

impl Recogniser for Scripted {
    fn weights(&self) -> &'static str {
        "scripted"
    }

    fn hear(&mut self, _: &[f32]) -> Result<Transcript, Error> {
        let next = self.script.pop_front().ok_or(Error::ScriptEnded)?;
        self.heard = Some(next.clone());
        Ok(next)
    }

    /// The scores set; else 0 for the text heard last and -20 for any other.
    fn score(&mut self, phrases: &[&str]) -> Result<Vec<f32>, Error> {
        let heard = self.heard.as_ref().ok_or(Error::NothingHeard)?;
        let score = |phrase: &&str| match self.scores.get(*phrase) {
            Some(&logp) => logp,
            None if *phrase == heard.text => 0.0,
            None => -20.0,
        };
        Ok(phrases.iter().map(score).collect())
    }

    /// 0 for each word that the text heard last has at its place, 20 for another.
    fn shortfalls(&mut self, phrase: &str) -> Result<Vec<f32>, Error> {
        let heard = self.heard.as_ref().ok_or(Error::NothingHeard)?;
        let mut said = heard.text.split_whitespace();
        let end = std::iter::once(None);
        let asked = phrase.split_whitespace().map(Some).chain(end);
        let short = |asked| if said.next() == asked { 0.0 } else { 20.0 };
        Ok(asked.map(short).collect())
    }

    /// Of the text heard last and the phrases with a score set, those of the grammar.
    fn legal(
        &mut self,
        grammar: &Grammar,
        least_logp: f32,
        _: usize,
    ) -> Result<Vec<Candidate>, Error> {
        let heard = self.heard.as_ref().ok_or(Error::NothingHeard)?.text.clone();
        let others = self.scores.keys().filter(|t| **t != heard).cloned();
        let all: Vec<String> = std::iter::once(heard.clone()).chain(others).collect();
        let texts: Vec<&str> = all.iter().map(String::as_str).collect();
        let scores = self.score(&texts)?;
        let mut found: Vec<Candidate> = texts
            .iter()
            .zip(scores)
            .filter(|(text, logp)| *logp >= least_logp && !grammar.matches(text).is_empty())
            .map(|(text, logp)| Candidate {
                text: grammar.words_of(text).join(" "),
                logp,
            })
            .collect();
        found.sort_by(|a, b| b.logp.total_cmp(&a.logp).then(a.text.cmp(&b.text)));
        Ok(found)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    #[test]
    fn plays_its_script_and_then_says_so() {
        let mut recogniser = Scripted::of_texts(["Yes.", "no"]).with_score("nought", -2.0);
        assert!(matches!(
            recogniser.score(&["yes"]),
            Err(Error::NothingHeard)
        ));
        assert_eq!(recogniser.hear(&[]).unwrap().text, "yes");
        assert_eq!(
            recogniser.hear_shifted(&[0.0; 10], -100).unwrap().text,
            "no"
        );
        assert_eq!(
            recogniser.score(&["no", "nought", "yes"]).unwrap(),
            [0.0, -2.0, -20.0]
        );
        assert!(matches!(recogniser.hear(&[]), Err(Error::ScriptEnded)));
    }
}
