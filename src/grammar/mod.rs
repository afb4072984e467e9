//! The phrase grammar: words in, meaning out. Pure; told the job's state, never changing it.

mod amount;
mod gap;
mod interpret;
mod means;
mod measured;
mod net;
mod normalise;
mod pattern;
mod readback;
mod refusal;
mod sample;
mod scope;
mod shim;
mod source;

pub use interpret::{Group, Heard, Meaning, Said, Whereabouts};
pub use means::{Command, Means};
pub use net::{Match, Net, Ways};
pub use readback::Wording;
pub use refusal::Refusal;
pub use sample::Dice;
pub use scope::Scope;
pub use source::{Grammar, GrammarError, Phrase, StageText};

use std::collections::BTreeMap;

#[cfg(test)]
pub(crate) mod tests;
#[cfg(test)]
mod tests_de;
#[cfg(test)]
mod tests_readback;

impl Grammar {
    /// A stage of the job by its key.
    #[must_use]
    pub fn stage(&self, key: &str) -> Option<&StageText> {
        self.stages.iter().find(|s| s.key == key)
    }

    /// The words of a text as the grammar reads them.
    #[must_use]
    pub fn words_of(&self, text: &str) -> Vec<String> {
        let spelled = normalise::words(text, &self.wording)
            .into_iter()
            .map(|w| self.spelling.get(&w).cloned().unwrap_or(w));
        let all: Vec<String> = spelled.collect();
        all.iter()
            .flat_map(|w| w.split(' '))
            .flat_map(|w| self.cut(w))
            .collect()
    }

    /// A word that no phrase uses, cut where a part of it is one that is written together, if all
    /// pieces then are words of phrases: "zweihundertfünf" is "zwei hundert fünf".
    fn cut(&self, word: &str) -> Vec<String> {
        let whole = || vec![word.to_owned()];
        if self.known.contains(word) {
            return whole();
        }
        let mut cut = word.to_owned();
        for part in &self.compound {
            cut = cut.replace(part.as_str(), &format!(" {part} "));
        }
        let pieces: Vec<String> = cut.split_whitespace().map(str::to_owned).collect();
        if pieces.iter().all(|p| self.known.contains(p)) {
            pieces
        } else {
            whole()
        }
    }

    /// All phrases that a text matches; exact ones only, where there are any.
    #[must_use]
    pub fn matches(&self, text: &str) -> Vec<Match> {
        let mut ways = self.net.start();
        for word in self.words_of(text) {
            let alike = self.alike.get(&word).map_or(&[][..], Vec::as_slice);
            ways = self.net.advance(&ways, &word, alike);
            if ways.is_dead() {
                return Vec::new();
            }
        }
        let all = self.net.matches(&ways);
        let cost = |m: &Match| (m.repaired, m.free_words);
        let least = all.iter().map(cost).min();
        all.into_iter().filter(|m| Some(cost(m)) == least).collect()
    }

    /// What a text means in this job.
    #[must_use]
    pub fn parse(&self, text: &str, scope: &Scope) -> Heard {
        let found = self.matches(text);
        interpret::weigh(
            found
                .iter()
                .map(|m| interpret::read(&self.phrases[m.phrase], m, scope))
                .collect(),
        )
    }

    /// The cheat sheet: for every meaning its examples and the patterns behind it.
    #[must_use]
    pub fn cheat_sheet(&self) -> BTreeMap<Means, (Vec<String>, Vec<String>)> {
        let mut sheet: BTreeMap<Means, (Vec<String>, Vec<String>)> = BTreeMap::new();
        for phrase in &self.phrases {
            let entry = sheet
                .entry(phrase.means)
                .or_insert_with(|| (phrase.examples.clone(), Vec::new()));
            entry.1.push(phrase.pattern.clone());
        }
        sheet
    }
}
