//! The real recogniser on the shipped weights.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::path::{Path, PathBuf};

use benchcall::models::{Manifest, verify};
use benchcall::recognise::{Error, MAX_SOUND_MS, Recogniser, Whisper, Window};

const LONG: &str = "note_the_guide_feels_loose_when_the_valve_is_lifted";
const READING: &str = "three_exhaust_left_point_two_five";
const SHORT: &str = "yes";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn model() -> PathBuf {
    let text = std::fs::read_to_string(root().join("models/manifest.toml")).unwrap();
    let manifest = Manifest::parse(&text).unwrap();
    verify(
        &root().join("models"),
        manifest.get("tiny-en-bench").unwrap(),
    )
    .unwrap()
}

fn whisper() -> Whisper {
    Whisper::load(&model(), Window::Fitted, 1).unwrap()
}

fn clip(name: &str) -> Vec<f32> {
    let path = root().join(format!("fixtures/recogniser/{name}.wav"));
    let mut reader = hound::WavReader::open(path).unwrap();
    let samples = reader.samples::<i16>();
    samples.map(|s| f32::from(s.unwrap()) / 32_768.0).collect()
}

/// With flash attention on, words of the utterance before come out again.
#[test]
fn a_short_clip_after_a_long_one_reads_exactly_as_alone() {
    let mut used = whisper();
    for name in [SHORT, READING] {
        let alone = whisper().hear(&clip(name)).unwrap();
        used.hear(&clip(LONG)).unwrap();
        let after = used.hear(&clip(name)).unwrap();
        assert_eq!(after, alone, "{name}");
    }
}

#[test]
fn the_fixtures_are_heard_as_they_were_said() {
    let mut recogniser = whisper();
    for name in [SHORT, READING, LONG] {
        let heard = recogniser.hear(&clip(name)).unwrap();
        assert_eq!(heard.text, name.replace('_', " "), "{heard:?}");
        assert!(!heard.looped, "{heard:?}");
    }
}

#[test]
fn scores_agree_with_the_text_decoded_and_prefer_it() {
    let mut recogniser = whisper();
    let heard = recogniser.hear(&clip(READING)).unwrap();
    let text: f32 = heard.token_logps.iter().sum();
    let phrases = [
        "three exhaust left point two five",
        "three exhaust left point two nine",
        "three exhaust left point two",
        "yes",
        "",
    ];
    let all = recogniser.score(&phrases).unwrap();
    // The text's own probability and the end's.
    assert!(
        all[0] <= text && all[0] > text - 1.0,
        "{} of {text}",
        all[0]
    );
    assert!(
        all[1..].iter().all(|score| *score < all[0] - 1.0),
        "{all:?}"
    );
    assert!(all.iter().all(|score| score.is_finite()), "{all:?}");
    assert!((all[0] - heard.logp).abs() < 1e-3, "{all:?}");
    let again = recogniser.score(&phrases[..1]).unwrap();
    assert_eq!(again, all[..1]);
}

#[test]
fn the_search_finds_the_phrase_and_its_rivals() {
    let english = benchcall::app::assets::english().unwrap();
    let mut recogniser = whisper();
    let none = recogniser.legal(&english, 0.0, 8).unwrap_err();
    assert!(matches!(none, Error::NothingHeard), "{none}");
    let heard = recogniser.hear(&clip(READING)).unwrap();
    let found = recogniser.legal(&english, heard.logp - 9.0, 200).unwrap();
    assert_eq!(found[0].text, heard.text);
    assert!((found[0].logp - heard.logp).abs() < 1e-3, "{found:?}");
    assert!(found.len() > 1, "{found:?}");
    for one in &found {
        assert!(!english.matches(&one.text).is_empty(), "{one:?}");
        let again = recogniser.score(&[&one.text]).unwrap()[0];
        assert!((again - one.logp).abs() < 1e-3, "{one:?}: {again}");
    }
    // Without steps to spend only what was computed already is known.
    recogniser.hear(&clip(LONG)).unwrap();
    let none = recogniser.legal(&english, -20.0, 0).unwrap();
    assert!(none.len() < 3, "{none:?}");
}

#[test]
fn bad_sound_is_refused_and_short_sound_is_not() {
    let mut recogniser = whisper();
    let score = recogniser.score(&["yes"]).unwrap_err();
    assert!(matches!(score, Error::NothingHeard), "{score}");
    assert!(matches!(recogniser.hear(&[]), Err(Error::NoSound)));
    for value in [f32::NAN, f32::INFINITY] {
        let mut sound = vec![0.0; 16_000];
        sound[7] = value;
        let error = recogniser.hear(&sound).unwrap_err().to_string();
        assert!(error.starts_with("sample 7 is "), "{error}");
    }
    let error = recogniser
        .hear(&vec![0.0; 16_000 * 60])
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("60000 ms") && error.contains("at most 29680 ms"),
        "{error}"
    );
    recogniser.hear(&[0.5]).unwrap();
    let longest = vec![0.0; MAX_SOUND_MS as usize * 16];
    recogniser.hear(&longest).unwrap();
    assert!(matches!(
        recogniser.hear_shifted(&[0.5; 160], -10),
        Err(Error::NoSound)
    ));
    recogniser.hear_shifted(&[0.5; 160], i32::MIN).unwrap_err();
    recogniser.hear(&vec![1e30; 16_000]).unwrap();
    let phrase = "three ".repeat(300);
    let error = recogniser.score(&[&phrase]).unwrap_err().to_string();
    assert!(error.contains("300 tokens"), "{error}");
    assert_eq!(recogniser.hear(&clip(SHORT)).unwrap().text, "yes");
}

#[test]
fn a_wrong_file_is_named() {
    let dir = std::env::temp_dir().join(format!("benchcall-ear-{}", std::process::id()));
    std::fs::create_dir_all(&dir).unwrap();
    let whole = std::fs::read(model()).unwrap();
    let mut odd = whole[..48].to_vec();
    odd[4..8].copy_from_slice(&7_i32.to_le_bytes());
    let cases: [(&str, &[u8], &str); 5] = [
        ("empty", b"", "ends before its weights"),
        ("text", &[b'x'; 100], "starts with"),
        ("odd", &odd, "vocabulary is 7, expected 51864"),
        ("head", &whole[..400_000], "ends before its weights"),
        ("half", &whole[..whole.len() / 2], "incomplete or damaged"),
    ];
    for (name, bytes, wanted) in cases {
        let path = dir.join(name);
        std::fs::write(&path, bytes).unwrap();
        let error = match Whisper::load(&path, Window::Fitted, 1) {
            Err(error) => error.to_string(),
            Ok(_) => panic!("{name} was loaded"),
        };
        assert!(error.contains(wanted) && error.contains(name), "{error}");
    }
    let missing = Whisper::load(&dir.join("none"), Window::Fitted, 1)
        .err()
        .unwrap();
    assert!(missing.to_string().contains("none"), "{missing}");
    assert!(matches!(
        Whisper::load(&model(), Window::Fitted, 0),
        Err(Error::NoThreads)
    ));
    std::fs::remove_dir_all(dir).unwrap();
}
