//! What a score shows as pictures: is the confidence a probability, what does rejecting cost, and
//! how long to wait for the end of speech.

use super::class::Class;
use super::plot::{Series, chart};
use super::score::Trial;

/// The pictures that the trials allow: file name and SVG.
#[must_use]
pub fn pictures(trials: &[Trial]) -> Vec<(&'static str, String)> {
    vec![
        ("reliability.svg", reliability(trials)),
        ("rejection.svg", rejection(trials)),
        ("end-of-speech.svg", end_of_speech(trials)),
    ]
}

/// Confidence of the first utterance of each clip with words, and whether it was right.
fn judged(trials: &[Trial]) -> Vec<(f64, bool)> {
    let all = trials.iter().filter(|t| !t.text.is_empty());
    all.filter_map(|t| Some((f64::from(*t.confidence.first()?), t.right?)))
        .collect()
}

/// Ten bins of equal width: mean confidence against the share that was right.
fn reliability(trials: &[Trial]) -> String {
    let all = judged(trials);
    let bin = |c: f64| ((c * 10.0).floor() as usize).min(9);
    let points = (0..10)
        .filter_map(|i| {
            let here: Vec<&(f64, bool)> = all.iter().filter(|(c, _)| bin(*c) == i).collect();
            // Fewer say nothing.
            (here.len() >= 5).then(|| {
                let n = here.len() as f64;
                let mean = here.iter().map(|(c, _)| c).sum::<f64>() / n;
                let right = here.iter().filter(|(_, r)| *r).count() as f64 / n;
                (mean, right)
            })
        })
        .collect();
    let even = Series {
        name: "if perfect".to_owned(),
        points: vec![(0.0, 0.0), (1.0, 1.0)],
        marks_only: false,
    };
    let here = Series {
        name: format!("{} phrases", all.len()),
        points,
        marks_only: false,
    };
    chart(
        "Is the confidence a probability?",
        ("confidence", 1.0),
        ("share with the right meaning", 1.0),
        &[here, even],
    )
}

/// What is right above a least confidence, against what is heard in other talk and noise above it.
fn rejection(trials: &[Trial]) -> String {
    let all = judged(trials);
    let other: Vec<f64> = trials
        .iter()
        .filter(|t| t.text.is_empty())
        .flat_map(|t| t.confidence.iter().map(|c| f64::from(*c)))
        .collect();
    let clips = trials.iter().filter(|t| t.text.is_empty()).count().max(1) as f64;
    let levels = [
        0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98,
    ];
    let point = |least: &f64| {
        let right = all.iter().filter(|(c, r)| *r && c >= least).count() as f64;
        let false_ones = other.iter().filter(|c| *c >= least).count() as f64;
        (
            100.0 * false_ones / clips,
            100.0 * right / all.len().max(1) as f64,
        )
    };
    let points: Vec<(f64, f64)> = levels.iter().map(point).collect();
    let most = points.iter().map(|p| p.0).fold(0.1, f64::max);
    chart(
        "What rejecting costs (confidence from 0.05 to 0.98)",
        ("phrases heard in 100 clips of other talk and noise", most),
        ("% of phrases kept and right", 100.0),
        &[Series {
            name: format!("{} / {clips:.0} clips", all.len()),
            points,
            marks_only: false,
        }],
    )
}

/// Fixed silences against the grammar's: how often speech is cut, how long the wait is.
fn end_of_speech(trials: &[Trial]) -> String {
    let spoken: Vec<&Trial> = trials.iter().filter(|t| !t.text.is_empty()).collect();
    let count = spoken.len().max(1) as f64;
    let mut waits: Vec<u64> = spoken.iter().flat_map(|t| waits_ms(t)).collect();
    waits.sort_unstable();
    let mut computes: Vec<u64> = spoken
        .iter()
        .flat_map(|t| t.timing.iter().map(|t| t.compute_ms))
        .collect();
    let compute_ms = super::statistics::percentile(&mut computes, 50) as f64;
    let fixed: Vec<(f64, f64)> = (2..=10)
        .map(|tenths| {
            let silence_ms = tenths * 100;
            let cut = spoken.iter().filter(|t| t.pause_ms >= silence_ms).count() as f64;
            (f64::from(silence_ms) + compute_ms, 100.0 * cut / count)
        })
        .collect();
    let cut = spoken.iter().filter(|t| t.is_cut()).count() as f64;
    let own = |percent| {
        let wait = super::statistics::percentile(&mut waits.clone(), percent) as f64;
        (wait, 100.0 * cut / count)
    };
    let most = fixed.iter().map(|p| p.1).fold(1.0, f64::max);
    chart(
        "End of speech: waiting against cutting",
        ("milliseconds from end of speech to stored", 1_200.0),
        ("% of phrases cut off", most),
        &[
            Series {
                name: "fixed, 200–1000 ms".to_owned(),
                points: fixed,
                marks_only: false,
            },
            Series {
                name: "grammar, p50 p95".to_owned(),
                points: vec![own(50), own(95)],
                marks_only: false,
            },
        ],
    )
}

/// End of speech to done of what was stored, in milliseconds.
fn waits_ms(trial: &Trial) -> Vec<u64> {
    let stored = matches!(trial.class, Class::Exact);
    let all = trial.timing.iter().filter(|_| stored);
    all.map(|t| t.done_ms.saturating_sub(t.speech_end_ms))
        .collect()
}
