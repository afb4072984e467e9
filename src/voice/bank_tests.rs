//! Tests of the word bank, on a small made-up bank and on the shipped one.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use super::*;

const FLAC: &[u8] = include_bytes!("../../models/voice/bank.flac");
const TSV: &str = include_str!("../../models/voice/bank.tsv");

/// 1000 Hz; every sample of an entry holds the entry's own number.
fn small() -> Bank {
    let words = ["three", "exhaust", "no", "no gap", "gap", "no gap below"];
    let samples = (0..words.len() as i16).flat_map(|i| [i + 1; 10]).collect();
    let tsv: String = words
        .iter()
        .enumerate()
        .map(|(i, w)| format!("{w}\t{}\t10\n", i * 10))
        .collect();
    Bank::from_sound(
        Sound {
            rate_hz: 1000,
            samples,
        },
        &tsv,
    )
    .unwrap()
}

/// (value, how often) along the sound.
fn runs(sound: &Sound) -> Vec<(i16, usize)> {
    sound
        .samples
        .chunk_by(|a, b| a == b)
        .map(|r| (r[0], r.len()))
        .collect()
}

#[test]
fn words_are_joined_with_a_gap_and_marks_become_pauses() {
    let sound = small().render("Three EXHAUST, no. (gap!)").unwrap();
    assert_eq!(
        runs(&sound),
        [
            (1, 10),
            (0, 10),
            (2, 10),
            (0, 120),
            (3, 10),
            (0, 220),
            (5, 10)
        ]
    );
}

#[test]
fn the_longest_entry_wins_but_not_across_a_pause() {
    let mut bank = small();
    assert_eq!(runs(&bank.render("no gap below").unwrap()), [(6, 10)]);
    assert_eq!(
        runs(&bank.render("no gap three").unwrap()),
        [(4, 10), (0, 10), (1, 10)]
    );
    assert_eq!(
        runs(&bank.render("no, gap").unwrap()),
        [(3, 10), (0, 120), (5, 10)]
    );
}

#[test]
fn pauses_at_the_ends_cost_nothing_and_two_make_the_longer_one() {
    let sound = small().render("... three,. no.").unwrap();
    assert_eq!(runs(&sound), [(1, 10), (0, 220), (3, 10)]);
    assert!(small().render(" . , ").unwrap().samples.is_empty());
}

#[test]
fn an_ellipsis_is_a_short_tone() {
    let sound = Bank::load(FLAC, TSV).unwrap().render("…").unwrap();
    assert!(
        (60..250).contains(&sound.length_ms()),
        "{}",
        sound.length_ms()
    );
    let peak = sound.samples.iter().map(|s| s.unsigned_abs()).max();
    assert!(
        peak.is_some_and(|p| (3_000..6_000).contains(&p)),
        "{peak:?}"
    );
}

#[test]
fn a_slower_voice_takes_longer() {
    let mut bank = Bank::load(FLAC, TSV).unwrap();
    let mut length = |percent: u32| {
        bank.set_pace(percent);
        bank.render("three exhaust left, point one five")
            .unwrap()
            .length_ms()
    };
    let (usual, slow) = (length(100), length(65));
    assert!(
        (usual * 14..usual * 16).contains(&(slow * 10)),
        "{usual} and {slow} ms"
    );
}

#[test]
fn missing_words_are_named_once_and_in_order() {
    let mut bank = small();
    assert_eq!(
        bank.missing("Flux three twenty-one, flux 0.15 won't."),
        ["flux", "twenty", "one", "0.15", "won't"]
    );
    let error = bank.render("three flux wobble").unwrap_err();
    assert_eq!(
        error.to_string(),
        "the voice has no sound for: flux, wobble"
    );
    assert!(bank.has("No Gap") && !bank.has("flux"));
}

#[test]
fn a_bad_table_names_its_line() {
    let sound = || Sound {
        rate_hz: 1000,
        samples: vec![0; 20],
    };
    for (tsv, what) in [
        (
            "one\t0\t5\none\t5\t5\n",
            "line 2: `one` stands in the table twice",
        ),
        ("one\t0\n", "line 1: 2 columns instead of 3"),
        ("one\tx\t5\n", "line 1: `x` is not a number"),
        (
            "one\t18\t5\n",
            "line 1: 5 samples from 18 do not lie inside the sound of 20",
        ),
        ("one\t0\t0\n", "line 1: 0 samples from 0 do not"),
        ("one\t18446744073709551615\t2\n", "do not lie inside"),
        ("One\t0\t5\n", "`One` is not lower-case words"),
        ("no  gap\t0\t5\n", "`no  gap` is not lower-case words"),
    ] {
        let error = Bank::from_sound(sound(), tsv).unwrap_err().to_string();
        assert!(error.contains(what), "{tsv:?}: {error}");
    }
}

#[test]
fn sound_that_is_not_flac_is_refused() {
    for bytes in [
        &b""[..],
        b"RIFF....WAVE",
        &FLAC[..60],
        &FLAC[..FLAC.len() / 2],
    ] {
        assert!(Bank::load(bytes, TSV).is_err(), "{} bytes", bytes.len());
    }
}

#[test]
fn the_shipped_bank_is_sound_throughout() {
    let bank = Bank::load(FLAC, TSV).unwrap();
    assert_eq!(bank.rate_hz(), 24_000);
    assert!(FLAC.len() <= 3_500_000);
    for (words, range) in &bank.entries {
        let ms = range.len() * 1000 / 24_000;
        assert!((120..=1600).contains(&ms), "{words}: {ms} ms");
        let samples = &bank.sound.samples[range.clone()];
        let peak = samples.iter().map(|s| s.unsigned_abs()).max().unwrap();
        assert!((3000..32_000).contains(&peak), "{words}: peak {peak}");
        let ends = [samples[0], samples[samples.len() - 1]];
        assert!(
            ends.iter().all(|s| s.unsigned_abs() < 200),
            "{words}: ends at {ends:?}"
        );
    }
}

#[test]
fn the_shipped_bank_speaks_sentences_of_the_bench() {
    let mut bank = Bank::load(FLAC, TSV).unwrap();
    let texts = [
        "Three, exhaust left, zero point one five goes, zero point one eight does not.",
        "One, inlet right, no gap, below zero point zero three.",
        "Caution. Zero point four five millimetres is out of range. Say affirm or negative.",
        "Head bolt seven, stage two, forty newton metres, done.",
        "Correction. Two, inlet, nine thou. The smallest blade is one and a half thou.",
        "Spare shim two point six five, two of, in the box.",
        "Compression, cylinder four, one hundred and eighty five psi, twelve bar.",
        "Leak down, eight per cent. Turns, two, free.",
        "Spring free length, thirty nine point eight millimetres, at thirty one degrees.",
        "This engine has four cylinders and sixteen valves.",
        "Which valve? Which cylinder? Did you mean three exhaust left? Is that correct?",
        "Standing by. Listening. Not stored. Nothing to correct. Nothing open. Say the position.",
        "Installed height, load one hundred and fifteen newtons, in band, on the limit.",
        "Twenty two pins, thirteen, nineteen, seventy, two hundred microns, six inches, ten kilopascals.",
    ];
    for text in texts {
        let sound = bank.render(text).unwrap();
        assert!(
            (500..7_000).contains(&sound.length_ms()),
            "{text}: {} ms",
            sound.length_ms()
        );
    }
}
