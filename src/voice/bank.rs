//! The word bank: recorded words and short phrases, joined into read-backs in memory.

use super::pace::at_pace;
use super::{Error, Sound, Voice};
use std::collections::HashMap;
use std::ops::Range;

/// Silence between two words beside the little that each entry has at its ends, by ear.
const GAP_MS: u32 = 10;
/// Silence for a comma, semicolon, colon or dash, by ear.
const COMMA_MS: u32 = 120;
/// Silence for a full stop, question or exclamation mark, by ear.
const STOP_MS: u32 = 220;

/// The two notes of the tone for speech that was not understood, in Hz and milliseconds: short, low and
/// falling, like nothing that is said. By ear.
const TONE: [(u32, u32); 2] = [(440, 70), (330, 90)];
/// How loud it is, of 32 768: as the voice.
const TONE_PEAK: f64 = 5_000.0;

/// Parts of a read-back, at most: the place, two blades and a verdict.
const READ_BACK_PARTS: usize = 14;
/// The shipped words were spoken one by one, slowly. A read-back, heard a thousand times, is brisk: a
/// reading of two blades in two seconds. All else is spoken as people talk. In percent, by ear.
const BRISK: u32 = 180;
const STEADY: u32 = 135;

/// Recorded words and phrases of one voice.
#[derive(Debug, Clone)]
pub struct Bank {
    sound: Sound,
    /// Pace of read-backs and of all else, in percent of how the words were recorded.
    pace: (u32, u32),
    /// What the person made of it, in percent.
    own_pace: u32,
    entries: HashMap<String, Range<usize>>,
    longest_entry_words: usize,
}

/// One part of a text as the bank sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Part {
    /// Samples of the bank.
    Recorded(Range<usize>),
    /// A word that the bank lacks.
    Missing(String),
    /// Silence, in milliseconds.
    Pause(u32),
    /// The tone for speech that was not understood.
    Tone,
}

impl Bank {
    /// Reads a bank: `flac` is its sound, `tsv` has one line for each entry: its words, first
    /// sample and number of samples, parted by tabs.
    ///
    /// # Errors
    /// Sound that cannot be read, a line of the table that is malformed, doubled, or points outside
    /// the sound.
    pub fn load(flac: &[u8], tsv: &str) -> Result<Self, Error> {
        let mut bank = Self::from_sound(Sound::decode(flac, "the word bank")?, tsv)?;
        bank.pace = (BRISK, STEADY);
        Ok(bank)
    }

    /// A bank over sound that is decoded already.
    ///
    /// # Errors
    /// As for the table in [`Bank::load`].
    pub fn from_sound(sound: Sound, tsv: &str) -> Result<Self, Error> {
        let mut entries = HashMap::new();
        for (index, row) in tsv.lines().enumerate().filter(|(_, row)| !row.is_empty()) {
            let (words, range) =
                table_row(row, sound.samples.len()).map_err(|what| Error::BankTable {
                    line: index + 1,
                    what,
                })?;
            if entries.insert(words.clone(), range).is_some() {
                return Err(Error::BankTable {
                    line: index + 1,
                    what: format!("`{words}` stands in the table twice"),
                });
            }
        }
        let longest_entry_words = entries
            .keys()
            .map(|e| e.split(' ').count())
            .max()
            .unwrap_or(0);
        Ok(Self {
            sound,
            pace: (100, 100),
            own_pace: 100,
            entries,
            longest_entry_words,
        })
    }

    /// Samples a second of everything that the bank renders.
    #[must_use]
    pub fn rate_hz(&self) -> u32 {
        self.sound.rate_hz
    }

    /// Whether `word` (or phrase) is an entry, in any case.
    #[must_use]
    pub fn has(&self, word: &str) -> bool {
        self.entries.contains_key(&word.trim().to_lowercase())
    }

    /// The words of `text` that the bank lacks, each once, in the order met.
    #[must_use]
    pub fn missing(&self, text: &str) -> Vec<String> {
        let mut words = Vec::new();
        for part in self.parts(text) {
            match part {
                Part::Missing(word) if !words.contains(&word) => words.push(word),
                _ => {}
            }
        }
        words
    }

    /// The text as recorded stretches (the longest entry that fits, from the left), missing words and
    /// pauses; no pause stands first, last or beside another.
    pub(super) fn parts(&self, text: &str) -> Vec<Part> {
        let mut parts = Vec::new();
        let mut rest = &tokens(text)[..];
        while let Some((first, others)) = rest.split_first() {
            match first {
                Token::Pause(ms) => {
                    match parts.last_mut() {
                        Some(Part::Pause(before)) => *before = (*before).max(*ms),
                        Some(_) => parts.push(Part::Pause(*ms)),
                        None => {}
                    }
                    rest = others;
                }
                Token::Tone => {
                    parts.push(Part::Tone);
                    rest = others;
                }
                Token::Word(word) => {
                    let (part, used) = self.longest_match(rest).map_or_else(
                        || (Part::Missing(word.clone()), 1),
                        |(range, used)| (Part::Recorded(range), used),
                    );
                    parts.push(part);
                    rest = &rest[used..];
                }
            }
        }
        if matches!(parts.last(), Some(Part::Pause(_))) {
            parts.pop();
        }
        parts
    }

    fn longest_match(&self, tokens: &[Token]) -> Option<(Range<usize>, usize)> {
        let words: Vec<&str> = tokens
            .iter()
            .take(self.longest_entry_words)
            .map_while(|token| match token {
                Token::Word(word) => Some(word.as_str()),
                Token::Pause(_) | Token::Tone => None,
            })
            .collect();
        (1..=words.len())
            .rev()
            .find_map(|n| Some((self.entries.get(&words[..n].join(" "))?.clone(), n)))
    }

