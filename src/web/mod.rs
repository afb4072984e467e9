//! The pages that a browser shows: board, review, and the phone as a microphone.
//!
//! One server, loopback by default; on the local network only over TLS and after pairing. What the
//! pages show comes through [`Backend`] and [`Live`]; the real ones are in `app`, the tests script
//! theirs (`fake`).

mod certificate;
mod certificate_routes;
mod connections;
mod devices;
#[cfg(test)]
mod fake;
mod fingerprint;
mod gate;
mod kept;
mod live;
mod pages;
mod pair;
mod pairing_routes;
mod phone;
mod routes;
mod serve;
mod shared;
#[cfg(test)]
mod tests;
mod tickets;
mod tls;
mod x509;

pub(crate) use devices::{Device, Devices};
#[cfg(test)]
pub(crate) use kept::Memory;
pub use kept::{Kept, Version};
pub(crate) use live::Live;
pub use pair::Codes;
pub(crate) use phone::{FromPhone, PhoneLink, PhonePort};
pub use phone::{frame, link};
pub use serve::Options;
pub(crate) use serve::Server;
pub(crate) use tls::{
    CertificateNow, certificate_now, forget_certificate, keep_certificate, renew_certificate,
};

use serde::Deserialize;
use std::collections::BTreeMap;

/// A review edit as the page sends it.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Edit {
    /// The event was understood rightly.
    Confirm(u64),
    /// What the event asked is stored after all.
    Store(u64),
    /// The event must not count.
    Reject(u64),
    /// This is what was said in the event; `true` once what the bench asks about it was answered
    /// with yes.
    Correct(u64, String, bool),
}

/// A button of the board.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Button {
    Affirm,
    Negative,
    /// Another shim was fitted …
    Changed,
    /// … or the same was read again.
    ReadAgain,
    Disregard,
    SayAgain,
    StandBy,
    Listen,
    /// The talk key.
    Talk,
}

/// What a hand does on the board or the plan, instead of a voice.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Touch {
    /// A button is pressed.
    Press(Button),
    /// A clearance is typed: the largest blade that goes, the smallest that does not.
    Blades {
        /// The valve, as the board names it.
        place: String,
        /// Goes.
        goes_nm: Option<i64>,
        /// Does not.
        stops_nm: Option<i64>,
    },
    /// That shim is in that valve now.
    Fitted {
        /// The valve, as the plan names it.
        place: String,
        /// Its size.
        size_nm: i64,
    },
    /// So many shims of a size lie in the box of spares now.
    Spare {
        /// Their size.
        size_nm: i64,
        /// How many.
        count: u16,
    },
}

/// The answers of which a new job is made.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NewJob {
    /// Key of the engine.
    pub engine: String,
    /// `mm` or `thou`.
    pub unit: String,
    /// Key of the language that is spoken.
    pub language: String,
    /// Feeler blades owned.
    pub blades_nm: Vec<i64>,
    /// Which machine; may be empty, like all that follow.
    pub machine: String,
    /// Whose it is.
    pub owner: String,
    /// Its number.
    pub number: String,
    /// Its mileage.
    pub mileage: String,
}

/// A damaged job of which the rest is saved.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rest {
    /// Its name.
    pub job: String,
    /// Key of the engine, if the event that says it is damaged.
    pub engine: Option<String>,
    /// `mm` or `thou`, with the engine.
    pub unit: String,
}

/// Which sounds are removed.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Forget {
    /// Talk that was ignored.
    Ignored,
    /// All.
    All,
    /// From this time up to that, in milliseconds since 1970 UTC.
    Of(i64, i64),
}

/// What stands in the boxes of the page of engines, by key.
pub type Boxes = BTreeMap<String, String>;

/// Whose engine the boxes are.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum EngineOf {
    /// One that is entered for the first time.
    New,
    /// One that was entered before, by its key.
    Own(String),
    /// The job's that is open.
    Job,
}

/// What the page of engines asks.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum EngineAsk {
    /// The boxes, and what stands in them.
    Open(EngineOf),
    /// What they come to, and what is wrong.
    Check(EngineOf, Boxes),
    /// To keep it.
    Save(EngineOf, Boxes),
}

