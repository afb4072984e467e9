//! What is fuzzed: each takes any bytes, and may refuse them but never panic.

use benchcall::app::assets::english;
use benchcall::app::job::Job;
use benchcall::audio::{decode, encode_wav};
use benchcall::engine::Profile;
use benchcall::grammar::Grammar;
use benchcall::measure::LengthUnit;
use benchcall::record::JobView;
use benchcall::session::{Hearing, Interpretations, Interpreter, State, step};
use benchcall::store;
use std::cell::OnceCell;

/// One thing that is fuzzed.
pub(super) struct Target {
    /// Its name, and that of its folder of kept inputs.
    pub name: &'static str,
    /// What it does with an input.
    pub run: fn(&[u8]),
    /// Words of its language, to be put into inputs.
    pub words: &'static [&'static str],
}

/// All of them.
pub(super) const TARGETS: [Target; 8] = [
    Target {
        name: "spoken",
        run: spoken,
        words: &[
            " one ",
            " exhaust ",
            " left ",
            " fifteen goes ",
            " wont ",
            " point ",
            " correction ",
            " affirm ",
            " disregard ",
            " note ",
            " shim ",
            " two sixty five ",
            " no gap ",
            " next ",
            " same again ",
            "\n",
            " torque ",
            " compression ",
            " spare ",
            " listen ",
            " 0,15 ",
            " -1 ",
            " 99999999999999999999 ",
        ],
    },
    Target {
        name: "grammar",
        run: grammar,
        words: &[
            "[[phrase]]\n",
            "pattern = \"",
            "means = \"",
            "<",
            ">",
            "[",
            "]",
            "(",
            ")",
            "|",
            "\"",
            "= {",
            "\n",
            "<position>",
            "<number>",
            "...",
            "alike",
            "\u{0}",
            "\u{1F527}",
        ],
    },
    Target {
        name: "engine",
        run: engine,
        words: &[
            "[",
            "]",
            "=",
            "\n",
            "-1",
            "0",
            "999999999999",
            "1e308",
            "nan",
            "\"\"",
            "mm",
            "[shims]\n",
            "0.0000001",
            "firing_order",
            "[[",
            "720",
            "255",
            "256",
        ],
    },
    Target {
        name: "sound",
        run: sound,
        words: &[
            "RIFF",
            "WAVE",
            "fmt ",
            "data",
            "fLaC",
            "OggS",
            "ID3",
            "\u{7f}\u{7f}\u{7f}\u{7f}",
        ],
    },
    Target {
        name: "wav",
        run: wav,
        words: &[
            "RIFF",
            "WAVE",
            "fmt ",
            "data",
            "LIST",
            "fact",
            "\u{0}\u{0}\u{0}\u{0}",
            "\u{10}\u{0}\u{0}\u{0}\u{1}\u{0}",
            "\u{7f}\u{7f}\u{7f}\u{7f}",
        ],
    },
    Target {
        name: "event",
        run: event,
        words: &[
            "{",
            "}",
            "[",
            "]",
            "null",
            "-1",
            "1e400",
            "\"v\":4",
            "\"forgot\"",
            "\"reviewed\"",
            "\"asked\"",
            "\"read\"",
            "18446744073709551616",
            "\\u0000",
            ",",
        ],
    },
    Target {
        name: "report",
        run: report,
        words: &[
            "{",
            "}",
            "[",
            "]",
            "null",
            "\"report\":1",
            "\"events\"",
            "\"sounds\"",
            "=",
            "AAAA",
            "-1",
        ],
    },
    Target {
        name: "frame",
        run: frame,
        words: &["\u{0}\u{0}\u{0}\u{0}", "\u{7f}", "{\"rate_hz\":16000}"],
    },
];

/// Lines of talk, one utterance each, through a whole conversation. What it says goes through the
/// codec, and its state is the fold of its events.
fn spoken(bytes: &[u8]) {
    thread_local!(static JOB: OnceCell<Job> = const { OnceCell::new() });
    let text = String::from_utf8_lossy(bytes);
    JOB.with(|job| {
        let job = job.get_or_init(|| {
            Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap()
        });
        let mut state = job.state.clone();
        for line in text.lines().take(12) {
            let line: String = line.chars().take(200).collect();
            let known = Interpretations::default();
            let meant = Interpreter::new(&job.setup, &state, &known).of(&line);
            let event = step(&job.setup, &state, Hearing::typed(line, meant, 0));
            store::encode(&event).unwrap();
            state.apply(&event);
        }
        let folded = State::fold(&job.setup, state.events());
        assert_eq!(
            (folded.open, &folded.question),
            (state.open, &state.question)
        );
        assert_eq!(folded.view.sheet(), state.view.sheet());
    });
}

/// The phrases of a grammar beside the shipped rest of it.
fn grammar(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let files = [
        (
            "numbers.toml",
            include_str!("../../grammars/en/numbers.toml"),
        ),
        (
            "positions.toml",
            include_str!("../../grammars/en/positions.toml"),
        ),
        (
            "readback.toml",
            include_str!("../../grammars/en/readback.toml"),
        ),
        ("fuzz.toml", &text),
    ];
    if let Ok(grammar) = Grammar::from_files(&files) {
        let _ = grammar.matches("three exhaust left fifteen goes eighteen wont");
        let _ = grammar.cheat_sheet();
    }
}

/// The profile of an engine, and an empty job on it.
fn engine(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    match Profile::parse(&text, "fuzz.toml") {
        Ok(profile) => {
            let _ = JobView::new(&profile, &profile.blades).sheet();
        }
        Err(error) => assert!(error.to_string().starts_with("fuzz.toml"), "{error}"),
    }
}

/// A sound file.
fn sound(bytes: &[u8]) {
    if let Ok(clip) = decode(bytes, "fuzz") {
        assert!(clip.samples.iter().all(|sample| sample.is_finite()));
    }
}

/// A WAV file: what is read can be written, and is then the same.
fn wav(bytes: &[u8]) {
    if bytes.starts_with(b"RIFF")
        && let Ok(clip) = decode(bytes, "fuzz")
    {
        let again = decode(&encode_wav(&clip).unwrap(), "again").unwrap();
        assert_eq!(again.to_i16(), clip.to_i16());
    }
}

/// A stored event: what is read can be written, and is then the same.
fn event(bytes: &[u8]) {
    if let Ok(event) = store::decode(&String::from_utf8_lossy(bytes))
        && event.confidence.is_finite()
    {
        let body = store::encode(&event).unwrap();
        assert_eq!(store::decode(&body).unwrap(), event);
    }
}

/// The JSON of a report, as it is brought back.
fn report(bytes: &[u8]) {
    if let Ok(imported) = benchcall::report::read(&String::from_utf8_lossy(bytes)) {
        for body in imported.events {
            let _ = store::decode(&body.to_string());
        }
    }
}

/// A frame of sound from a phone.
fn frame(bytes: &[u8]) {
    if let Some((_, samples)) = benchcall::web::frame(bytes) {
        assert!(samples.len() * 2 + 4 == bytes.len());
    }
}
