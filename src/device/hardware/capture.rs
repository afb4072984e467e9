//! A microphone of this computer. The driver's callback only fills a lock-free
//! ring and counts what did not fit; everything else happens on the reader's thread.

use super::super::{Error, Microphone, Read};
use super::{Fault, MICROPHONE, find, named, with_sample_type};
use crate::audio::{RATE_HZ, Resampler};
use cpal::traits::{DeviceTrait, StreamTrait};
use cpal::{Device, ErrorKind, FromSample, SizedSample, Stream, StreamConfig};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Sound the ring holds, in seconds: what the reader may be late.
const RING_SECONDS: usize = 2;
/// The longest wait of one read.
const WAIT: Duration = Duration::from_millis(100);
/// A microphone that is silent in this sense (no samples at all) has failed.
const STALLED: Duration = Duration::from_secs(5);

/// What the driver's thread tells the reader.
#[derive(Default)]
struct Shared {
    overruns: AtomicU64,
    fault: Fault,
}

/// An open microphone; it records from [`open`](Self::open) until it is dropped.
pub struct HardwareMicrophone {
    name: String,
    native_rate_hz: u32,
    channels: usize,
    ring: rtrb::Consumer<f32>,
    shared: Arc<Shared>,
    resampler: Resampler,
    interleaved: Vec<f32>,
    last_sound: Instant,
    _stream: Stream,
}

impl HardwareMicrophone {
    /// Opens the microphone of that name (or a part of it that fits only one),
    /// or the default one, and starts recording.
    ///
    /// # Errors
    /// Any [`Error`]; which one says what the user can do.
    pub fn open(name: Option<&str>) -> Result<Self, Error> {
        let (device, name) = find(MICROPHONE, name)?;
        let offered = device
            .default_input_config()
            .map_err(|e| named(&e, MICROPHONE, &name))?;
        let format = |detail: String| Error::Format {
            what: MICROPHONE,
            name: name.clone(),
            detail,
        };
        let (rate_hz, channels) = (offered.sample_rate(), offered.channels());
        let resampler =
            Resampler::new(rate_hz, RATE_HZ, channels).map_err(|e| format(e.to_string()))?;
        let shared = Arc::new(Shared::default());
        let slots = rate_hz as usize * usize::from(channels) * RING_SECONDS;
        let (producer, ring) = rtrb::RingBuffer::new(slots);
        let config = offered.config();
        let stream = with_sample_type!(
            offered.sample_format(),
            build(&device, config, producer, Arc::clone(&shared)),
            return Err(format(format!("{} samples", offered.sample_format())))
        )
        .map_err(|e| named(&e, MICROPHONE, &name))?;
        stream.play().map_err(|e| named(&e, MICROPHONE, &name))?;
        Ok(Self {
            name,
            native_rate_hz: rate_hz,
            channels: usize::from(channels),
            ring,
            shared,
            resampler,
            interleaved: Vec::new(),
            last_sound: Instant::now(),
            _stream: stream,
        })
    }

    /// The device's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Moves the whole frames that are in the ring to `interleaved`.
    fn drain(&mut self) {
        self.interleaved.clear();
        let ready = self.ring.slots() / self.channels * self.channels;
        if let Ok(chunk) = self.ring.read_chunk(ready) {
            let (first, second) = chunk.as_slices();
            self.interleaved.extend_from_slice(first);
            self.interleaved.extend_from_slice(second);
            chunk.commit_all();
        }
    }
}

impl Microphone for HardwareMicrophone {
    fn native_rate_hz(&self) -> u32 {
        self.native_rate_hz
    }

    fn read(&mut self, out: &mut Vec<f32>) -> Result<Read, Error> {
        let began = Instant::now();
        let before = out.len();
        loop {
            self.drain();
            if !self.interleaved.is_empty() {
                self.last_sound = Instant::now();
            }
            let detail = |detail: String| Error::Driver {
                what: MICROPHONE,
                name: self.name.clone(),
                detail,
            };
            let ready = self.resampler.push(&self.interleaved);
            out.extend(ready.map_err(|e| detail(e.to_string()))?);
            if out.len() > before || began.elapsed() >= WAIT {
                break;
            }
            self.shared.fault.check(MICROPHONE, &self.name)?;
            if self.last_sound.elapsed() > STALLED {
                return Err(detail(format!("no sound for {} s", STALLED.as_secs())));
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        Ok(Read {
            samples: out.len() - before,
            overruns_total: self.shared.overruns.load(Ordering::Relaxed),
            ended: false,
            sent_away: false,
        })
    }
}

fn build<T>(
    device: &Device,
    config: StreamConfig,
    mut ring: rtrb::Producer<f32>,
    shared: Arc<Shared>,
) -> Result<Stream, cpal::Error>
where
    T: SizedSample,
    f32: FromSample<T>,
{
    let channels = usize::from(config.channels).max(1);
    let counted = Arc::clone(&shared);
    device.build_input_stream(
        config,
        move |data: &[T], _: &cpal::InputCallbackInfo| {
            if put(&mut ring, data, channels) < data.len() {
                counted.overruns.fetch_add(1, Ordering::Relaxed);
            }
        },
        move |error| {
            if error.kind() == ErrorKind::Xrun {
                shared.overruns.fetch_add(1, Ordering::Relaxed);
            }
            shared.fault.set(error.kind());
        },
        None,
    )
}

/// Puts as many whole frames into the ring as fit; gives the samples taken.
fn put<T>(ring: &mut rtrb::Producer<f32>, data: &[T], channels: usize) -> usize
where
    T: Copy,
    f32: FromSample<T>,
{
    let fits = data.len().min(ring.slots()) / channels * channels;
    match ring.write_chunk_uninit(fits) {
        Ok(chunk) => chunk.fill_from_iter(data.iter().map(|&s| f32::from_sample_(s))),
        Err(_) => 0,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_full_ring_takes_whole_frames_only_so_channels_never_swap() {
        let (mut producer, mut consumer) = rtrb::RingBuffer::new(5);
        assert_eq!(
            put(&mut producer, &[16_384i16, -16_384, 0, 0, 8_192, 8_192], 2),
            4
        );
        assert_eq!(consumer.pop(), Ok(0.5));
        assert_eq!(consumer.pop(), Ok(-0.5));
        assert_eq!(put(&mut producer, &[u8::MAX / 2 + 1, 255], 2), 2);
        assert_eq!(consumer.slots(), 4);
    }
}
