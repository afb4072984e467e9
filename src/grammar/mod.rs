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

/// How far a text is on its way to a phrase.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Progress {
    /// No phrase begins like this.
    Astray,
    /// A phrase begins like this.
    Begun,
    /// A phrase, whose last number may still get figures.
    NumberMayGrow,
    /// A phrase; others begin with it.
    Whole,
    /// A phrase that no other begins with.
    Final,
}

impl Grammar {
    /// A stage of the job by its key.
    #[must_use]
    pub fn stage(&self, key: &str) -> Option<&StageText> {
        self.stages.iter().find(|s| s.key == key)
    }

    /// The words of a text as the grammar reads them.
    #[must_use]
    pub fn words_of(&self, text: &str) -> Vec<String> {
        let words = normalise::words(text, &self.wording.digits, &self.wording.point);
        let spelled = words
            .into_iter()
            .map(|w| self.spelling.get(&w).cloned().unwrap_or(w))
            .collect::<Vec<_>>();
        spelled
            .iter()
            .flat_map(|w| w.split(' '))
            .map(str::to_owned)
            .collect()
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

    /// The ways before anything was said.
    #[must_use]
    pub fn begin(&self) -> Ways {
        self.net.start()
    }

    /// The words that may follow; free text is none of them.
    #[must_use]
    pub fn next_words(&self, ways: &Ways) -> Vec<&str> {
        self.net.next_words(ways).into_iter().collect()
    }

    /// The ways after one more word, exactly as it is written in the grammar.
    #[must_use]
    pub fn follow(&self, ways: &Ways, word: &str) -> Ways {
        self.net.advance(ways, word, &[])
    }

    /// Whether the words so far are a whole phrase.
    #[must_use]
    pub fn is_whole(&self, ways: &Ways) -> bool {
        self.net.is_whole(ways)
    }

    /// How far a text is on its way to a phrase.
    #[must_use]
    pub fn progress(&self, text: &str) -> Progress {
        let mut ways = self.net.start();
        for word in self.words_of(text) {
            ways = self.net.advance(&ways, &word, &[]);
        }
        match self.net.is_whole(&ways) {
            _ if ways.is_dead() => Progress::Astray,
            true if self.net.number_may_grow(&ways) => Progress::NumberMayGrow,
            true if self.net.next_words(&ways).is_empty() => Progress::Final,
            true => Progress::Whole,
            false => Progress::Begun,
        }
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