/// What the page of the sound check asks.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum SoundAsk {
    /// How it sounds now.
    Now,
    /// To listen to the microphone of that name, or to the default one.
    Microphone(Option<String>),
    /// To read back on the loudspeaker of that name, or on the default one.
    Speaker(Option<String>),
    /// To keep listening while the bench speaks, or not.
    Headset(bool),
    /// To hear only what is said after a button was pressed, or not.
    PushToTalk(bool),
    /// To measure how far the loudspeaker is behind.
    Delay,
}

/// What the page of phones and tablets asks.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum NetworkAsk {
    /// How it is now.
    Now,
    /// To serve the local network too.
    Open {
        /// A device that joins is microphone and loudspeaker.
        microphone: bool,
    },
    /// To serve this machine alone again.
    Shut,
    /// To let this device in no longer.
    SendAway(u64),
    /// To show this certificate from now on, with its key; both PEM.
    Certificate {
        /// With those that vouch for it.
        chain: String,
        /// Its key.
        key: String,
    },
    /// To show that one no longer.
    ForgetCertificate,
    /// To make the bench's own anew, with the root that phones trust.
    RenewCertificate,
}

/// What is made of a job's record.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum ReportForm {
    /// A self-contained HTML page.
    Page,
    /// One line a valve.
    Csv,
    /// Everything but the sounds, so that the same job can be made of it elsewhere.
    Json,
    /// The same with every sound that is whole.
    JsonWithSounds,
    /// Why others are not: a list of texts.
    LostSounds,
}

/// Why the backend cannot do what was asked.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum Fault {
    /// There is no such thing.
    #[error("{0}")]
    NotFound(String),
    /// It was asked wrongly; the text says what would do.
    #[error("{0}")]
    Refused(String),
    /// It is asked back, as at the bench; the words of the question.
    #[error("{0}")]
    Asks(String),
    /// Something broke.
    #[error("{0}")]
    Broken(String),
}

/// Where the pages get what they show. Called off the server's own threads.
pub trait Backend: Send + Sync {
    /// The session for the review, as JSON: the utterances that changed since the view of that number,
    /// which each answer names as `seen`; all of them since 0.
    ///
    /// # Errors
    /// [`Fault`].
    fn session(&self, seen: u64) -> Result<String, Fault>;

    /// The WAV file of that SHA-256.
    ///
    /// # Errors
    /// [`Fault::NotFound`] for any name that is not the hash of a clip of this job.
    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Fault>;

    /// Makes an edit.
    ///
    /// # Errors
    /// [`Fault::Refused`] where the edit cannot be.
    fn edit(&self, edit: &Edit) -> Result<(), Fault>;

    /// Does what a hand does instead of a voice, and says what came of it, as JSON.
    ///
    /// # Errors
    /// [`Fault::Refused`] if there is no such valve, or the bench is busy.
    fn touch(&self, touch: &Touch) -> Result<String, Fault>;

    /// What the readings come to as JSON: sheet, plan, crank stops, findings, progress.
    ///
    /// # Errors
    /// [`Fault`].
    fn results(&self) -> Result<String, Fault>;

    /// Writes the checked clips with what was said into a new folder beside the job; how many, and
    /// where, as JSON.
    ///
    /// # Errors
    /// The disk.
    fn export(&self) -> Result<String, Fault> {
        Err(one_job())
    }

    /// The plan as it would be after changes in words such as `inlet_target=0.15`, as JSON.
    ///
    /// # Errors
    /// [`Fault::Refused`] for a change that cannot be.
    fn what_if(&self, _changes: &[String]) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Begins to hear the session again with the other recogniser, or says how far that is, as JSON.
    ///
    /// # Errors
    /// [`Fault::Refused`] where there is no other recogniser.
    fn hear_again(&self) -> Result<String, Fault>;

