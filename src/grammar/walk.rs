//! Walking the word network without what its slots catch: quick enough for a search, and to see
//! beforehand which states lead to a whole phrase.

use super::edge::Edge;
use super::net::Net;
use super::paths::closure;

/// Where one stands in the network after some words.
#[derive(Clone, Debug, Default)]
pub struct Stand {
    /// States reached by the last word itself.
    reached: Vec<usize>,
    /// Those and all that follow without a word, in order.
    all: Vec<usize>,
}

impl Stand {
    /// Whether no phrase begins like this.
    #[must_use]
    pub fn is_dead(&self) -> bool {
        self.all.is_empty()
    }
}

impl Net {
    fn stand(&self, reached: Vec<usize>) -> Stand {
        let all = closure(&self.states, &reached, |_| true);
        Stand { reached, all }
    }

    /// Before anything was said.
    #[must_use]
    pub fn stand_at_start(&self) -> Stand {
        Stand {
            reached: vec![0],
            all: self.paths.start.clone(),
        }
    }

    /// After one more word, as it is written in the grammar; free text takes none.
    #[must_use]
    pub fn step(&self, stand: &Stand, word: &str) -> Stand {
        let word = self.word(word);
        let edges = stand.all.iter().flat_map(|s| &self.states[*s]);
        let mut reached: Vec<usize> = edges
            .filter(|(edge, _)| matches!(edge, Edge::Word(w, _) if Some(*w) == word))
            .map(|(_, to)| *to)
            .collect();
        reached.sort_unstable();
        reached.dedup();
        self.stand(reached)
    }

    /// The words that may follow, in order; free text is none of them.
    #[must_use]
    pub fn next_words(&self, stand: &Stand) -> Vec<&str> {
        let edges = stand.all.iter().flat_map(|s| &self.states[*s]);
        let mut follow = vec![false; self.word_count()];
        for (edge, _) in edges {
            if let Edge::Word(word, _) = edge {
                follow[*word] = true;
            }
        }
        let mut words = self.spelled(&follow);
        words.sort_unstable();
        words
    }

    /// Whether the words so far are a whole phrase.
    #[must_use]
    pub fn is_whole(&self, stand: &Stand) -> bool {
        stand.all.iter().any(|s| self.accepts.contains_key(s))
    }

    /// Whether the number that was being said may get more figures.
    #[must_use]
    pub fn number_may_grow(&self, stand: &Stand) -> bool {
        let inside = closure(&self.states, &stand.reached, |e| {
            !matches!(e, Edge::Open(_) | Edge::Close)
        });
        let figure =
            |(edge, _): &(Edge, usize)| matches!(edge, Edge::Word(_, out) if self.is_figure(*out));
        inside.iter().any(|s| self.states[*s].iter().any(figure))
    }
}
