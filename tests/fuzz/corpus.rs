//! What fuzzing begins from: the shipped files, a few inputs by hand, and what earlier runs kept.

use super::targets::Target;
use benchcall::audio::{Clip, encode_wav};
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The folder of a target's kept inputs.
pub(super) fn kept(target: &Target) -> PathBuf {
    root().join("fixtures/fuzz").join(target.name)
}

/// Good inputs of a target, and those that once were bad.
pub(super) fn corpus(target: &Target) -> Vec<Vec<u8>> {
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
            "fixtures/recogniser/yes.wav",
        ],
        "spoken" => &["fixtures/session/script.tsv"],
        _ => &[],
    };
    let mut all: Vec<Vec<u8>> = files
        .iter()
        .map(|file| std::fs::read(root().join(file)).unwrap())
        .collect();
    if target.name == "sound" {
        all.iter_mut().for_each(|sound| sound.truncate(20_000));
    }
    if let Ok(kept) = std::fs::read_dir(kept(target)) {
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
        "wav" => all.push(encode_wav(&Clip::new(vec![0.1; 50])).unwrap()),
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