    /// Joins parts into one sound; `other` gives the samples for a run of missing words, at the
    /// bank's rate.
    pub(super) fn join(
        &self,
        parts: &[Part],
        mut other: impl FnMut(&str) -> Result<Vec<i16>, Error>,
    ) -> Result<Sound, Error> {
        let rate_hz = self.sound.rate_hz;
        let silence = |ms: u32| (u64::from(rate_hz) * u64::from(ms) / 1000) as usize;
        let (brisk, steady) = self.pace;
        let usual = if parts.len() > READ_BACK_PARTS {
            steady
        } else {
            brisk
        };
        let percent = usual * self.own_pace / 100;
        // What sounded already, and the bank's own words since then, which are brought to their pace
        // together.
        let mut sounded: Vec<i16> = Vec::new();
        let mut samples: Vec<i16> = Vec::new();
        let mut gap = 0;
        for run in parts.chunk_by(|a, b| matches!((a, b), (Part::Missing(_), Part::Missing(_)))) {
            if let [Part::Pause(ms)] = run {
                gap = silence(*ms);
                continue;
            }
            samples.resize(samples.len() + gap, 0);
            gap = silence(GAP_MS);
            if let [Part::Recorded(range)] = run {
                samples.extend_from_slice(&self.sound.samples[range.clone()]);
            } else if let [Part::Tone] = run {
                samples.extend(tone(rate_hz));
            } else {
                let words: Vec<&str> = run
                    .iter()
                    .filter_map(|part| match part {
                        Part::Missing(word) => Some(word.as_str()),
                        _ => None,
                    })
                    .collect();
                sounded.extend(at_pace(&std::mem::take(&mut samples), rate_hz, percent));
                sounded.extend(other(&words.join(" "))?);
            }
        }
        sounded.extend(at_pace(&samples, rate_hz, percent));
        Ok(Sound {
            rate_hz,
            samples: sounded,
        })
    }
}

impl Voice for Bank {
    fn render(&mut self, words: &str) -> Result<Sound, Error> {
        let missing = self.missing(words);
        if !missing.is_empty() {
            return Err(Error::Missing { words: missing });
        }
        self.join(&self.parts(words), |_| Ok(Vec::new()))
    }

    fn set_pace(&mut self, percent: u32) {
        self.own_pace = percent;
    }
}

/// The tone, faded at both ends of each note.
fn tone(rate_hz: u32) -> Vec<i16> {
    let rate = f64::from(rate_hz);
    let note = |(hz, ms): (u32, u32)| {
        let count = rate_hz * ms / 1_000;
        let fade = f64::from((rate_hz / 100).max(1));
        (0..count).map(move |i| {
            let edge = f64::from(i.min(count - i)) / fade;
            let phase = f64::from(i) / rate * f64::from(hz) * std::f64::consts::TAU;
            (phase.sin() * TONE_PEAK * edge.min(1.0)) as i16
        })
    };
    TONE.into_iter().flat_map(note).collect()
}

#[derive(Debug, PartialEq, Eq)]
enum Token {
    Word(String),
    Pause(u32),
    Tone,
}

/// Lower-case words and pauses. A hyphen parts words; an apostrophe inside a word and a point inside
/// a number belong to it; any other mark is dropped.
fn tokens(text: &str) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut word = String::new();
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        let inside = !word.is_empty() && chars.peek().is_some_and(|next| next.is_alphanumeric());
        let pause = match c {
            _ if c.is_alphanumeric() => {
                word.extend(c.to_lowercase());
                continue;
            }
            '\'' | '’' if inside => {
                word.push('\'');
                continue;
            }
            '.' if inside && word.ends_with(|last: char| last.is_ascii_digit()) => {
                word.push(c);
                continue;
            }
            ',' | ';' | ':' | '–' | '—' => Some(COMMA_MS),
            '.' | '?' | '!' => Some(STOP_MS),
            _ => None,
        };
        if !word.is_empty() {
            tokens.push(Token::Word(std::mem::take(&mut word)));
        }
        if c == '…' {
            tokens.push(Token::Tone);
        }
        tokens.extend(pause.map(Token::Pause));
    }
    if !word.is_empty() {
        tokens.push(Token::Word(word));
    }
    tokens
}

fn table_row(row: &str, sound_samples: usize) -> Result<(String, Range<usize>), String> {
    let fields: Vec<&str> = row.split('\t').collect();
    let &[words, first, count] = &fields[..] else {
        return Err(format!("{} columns instead of 3", fields.len()));
    };
    let number = |field: &str| {
        field
            .parse::<usize>()
            .map_err(|_| format!("`{field}` is not a number"))
    };
    let (start, count) = (number(first)?, number(count)?);
    let plain: Vec<Token> = words
        .split_whitespace()
        .map(|w| Token::Word(w.to_owned()))
        .collect();
    if plain.is_empty() || tokens(words) != plain || words.split(' ').count() != plain.len() {
        return Err(format!(
            "`{words}` is not lower-case words parted by single spaces"
        ));
    }
    let end = start
        .checked_add(count)
        .filter(|end| count > 0 && *end <= sound_samples);
    match end {
        Some(end) => Ok((words.to_owned(), start..end)),
        None => Err(format!(
            "{count} samples from {start} do not lie inside the sound of {sound_samples}"
        )),
    }
}

#[cfg(test)]
#[path = "bank_tests.rs"]
mod tests;
