//! Where the events of a job and their sounds are kept.
//!
//! [`JobFolder`] keeps them on disk; [`MemoryStore`] is the fake that can be told to fail.
//! An event is appended once and never changed; what `append` returned `Ok` for is on disk.

mod chain;
mod clips;
mod codec;
#[cfg(test)]
mod codec_tests;
#[cfg(test)]
mod crash_tests;
mod damage;
mod disk;
mod error;
mod forget;
mod job;
#[cfg(test)]
mod job_faults;
#[cfg(test)]
mod job_tests;
mod last;
mod lock;
mod memory;
mod pages;
#[cfg(test)]
mod power_tests;
mod restore;
mod saved;
mod schema;

pub use crate::audio::sha256_hex;
#[cfg(test)]
pub(crate) use codec::{BODY_VERSION, CodecError};
pub use codec::{decode, encode};
pub use damage::Damage;
pub(crate) use disk::{make_private_folder, write_private};
pub use error::Error;
pub use job::JobFolder;
pub(crate) use memory::MemoryStore;
pub(crate) use restore::restore;
pub use saved::Saved;
pub(crate) use saved::was_damaged;

use crate::event::Event;

/// Keeps the events of one job, in order.
pub trait Store: Send {
    /// Keeps an event, and its clip (a whole WAV file) where it has a sound.
    ///
    /// Returns only when both are safe. `clip` may be `None` for an event whose sound is kept
    /// already, such as a review edit.
    ///
    /// # Errors
    /// [`Error::WrongId`] where the id is not the next one; the `Clip…` variants where clip and
    /// event do not belong together; [`Error::DiskFull`] and the like where it could not be kept.
    /// Earlier events stay as they were, and the same event may be appended again.
    fn append(&mut self, event: &Event, clip: Option<&[u8]>) -> Result<(), Error>;

    /// Keeps an event whose facts give up sounds ([`Fact::Forgot`](crate::event::Fact::Forgot)), and
    /// removes the clips that no other event needs; how many. The events stay.
    ///
    /// # Errors
    /// As [`Store::append`]; where a clip cannot be removed the event is kept already, and the next
    /// opening tries again.
    fn forget(&mut self, event: &Event) -> Result<usize, Error>;

    /// All events, by id from 1.
    ///
    /// # Errors
    /// [`Error::Corrupt`] or [`Error::Body`] where one of them cannot be read.
    fn events(&self) -> Result<Vec<Event>, Error>;

    /// The WAV file of that hash, checked against it.
    ///
    /// # Errors
    /// [`Error::ClipName`], [`Error::ClipMissing`], [`Error::ClipForgotten`] or [`Error::ClipDamaged`].
    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Error>;

    /// The same read later and without the store, so that nothing else waits for the disk meanwhile.
    fn clip_later(&self, sha256: &str) -> ReadClip {
        let clip = self.clip(sha256);
        Box::new(move || clip)
    }
}

/// Reads one clip; see [`Store::clip_later`].
pub type ReadClip = Box<dyn FnOnce() -> Result<Vec<u8>, Error> + Send>;
