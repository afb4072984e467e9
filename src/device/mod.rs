//! Microphone and loudspeaker: sound in and out, and how much was lost, nothing else.
//!
//! Every microphone delivers mono samples at [`RATE_HZ`](crate::audio::RATE_HZ);
//! the conversion from the device's own rate and channels happens inside it, on
//! the reader's thread, never in the driver's callback.

mod drained;
#[cfg(test)]
mod fake;
#[cfg(feature = "mic")]
mod hardware;
mod steady;
mod wav;

pub(crate) use drained::Drained;
#[cfg(feature = "mic")]
pub use hardware::{HardwareMicrophone, HardwareSpeaker, microphones, speakers};
pub(crate) use steady::{Happening, Steady};
pub(crate) use wav::{Pace, Recording};

use std::sync::atomic::AtomicBool;

/// What one [`Microphone::read`] brought.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Read {
    /// Samples appended; zero when none came within the wait.
    pub samples: usize,
    /// How often sound was lost since the start. A rise marks the sound around
    /// this read as incomplete.
    pub overruns_total: u64,
    /// The sound is over; no later read brings more.
    pub ended: bool,
    /// Who was speaking was sent away: nothing from before this read is to be heard, nor waits.
    pub sent_away: bool,
}

/// Something that delivers sound as it is spoken.
pub trait Microphone: Send {
    /// The device's own sample rate in Hz, for the log; what [`read`](Self::read)
    /// delivers is always at [`RATE_HZ`](crate::audio::RATE_HZ).
    fn native_rate_hz(&self) -> u32;

    /// Appends the samples that are ready to `out`: mono, 16 kHz, full scale ±1.
    /// Waits up to about 100 ms for the first of them, so that a caller can look
    /// at other things in between.
    ///
    /// # Errors
    /// [`Error::Unplugged`] when the device went away, [`Error::Driver`] on other faults.
    fn read(&mut self, out: &mut Vec<f32>) -> Result<Read, Error>;
}

/// How a playback ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Played {
    /// To its end.
    Whole,
    /// The caller stopped it.
    Stopped,
}

/// Something that plays one sound at a time.
pub trait Speaker: Send {
    /// Plays mono 16-bit samples of any rate and returns when they have sounded,
    /// or soon after `stop` became true (within about 20 ms).
    ///
    /// # Errors
    /// As for opening: the device is looked up for every sound, so that one
    /// plugged in later works.
    fn play(&mut self, rate_hz: u32, samples: &[i16], stop: &AtomicBool) -> Result<Played, Error>;
}

/// Why a device cannot be used. Every text says what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// No device, or none of that name. Trying again helps once one is plugged in.
    #[error("there is no {what}{wanted}{there}. Plug one in or choose another")]
    NoDevice {
        /// "microphone" or "loudspeaker".
        what: &'static str,
        /// " called …", or nothing for the default one.
        wanted: String,
        /// "; there are: …", or nothing.
        there: String,
    },
    /// A name that fits several devices.
    #[error("\"{wanted}\" fits several {what}s: {found}; give more of the name")]
    SeveralDevices {
        /// "microphone" or "loudspeaker".
        what: &'static str,
        /// The name as given.
        wanted: String,
        /// The devices it fits.
        found: String,
    },
    /// The system does not let this program at the device.
    #[error(
        "the system refuses access to the {what} \"{name}\"; allow it in the privacy settings, on Linux by joining the group \"audio\""
    )]
    PermissionDenied {
        /// "microphone" or "loudspeaker".
        what: &'static str,
        /// The device.
        name: String,
    },
    /// The device went away while in use. Trying again helps once it is back.
    #[error(
        "the {what} \"{name}\" was unplugged or switched off; plug it in and start listening again"
    )]
    Unplugged {
        /// "microphone" or "loudspeaker".
        what: &'static str,
        /// The device.
        name: String,
    },
    /// Another program holds the device. Trying again may help.
    #[error("the {what} \"{name}\" is in use by another program; close that one and try again")]
    Busy {
        /// "microphone" or "loudspeaker".
        what: &'static str,
        /// The device.
        name: String,
    },
    /// The device offers no usable rate, channel count or sample format.
    #[error(
        "the {what} \"{name}\" offers only {detail}; 8 to 192 kHz PCM is needed, choose another device"
    )]
    Format {
        /// "microphone" or "loudspeaker".
        what: &'static str,
        /// The device.
        name: String,
        /// What it offers.
        detail: String,
    },
    /// No sound system, or a fault inside it.
    #[error(
        "the {what} \"{name}\" failed: {detail}. Check that the sound system runs, then start again"
    )]
    Driver {
        /// "microphone" or "loudspeaker".
        what: &'static str,
        /// The device.
        name: String,
        /// What the driver said.
        detail: String,
    },
}
