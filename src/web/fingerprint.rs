//! The fingerprint of a certificate, in figures as a browser shows it and in words that can be compared by
//! ear.

use sha2::{Digest, Sha256};

/// Sixteen bits are a word of five letters, which can be spoken (proquints: D. S. Wilkerson, "A Proposal
/// for Proquints: Identifiers that are Readable, Spellable, and Pronounceable", arXiv:0901.4016).
const CONSONANTS: &[u8; 16] = b"bdfghjklmnprstvz";
const VOWELS: &[u8; 4] = b"aiou";
/// So many words are of 128 bits: whoever finds another certificate with the same could break the
/// certificate itself.
const WORDS: usize = 8;

/// The SHA-256 of a certificate.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Fingerprint([u8; 32]);

impl Fingerprint {
    pub(super) fn of(der: &[u8]) -> Self {
        Self(Sha256::digest(der).into())
    }

    /// As a browser shows it.
    pub(super) fn in_figures(&self) -> String {
        let all: Vec<String> = self.0.iter().map(|b| format!("{b:02X}")).collect();
        all.join(":")
    }

    /// Its first half in words.
    pub(super) fn in_words(&self) -> String {
        let pairs = self.0.chunks_exact(2).take(WORDS);
        let words: Vec<String> = pairs
            .map(|pair| word(u16::from_be_bytes([pair[0], pair[1]])))
            .collect();
        words.join(" ")
    }
}

fn word(bits: u16) -> String {
    let consonant = |shift: u16| char::from(CONSONANTS[usize::from(bits >> shift & 15)]);
    let vowel = |shift: u16| char::from(VOWELS[usize::from(bits >> shift & 3)]);
    [
        consonant(12),
        vowel(10),
        consonant(6),
        vowel(4),
        consonant(0),
    ]
    .iter()
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of the proposal: 127.0.0.1 is lusab-babad, 63.84.220.193 is gutih-tugad.
    #[test]
    fn words_are_those_of_the_proposal() {
        for (bits, expected) in [
            (0x7f00, "lusab"),
            (0x0001, "babad"),
            (0x3f54, "gutih"),
            (0xdcc1, "tugad"),
        ] {
            assert_eq!(word(bits), expected);
        }
    }

    #[test]
    fn a_fingerprint_has_32_bytes_and_eight_words() {
        let print = Fingerprint::of(b"");
        // SHA-256 of nothing (FIPS 180-4).
        assert!(print.in_figures().starts_with("E3:B0:C4:42:98:FC:1C:14"));
        assert_eq!(print.in_words().split(' ').count(), 8);
        assert!(print.in_words().starts_with(&word(0xe3b0)));
    }
}
