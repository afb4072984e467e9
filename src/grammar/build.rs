//! Builds the network from the patterns, each from its end to its beginning: what goes on alike is
//! built once, however many patterns hold it.

use super::edge::{Edge, Steps};
use super::net::Net;
use super::paths::Paths;
use super::pattern::Node;
use std::collections::{BTreeMap, HashMap};

/// A piece with more branches than this is built once for each place where it goes on. Measured.
const BRANCHES: usize = 3;

/// A piece of a pattern with its names as numbers; equal pieces have one number.
#[derive(Clone, PartialEq, Eq, Hash)]
enum Piece {
    /// A word or an output.
    Step(Edge),
    /// What is caught between an opening and its end.
    Caught(usize, usize),
    Rest(usize),
    Seq(Vec<usize>),
    Alt(Vec<usize>),
    Opt(usize),
    Many(usize),
}

struct Builder<'a> {
    net: Net,
    rules: &'a BTreeMap<String, Node>,
    pieces: Vec<Piece>,
    numbers: HashMap<Piece, usize>,
    of_rules: HashMap<&'a str, usize>,
    /// States by their steps.
    states: HashMap<Steps, usize>,
    /// Where a piece begins, by where it goes on.
    begun: HashMap<(usize, usize), usize>,
}

/// The network of phrases: of each kind of phrase its number and its patterns.
pub(super) fn network<'a>(
    kinds: impl Iterator<Item = (usize, Vec<&'a Node>)>,
    rules: &'a BTreeMap<String, Node>,
) -> Net {
    let mut builder = Builder {
        net: Net::default(),
        rules,
        pieces: Vec::new(),
        numbers: HashMap::new(),
        of_rules: HashMap::new(),
        states: HashMap::new(),
        begun: HashMap::new(),
    };
    builder.net.outs.add("");
    let start = builder.own_state();
    let mut starts = Steps::new();
    for (phrase, patterns) in kinds {
        let end = builder.own_state();
        builder.net.accepts.insert(end, phrase);
        let patterns = patterns.into_iter().map(|p| builder.sequence(p)).collect();
        let piece = builder.one_of(patterns);
        starts.push((Edge::Free, builder.begin(piece, end)));
    }
    let mut net = builder.net;
    net.states[start] = starts;
    net.paths = Paths::of(&net.states);
    net
}

impl<'a> Builder<'a> {
    fn number(&mut self, piece: Piece) -> usize {
        if let Some(number) = self.numbers.get(&piece) {
            return *number;
        }
        self.pieces.push(piece.clone());
        self.numbers.insert(piece, self.pieces.len() - 1);
        self.pieces.len() - 1
    }

    fn piece(&mut self, node: &'a Node) -> usize {
        let piece = match node {
            Node::Word { word, out } => {
                let word = self.net.words.add(word);
                Piece::Step(Edge::Word(word, self.net.outs.add(out)))
            }
            Node::Out(out) => Piece::Step(Edge::Out(self.net.outs.add(out))),
            Node::Rest(slot) => Piece::Rest(self.net.slots.add(slot)),
            Node::Often(_, inner) => return self.piece(inner),
            Node::Many(inner) => Piece::Many(self.piece(inner)),
            Node::Opt(inner) => Piece::Opt(self.piece(inner)),
            Node::Seq(_) => {
                let all = self.sequence(node);
                return self.in_order(all);
            }
            Node::Alt(all) => {
                let all = all.iter().map(|n| self.sequence(n)).collect();
                return self.one_of(all);
            }
            Node::Rule { slot, rule, .. } => {
                let body = self.rule(rule);
                let Some(slot) = slot else { return body };
                Piece::Caught(self.net.slots.add(slot), body)
            }
        };
        self.number(piece)
    }

    /// The piece of a rule; each rule that a pattern names is there.
    fn rule(&mut self, rule: &'a str) -> usize {
        if let Some(piece) = self.of_rules.get(rule) {
            return *piece;
        }
        let piece = match self.rules.get(rule) {
            Some(body) => self.piece(body),
            None => self.number(Piece::Alt(Vec::new())),
        };
        self.of_rules.insert(rule, piece);
        piece
    }

