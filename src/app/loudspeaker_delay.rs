//! How far a loudspeaker is behind: a chirp is played, and looked for in what the microphone brings.

use crate::audio::{Found, RATE_HZ, chirp, find_chirp, to_integers};
use crate::device::{Microphone, Speaker};
use anyhow::{Result, anyhow};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// The microphone is heard for so long before: it has settled, and what had gathered is gone.
const BEFORE: Duration = Duration::from_millis(400);
/// The same after the chirp was handed over: no loudspeaker is further behind than that.
const AFTER: Duration = Duration::from_millis(1_500);

/// What was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Delay {
    /// So much later than the loudspeaker says that it has sounded, its sound has arrived, in
    /// milliseconds.
    pub(crate) behind_ms: u32,
    /// How many times better the chirp fits there than anywhere else.
    pub(crate) certainty: f64,
}

impl Delay {
    /// What is told of it; `None` is a chirp that was not heard.
    pub(crate) fn in_words(found: Option<Self>) -> String {
        match found {
            Some(Self {
                behind_ms,
                certainty,
            }) => format!(
                "The loudspeaker is {behind_ms} ms behind (the chirp stood out {certainty:.0} times). The bench \
                 stays deaf that much longer after it has spoken."
            ),
            None => "The chirp was not heard: turn the loudspeaker up, or bring the microphone nearer. Nothing \
                     was changed."
                .to_owned(),
        }
    }
}

/// Sound, and when so much of it had come.
#[derive(Default)]
struct Heard {
    samples: Vec<f32>,
    /// Samples in all, and when the last of them came.
    came: Vec<(usize, Instant)>,
}

impl Heard {
    /// When that sample came.
    fn came(&self, sample: usize) -> Option<Instant> {
        let (all, at) = self.came.iter().find(|(all, _)| *all > sample)?;
        let since = Duration::from_secs_f64((all - sample) as f64 / f64::from(RATE_HZ));
        at.checked_sub(since)
    }
}

/// Plays the chirp and measures; `None` if it is not heard.
///
/// # Errors
/// The microphone's and the loudspeaker's.
pub(crate) fn measure(
    microphone: &mut dyn Microphone,
    speaker: &mut dyn Speaker,
) -> Result<Option<Delay>> {
    microphone.read(&mut Vec::new())?; // what had gathered
    let over = AtomicBool::new(false);
    let (heard, played) = std::thread::scope(|threads| {
        let recording = threads.spawn(|| hear(microphone, &over));
        std::thread::sleep(BEFORE);
        let played = speaker.play(RATE_HZ, &to_integers(&chirp()), &AtomicBool::new(false));
        let ended = Instant::now();
        std::thread::sleep(AFTER);
        over.store(true, Ordering::Relaxed);
        (recording.join(), played.map(|_| ended))
    });
    let heard = heard.map_err(|_| anyhow!("the microphone's thread broke"))??;
    Ok(delay(&heard, played?))
}

fn hear(microphone: &mut dyn Microphone, over: &AtomicBool) -> Result<Heard> {
    let mut heard = Heard::default();
    while !over.load(Ordering::Relaxed) {
        let read = microphone.read(&mut heard.samples)?;
        if read.samples > 0 {
            heard.came.push((heard.samples.len(), Instant::now()));
        }
        if read.ended {
            break;
        }
    }
    Ok(heard)
}

/// How much later than `ended` the end of the chirp came.
fn delay(heard: &Heard, ended: Instant) -> Option<Delay> {
    let Found { at, certainty } = find_chirp(&heard.samples)?;
    let came = heard.came(at + chirp().len() - 1)?;
    let behind_ms = came.saturating_duration_since(ended).as_millis();
    Some(Delay {
        behind_ms: u32::try_from(behind_ms).unwrap_or(u32::MAX),
        certainty,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::audio::samples_in;

    #[test]
    fn the_delay_is_from_the_end_of_playing_to_the_end_of_the_chirp() {
        let ended = Instant::now();
        for behind_ms in [0, 240, 800] {
            let mut samples = vec![0.0; samples_in(2_000)];
            samples[samples_in(behind_ms)..][..chirp().len()].copy_from_slice(&chirp());
            // Sound comes in pieces of 100 ms; the chirp was played to its end after 300.
            let begun = ended.checked_sub(Duration::from_millis(300)).unwrap();
            let came = (1..=20)
                .map(|i| {
                    (
                        samples_in(i * 100),
                        begun + Duration::from_millis(u64::from(i) * 100),
                    )
                })
                .collect();
            let found = delay(&Heard { samples, came }, ended).unwrap();
            assert!(found.behind_ms.abs_diff(behind_ms) <= 1, "{found:?}");
            assert!(found.certainty > 2.0);
        }
        assert_eq!(delay(&Heard::default(), ended), None);
    }

    #[test]
    fn it_is_told_in_words() {
        let found = Delay {
            behind_ms: 240,
            certainty: 9.4,
        };
        let says = Delay::in_words(Some(found));
        assert!(
            says.starts_with("The loudspeaker is 240 ms behind"),
            "{says}"
        );
        assert!(Delay::in_words(None).contains("Nothing was changed"));
    }
}
