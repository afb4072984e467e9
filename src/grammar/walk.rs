//! Walking the word network without what its slots catch: quick enough for a search, and to see
//! beforehand which states lead to a whole phrase.

use super::net::{Edge, NO_OUT, Net};

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
        let all = self.closure(&reached, |_| true);
        Stand { reached, all }
    }

    /// All states that follow without a word, by the edges that `follows` allows.
    fn closure(&self, from: &[usize], follows: impl Fn(&Edge) -> bool) -> Vec<usize> {
        let mut seen = vec![false; self.states.len()];
        let mut todo = from.to_vec();
        let mut all = Vec::new();
        while let Some(state) = todo.pop() {
            if std::mem::replace(&mut seen[state], true) {
                continue;
            }
            all.push(state);
            for (edge, to) in &self.states[state] {
                if !matches!(edge, Edge::Word(..) | Edge::Any) && follows(edge) {
                    todo.push(*to);
                }
            }
        }
        all.sort_unstable();
        all
    }

    /// Before anything was said.
    #[must_use]
    pub fn stand_at_start(&self) -> Stand {
        self.stand(vec![0])
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
        let inside = self.closure(&stand.reached, |e| {
            !matches!(e, Edge::Open(_) | Edge::Close)
        });
        let figure =
            |(edge, _): &(Edge, usize)| matches!(edge, Edge::Word(_, out) if self.is_figure(*out));
        inside.iter().any(|s| self.states[*s].iter().any(figure))
    }

    /// For each place between `words` the states that lead from the start to a whole phrase of
    /// exactly these words; none if there is no such phrase. `alike(i)` gives the words that the
    /// `i`-th may stand for.
    #[must_use]
    pub(super) fn leading<'a>(
        &self,
        words: &[String],
        alike: impl Fn(usize) -> &'a [String],
    ) -> Option<Vec<Vec<bool>>> {
        let known: Vec<Option<usize>> = words.iter().map(|w| self.word(w)).collect();
        let alike: Vec<Vec<usize>> = (0..words.len())
            .map(|i| alike(i).iter().filter_map(|w| self.word(w)).collect())
            .collect();
        let takes = |edge: &Edge, i: usize| match edge {
            Edge::Word(word, out) => {
                Some(*word) == known[i] || *out == NO_OUT && alike[i].contains(word)
            }
            Edge::Any => true,
            _ => false,
        };
        let mut places = vec![self.closure(&[0], |_| true)];
        for i in 0..words.len() {
            let edges = places[i].iter().flat_map(|s| &self.states[*s]);
            let reached: Vec<usize> = edges
                .filter(|(edge, _)| takes(edge, i))
                .map(|(_, to)| *to)
                .collect();
            if reached.is_empty() {
                return None;
            }
            places.push(self.closure(&reached, |_| true));
        }
        let mut leading = vec![vec![false; self.states.len()]; places.len()];
        for i in (0..places.len()).rev() {
            // Who goes before whom without a word, among the states of this place.
            let mut before: Vec<(usize, usize)> = Vec::new();
            let mut todo = Vec::new();
            for &state in &places[i] {
                let whole = i == words.len() && self.accepts.contains_key(&state);
                let goes_on = |(edge, to): &(Edge, usize)| takes(edge, i) && leading[i + 1][*to];
                if whole || i < words.len() && self.states[state].iter().any(goes_on) {
                    todo.push(state);
                }
                for (edge, to) in &self.states[state] {
                    if !matches!(edge, Edge::Word(..) | Edge::Any) {
                        before.push((*to, state));
                    }
                }
            }
            before.sort_unstable();
            while let Some(state) = todo.pop() {
                if std::mem::replace(&mut leading[i][state], true) {
                    continue;
                }
                let from = before.partition_point(|(to, _)| *to < state);
                let earlier = before[from..].iter().take_while(|(to, _)| *to == state);
                todo.extend(earlier.map(|(_, s)| *s));
            }
        }
        leading[0][0].then_some(leading)
    }
}
