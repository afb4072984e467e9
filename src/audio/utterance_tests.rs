//! Tests of cutting: with a synthetic voice (espeak-ng, 16 kHz) and made noise.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use crate::audio::{decode, pcm::rms_dbfs};

const SPOKEN: &[u8] = include_bytes!("../../fixtures/audio/spoken.flac");

/// "exhaust two, fifteen goes"; speech from the first sample on.
fn spoken() -> Vec<f32> {
    decode(SPOKEN, "spoken.flac").unwrap().samples
}

fn silence(ms: u32) -> Vec<f32> {
    vec![0.0; samples_in(ms)]
}

/// White noise of the given RMS level (a linear congruential generator).
fn noise(ms: u32, dbfs: f32) -> Vec<f32> {
    let peak = 10f32.powf(dbfs / 20.0) * 3f32.sqrt();
    let mut seed = 1u32;
    let mut next = || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        ((seed >> 8) as f32 / 8_388_608.0 - 1.0) * peak
    };
    (0..samples_in(ms)).map(|_| next()).collect()
}

fn all_cuts(config: SegmenterConfig, sound: &[f32], piece: usize) -> (Vec<Cut>, Option<Utterance>) {
    let mut segmenter = Segmenter::new(config);
    let cuts = sound
        .chunks(piece)
        .flat_map(|p| segmenter.push(p))
        .collect();
    (cuts, segmenter.finish())
}

#[test]
fn a_phrase_in_silence_is_one_utterance_with_its_pre_roll() {
    let speech = spoken();
    let sound = [silence(1_000), speech.clone(), silence(1_000)].concat();
    let found = utterances(SegmenterConfig::default(), &sound);
    let [one] = &found[..] else {
        panic!("{} utterances", found.len())
    };
    assert!(
        one.speech_start_sample.abs_diff(16_000) < 1_600,
        "{}",
        one.speech_start_sample
    );
    let end = 16_000 + speech.len() as u64;
    assert!(one.speech_end_sample <= end + 800 && one.speech_end_sample + 8_000 > end);
    assert_eq!(one.speech_start_sample - one.start_sample, 6_400);
    let from = one.start_sample as usize;
    assert_eq!(one.samples, sound[from..from + one.samples.len()]);
    assert!(one.samples.len() as u64 <= one.speech_end_sample - one.start_sample + 6_400);
    assert!(one.score > 0.6 && one.level_dbfs > -40.0 && !one.clipped && !one.truncated);
}

#[test]
fn speech_at_the_first_sample_of_a_file_keeps_its_first_word() {
    let speech = spoken();
    let found = utterances(SegmenterConfig::default(), &speech);
    let [one] = &found[..] else {
        panic!("{} utterances", found.len())
    };
    assert_eq!(one.start_sample, 0);
    let begins = |at: &usize| one.samples[*at..].starts_with(&speech[..8_000]);
    let silence = (0..one.samples.len()).find(begins).unwrap();
    assert!(silence >= samples_in(200), "{silence} samples of silence");
    assert!(one.samples[..silence].iter().all(|&s| s == 0.0));
}

#[test]
fn no_sound_of_one_utterance_is_in_the_next() {
    let config = SegmenterConfig {
        hang_ms: 150,
        ..SegmenterConfig::default()
    };
    let sound = [spoken(), silence(200), spoken()].concat();
    let found = utterances(config, &sound);
    assert!(found.len() > 1);
    for pair in found.windows(2) {
        assert!(pair[1].start_sample >= pair[0].speech_end_sample);
    }
}

#[test]
fn how_the_stream_is_split_makes_no_difference() {
    let unfinished = &spoken()[..20_000];
    let sound = [&silence(500), &spoken()[..], &silence(700), unfinished].concat();
    let whole = all_cuts(SegmenterConfig::default(), &sound, sound.len());
    assert_eq!(all_cuts(SegmenterConfig::default(), &sound, 1), whole);
    assert_eq!(all_cuts(SegmenterConfig::default(), &sound, 333), whole);
    assert!(matches!(
        whole.0[..],
        [Cut::Started { .. }, Cut::Ended(_), Cut::Started { .. }]
    ));
    assert!(whole.1.is_some());
}

