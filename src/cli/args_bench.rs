//! The arguments of `bench`.

use super::args_sound::SoundArgs;
use std::path::PathBuf;

/// One server for all that is done in a browser: it lists the jobs, makes new ones, listens to the one
/// that is open, and keeps the microphone while pages come and go.
#[derive(clap::Args, Debug)]
pub(super) struct Bench {
    /// The folder of the jobs; benchcall/jobs among your data otherwise
    #[arg(value_name = "FOLDER")]
    pub(super) folder: Option<PathBuf>,
    #[command(flatten)]
    pub(super) sound: SoundArgs,
    /// Serve on the local network, over TLS, to paired devices only
    #[arg(long)]
    pub(super) lan: bool,
    /// The microphone and loudspeaker are those of the device that shows the board
    #[arg(long, conflicts_with_all = ["microphone", "recording"])]
    pub(super) phone: bool,
    /// Open it in the browser; if it runs already, only that
    #[arg(long)]
    pub(super) open: bool,
    /// End by itself when no page has been used and no job has been open for so long; with --open after
    /// half an hour
    #[arg(long, value_name = "SECONDS")]
    pub(super) stop_unused: Option<u64>,
    /// Port; 0 for any free one
    #[arg(long, default_value_t = 7433, value_name = "PORT")]
    pub(super) port: u16,
}
