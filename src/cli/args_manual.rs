//! The arguments of `manual`.

use std::path::PathBuf;

#[derive(clap::Args, Debug)]
pub(super) struct Manual {
    /// Where they go; made if it is not there
    #[arg(value_name = "FOLDER")]
    pub(super) folder: PathBuf,
}
