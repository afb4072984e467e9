//! Fuzzing without a fuzzer: inputs from the shipped files, changed at random, on any toolchain.
//!
//! It does not see which code an input reaches, as libFuzzer does; so it begins from good inputs and
//! knows the words of each language. A few seconds for each target in every test run;
//! `BENCHCALL_FUZZ_SECONDS` for longer. An input that made a target panic or take long is written
//! beside the others and named: put into `fixtures/fuzz/<target>/` it is tried first ever after.

mod targets;

use std::panic::catch_unwind;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use targets::{TARGETS, Target};

/// Seconds for each target.
const SECONDS: u64 = 5;
/// An input may not take longer than this; the machine may be busy.
const LONGEST: Duration = Duration::from_secs(10);
/// Inputs do not grow beyond this.
const MOST_BYTES: usize = 60_000;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Good inputs of a target, and those that once were bad.
fn corpus(target: &Target) -> Vec<Vec<u8>> {
    let files: &[&str] = match target.name {
        "grammar" => &[
            "grammars/en/phrases.toml",
            "grammars/en/job.toml",
            "grammars/en/inspect.toml",
        ],
        "engine" => &[
            "grammars/engines/triple.toml",
            "grammars/engines/six.toml",
            "grammars/engines/twin270.toml",
        ],
        "sound" => &[
            "fixtures/audio/tone.flac",
            "fixtures/audio/tone.mp3",
            "fixtures/audio/tone.ogg",
            "fixtures/ear/yes.wav",
        ],
        "spoken" => &["fixtures/session/script.tsv"],
        _ => &[],
    };
    let mut all: Vec<Vec<u8>> = files
        .iter()
        .map(|file| std::fs::read(root().join(file)).unwrap())
        .collect();
    if let Ok(kept) = std::fs::read_dir(root().join("fixtures/fuzz").join(target.name)) {
        all.extend(kept.map(|file| std::fs::read(file.unwrap().path()).unwrap()));
    }
    let text = |all: &mut Vec<Vec<u8>>, texts: &[&str]| {
        all.extend(texts.iter().map(|text| text.as_bytes().to_vec()));
    };
    match target.name {
        "spoken" => text(
            &mut all,
            &[
                "three exhaust left fifteen goes eighteen wont\ncorrection eighteen goes\naffirm\ndisregard",
                "one inlet\nright\nno gap\nnext\nnote the guide feels loose\nstand by\nlisten",
                "all exhaust twenty\naffirm\nspare shim two sixty five\nshim two seventy\nsame again two inlet left",
                "head bolt seven stage two done\ncompression two twelve point five\ntorque ten\nwhere am i",
            ],
        ),
        "event" | "report" => {
            let bodies = bodies();
            if target.name == "report" {
                let events = bodies.join(",");
                let whole =
                    format!(r#"{{"report":1,"events":[{events}],"sounds":{{"ab":"AAAA"}}}}"#);
                all.push(whole.into_bytes());
            } else {
                all.extend(bodies.into_iter().map(String::into_bytes));
            }
        }
        "frame" => all.push([&[1, 0, 0, 0][..], &[0x10; 640]].concat()),
        "sound" => all.iter_mut().for_each(|sound| sound.truncate(20_000)),
        _ => {}
    }
    all
}

/// Events of a short job, as they are stored.
fn bodies() -> Vec<String> {
    use benchcall::app::{assets::english, job::Job};
    let unit = benchcall::measure::LengthUnit::Millimetre;
    let mut job = Job::unkept(english().unwrap(), "triple", unit).unwrap();
    for text in [
        "three exhaust left fifteen goes eighteen wont",
        "one inlet",
        "twenty",
        "note pitted",
        "spare shim two sixty five",
        "disregard",
    ] {
        job.say(text).unwrap();
    }
    let events = job.state.events()[1..].iter();
    events
        .map(|e| benchcall::store::encode(e).unwrap())
        .collect()
}

/// Knuth's MMIX generator.
struct Dice(u64);

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
fn changed(corpus: &[Vec<u8>], target: &Target, dice: &mut Dice) -> Vec<u8> {
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

/// Runs one input; where it goes wrong, says where it was written.
fn survives(target: &Target, input: &[u8]) {
    let begun = Instant::now();
    let result = catch_unwind(|| (target.run)(input));
    let took = begun.elapsed();
    if result.is_err() || took > LONGEST {
        let name = benchcall::store::sha256_hex(input);
        let file = format!("fuzz-{}-{}", target.name, &name[..16]);
        let file = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(file);
        std::fs::write(&file, input).unwrap();
        panic!("{}: {} ({took:?})", target.name, file.display());
    }
}

fn fuzz(name: &str) {
    let target = TARGETS.iter().find(|t| t.name == name).unwrap();
    let seconds = std::env::var("BENCHCALL_FUZZ_SECONDS").map_or(SECONDS, |s| s.parse().unwrap());
    let corpus = corpus(target);
    corpus.iter().for_each(|input| survives(target, input));
    let seed = u64::from(
        std::time::SystemTime::UNIX_EPOCH
            .elapsed()
            .unwrap()
            .subsec_nanos(),
    );
    let (begun, mut dice, mut inputs) = (Instant::now(), Dice(seed), 0_u64);
    while begun.elapsed() < Duration::from_secs(seconds) {
        survives(target, &changed(&corpus, target, &mut dice));
        inputs += 1;
    }
    println!("{name}: {inputs} inputs in {seconds} s (seed {seed})");
    assert!(inputs > 20, "{name}: only {inputs} inputs");
}

#[test]
fn talk() {
    fuzz("spoken");
}

#[test]
fn grammars() {
    fuzz("grammar");
}

#[test]
fn engines() {
    fuzz("engine");
}

#[test]
fn sounds() {
    fuzz("sound");
}

#[test]
fn events() {
    fuzz("event");
}

#[test]
fn reports() {
    fuzz("report");
}

#[test]
fn frames() {
    fuzz("frame");
}
