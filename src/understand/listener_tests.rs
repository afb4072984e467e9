//! Tests of listening with a scripted recogniser: real sound decides when, the script what.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::audio::decode;
use crate::event::{Fact, Outcome};
use crate::grammar::Grammar;
use crate::recognise::{Candidate, Error, Scripted, Transcript};
use crate::understand::testing::Bench;

/// "fifteen goes", said by espeak-ng without a pause; only its times matter here.
fn spoken() -> Clip {
    let all = decode(include_bytes!("../../fixtures/audio/spoken.flac"), "").unwrap();
    Clip::new(all.samples[17_280..34_240].to_vec())
}

/// The speech in white noise that lies `snr_db` below it.
fn in_noise_of(snr_db: f32) -> Vec<f32> {
    let mut clip = spoken();
    let peak = 10_f32.powf((clip.rms_dbfs() - snr_db) / 20.0) * 3_f32.sqrt();
    clip.pad(2_000, 3_000);
    let mut seed = 1_u32;
    for sample in &mut clip.samples {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        *sample += ((seed >> 8) as f32 / 8_388_608.0 - 1.0) * peak;
    }
    clip.samples
}

/// Hears more words in more sound.
struct ByLength {
    /// From so many samples on.
    least: usize,
    less: &'static str,
    more: &'static str,
    last: Scripted,
}

impl Recogniser for ByLength {
    fn weights(&self) -> &'static str {
        "by length"
    }

    fn hear(&mut self, sound: &[f32]) -> Result<Transcript, Error> {
        let text = if sound.len() < self.least {
            self.less
        } else {
            self.more
        };
        self.last = Scripted::of_texts([text]);
        self.last.hear(sound)
    }

    fn score(&mut self, phrases: &[&str]) -> Result<Vec<f32>, Error> {
        self.last.score(phrases)
    }

    fn shortfalls(&mut self, phrase: &str) -> Result<Vec<f32>, Error> {
        self.last.shortfalls(phrase)
    }

    fn legal(
        &mut self,
        grammar: &Grammar,
        least_logp: f32,
        steps: usize,
    ) -> Result<Vec<Candidate>, Error> {
        self.last.legal(grammar, least_logp, steps)
    }
}

/// What is heard in `sound` where more words are heard in `least` samples and more.
fn heard(sound: &[f32], least: usize) -> Vec<String> {
    let recogniser = ByLength {
        least,
        less: "two exhaust left fifteen goes",
        more: "two exhaust left fifteen goes eighteen doesnt",
        last: Scripted::default(),
    };
    let mut listener = Listener::new(Box::new(recogniser));
    let all = listener.play(sound, &mut Bench::triple()).unwrap();
    all.into_iter().map(|h| h.event.said).collect()
}

#[test]
fn words_that_drown_in_noise_are_heard_before_the_end() {
    let whole = "two exhaust left fifteen goes eighteen doesnt".to_owned();
    // With 400 ms before the speech and as much of the silence after it.
    let with_silence = spoken().samples.len() + RATE_HZ as usize * 8 / 10;
    let noisy = in_noise_of(9.0);
    assert!(heard(&noisy, with_silence).contains(&whole));
    assert!(!heard(&noisy, usize::MAX).contains(&whole), "nothing more");
    let clean = in_noise_of(60.0);
    let once = heard(&clean, with_silence);
    assert!(once.len() == 1 && once[0] != whole, "not again: {once:?}");
}

/// Says `words` while `during` sounds, then hears `after`; what came of it.
fn while_speaking(words: &str, heard: &str, during: &[f32], after: &[f32]) -> Vec<Event> {
    let recogniser = ByLength {
        least: 0,
        less: "",
        more: Box::leak(heard.to_owned().into_boxed_str()),
        last: Scripted::default(),
    };
    let (mut listener, mut bench) = (Listener::new(Box::new(recogniser)), Bench::triple());
    let quiet = vec![0.0; RATE_HZ as usize];
    assert!(listener.feed(&quiet, &mut bench).unwrap().is_empty());
    listener.mute(words.split(' ').map(str::to_owned).collect());
    assert!(listener.feed(during, &mut bench).unwrap().is_empty());
    listener.unmute();
    let after = [after, &vec![0.0; 2 * RATE_HZ as usize]].concat();
    let all = listener.play(&after, &mut bench).unwrap();
    all.into_iter().map(|h| h.event).collect()
}

#[test]
fn the_voice_is_not_heard_and_what_was_begun_during_it_is_asked() {
    let speech = spoken().samples;
    let silence = vec![0.0; 8_000];
    let own = "cylinder two exhaust left";
    let reading = "two exhaust left fifteen";
    // The voice alone, all of it while it sounds.
    let voice = [speech.clone(), silence.clone()].concat();
    assert!(while_speaking(own, reading, &voice, &silence).is_empty());
    // A phrase after it is taken as ever.
    let said = while_speaking(own, reading, &voice, &voice);
    assert_eq!((said.len(), said[0].outcome), (1, Outcome::Stored));
    // One that was begun during it has lost its beginning.
    let (first, rest) = speech.split_at(speech.len() / 2);
    let cut = while_speaking(own, reading, first, rest);
    assert_eq!((cut.len(), cut[0].outcome), (1, Outcome::Asked));
    let proposes_nothing = |f: &Fact| matches!(f, Fact::Asked(q) if q.proposed.is_empty());
    assert!(
        cut[0].facts.iter().all(proposes_nothing),
        "{:?}",
        cut[0].facts
    );
    // Unless it is the voice itself.
    let echo = while_speaking(own, "exhaust left", first, rest);
    assert_eq!((echo.len(), echo[0].outcome), (1, Outcome::Ignored));
    // Which may also come late: after the mute, by a phone or a wireless loudspeaker.
    let late = while_speaking(own, own, &silence, &speech);
    assert_eq!((late.len(), late[0].outcome), (1, Outcome::Ignored));
}

#[test]
fn a_stream_that_ends_in_speech_may_have_lost_its_rest() {
    let speech = spoken().samples;
    let heard = |silence_ms: usize| {
        let stream = [&speech[..], &vec![0.0; silence_ms * 16]].concat();
        let recogniser = ByLength {
            least: 0,
            less: "",
            more: "two exhaust left fifteen",
            last: Scripted::default(),
        };
        let (mut listener, mut bench) = (Listener::new(Box::new(recogniser)), Bench::triple());
        let all = listener.play(&stream, &mut bench).unwrap();
        all.into_iter().map(|h| h.event.outcome).collect::<Vec<_>>()
    };
    assert_eq!(heard(0), [Outcome::Asked]);
    assert_eq!(heard(400), [Outcome::Stored]);
}