    /// Removes sounds, never readings; what was done as JSON, null if there was none.
    ///
    /// # Errors
    /// The disk.
    fn forget(&self, _what: &Forget) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Keeps other weights, of this name, and begins to hear the session again with them, as JSON.
    ///
    /// # Errors
    /// The disk; [`Fault::Refused`] for a job that lies in no folder.
    fn hear_again_with(&self, _name: &str, _weights: &[u8]) -> Result<String, Fault> {
        Err(one_job())
    }

    /// The report; beside that of an earlier job, by its name, if one is named.
    ///
    /// # Errors
    /// [`Fault`].
    fn report(&self, form: ReportForm, before: Option<&str>) -> Result<String, Fault>;

    /// The earlier jobs of the same engine as JSON: `name`, `begun_ms`.
    ///
    /// # Errors
    /// [`Fault::NotFound`] if one job alone is served.
    fn earlier(&self) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Whether there is a choice of jobs, and so a page that lists them.
    fn has_jobs(&self) -> bool {
        false
    }

    /// Whether one of them is open.
    fn is_open(&self) -> bool {
        true
    }

    /// The jobs, and what a new one can be made of, as JSON.
    ///
    /// # Errors
    /// [`Fault::NotFound`] if one job alone is served.
    fn jobs(&self) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Makes a job; its name as JSON.
    ///
    /// # Errors
    /// [`Fault::Refused`] for an answer that cannot be.
    fn new_job(&self, _new: &NewJob) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Makes a job of the JSON that was saved of another; its name as JSON.
    ///
    /// # Errors
    /// [`Fault::Refused`] for what is not such a text.
    fn bring_back(&self, _text: &str) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Saves what is left of a damaged job into a new one; its name and what was saved, as JSON.
    ///
    /// # Errors
    /// [`Fault::Asks`] if its engine must be named; [`Fault::Refused`] if nothing is left.
    fn save_rest(&self, _rest: &Rest) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Shows, checks or keeps an engine that is entered in boxes, as JSON.
    ///
    /// # Errors
    /// [`Fault::Refused`] for one that cannot be kept.
    fn engine(&self, _ask: &EngineAsk) -> Result<String, Fault> {
        Err(one_job())
    }

    /// How the microphone sounds and what was understood, as JSON; nothing of it is stored.
    ///
    /// # Errors
    /// [`Fault::Refused`] if the sound is that of one job.
    fn sound(&self, _ask: &SoundAsk) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Opens and shuts the bench for the local network, as JSON.
    ///
    /// # Errors
    /// [`Fault::Refused`] if there is no network, or no certificate that can be used.
    fn network(&self, _ask: &NetworkAsk) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Goes on with a job, or ends the one that is open.
    ///
    /// # Errors
    /// [`Fault`].
    fn go_on(&self, _job: Option<&str>) -> Result<String, Fault> {
        Err(one_job())
    }

    /// Ends the bench: its job, its microphone, its pages.
    ///
    /// # Errors
    /// [`Fault`].
    fn end(&self) -> Result<String, Fault> {
        Err(one_job())
    }
}

/// The address that pairs the browser which opens it. No server sees what stands behind a #.
pub(crate) fn way_in(url: &str, code: &str) -> String {
    format!("{url}pair#{code}")
}

fn one_job() -> Fault {
    Fault::NotFound("one job alone is served here".to_owned())
}

/// Why there is no server.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The port cannot be had.
    #[error("cannot serve on {address}: {source}")]
    Bind {
        /// Address and port.
        address: String,
        /// Why.
        source: std::io::Error,
    },
    /// No network.
    #[error("no address on a local network was found: is this machine connected? {0}")]
    NoNetwork(std::io::Error),
    /// The certificate could not be made or read.
    #[error("the certificate could not be made or read: {0}")]
    Certificate(String),
    /// The list of devices cannot be read or written.
    #[error(
        "the list of paired devices ({name} in the settings folder) cannot be used: {source}; remove it, and pair again"
    )]
    Kept {
        /// Its file.
        name: &'static str,
        /// Why.
        source: std::io::Error,
    },
    /// The system's random numbers failed.
    #[error("the system gave no random numbers: {0}")]
    Random(String),
    /// The server's threads could not be started.
    #[error("the server could not be started: {0}")]
    Threads(std::io::Error),
}