#[test]
fn the_hang_over_can_be_shortened_while_somebody_speaks() {
    let mut segmenter = Segmenter::new(SegmenterConfig::default());
    segmenter.push(&[silence(500), spoken()].concat());
    let so_far = segmenter.speaking().unwrap().len();
    assert!(so_far >= spoken().len(), "{so_far}");
    let silent_ms = segmenter.silent_for_ms().unwrap();
    let quiet = silence(350u32.saturating_sub(silent_ms));
    assert!(segmenter.push(&quiet).is_empty(), "450 ms are not over");
    segmenter.set_hang_ms(150);
    let cuts = segmenter.push(&silence(16));
    assert!(matches!(cuts[..], [Cut::Ended(_)]));
    assert_eq!(segmenter.speaking(), None);
}

#[test]
fn speech_that_was_taken_for_silence_goes_on() {
    let mut segmenter = Segmenter::new(SegmenterConfig::default());
    // The recording ends with 390 ms of silence.
    segmenter.push(&[silence(500), spoken()].concat());
    assert!(segmenter.silent_for_ms().unwrap() >= 300);
    segmenter.goes_on();
    assert_eq!(segmenter.silent_for_ms(), Some(0));
    let cuts = segmenter.push(&silence(1_000));
    let [Cut::Ended(utterance)] = &cuts[..] else {
        panic!("{cuts:?}")
    };
    let end = utterance.speech_end_sample as usize;
    let all = samples_in(500) + spoken().len();
    assert!(
        end + FRAME >= all,
        "the silence is part of it: {end} of {all}"
    );
}

#[test]
fn a_compressor_that_starts_while_somebody_speaks_does_not_hold_the_utterance() {
    let speech = spoken();
    let mut sound = [noise(2_000, -60.0), speech.clone(), noise(1, -60.0)].concat();
    let compressor_from = sound.len() - speech.len() / 2;
    sound.extend(silence(9_000));
    for (at, n) in noise(12_000, -28.0).into_iter().enumerate() {
        if let Some(sample) = sound.get_mut(compressor_from + at) {
            *sample += n;
        }
    }
    let second = compressor_from + samples_in(6_000);
    for (at, s) in speech.iter().enumerate() {
        sound[second + at] += 0.6 * s;
    }
    let found = utterances(SegmenterConfig::default(), &sound);
    assert!(
        found
            .iter()
            .all(|u| !u.truncated && u.samples.len() < samples_in(6_000))
    );
    let last = found
        .iter()
        .filter(|u| u.speech_end_sample as usize > second)
        .count();
    assert_eq!(last, 1, "speech over the steady compressor is found, once");
}

#[test]
fn speech_without_a_pause_is_cut_at_the_longest_length_and_marked() {
    let config = SegmenterConfig {
        max_ms: 1_000,
        ..SegmenterConfig::default()
    };
    let (cuts, _) = all_cuts(config, &[spoken(), spoken()].concat(), 160);
    let Some(Cut::Ended(first)) = cuts.iter().find(|c| matches!(c, Cut::Ended(_))) else {
        panic!("none ended")
    };
    assert!(first.truncated);
    assert!(first.samples.len() <= samples_in(1_000 + 400 + 16));
}

#[test]
fn clipping_and_level_are_told() {
    let loud: Vec<f32> = spoken()
        .iter()
        .map(|s| (s * 20.0).clamp(-1.0, 1.0))
        .collect();
    let found = utterances(SegmenterConfig::default(), &loud);
    assert!(found[0].clipped);
    assert!(found[0].level_dbfs > rms_dbfs(&spoken()));
}

#[test]
fn silence_steady_noise_and_nothing_bring_no_utterance() {
    for sound in [
        Vec::new(),
        silence(5_000),
        noise(10_000, -50.0),
        vec![f32::NAN; 16_000],
    ] {
        assert!(utterances(SegmenterConfig::default(), &sound).is_empty());
    }
}
