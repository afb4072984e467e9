//! What tests share: the program as a person starts it, what it said, and the recordings beside it.

use benchcall::audio::read_clip;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

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

/// A certificate of a person's own that ends in so many days, as PEM (RFC 7468), and its key.
pub(crate) fn certificate_of_ones_own(days: u64) -> (String, String) {
    let mut params = rcgen::CertificateParams::new(vec!["bench.example".to_owned()]).unwrap();
    let since_1970 = SystemTime::now().duration_since(UNIX_EPOCH).unwrap();
    let lasts = Duration::from_secs(days * 24 * 3_600);
    params.not_after = rcgen::date_time_ymd(1970, 1, 1) + since_1970 + lasts;
    let key = rcgen::KeyPair::generate().unwrap();
    let own = params.self_signed(&key).unwrap();
    let pem = |label: &str, der: &[u8]| {
        use base64::Engine;
        let text = base64::engine::general_purpose::STANDARD.encode(der);
        format!("-----BEGIN {label}-----\n{text}\n-----END {label}-----\n")
    };
    let key = pem("PRIVATE KEY", &key.serialize_der());
    (pem("CERTIFICATE", own.der()), key)
}
