//! What a sentence says of a valve, if the words that belong to no phrase are passed over.

use super::Grammar;
use super::meaning::{Heard, Meaning};
use super::scope::Scope;
use super::walk::Stand;
use crate::event::{Gap, Value};
use std::collections::BTreeSet;

/// So many words may be passed over: with more it is another sentence. Chosen by us, no source.
const PASSED: usize = 6;
/// So many steps of the search, for some milliseconds at most. Chosen by us, no source.
const TRIED: usize = 150;

struct Search<'a> {
    grammar: &'a Grammar,
    words: &'a [String],
    kept: Vec<&'a str>,
    found: Vec<String>,
    left: usize,
}

impl Grammar {
    /// The words of a text that are a reading, if as few others as possible are passed over: unknown
    /// ones, and those that carry no meaning of their own. `None` if there is no such reading, if
    /// there are several, or if it names no place and does not say which blade goes and which does
    /// not. It may be asked, never stored.
    #[must_use]
    pub(crate) fn gist(&self, text: &str, scope: &Scope) -> Option<String> {
        let words = self.words_of(text);
        let has = |set: &BTreeSet<String>| words.iter().any(|w| set.contains(w));
        // Most talk names no place, and costs nothing here.
        let may_be = has(&self.sides) || scope.open.is_some() && words.len() > 3;
        if has(&self.turns_round) || !may_be {
            return None;
        }
        let unknown = words.iter().filter(|w| !self.known.contains(*w)).count();
        let mut left = TRIED;
        for passed in unknown.max(1)..=PASSED.min(words.len().saturating_sub(3)) {
            let mut search = Search {
                grammar: self,
                words: &words,
                kept: Vec::new(),
                found: Vec::new(),
                left,
            };
            search.go(&self.net.stand_at_start(), 0, passed);
            left = search.left;
            let mut read = search.found.into_iter().filter_map(|kept| {
                let heard = self.parse(&kept, scope);
                is_plain_reading(&heard, scope).then_some((kept, heard))
            });
            if let Some((kept, heard)) = read.next() {
                return read.all(|(_, other)| other == heard).then_some(kept);
            }
        }
        None
    }

    fn may_be_passed_over(&self, word: &str) -> bool {
        !self.known.contains(word) || self.passed_over.contains(word)
    }
}

impl Search<'_> {
    fn go(&mut self, stand: &Stand, at: usize, passed: usize) {
        if self.left == 0 || stand.is_dead() {
            return;
        }
        self.left -= 1;
        let Some(word) = self.words.get(at) else {
            if passed == 0 && self.grammar.net.is_whole(stand) {
                self.found.push(self.kept.join(" "));
            }
            return;
        };
        self.kept.push(word);
        let next = self.grammar.net.step(stand, word);
        self.go(&next, at + 1, passed);
        self.kept.pop();
        if passed > 0 && self.grammar.may_be_passed_over(word) {
            self.go(stand, at + 1, passed - 1);
        }
    }
}

/// A reading of a place that is named, or of both blades.
fn is_plain_reading(heard: &Heard, scope: &Scope) -> bool {
    let Heard::Accepted(said) = heard else {
        return false;
    };
    let Meaning::Reading { value, fix, .. } = &said.meaning else {
        return false;
    };
    let whole = said.place.cylinder.is_some() && said.place.side.is_some();
    let both = matches!(value, Value::Gap(Gap::Between { .. })) && said.place.is_empty();
    let both = both && scope.open.is_some();
    !fix && (whole || both)
}
