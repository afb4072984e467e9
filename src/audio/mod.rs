//! Signal processing between a device or a file and the recogniser: decode,
//! resample to 16 kHz mono, find speech, cut utterances. No device.

pub(crate) mod decode;
pub(crate) mod detect;
pub(crate) mod encode;
pub(crate) mod pcm;
pub(crate) mod resample;
pub(crate) mod utterance;

mod chirp;
mod compressed;
mod file;
mod sink;
mod wav;

pub(crate) use chirp::{Found, chirp, find as find_chirp};
pub use decode::decode;
pub(crate) use decode::decode_at_own_rate;
pub(crate) use detect::FRAME;
pub(crate) use encode::encode_wav_at;
pub use encode::{encode_wav, sha256_hex};
pub use file::read_clip;
pub(crate) use file::{open_file, read_file, read_opened, read_text};
pub use pcm::Clip;
pub(crate) use pcm::{SILENCE_DBFS, rms_dbfs, to_floats, to_integers};
pub use resample::resample;
pub(crate) use resample::{ResampleError, Resampler};
pub(crate) use sink::DecodeError;
pub(crate) use utterance::{Cut, Segmenter, SegmenterConfig, Utterance, utterances};

/// The one sample rate inside the program, in Hz: what the recogniser and the
/// voice detector both expect.
pub const RATE_HZ: u32 = 16_000;

/// Samples at [`RATE_HZ`] in `ms` milliseconds.
#[must_use]
pub const fn samples_in(ms: u32) -> usize {
    ms as usize * RATE_HZ as usize / 1000
}
