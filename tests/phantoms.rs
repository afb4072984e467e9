//! Phantoms: sound that was spoilt stores nothing that was not said, with a valve open and with a question
//! open. What was said in it, or a question, is right; another reading is not.

use super::support::fixtures;
use benchcall::app::job::Job;
use benchcall::app::{assets, recogniser};
use benchcall::audio::{RATE_HZ, read_clip};
use benchcall::event::{Event, Fact, Outcome};
use benchcall::grammar::Dice;
use benchcall::measure::LengthUnit;
use benchcall::understand::Listener;
use std::collections::BTreeMap;
use std::f32::consts::TAU;

/// How many clips are spoilt and heard, spread over all; each with a valve and with a question open.
const CLIPS: &str = "BENCHCALL_PHANTOMS";
const FEW: usize = 22;

/// The ways to spoil one utterance.
const KINDS: [&str; 11] = [
    "as it is",
    "backwards",
    "twice as fast",
    "clipped by 20 dB",
    "hum",
    "offset",
    "dropouts",
    "lost packets",
    "begun in a word",
    "ended in a word",
    "a second voice",
];

/// What is typed before each clip.
const BEFORE: [(&str, &str); 2] = [
    ("valve open", "two inlet left"),
    ("question open", "two inlet left ninety five"),
];

/// Every utterance of the recorded session, with the silence around it, and what was said.
fn utterances() -> Vec<(Vec<f32>, String)> {
    let sound = read_clip(&fixtures().join("session/session.flac"))
        .unwrap()
        .samples;
    let lines = std::fs::read_to_string(fixtures().join("session/session.tsv")).unwrap();
    let one = |line: &str| {
        let columns: Vec<&str> = line.split('\t').collect();
        let at = |column: &str| column.parse::<usize>().unwrap() * RATE_HZ as usize / 1_000;
        let (start, end) = (at(columns[1]), at(columns[2]));
        let around = RATE_HZ as usize / 5;
        let piece = &sound[start - around..(end + around).min(sound.len())];
        (piece.to_vec(), columns[3].to_owned())
    };
    lines.lines().map(one).collect()
}

/// Spoils an utterance; the samples that were lost on the way, if any were.
fn spoil(kind: &str, sound: &[f32], other: &[f32], dice: &mut Dice) -> (Vec<f32>, bool) {
    let rms = (sound.iter().map(|s| s * s).sum::<f32>() / sound.len() as f32).sqrt();
    let mut out = sound.to_vec();
    let mut lost = false;
    match kind {
        "backwards" => out.reverse(),
        "twice as fast" => out = sound.iter().copied().step_by(2).collect(),
        "clipped by 20 dB" => {
            let peak = sound.iter().fold(0.0_f32, |most, s| most.max(s.abs()));
            for s in &mut out {
                *s = (*s * 10.0).clamp(-peak, peak);
            }
        }
        // The mains' 50 Hz and two of its harmonics, as loud as the voice.
        "hum" => {
            for (n, s) in out.iter_mut().enumerate() {
                let t = n as f32 * TAU / RATE_HZ as f32;
                *s += rms * ((50.0 * t).sin() + 0.5 * (150.0 * t).sin() + 0.3 * (250.0 * t).sin());
            }
        }
        "offset" => out.iter_mut().for_each(|s| *s += 0.2),
        // 20 ms of every 200 are silent.
        "dropouts" => {
            let (gap, period) = (RATE_HZ as usize / 50, RATE_HZ as usize / 5);
            let from = dice.below(period);
            for start in (from..out.len()).step_by(period) {
                let end = (start + gap).min(out.len());
                out[start..end].fill(0.0);
            }
        }
        // Three of 100 ms are silent, and counted as the phone's page counts them.
        "lost packets" => {
            let packet = RATE_HZ as usize / 10;
            for _ in 0..3 {
                let start = dice.below(out.len() - packet);
                out[start..start + packet].fill(0.0);
            }
            lost = true;
        }
        "begun in a word" => {
            // In the first one: what is left after a whole word is another sentence.
            let start = RATE_HZ as usize / 5 + 1_600 + dice.below(1_600);
            out.drain(..start);
        }
        // Anywhere: a recording that was cut, a phone that went away. No silence follows.
        "ended in a word" => {
            let least = RATE_HZ as usize / 2;
            out.truncate(least + dice.below(sound.len() - RATE_HZ as usize / 5 - least));
        }
        // 10 dB below.
        "a second voice" => {
            for (s, o) in out.iter_mut().zip(other) {
                *s += o * 0.316;
            }
        }
        _ => assert_eq!(kind, "as it is"),
    }
    out.iter_mut().for_each(|s| *s = s.clamp(-1.0, 1.0));
    (out, lost)
}

