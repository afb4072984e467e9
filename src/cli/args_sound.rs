//! The arguments that say where sound comes from and goes to, and who hears it.

use crate::app::sound::{Loudspeaker, Sound, Wanted};
use crate::web::PhonePort;
use anyhow::Result;
use std::path::PathBuf;

#[derive(clap::Args, Clone, Debug)]
pub(super) struct SoundArgs {
    /// Microphone: a part of its name
    #[arg(long, value_name = "NAME")]
    pub(super) microphone: Option<String>,
    /// A recording as the microphone, in real time
    #[arg(long, value_name = "FILE", conflicts_with = "microphone")]
    pub(super) recording: Option<PathBuf>,
    /// Loudspeaker: a part of its name (`check` lists them)
    #[arg(long, value_name = "NAME", conflicts_with_all = ["silent", "phone"])]
    pub(super) speaker: Option<String>,
    /// Keep listening while the tool speaks
    #[arg(long)]
    pub(super) headset: bool,
    /// Read back on screen only
    #[arg(long)]
    pub(super) silent: bool,
    /// Another recogniser: any Whisper model in ggml format
    #[arg(long, value_name = "FILE")]
    pub(super) model: Option<PathBuf>,
    /// Hear with this voice (see `voice`); without it with the one that is on; "none" for none
    #[arg(long, value_name = "NAME")]
    pub(super) voice: Option<String>,
}

impl SoundArgs {
    /// Opens what was asked for: with `phone` the device that shows the board. With `or_page` it is
    /// used too if no microphone or loudspeaker was named and this machine has no microphone.
    ///
    /// # Errors
    /// An unreadable recording; a microphone or loudspeaker that is not there.
    pub(super) fn open(&self, phone: bool, or_page: bool) -> Result<Sound> {
        let wanted = match &self.recording {
            Some(path) => Wanted::Recording(path),
            None if phone => Wanted::Page,
            None => Wanted::Microphone {
                name: self.microphone.as_deref(),
                or_page: or_page && self.speaker.is_none(),
            },
        };
        Sound::open(&wanted, self.loudspeaker())
    }

    /// The sound of a device that joins.
    pub(super) fn of_device(&self, port: PhonePort) -> Sound {
        Sound::of_device(port, self.loudspeaker())
    }

    fn loudspeaker(&self) -> Loudspeaker<'_> {
        if self.silent {
            Loudspeaker::None
        } else {
            Loudspeaker::Here(self.speaker.as_deref())
        }
    }

    /// Whether nothing is heard while the voice sounds.
    pub(super) const fn is_half_duplex(&self, sound: &Sound) -> bool {
        sound.echoes && !self.headset && !self.silent
    }
}
