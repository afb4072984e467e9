//! A loudspeaker of this computer: one mono sound at a time.

use super::super::{Error, Played, Speaker};
use super::{Fault, LOUDSPEAKER, find, named, with_sample_type};
use crate::audio::{resample, to_floats};
use cpal::traits::{DeviceTrait, StreamTrait};
use cpal::{Device, FromSample, SizedSample, Stream, StreamConfig};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// How often a playing sound is looked at.
const STEP: Duration = Duration::from_millis(10);
/// A loudspeaker that asks for no samples for this long has failed.
const STALLED: Duration = Duration::from_secs(5);

/// How often a sound is begun anew when the driver fails right at its start:
/// ALSA's PulseAudio plugin now and then answers a new stream with an I/O error.
const TRIES: u32 = 4;
/// What counts as right at the start.
const EARLY: Duration = Duration::from_millis(500);

/// What the driver's thread tells the player.
#[derive(Default)]
struct Shared {
    /// Samples handed to the driver.
    given: AtomicUsize,
    /// From handing over to sounding, in microseconds.
    delay_us: AtomicU64,
    fault: Fault,
}

/// A loudspeaker, looked up afresh for every sound.
pub struct HardwareSpeaker {
    wanted: Option<String>,
}

impl HardwareSpeaker {
    /// The loudspeaker of that name (or a part of it that fits only one), or the
    /// default one.
    ///
    /// # Errors
    /// [`Error::NoDevice`] or [`Error::SeveralDevices`], so that a wrong name is
    /// told at once and not at the first sound.
    pub fn open(name: Option<&str>) -> Result<Self, Error> {
        find(LOUDSPEAKER, name)?;
        Ok(Self {
            wanted: name.map(str::to_owned),
        })
    }
}

impl Speaker for HardwareSpeaker {
    fn play(&mut self, rate_hz: u32, samples: &[i16], stop: &AtomicBool) -> Result<Played, Error> {
        if samples.is_empty() || rate_hz == 0 {
            return Ok(Played::Whole);
        }
        let mut tries = 0;
        loop {
            let began = Instant::now();
            tries += 1;
            match play_once(self.wanted.as_deref(), rate_hz, samples, stop) {
                Err(Error::Driver { .. }) if tries < TRIES && began.elapsed() < EARLY => {
                    std::thread::sleep(10 * STEP);
                }
                done => return done,
            }
        }
    }
}

fn play_once(
    wanted: Option<&str>,
    rate_hz: u32,
    samples: &[i16],
    stop: &AtomicBool,
) -> Result<Played, Error> {
    let (device, name) = find(LOUDSPEAKER, wanted)?;
    let fail = |e: &cpal::Error| named(e, LOUDSPEAKER, &name);
    let offered = device.default_output_config().map_err(|e| fail(&e))?;
    let sound = resample(&to_floats(samples), rate_hz, offered.sample_rate(), 1);
    let sound = sound.map_err(|e| Error::Format {
        what: LOUDSPEAKER,
        name: name.clone(),
        detail: e.to_string(),
    })?;
    let length = sound.len();
    let shared = Arc::new(Shared::default());
    let format = offered.sample_format();
    let stream = with_sample_type!(
        format,
        build(&device, offered.config(), sound, Arc::clone(&shared)),
        return Err(Error::Format {
            what: LOUDSPEAKER,
            name,
            detail: format!("{format} samples")
        })
    )
    .map_err(|e| fail(&e))?;
    stream.play().map_err(|e| fail(&e))?;
    let played = wait(&shared, length, stop, &name);
    if played.is_err() {
        // A driver may never let go of a device whose sound server died: that is not waited for.
        std::thread::spawn(move || drop(stream));
    }
    played
}

/// Waits until `length` samples have been handed over and have sounded.
fn wait(shared: &Shared, length: usize, stop: &AtomicBool, name: &str) -> Result<Played, Error> {
    let (mut seen, mut moved) = (0, Instant::now());
    let mut sounded_at: Option<Instant> = None;
    loop {
        if stop.load(Ordering::Relaxed) {
            return Ok(Played::Stopped);
        }
        shared.fault.check(LOUDSPEAKER, name)?;
        let given = shared.given.load(Ordering::Acquire);
        if given > seen {
            (seen, moved) = (given, Instant::now());
        }
        if given >= length {
            let delay = Duration::from_micros(shared.delay_us.load(Ordering::Relaxed));
            let due = *sounded_at.get_or_insert_with(|| Instant::now() + delay);
            if Instant::now() >= due {
                return Ok(Played::Whole);
            }
        } else if moved.elapsed() > STALLED {
            let detail = format!("it took no sound for {} s", STALLED.as_secs());
            return Err(Error::Driver {
                what: LOUDSPEAKER,
                name: name.into(),
                detail,
            });
        }
        std::thread::sleep(STEP);
    }
}

fn build<T>(
    device: &Device,
    config: StreamConfig,
    sound: Vec<f32>,
    shared: Arc<Shared>,
) -> Result<Stream, cpal::Error>
where
    T: SizedSample + FromSample<f32>,
{
    let channels = usize::from(config.channels).max(1);
    let told = Arc::clone(&shared);
    let mut at = 0;
    device.build_output_stream(
        config,
        move |data: &mut [T], info: &cpal::OutputCallbackInfo| {
            let before = at;
            for frame in data.chunks_mut(channels) {
                frame.fill(T::from_sample_(sound.get(at).copied().unwrap_or(0.0)));
                at = (at + 1).min(sound.len());
            }
            if at > before {
                let time = info.timestamp();
                let ahead = time.playback.duration_since(time.callback);
                let played = Duration::from_secs_f64(
                    (at - before) as f64 / f64::from(config.sample_rate.max(1)),
                );
                told.delay_us
                    .store((ahead + played).as_micros() as u64, Ordering::Relaxed);
                told.given.store(at, Ordering::Release);
            }
        },
        move |error| shared.fault.set(error.kind()),
        None,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waiting_ends_on_the_end_a_stop_or_a_fault() {
        let shared = Shared::default();
        let (go, stop) = (AtomicBool::new(false), AtomicBool::new(true));
        shared.given.store(10, Ordering::Relaxed);
        assert_eq!(wait(&shared, 10, &go, "x"), Ok(Played::Whole));
        assert_eq!(wait(&shared, 11, &stop, "x"), Ok(Played::Stopped));
        shared.fault.set(cpal::ErrorKind::DeviceNotAvailable);
        assert!(matches!(
            wait(&shared, 11, &go, "x"),
            Err(Error::Unplugged { .. })
        ));
    }
}
