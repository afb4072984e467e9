//! The notation of one pattern, read into a tree. `grammars/README.md` is its reference.

use std::collections::BTreeMap;

/// A piece of a pattern.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) enum Node {
    /// A word to be said, and what it adds to the slot around it.
    Word { word: String, out: String },
    /// Adds to the slot around it without a word.
    Out(String),
    /// Another rule, its output caught in a slot where one is named.
    Rule {
        slot: Option<String>,
        rule: String,
        at: usize,
    },
    /// Any words, at least one, up to the end of the phrase.
    Rest(String),
    /// One after the other.
    Seq(Vec<Node>),
    /// One of these.
    Alt(Vec<Node>),
    /// May be left out.
    Opt(Box<Node>),
    /// Once or more.
    Many(Box<Node>),
    /// The sampler takes it so many times in a hundred.
    Often(u8, Box<Node>),
}

/// What is wrong with a pattern, and where in its text (in bytes).
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct PatternError {
    pub(crate) at: usize,
    pub(crate) message: String,
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
}

/// Reads a pattern.
pub(crate) fn parse(text: &str) -> Result<Node, PatternError> {
    let mut reader = Reader { text, at: 0 };
    let node = reader.alternatives()?;
    match reader.peek() {
        None => Ok(node),
        Some(c) => Err(reader.error(format!(
            "`{c}` closes nothing: expected a word, `[`, `(`, `{{`, `|` or the end"
        ))),
    }
}

impl Reader<'_> {
    fn peek(&self) -> Option<char> {
        self.text[self.at..].chars().next()
    }

    fn error(&self, message: String) -> PatternError {
        PatternError {
            at: self.at,
            message,
        }
    }

    fn skip_spaces(&mut self) {
        while self.peek().is_some_and(char::is_whitespace) {
            self.at += self.peek().map_or(0, char::len_utf8);
        }
    }

    fn take(&mut self, wanted: char) -> Result<(), PatternError> {
        self.skip_spaces();
        if self.peek() == Some(wanted) {
            self.at += wanted.len_utf8();
            return Ok(());
        }
        let found = self
            .peek()
            .map_or("the end of the pattern".to_owned(), |c| format!("`{c}`"));
        Err(self.error(format!("found {found}: expected `{wanted}`")))
    }

    fn while_chars(&mut self, keep: impl Fn(char) -> bool) -> String {
        let start = self.at;
        while self.peek().is_some_and(&keep) {
            self.at += self.peek().map_or(0, char::len_utf8);
        }
        self.text[start..self.at].to_owned()
    }

    fn alternatives(&mut self) -> Result<Node, PatternError> {
        let mut all = vec![self.sequence()?];
        loop {
            self.skip_spaces();
            if self.peek() != Some('|') {
                break;
            }
            self.at += 1;
            all.push(self.sequence()?);
        }
        Ok(if all.len() == 1 {
            all.swap_remove(0)
        } else {
            Node::Alt(all)
        })
    }

    fn sequence(&mut self) -> Result<Node, PatternError> {
        let often = self.often()?;
        let mut all = Vec::new();
        loop {
            self.skip_spaces();
            match self.peek() {
                None | Some('|' | ']' | ')') => break,
                Some('[') => {
                    self.at += 1;
                    let inner = self.alternatives()?;
                    self.take(']')?;
                    all.push(Node::Opt(Box::new(inner)));
                }
                Some('(') => {
                    self.at += 1;
                    let inner = self.alternatives()?;
                    self.take(')')?;
                    all.push(self.many(inner));
                }
                Some('{') => {
                    let rule = self.reference()?;
                    all.push(self.many(rule));
                }
                Some('/') => {
                    self.at += 1;
                    all.push(Node::Out(self.output()?));
                }
                Some(c) if is_word(c) => {
                    let word = self.while_chars(is_word);
                    let out = if self.peek() == Some('/') {
                        self.at += 1;
                        self.output()?
                    } else {
                        String::new()
                    };
                    all.push(Node::Word { word, out });
                }
                Some(c) => {
                    return Err(self.error(format!(
                        "found `{c}`: expected a lower-case word, `[optional]`, `(one | another)`, `{{rule}}` or `/output`"
                    )));
                }
            }
        }
        if all.is_empty() {
            return Err(
                self.error("nothing stands here: expected at least one word or rule".to_owned())
            );
        }
        let node = if all.len() == 1 {
            all.swap_remove(0)
        } else {
            Node::Seq(all)
        };
        Ok(match often {
            Some(percent) => Node::Often(percent, Box::new(node)),
            None => node,
        })
    }

    /// `5%` before an alternative.
    fn often(&mut self) -> Result<Option<u8>, PatternError> {
        self.skip_spaces();
        let at = self.at;
        let digits = self.while_chars(|c| c.is_ascii_digit());
        if digits.is_empty() {
            return Ok(None);
        }
        let percent = digits.parse().ok().filter(|p| (1..=99).contains(p));
        let percent = percent.ok_or_else(|| PatternError {
            at,
            message: format!("found `{digits}`: expected 1 to 99 and `%`"),
        })?;
        self.take('%')?;
        Ok(Some(percent))
    }

    /// A `+` after a group or a rule: once or more.
    fn many(&mut self, node: Node) -> Node {
        if self.peek() == Some('+') {
            self.at += 1;
            return Node::Many(Box::new(node));
        }
        node
    }

    fn output(&mut self) -> Result<String, PatternError> {
        let out = self.while_chars(|c| c.is_ascii_alphanumeric() || c == '.' || c == '_');
        if out.is_empty() {
            return Err(self.error(
                "`/` adds nothing: expected letters, digits, `.` or `_` after it".to_owned(),
            ));
        }
        Ok(out)
    }

    fn reference(&mut self) -> Result<Node, PatternError> {
        self.take('{')?;
        let at = self.at;
        let first = self.while_chars(is_name);
        let node = if self.peek() == Some(':') {
            self.at += 1;
            if self.peek() == Some('*') {
                self.at += 1;
                Node::Rest(first)
            } else {
                let at = self.at;
                Node::Rule {
                    slot: Some(first),
                    rule: self.while_chars(is_name),
                    at,
                }
            }
        } else {
            Node::Rule {
                slot: None,
                rule: first,
                at,
            }
        };
        self.take('}')?;
        Ok(node)
    }
}