/// Readings, spares, checks and what they take back: a note or a task says only what was heard.
fn work(events: &[Event]) -> Vec<Fact> {
    let facts = events.iter().flat_map(|e| &e.facts);
    let is_work = |f: &&Fact| {
        matches!(f, Fact::Cancelled(_))
            || f.is_entry() && !matches!(f, Fact::Note { .. } | Fact::Task { .. })
    };
    facts.filter(is_work).cloned().collect()
}

#[derive(Default)]
struct Count {
    clips: usize,
    right: usize,
    asked: usize,
    nothing: usize,
    wrong: Vec<String>,
}

fn heard(clips: usize) -> BTreeMap<(&'static str, &'static str), Count> {
    let english = assets::english().unwrap();
    let mut listener = Listener::new(recogniser::load("en", None).unwrap());
    let utterances = utterances();
    let all = utterances.len() * KINDS.len();
    let mut counts: BTreeMap<_, Count> = BTreeMap::new();
    let mut dice = Dice::new(27);
    let silence = vec![0.0; RATE_HZ as usize / 2];
    for n in 0..clips.min(all) {
        // A stride that meets every kind and every utterance.
        let at = n * all / clips.min(all);
        let (kind, line) = (KINDS[at % KINDS.len()], at / KINDS.len());
        let (sound, text) = &utterances[line];
        let (other, _) = &utterances[(line + 7) % utterances.len()];
        let (spoilt, lost) = spoil(kind, sound, other, &mut dice);
        let after = &silence[usize::from(kind == "ended in a word") * silence.len()..];
        let stream = [&silence[..], &spoilt, after].concat();
        for (state, before) in BEFORE {
            let job = || {
                let mut job =
                    Job::unkept(english.clone(), "triple", LengthUnit::Millimetre).unwrap();
                job.say(before).unwrap();
                job
            };
            let mut said = job();
            let typed = said.typed(text);
            let said = work(&said.take_breath(typed, None).unwrap());
            let mut job = job();
            if lost {
                listener.lost(3);
            }
            let heard = listener.play(&stream, &mut job).unwrap();
            let events: Vec<Event> = heard.into_iter().map(|h| h.event).collect();
            let done = work(&events);
            let count = counts.entry((kind, state)).or_default();
            count.clips += 1;
            if let Some(fact) = done.iter().find(|f| !said.contains(f)) {
                let heard: Vec<&str> = events.iter().map(|e| e.said.as_str()).collect();
                let wrong = format!("{kind}, {state}: \"{text}\" heard as {heard:?}: {fact:?}");
                println!("{wrong}");
                count.wrong.push(wrong);
            } else if !done.is_empty() {
                count.right += 1;
            } else if events.iter().any(|e| e.outcome == Outcome::Asked) {
                count.asked += 1;
            } else {
                count.nothing += 1;
            }
        }
    }
    counts
}

#[test]
fn nothing_that_was_not_said_is_stored() {
    let clips = std::env::var(CLIPS).map_or(FEW, |clips| clips.parse().unwrap());
    let counts = heard(clips);
    println!(
        "{:<18} {:<14} {:>6} {:>6} {:>6} {:>8} {:>6}",
        "", "", "clips", "right", "asked", "nothing", "wrong"
    );
    let mut wrong = Vec::new();
    for ((kind, state), c) in &counts {
        println!(
            "{kind:<18} {state:<14} {:>6} {:>6} {:>6} {:>8} {:>6}",
            c.clips,
            c.right,
            c.asked,
            c.nothing,
            c.wrong.len()
        );
        wrong.extend(c.wrong.clone());
    }
    let right: usize = counts.values().map(|c| c.right).sum();
    assert!(right > 0, "nothing at all was understood");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
