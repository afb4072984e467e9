//! What `devices` can be asked for.

/// Each was let in once by a code, on the local network, and stays in for 30 days. One that is sent away
/// is out at once: page, live words and microphone.
#[derive(clap::Args, Debug)]
pub(super) struct Devices {
    /// Send this one away, by its number in the list
    #[arg(long, value_name = "NUMBER")]
    pub(super) remove: Option<u64>,
    /// Send all away
    #[arg(long, conflicts_with_all = ["remove", "rename"])]
    pub(super) remove_all: bool,
    /// Call this one otherwise
    #[arg(long, num_args = 2, value_names = ["NUMBER", "NAME"])]
    pub(super) rename: Option<Vec<String>>,
    /// Stop using a certificate of your own: it is removed, with its key
    #[arg(long)]
    pub(super) forget_certificate: bool,
    /// Replace the bench's own certificate and the root that phones trust
    #[arg(long)]
    pub(super) renew_certificate: bool,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}
