//! A person's own words for words of the phrases: checked, and put into the patterns.

use super::fault::{At, GrammarError};
use super::pattern::Node;
use std::collections::{BTreeMap, BTreeSet};
use toml::Spanned;

/// Word of the phrases -> what is said for it, each in words.
pub(super) type Synonyms = BTreeMap<String, Vec<String>>;

/// An entry of a file: a word, and what is said for it.
pub(super) type Entry<'a> = (At<'a>, Spanned<String>, Vec<Spanned<String>>);

/// The entries of the files, if each has an effect and none would mean two things.
pub(super) fn checked<'a>(
    entries: &[Entry<'_>],
    phrases: impl Iterator<Item = &'a Node>,
    rules: &'a BTreeMap<String, Node>,
) -> Result<Synonyms, GrammarError> {
    let mut all = Synonyms::new();
    if entries.is_empty() {
        return Ok(all);
    }
    let (mut words, mut values) = (BTreeSet::new(), BTreeSet::new());
    for node in rules.values().chain(phrases) {
        vocabulary(node, &mut words, &mut values);
    }
    for (at, meant, said) in entries {
        let word = meant.get_ref();
        if !words.contains(word.as_str()) {
            let message = format!("no phrase uses the word `{word}`");
            return Err(at.error(meant.span().start, message));
        }
        for own in said {
            let text = own.get_ref();
            let wrong = |message| Err(at.error(own.span().start, message));
            let plain = |w: &str| !w.is_empty() && w.chars().all(char::is_lowercase);
            if !text.split(' ').all(plain) {
                return wrong(format!(
                    "found `{text}`: expected lower-case words without figures or punctuation"
                ));
            }
            if text == word {
                return wrong(format!(
                    "`{word}` is already said so: expected another word"
                ));
            }
            if let Some(value) = text.split(' ').find(|w| values.contains(w)) {
                return wrong(format!(
                    "`{value}` is a figure, a place or a unit already: expected a word that is none"
                ));
            }
            all.entry(word.clone()).or_default().push(text.clone());
        }
    }
    Ok(all)
}

/// The words of a pattern, and those that carry a value.
fn vocabulary<'a>(node: &'a Node, words: &mut BTreeSet<&'a str>, values: &mut BTreeSet<&'a str>) {
    match node {
        Node::Word { word, out } => {
            words.insert(word);
            if !out.is_empty() {
                values.insert(word);
            }
        }
        Node::Seq(all) | Node::Alt(all) => {
            all.iter().for_each(|n| vocabulary(n, words, values));
        }
        Node::Opt(inner) | Node::Many(inner) | Node::Often(_, inner) => {
            vocabulary(inner, words, values);
        }
        Node::Out(_) | Node::Rule { .. } | Node::Rest(_) => {}
    }
}

/// Lets a pattern be said with the synonyms too.
pub(super) fn put_in(node: &mut Node, synonyms: &Synonyms) {
    match node {
        Node::Word { word, out } => {
            let Some(others) = synonyms.get(word) else {
                return;
            };
            let mut ways: Vec<Node> = others.iter().map(|said| said_as(said, out)).collect();
            ways.insert(0, node.clone());
            *node = Node::Alt(ways);
        }
        Node::Seq(all) | Node::Alt(all) => all.iter_mut().for_each(|n| put_in(n, synonyms)),
        Node::Opt(inner) | Node::Many(inner) | Node::Often(_, inner) => put_in(inner, synonyms),
        Node::Out(_) | Node::Rule { .. } | Node::Rest(_) => {}
    }
}

/// Words that together put something out.
pub(super) fn said_as(text: &str, out: &str) -> Node {
    let word = |word: &str| Node::Word {
        word: word.to_owned(),
        out: String::new(),
    };
    let words = text.split(' ').map(word);
    Node::Seq(words.chain([Node::Out(out.to_owned())]).collect())
}
