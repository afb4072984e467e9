//! New inputs from good ones: bytes flipped, stretches cut out, copied and taken from another input,
//! and words of the target's language put in.

use super::targets::Target;

/// Inputs do not grow beyond this.
const MOST_BYTES: usize = 60_000;

/// Knuth's MMIX generator.
pub(super) struct Dice(pub u64);

impl Dice {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % end.max(1)
    }

    fn byte(&mut self) -> u8 {
        u8::try_from(self.below(256)).unwrap()
    }

    /// A stretch of `bytes`, of up to `most`.
    fn stretch(&mut self, bytes: &[u8], most: usize) -> std::ops::Range<usize> {
        let from = self.below(bytes.len() + 1);
        let length = self.below(most.min(bytes.len() - from) + 1);
        from..from + length
    }
}

/// A new input from the corpus: one to eight changes.
pub(super) fn changed(corpus: &[Vec<u8>], target: &Target, dice: &mut Dice) -> Vec<u8> {
    let mut input = corpus[dice.below(corpus.len())].clone();
    for _ in 0..=dice.below(8) {
        let at = dice.below(input.len() + 1);
        match dice.below(8) {
            0 if !input.is_empty() => {
                let at = dice.below(input.len());
                input[at] ^= 1 << dice.below(8);
            }
            1 if !input.is_empty() => {
                let at = dice.below(input.len());
                input[at] = [0, 1, 0x7f, 0x80, 0xff, dice.byte()][dice.below(6)];
            }
            2 => drop(input.drain(dice.stretch(&input, 64))),
            3 => {
                let copy = input[dice.stretch(&input, 64)].to_vec();
                input.splice(at..at, copy);
            }
            4 => {
                let other = &corpus[dice.below(corpus.len())];
                let piece = other[dice.stretch(other, 400)].to_vec();
                input.splice(at..at, piece);
            }
            5 => input.truncate(at),
            6 => {
                let bytes: Vec<u8> = (0..dice.below(8)).map(|_| dice.byte()).collect();
                input.splice(at..at, bytes);
            }
            _ => {
                let word = target.words[dice.below(target.words.len())];
                input.splice(at..at, word.bytes());
            }
        }
    }
    input.truncate(MOST_BYTES);
    input
}