    /// The pieces of a pattern, one after the other.
    fn sequence(&mut self, node: &'a Node) -> Vec<usize> {
        match node {
            Node::Often(_, inner) => self.sequence(inner),
            Node::Seq(all) => all.iter().map(|n| self.piece(n)).collect(),
            one => vec![self.piece(one)],
        }
    }

    fn in_order(&mut self, mut all: Vec<usize>) -> usize {
        match all[..] {
            [_] => all.remove(0),
            _ => self.number(Piece::Seq(all)),
        }
    }

    /// One of several sequences; what some of them begin with stands once.
    fn one_of(&mut self, all: Vec<Vec<usize>>) -> usize {
        let mut by_first: BTreeMap<Option<usize>, Vec<Vec<usize>>> = BTreeMap::new();
        for mut sequence in all {
            let first = (!sequence.is_empty()).then(|| sequence.remove(0));
            by_first.entry(first).or_default().push(sequence);
        }
        let ends_here = by_first.remove(&None).is_some();
        let mut ways = Vec::new();
        for (first, mut rests) in by_first {
            let mut way: Vec<usize> = first.into_iter().collect();
            if rests.len() > 1 {
                way.push(self.one_of(rests));
            } else {
                way.extend(rests.remove(0));
            }
            ways.push(self.in_order(way));
        }
        let piece = match ways[..] {
            [one] => one,
            _ => self.number(Piece::Alt(ways)),
        };
        match ends_here {
            true => self.number(Piece::Opt(piece)),
            false => piece,
        }
    }

    /// A state that is like no other; its steps are set later.
    fn own_state(&mut self) -> usize {
        self.net.states.push(Steps::new());
        self.net.states.len() - 1
    }

    /// The state with these steps.
    fn state(&mut self, mut steps: Steps) -> usize {
        steps.sort_unstable();
        steps.dedup();
        if let [(Edge::Free, to)] = steps[..] {
            return to;
        }
        if let Some(state) = self.states.get(&steps) {
            return *state;
        }
        self.net.states.push(steps.clone());
        self.states.insert(steps, self.net.states.len() - 1);
        self.net.states.len() - 1
    }

    /// The state where a piece begins that goes on at `to`.
    fn begin(&mut self, piece: usize, to: usize) -> usize {
        if let Some(state) = self.begun.get(&(piece, to)) {
            return *state;
        }
        let steps = self.steps(piece, to);
        let state = self.state(steps);
        self.begun.insert((piece, to), state);
        state
    }

    fn steps(&mut self, piece: usize, to: usize) -> Steps {
        match self.pieces[piece].clone() {
            Piece::Step(edge) => vec![(edge, to)],
            Piece::Caught(slot, inner) => {
                let close = self.state(vec![(Edge::Close, to)]);
                vec![(Edge::Open(slot), self.begin(inner, close))]
            }
            Piece::Rest(slot) => {
                let after = self.own_state();
                let inside = self.state(vec![(Edge::Any, after)]);
                self.net.states[after] = vec![(Edge::Free, inside), (Edge::Close, to)];
                vec![(Edge::Open(slot), inside)]
            }
            Piece::Seq(all) => {
                let next = all[1..].iter().rev().fold(to, |to, p| self.begin(*p, to));
                self.first_steps(all[0], next)
            }
            Piece::Alt(all) => {
                let steps = |p| self.first_steps(p, to);
                all.into_iter().flat_map(steps).collect()
            }
            Piece::Opt(inner) => {
                let mut steps = self.first_steps(inner, to);
                steps.push((Edge::Free, to));
                steps
            }
            Piece::Many(inner) => {
                let again = self.own_state();
                let inside = self.begin(inner, again);
                self.net.states[again] = vec![(Edge::Free, inside), (Edge::Free, to)];
                vec![(Edge::Free, inside)]
            }
        }
    }

    /// The steps of a piece within another: one that branches often has a state of its own.
    fn first_steps(&mut self, piece: usize, to: usize) -> Steps {
        match &self.pieces[piece] {
            Piece::Alt(all) if all.len() > BRANCHES => vec![(Edge::Free, self.begin(piece, to))],
            _ => self.steps(piece, to),
        }
    }
}
