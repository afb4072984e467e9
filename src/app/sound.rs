//! Where the sound of a session comes from and goes to.

use super::phone::phone;
use super::terminal::tell;
use crate::app::in_words::in_words;
use crate::audio::read_clip;
use crate::device::{Drained, Microphone, Pace, Recording, Speaker};
use crate::web::{PhoneLink, PhonePort};
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

/// Where the read-back sounds.
#[derive(Clone, Copy)]
pub(crate) enum Loudspeaker<'a> {
    /// Nowhere: it stands on screen only.
    None,
    /// Here: by a part of the loudspeaker's name, or the default one.
    Here(Option<&'a str>),
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
    /// Opens what is wanted, and the loudspeaker beside it.
    ///
    /// # Errors
    /// An unreadable file; there is no such microphone or loudspeaker.
    pub(crate) fn open(wanted: &Wanted, loudspeaker: Loudspeaker<'_>) -> Result<Self> {
        match *wanted {
            Wanted::Recording(path) => Self::recording(path, loudspeaker),
            Wanted::Page => Ok(Self::of_page(loudspeaker)),
            Wanted::Microphone { name, or_page } => match Self::here(name, loudspeaker) {
                Err(error) if or_page && name.is_none() => {
                    tell(&format!(
                        "{}; the device that shows the board is used instead",
                        in_words(&error)
                    ));
                    Ok(Self::of_page(loudspeaker))
                }
                sound => sound,
            },
        }
    }

    fn recording(path: &Path, loudspeaker: Loudspeaker<'_>) -> Result<Self> {
        Ok(Self {
            microphone: Box::new(Recording::new(read_clip(path)?, Pace::RealTime)),
            speaker: speaker(loudspeaker)?,
            source: path.display().to_string(),
            phone: None,
            echoes: false,
        })
    }

    fn here(name: Option<&str>, loudspeaker: Loudspeaker<'_>) -> Result<Self> {
        let microphone = steady_microphone(name)?;
        let source = name.unwrap_or("the default microphone");
        Ok(Self {
            source: format!("{source} at {} Hz", microphone.native_rate_hz()),
            microphone: Box::new(Drained::new(microphone)),
            speaker: speaker(loudspeaker)?,
            phone: None,
            echoes: true,
        })
    }

    fn of_page(loudspeaker: Loudspeaker<'_>) -> Self {
        let (link, port) = crate::web::link();
        Self {
            phone: Some(link),
            ..Self::of_device(port, loudspeaker)
        }
    }

    /// The sound of a device that shows the board, through a link that some server has.
    pub(crate) fn of_device(port: PhonePort, loudspeaker: Loudspeaker<'_>) -> Self {
        let (microphone, speaker) = phone(port);
        Self {
            microphone: Box::new(Drained::new(Box::new(microphone))),
            speaker: match loudspeaker {
                Loudspeaker::None => None,
                Loudspeaker::Here(_) => Some(Box::new(speaker)),
            },
            source: "the device that shows the board".to_owned(),
            phone: None,
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
        Happening::Gone(error) => tell(&format!("NOT LISTENING: {error}; waiting for it")),
        Happening::Back => tell("the microphone is back, listening"),
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

/// The loudspeaker that is wanted. That there is none at all is not an error: the read-back then
/// stands on screen only.
///
/// # Errors
/// There is none of that name.
#[cfg(feature = "mic")]
pub(crate) fn speaker(wanted: Loudspeaker<'_>) -> Result<Option<Box<dyn Speaker>>> {
    let Loudspeaker::Here(name) = wanted else {
        return Ok(None);
    };
    match crate::device::HardwareSpeaker::open(name) {
        Ok(speaker) => Ok(Some(Box::new(speaker))),
        Err(error) if name.is_some() => Err(error.into()),
        Err(error) => {
            tell(&format!("the read-back is on screen only: {error}"));
            Ok(None)
        }
    }
}

/// The loudspeaker that is wanted; this build has none.
///
/// # Errors
/// One was named.
#[cfg(not(feature = "mic"))]
pub(crate) fn speaker(wanted: Loudspeaker<'_>) -> Result<Option<Box<dyn Speaker>>> {
    match wanted {
        Loudspeaker::Here(Some(_)) => {
            anyhow::bail!("this build has no loudspeaker: build with the feature \"mic\"")
        }
        _ => Ok(None),
    }
}

/// The names of the microphones and of the loudspeakers.
///
/// # Errors
/// There is no sound system.
#[cfg(feature = "mic")]
pub(crate) fn names() -> Result<[Vec<String>; 2]> {
    Ok([crate::device::microphones()?, crate::device::speakers()?])
}

/// The names of the microphones and of the loudspeakers; this build has none.
///
/// # Errors
/// None.
#[cfg(not(feature = "mic"))]
pub(crate) fn names() -> Result<[Vec<String>; 2]> {
    Ok([Vec::new(), Vec::new()])
}
