//! What tests share: the program as a person starts it, what it said, and the recordings beside it.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The program, not yet started.
pub(crate) fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_benchcall"))
}

/// What the program does with these arguments.
pub(crate) fn benchcall(args: &[&str]) -> Output {
    program().args(args).output().unwrap()
}

/// What it printed.
pub(crate) fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// What it said beside that.
pub(crate) fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Where the recordings lie.
pub(crate) fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures")
}
