//! Text -> tokens, the way the model was trained to write it.
//!
//! whisper.cpp's own tokenizer takes the longest piece first, which is not always the piece the
//! model writes. This is byte-pair encoding as published with GPT-2, whose token numbers are in
//! the order of the merges, so the vocabulary alone is enough.

use std::collections::HashMap;

/// The model's text tokens.
pub(super) struct Tokenizer {
    ids: HashMap<Vec<u8>, i32>,
    bytes: Vec<Vec<u8>>,
}

impl Tokenizer {
    /// From the bytes of each text token, in the order of their numbers.
    pub(super) fn new(bytes: Vec<Vec<u8>>) -> Self {
        let ids = bytes.iter().cloned().zip(0..).collect();
        Self { ids, bytes }
    }

    /// The bytes of a text token; none for a special one.
    pub(super) fn bytes(&self, id: i32) -> &[u8] {
        let index = usize::try_from(id).ok();
        index
            .and_then(|i| self.bytes.get(i))
            .map_or(&[], Vec::as_slice)
    }

    /// Tokens of `phrase`, each word with a space before it, the first one too.
    pub(super) fn encode(&self, phrase: &str) -> Vec<i32> {
        let words = phrase.split_whitespace();
        let pieces = words.flat_map(|word| split(&format!(" {word}")));
        pieces
            .flat_map(|piece| self.merge(piece.as_bytes()))
            .collect()
    }

    /// Joins neighbours, always the pair whose token has the lowest number, until none is left.
    fn merge(&self, piece: &[u8]) -> Vec<i32> {
        let mut parts: Vec<&[u8]> = piece.chunks(1).collect();
        loop {
            let mut best: Option<(i32, usize)> = None;
            let mut start = 0;
            for (i, pair) in parts.windows(2).enumerate() {
                let end = start + pair[0].len() + pair[1].len();
                if let Some(&id) = self.ids.get(&piece[start..end])
                    && best.is_none_or(|(least, _)| id < least)
                {
                    best = Some((id, i));
                }
                start += pair[0].len();
            }
            let Some((_, i)) = best else { break };
            let start: usize = parts[..i].iter().map(|p| p.len()).sum();
            let end = start + parts[i].len() + parts[i + 1].len();
            parts[i] = &piece[start..end];
            parts.remove(i + 1);
        }
        parts
            .iter()
            .filter_map(|part| self.ids.get(*part).copied())
            .collect()
    }
}

/// Cuts a word into runs of letters, of digits and of the rest, a leading space staying with the
/// first; the endings 's 't 're 've 'm 'll 'd stay whole.
fn split(word: &str) -> Vec<String> {
    const ENDINGS: [&str; 7] = ["'s", "'t", "'re", "'ve", "'m", "'ll", "'d"];
    let class = |c: char| match c {
        c if c.is_alphabetic() => 0,
        c if c.is_numeric() => 1,
        _ => 2,
    };
    let mut pieces: Vec<String> = Vec::new();
    let mut rest = word;
    while let Some(first) = rest.trim_start().chars().next() {
        let ending = ENDINGS.iter().find(|ending| rest.starts_with(**ending));
        let length = if let Some(ending) = ending {
            ending.len()
        } else {
            let space = rest.len() - rest.trim_start().len();
            let run = rest[space..].find(|c| class(c) != class(first));
            run.map_or(rest.len(), |run| space + run)
        };
        pieces.push(rest[..length].to_owned());
        rest = &rest[length..];
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_cut_like_the_model_does() {
        assert_eq!(split(" won't"), [" won", "'t"]);
        assert_eq!(split(" 0.25mm"), [" 0", ".", "25", "mm"]);
        assert_eq!(split(" 'no'"), [" '", "no", "'"]);
        assert!(split(" ").is_empty());
    }

    #[test]
    fn the_lowest_number_is_joined_first() {
        // Numbers are merge order: "bc" (4) joins before "ab" (5), so "abc" is a+bc, though "abc"
        // could also be reached from "ab".
        let tokens = [" ", "a", "b", "c", "bc", "ab"];
        let tokenizer = Tokenizer::new(tokens.map(|t| t.as_bytes().to_vec()).to_vec());
        assert_eq!(tokenizer.encode("abc"), [0, 1, 4]);
        assert_eq!(tokenizer.encode(" ab  b "), [0, 5, 0, 2]);
        assert_eq!(tokenizer.bytes(4), b"bc");
        assert!(tokenizer.bytes(99).is_empty());
    }
}
