//! Signal processing between a device or a file and the recogniser: decode,
//! resample to 16 kHz mono, find speech, cut utterances. No device.

pub mod decode;
pub mod detect;
pub mod encode;
pub mod pcm;
pub mod resample;
pub mod utterance;

mod compressed;
mod file;
mod sink;
mod wav;

pub use decode::decode;
pub use detect::FRAME;
pub use encode::{EncodeError, encode_wav, sha256_hex};
pub use file::read_clip;
pub use pcm::{Clip, SILENCE_DBFS, rms_dbfs};
pub use resample::{ResampleError, Resampler, resample};
pub use sink::DecodeError;
pub use utterance::{Cut, Segmenter, SegmenterConfig, Utterance};

/// The one sample rate inside the program, in Hz: what the recogniser and the
/// voice detector both expect.
pub const RATE_HZ: u32 = 16_000;

/// Samples at [`RATE_HZ`] in `ms` milliseconds.
pub const fn samples_in(ms: u32) -> usize {
    ms as usize * RATE_HZ as usize / 1000
}
