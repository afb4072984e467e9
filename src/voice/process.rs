//! A speech program run as a child process: text on its standard input, WAV on its standard output.

use super::{Error, Sound, Voice};
use std::io::{self, Read, Write};
use std::process::{Child, Command, Output, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::thread;
use std::time::{Duration, Instant};

/// More sound than any read-back has; a program that writes on and on is cut here.
const MOST_BYTES: u64 = 32 << 20;
/// How often a program that has closed its output is asked whether it ended.
const POLL: Duration = Duration::from_millis(2);

/// A speech program.
#[derive(Debug, Clone)]
pub(crate) struct Process {
    /// Name or path.
    pub program: String,
    /// Its arguments; with these it must read the text from standard input and write WAV to standard
    /// output.
    pub arguments: Vec<String>,
    /// It is stopped after this time.
    pub limit: Duration,
}

impl Process {
    /// The program espeak-ng with one of its voices, such as `en-gb`; two seconds to answer.
    #[must_use]
    pub(crate) fn espeak_ng(voice: &str) -> Self {
        Self {
            program: "espeak-ng".to_owned(),
            arguments: ["-v", voice, "--stdin", "--stdout"]
                .map(str::to_owned)
                .to_vec(),
            limit: Duration::from_secs(2),
        }
    }

    fn unusable(&self, source: io::Error) -> Error {
        Error::Program {
            program: self.program.clone(),
            source,
        }
    }

    /// What it wrote and how it ended, or `None` when time is up.
    fn outcome(&self, child: &mut Child, words: &str) -> io::Result<Option<Output>> {
        let end = Instant::now() + self.limit;
        let left = || end.saturating_duration_since(Instant::now());
        let (stdout, stderr) = (drain(child.stdout.take()), drain(child.stderr.take()));
        if let Some(mut input) = child.stdin.take() {
            let words = words.to_owned();
            // A program that ends without reading closes the pipe: its exit status tells more.
            thread::spawn(move || input.write_all(words.as_bytes()));
        }
        let (Ok(stdout), Ok(stderr)) = (stdout.recv_timeout(left()), stderr.recv_timeout(left()))
        else {
            return Ok(None);
        };
        loop {
            if let Some(status) = child.try_wait()? {
                return Ok(Some(Output {
                    status,
                    stdout: stdout?,
                    stderr: stderr?,
                }));
            }
            if left().is_zero() {
                return Ok(None);
            }
            thread::sleep(POLL);
        }
    }
}

impl Voice for Process {
    fn render(&mut self, words: &str) -> Result<Sound, Error> {
        let mut child = Command::new(&self.program)
            .args(&self.arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(|e| self.unusable(e))?;
        let outcome = self.outcome(&mut child, words);
        if !matches!(outcome, Ok(Some(_))) {
            // It may have ended meanwhile; either way it is gone after this.
            child
                .kill()
                .and_then(|()| child.wait())
                .map_err(|e| self.unusable(e))?;
        }
        let program = self.program.clone();
        match outcome.map_err(|e| self.unusable(e))? {
            None => Err(Error::TooSlow {
                program,
                limit: self.limit,
            }),
            Some(output) if !output.status.success() => {
                let said = String::from_utf8_lossy(&output.stderr)
                    .trim()
                    .chars()
                    .take(300)
                    .collect();
                Err(Error::Failed {
                    program,
                    status: output.status,
                    said,
                })
            }
            Some(output) => {
                let name = format!("the sound of the speech program `{program}`");
                Ok(Sound::decode(&output.stdout, &name)?)
            }
        }
    }
}

/// Reads a pipe to its end on a thread of its own, so that waiting for it can be cut short.
fn drain(pipe: Option<impl Read + Send + 'static>) -> Receiver<io::Result<Vec<u8>>> {
    let (give, take) = mpsc::channel();
    thread::spawn(move || {
        let mut bytes = Vec::new();
        let read = pipe.map_or(Ok(0), |p| p.take(MOST_BYTES).read_to_end(&mut bytes));
        // Nobody waits any more when time was up.
        let _ = give.send(read.map(|_| bytes));
    });
    take
}

#[cfg(test)]
#[cfg(unix)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    fn shell(script: &str, limit_ms: u64) -> Process {
        Process {
            program: "sh".to_owned(),
            arguments: vec!["-c".to_owned(), script.to_owned()],
            limit: Duration::from_millis(limit_ms),
        }
    }

    #[test]
    fn the_sound_of_a_program_is_read() {
        // A WAV of as many samples of 0x3030 as the text has bytes, halved.
        let script = "cat >/dev/null; printf 'RIFF\\377\\377\\377\\377WAVEfmt \\020\\000\\000\\000\\001\\000\\001\\000\\200\\076\\000\\000\\000\\175\\000\\000\\002\\000\\020\\000data\\377\\377\\377\\377000000'";
        let sound = shell(script, 5000).render("three").unwrap();
        assert_eq!(
            sound,
            Sound {
                rate_hz: 16_000,
                samples: vec![0x3030; 3]
            }
        );
    }

    #[test]
    fn an_absent_program_is_named() {
        let mut voice = Process::espeak_ng("en-gb");
        voice.program = "no-such-speech-program".to_owned();
        let error = voice.render("three").unwrap_err().to_string();
        assert!(
            error.starts_with("the speech program `no-such-speech-program` cannot be used:"),
            "{error}"
        );
    }

    #[test]
    fn a_failing_program_is_quoted() {
        let error = shell("echo no such voice >&2; exit 3", 5000)
            .render("three")
            .unwrap_err()
            .to_string();
        assert!(
            error.contains("exit status: 3") && error.ends_with("no such voice"),
            "{error}"
        );
    }

    #[test]
    fn a_slow_program_is_stopped() {
        let begin = Instant::now();
        let error = shell("exec sleep 20", 100).render("three").unwrap_err();
        assert!(matches!(error, Error::TooSlow { .. }), "{error}");
        assert!(begin.elapsed() < Duration::from_secs(5));
    }

    #[test]
    fn output_that_is_no_sound_is_refused() {
        let error = shell("cat", 5000).render("three").unwrap_err().to_string();
        assert!(
            error.starts_with(
                "the sound of the speech program `sh`: this is not a sound file that can be read"
            ),
            "{error}"
        );
    }

    #[test]
    fn espeak_ng_speaks_where_it_is_installed() {
        match Process::espeak_ng("en-gb").render("decompressor") {
            Ok(sound) => assert!(
                (300..3000).contains(&sound.length_ms()),
                "{} ms",
                sound.length_ms()
            ),
            Err(Error::Program { source, .. }) => {
                assert_eq!(source.kind(), io::ErrorKind::NotFound);
            }
            Err(other) => assert_eq!(other.to_string(), ""),
        }
    }
}
