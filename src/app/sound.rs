//! Where the sound of a session comes from and goes to.

use super::phone::phone;
use crate::audio::read_clip;
use crate::device::{Drained, Microphone, Pace, Recording, Speaker};
use crate::web::PhoneLink;
use anyhow::Result;
use std::path::Path;

/// Microphone and loudspeaker of a session.
pub(crate) struct Sound {
    /// The microphone, drained on a thread of its own; or a recording in real time.
    pub microphone: Box<dyn Microphone>,
    /// The loudspeaker; `None` if the read-back stands on screen only.
    pub speaker: Option<Box<dyn Speaker>>,
    /// What is listened to, in words.
    pub source: String,
    /// The phone's end, if it is the microphone.
    pub phone: Option<PhoneLink>,
    /// Whether the microphone can hear the loudspeaker.
    pub echoes: bool,
}

/// Which microphone is wanted.
pub(crate) enum Wanted<'a> {
    /// A recording in its place, in real time.
    Recording(&'a Path),
    /// That of the device that shows the board.
    Page,
    /// One of this machine, by a part of its name, or the default one.
    Microphone {
        /// A part of its name.
        name: Option<&'a str>,
        /// If none was named and there is none, the device that shows the board will do.
        or_page: bool,
    },
}

impl Sound {
    /// Opens what is wanted, and the loudspeaker beside it unless it is to be `silent`.
    ///
    /// # Errors
    /// An unreadable file; there is no such microphone.
    pub(crate) fn open(wanted: &Wanted, silent: bool) -> Result<Self> {
        match *wanted {
            Wanted::Recording(path) => Self::recording(path, silent),
            Wanted::Page => Ok(Self::of_page(silent)),
            Wanted::Microphone { name, or_page } => match Self::here(name, silent) {
                Err(error) if or_page && name.is_none() => {
                    eprintln!(
                        "benchcall: {error:#}; the device that shows the board is used instead"
                    );
                    Ok(Self::of_page(silent))
                }
                sound => sound,
            },
        }
    }

    fn recording(path: &Path, silent: bool) -> Result<Self> {
        Ok(Self {
            microphone: Box::new(Recording::new(read_clip(path)?, Pace::RealTime)),
            speaker: if silent { None } else { speaker() },
            source: path.display().to_string(),
            phone: None,
            echoes: false,
        })
    }

    fn here(name: Option<&str>, silent: bool) -> Result<Self> {
        let microphone = steady_microphone(name)?;
        let source = name.unwrap_or("the default microphone");
        Ok(Self {
            source: format!("{source} at {} Hz", microphone.native_rate_hz()),
            microphone: Box::new(Drained::new(microphone)),
            speaker: if silent { None } else { speaker() },
            phone: None,
            echoes: true,
        })
    }

    fn of_page(silent: bool) -> Self {
        let (link, port) = crate::web::link();
        let (microphone, speaker) = phone(port);
        Self {
            microphone: Box::new(Drained::new(Box::new(microphone))),
            speaker: if silent {
                None
            } else {
                Some(Box::new(speaker))
            },
            source: "the device that shows the board".to_owned(),
            phone: Some(link),
            echoes: true,
        }
    }
}

/// As [`microphone`]; unplugged or with its sound server restarted, it is waited for.
#[cfg(feature = "mic")]
fn steady_microphone(name: Option<&str>) -> Result<Box<dyn Microphone>> {
    use crate::device::{Happening, HardwareMicrophone, Steady};
    let name = name.map(str::to_owned);
    let open = move || -> Result<Box<dyn Microphone>, crate::device::Error> {
        Ok(Box::new(HardwareMicrophone::open(name.as_deref())?))
    };
    let tell = |happening: &Happening| match happening {
        Happening::Gone(error) => eprintln!("benchcall: NOT LISTENING: {error}; waiting for it"),
        Happening::Back => eprintln!("benchcall: the microphone is back, listening"),
    };
    Ok(Box::new(Steady::new(Box::new(open), Box::new(tell))?))
}

#[cfg(not(feature = "mic"))]
fn steady_microphone(name: Option<&str>) -> Result<Box<dyn Microphone>> {
    microphone(name)
}

/// The microphone by a part of its name, or the default one.
///
/// # Errors
/// There is no such microphone, or this build has none at all.
#[cfg(feature = "mic")]
pub(crate) fn microphone(name: Option<&str>) -> Result<Box<dyn Microphone>> {
    Ok(Box::new(crate::device::HardwareMicrophone::open(name)?))
}

/// The microphone by a part of its name, or the default one.
///
/// # Errors
/// This build has none.
#[cfg(not(feature = "mic"))]
pub fn microphone(_name: Option<&str>) -> Result<Box<dyn Microphone>> {
    anyhow::bail!(
        "this build has no microphone: build with the feature \"mic\", or give --recording FILE"
    )
}

/// The default loudspeaker; none is not an error, the read-back then stands on screen only.
#[cfg(feature = "mic")]
#[must_use]
pub(crate) fn speaker() -> Option<Box<dyn Speaker>> {
    match crate::device::HardwareSpeaker::open(None) {
        Ok(speaker) => Some(Box::new(speaker)),
        Err(error) => {
            eprintln!("benchcall: the read-back is on screen only: {error}");
            None
        }
    }
}

/// The default loudspeaker; this build has none.
#[cfg(not(feature = "mic"))]
#[must_use]
pub fn speaker() -> Option<Box<dyn Speaker>> {
    None
}
