//! The phrase grammar: words in, meaning out. Pure; told the job's state, never changing it.

mod amount;
mod breath;
mod build;
mod edge;
mod fault;
mod gap;
mod gist;
mod interpret;
mod meaning;
mod means;
mod measured;
mod net;
mod normalise;
mod paths;
mod pattern;
mod readback;
mod refusal;
mod sample;
mod scope;
mod search;
mod shim;
mod source;
mod spoken_number;
mod synonym;
mod walk;
mod wording;

pub use meaning::Heard;
pub(crate) use meaning::{Group, Meaning, Said, Whereabouts};
pub use means::Command;
pub(crate) use means::Means;
pub(crate) use net::Match;
pub use net::Net;
pub(crate) use refusal::Refusal;
pub use sample::Dice;
pub(crate) use scope::Scope;
use search::Sought;
pub use source::Grammar;
pub(crate) use source::{Addition, Phrase, StageText};
pub(crate) use walk::Stand;
pub(crate) use wording::Wording;

use std::collections::{BTreeMap, BTreeSet};

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
        self.words_but(text, &self.known)
    }

    /// The words of a text, those of a set never cut.
    fn words_but(&self, text: &str, whole: &BTreeSet<String>) -> Vec<String> {
        let spelled = normalise::words(text, &self.wording)
            .into_iter()
            .map(|w| self.spelling.get(&w).cloned().unwrap_or(w));
        let all: Vec<String> = spelled.collect();
        all.iter()
            .flat_map(|w| w.split(' '))
            .flat_map(|w| self.cut(w, whole))
            .collect()
    }

    /// A word that is not of the set, cut where a part of it is one that is written together, if all
    /// pieces then are words of phrases: "zweihundertfünf" is "zwei hundert fünf", "gaskets" is
    /// "gasket is".
    fn cut(&self, word: &str, whole: &BTreeSet<String>) -> Vec<String> {
        let uncut = || vec![word.to_owned()];
        if whole.contains(word) {
            return uncut();
        }
        let ends = |(ending, is): (&String, &String)| {
            let stem = word.strip_suffix(ending.as_str())?;
            self.known
                .contains(stem)
                .then(|| vec![stem.to_owned(), is.clone()])
        };
        if let Some(pieces) = self.ending.iter().find_map(ends) {
            return pieces;
        }
        let mut cut = word.to_owned();
        for part in &self.compound {
            cut = cut.replace(part.as_str(), &format!(" {part} "));
        }
        let spelled = |piece: &str| self.spelling.get(piece).cloned();
        let pieces: Vec<String> = cut
            .split_whitespace()
            .map(|p| spelled(p).unwrap_or_else(|| p.to_owned()))
            .collect();
        if pieces.iter().all(|p| self.known.contains(p)) {
            pieces
        } else {
            uncut()
        }
    }

    /// A text with its words exchanged for those that sound alike and carry a value: "to" for "two";
    /// never a word that has a sense of its own there: "on" between two words that it links. `None`
    /// if it has none. What comes of it may be asked, never stored.
    #[must_use]
    pub fn as_values(&self, text: &str) -> Option<String> {
        let words = self.words_of(text);
        let mut stand = self.net.stand_at_start();
        let mut meant: Vec<&str> = Vec::new();
        for (i, word) in words.iter().enumerate() {
            let own = self.net.step(&stand, word);
            let has_sense = !own.is_dead() && i + 1 < words.len();
            if let Some(alike) = self.homophone.get(word).filter(|_| !has_sense) {
                stand = self.net.step(&stand, alike);
                meant.push(alike);
            } else {
                stand = own;
                meant.push(word);
            }
        }
        (meant != words).then(|| meant.join(" "))
    }

    /// Whether a text is most likely meant for the tool, phrase or not: four words and more, all of
    /// them words of phrases, one of them a side of the head. Chosen on misses of the recogniser; 4.5 hours of
    /// other talk and noise were asked once (models/FIGURES.md).
    #[must_use]
    pub fn is_bench_talk(&self, text: &str) -> bool {
        let words = self.words_of(text);
        words.len() > 3
            && words.iter().all(|w| self.known.contains(w))
            && words
                .iter()
                .any(|w| self.sides.contains(w) && !self.net.is_plain(w))
    }

    /// Whether a text may be meant for the tool, though it is not a phrase: three words and more, most of
    /// them words of phrases, one of them a word of the bench. Then a tone says that it was not
    /// understood; talk between people stays unanswered.
    #[must_use]
    pub fn may_be_for_the_tool(&self, text: &str) -> bool {
        let words = self.words_of(text);
        let known = words.iter().filter(|w| self.known.contains(*w)).count();
        let of_bench = |w: &String| self.bench_words.contains(w) || self.sides.contains(w);
        words.len() > 2 && known * 4 >= words.len() * 3 && words.iter().any(of_bench)
    }

    /// Whether a text names a side of the head, and so a place.
    #[must_use]
    pub fn names_a_side(&self, text: &str) -> bool {
        self.words_of(text).iter().any(|w| self.sides.contains(w))
    }

    /// Whether a text names a cylinder and a side, one after the other.
    #[must_use]
    pub fn names_a_place(&self, text: &str) -> bool {
        let words = self.words_of(text);
        let is_side = |w: &String| self.sides.contains(w) && !self.net.is_plain(w);
        let is_cylinder = |w: &String| self.cylinders.contains(w);
        words.windows(2).any(|pair| {
            is_cylinder(&pair[0]) && is_side(&pair[1]) || is_side(&pair[0]) && is_cylinder(&pair[1])
        })
    }

    /// The figure of a word that names a single one: "oh" is 0.
    #[must_use]
    pub(crate) fn figure(&self, word: &str) -> Option<&str> {
        self.figures.get(word).map(String::as_str)
    }

    /// Whether a text is a phrase.
    fn is_phrase(&self, text: &str) -> bool {
        let words = self.words_of(text);
        self.net.is_phrase(&self.sought(&words))
    }

    /// All phrases that a text matches; exact ones only, if there are any.
    #[must_use]
    pub fn matches(&self, text: &str) -> Vec<Match> {
        let words = self.words_of(text);
        let all = self.net.find(&self.sought(&words), |_| true).matches;
        let cost = |m: &Match| (m.repaired, m.free_words);
        let least = all.iter().map(cost).min();
        all.into_iter().filter(|m| Some(cost(m)) == least).collect()
    }

    fn sought<'a>(&'a self, words: &'a [String]) -> Sought<'a> {
        let alike = |w| self.alike.get(w).map_or(&[][..], Vec::as_slice);
        Sought::exact(words, words.iter().map(alike).collect())
    }

    /// The network of all phrases.
    #[must_use]
    pub const fn net(&self) -> &Net {
        &self.net
    }

    /// How far a text is on its way to a phrase.
    #[must_use]
    pub fn progress(&self, text: &str) -> Progress {
        let mut stand = self.net.stand_at_start();
        for word in self.words_of(text) {
            stand = self.net.step(&stand, &word);
        }
        match self.net.is_whole(&stand) {
            _ if stand.is_dead() => Progress::Astray,
            true if self.net.number_may_grow(&stand) => Progress::NumberMayGrow,
            true if self.net.next_words(&stand).is_empty() => Progress::Final,
            true => Progress::Whole,
            false => Progress::Begun,
        }
    }

    /// What a text means after something was named that waits for its value ("stem two exhaust
    /// left"): both together, where they make a phrase.
    #[must_use]
    pub fn parse_after(&self, begun: Option<&str>, text: &str, scope: &Scope) -> Heard {
        let joined = begun.map(|begun| self.parse(&format!("{begun} {text}"), scope));
        match joined {
            None | Some(Heard::Nothing) => self.parse(text, scope),
            Some(joined) => joined,
        }
    }

    /// What a text means in this job.
    #[must_use]
    pub fn parse(&self, text: &str, scope: &Scope) -> Heard {
        self.meaning(&self.matches(text), scope)
    }

    /// What matches mean in this job.
    fn meaning(&self, found: &[Match], scope: &Scope) -> Heard {
        let read = |m: &Match| interpret::read(&self.phrases[m.phrase], m, scope);
        interpret::weigh(found.iter().map(read).collect(), &scope.blades)
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