fn is_word(c: char) -> bool {
    c.is_lowercase()
}

fn is_name(c: char) -> bool {
    c.is_ascii_lowercase() || c == '_'
}

/// How many different things a pattern can say; the largest number where it is more.
pub(super) fn ways(node: &Node, rules: &BTreeMap<String, u64>) -> u64 {
    match node {
        Node::Word { .. } | Node::Out(_) => 1,
        Node::Rest(_) => 16,
        Node::Rule { rule, .. } => rules.get(rule).copied().unwrap_or(1),
        Node::Seq(all) => all
            .iter()
            .map(|n| ways(n, rules))
            .fold(1, u64::saturating_mul),
        Node::Alt(all) => all
            .iter()
            .map(|n| ways(n, rules))
            .fold(0, u64::saturating_add),
        Node::Opt(inner) => ways(inner, rules).saturating_add(1),
        Node::Many(inner) => ways(inner, rules).saturating_mul(2),
        Node::Often(_, inner) => ways(inner, rules),
    }
}

/// Whether a pattern can be said without a word.
pub(super) fn may_be_empty(node: &Node, rules: &BTreeMap<String, Node>) -> bool {
    match node {
        Node::Word { .. } | Node::Rest(_) => false,
        Node::Out(_) | Node::Opt(_) => true,
        Node::Rule { rule, .. } => rules.get(rule).is_none_or(|n| may_be_empty(n, rules)),
        Node::Seq(all) => all.iter().all(|n| may_be_empty(n, rules)),
        Node::Alt(all) => all.iter().any(|n| may_be_empty(n, rules)),
        Node::Many(inner) | Node::Often(_, inner) => may_be_empty(inner, rules),
    }
}

/// Whether a pattern repeats what can be said without a word: it would never end.
pub(super) fn repeats_nothing(node: &Node, rules: &BTreeMap<String, Node>) -> bool {
    match node {
        Node::Word { .. } | Node::Rest(_) | Node::Out(_) | Node::Rule { .. } => false,
        Node::Seq(all) | Node::Alt(all) => all.iter().any(|n| repeats_nothing(n, rules)),
        Node::Opt(inner) | Node::Often(_, inner) => repeats_nothing(inner, rules),
        Node::Many(inner) => may_be_empty(inner, rules) || repeats_nothing(inner, rules),
    }
}

/// The same for every rule, once: no rule contains itself, so as many rounds as rules settle it.
pub(super) fn ways_of_rules(rules: &BTreeMap<String, Node>) -> BTreeMap<String, u64> {
    let mut known: BTreeMap<String, u64> = BTreeMap::new();
    for _ in 0..rules.len() {
        let next = rules
            .iter()
            .map(|(name, body)| (name.clone(), ways(body, &known)))
            .collect();
        if known == next {
            break;
        }
        known = next;
    }
    known
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn errors_say_where_and_what_was_expected() {
        for (text, at, expected) in [
            ("three [left", 11, "expected `]`"),
            ("left)", 4, "closes nothing"),
            ("Left", 0, "expected a lower-case word"),
            ("{value:amount", 13, "expected `}`"),
            ("one/ two", 4, "expected letters"),
            ("a | | b", 4, "at least one word"),
            ("a | 100% b", 4, "expected 1 to 99"),
            ("a | 20 b", 7, "expected `%`"),
        ] {
            let error = parse(text).unwrap_err();
            assert_eq!(error.at, at, "{text}");
            assert!(
                error.message.contains(expected),
                "{text}: {}",
                error.message
            );
        }
    }

    #[test]
    fn a_word_may_carry_output() {
        let node = parse("point/. [the]").unwrap();
        let word = |word: &str, out: &str| Node::Word {
            word: word.into(),
            out: out.into(),
        };
        assert_eq!(
            node,
            Node::Seq(vec![
                word("point", "."),
                Node::Opt(Box::new(word("the", "")))
            ])
        );
    }
}
