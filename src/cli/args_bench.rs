//! The arguments of `bench`.

use std::path::PathBuf;

/// One server for all that is done in a browser: it lists the jobs, makes new ones, listens to the one
/// that is open, and keeps the microphone while pages come and go.
#[derive(clap::Args, Debug)]
pub(super) struct Bench {
    /// The folder of the jobs; benchcall/jobs among your data otherwise
    #[arg(value_name = "FOLDER")]
    pub(super) folder: Option<PathBuf>,
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
    /// Serve on the local network, over TLS, to paired devices only
    #[arg(long)]
    pub(super) lan: bool,
    /// The microphone and loudspeaker are those of the device that shows the board
    #[arg(long, conflicts_with_all = ["microphone", "recording"])]
    pub(super) phone: bool,
    /// Port; 0 for any free one
    #[arg(long, default_value_t = 7433, value_name = "PORT")]
    pub(super) port: u16,
    /// Another recogniser: any Whisper model in ggml format
    #[arg(long, value_name = "FILE")]
    pub(super) model: Option<PathBuf>,
}
