//! What tests share: the program as a person starts it, what it said, and the recordings beside it.

use benchcall::audio::read_clip;
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

/// What a voice of espeak-ng says, at 16 kHz; none if that is not installed.
pub(crate) fn espeak(voice: &[&str], text: &str) -> Option<Vec<f32>> {
    let wav = tempfile::NamedTempFile::with_suffix(".wav").unwrap();
    let mut espeak = Command::new("espeak-ng");
    espeak.args(voice).arg("-w").arg(wav.path()).arg(text);
    let Ok(status) = espeak.status() else {
        println!("SKIPPED: espeak-ng is not installed");
        return None;
    };
    assert!(status.success(), "{text}");
    Some(read_clip(wav.path()).unwrap().samples)
}

/// Seconds of a room with a little noise, as loud as that (full scale is 1).
pub(crate) fn hiss(seconds: usize, level: f32) -> Vec<f32> {
    let hiss = |i: usize| if i % 7 < 3 { level } else { -level };
    (0..seconds * 16_000).map(hiss).collect()
}
