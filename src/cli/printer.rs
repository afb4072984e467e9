//! What a session prints, line by line. A terminal that is stopped (Ctrl-S) does not stop a session that
//! speaks: after a moment it is not waited for any more, and gets its lines when it goes on.

use crate::app::terminal;
use anyhow::{Result, bail};
use std::io;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Duration;

/// So long a line is waited for: far longer than a terminal takes.
const PATIENCE: Duration = Duration::from_millis(500);

/// Writes to standard output on a thread of its own.
pub(super) struct Printer {
    lines: Sender<String>,
    written: Receiver<io::Result<()>>,
    /// Lines that were not waited for to the end.
    waiting: usize,
    patient: bool,
}

impl Printer {
    /// Waits until each line is written; if not `patient`, a moment only.
    pub(super) fn new(patient: bool) -> Self {
        let (lines, to_write) = channel::<String>();
        let (done, written) = channel();
        std::thread::spawn(move || {
            for line in to_write {
                if done.send(terminal::write(format_args!("{line}"))).is_err() {
                    break;
                }
            }
        });
        Self {
            lines,
            written,
            waiting: 0,
            patient,
        }
    }

    /// Prints a line.
    ///
    /// # Errors
    /// Nobody can read it: standard output is closed.
    pub(super) fn print(&mut self, line: String) -> Result<()> {
        let stopped = self.waiting > 0;
        self.waiting += 1;
        if self.lines.send(line).is_err() {
            bail!("{CLOSED}");
        }
        self.wait(if stopped { Duration::ZERO } else { PATIENCE })
    }

    fn wait(&mut self, patience: Duration) -> Result<()> {
        let patience = if self.patient {
            Duration::MAX
        } else {
            patience
        };
        while self.waiting > 0 {
            match self.written.recv_timeout(patience) {
                Ok(Ok(())) => self.waiting -= 1,
                Ok(Err(error)) => {
                    self.waiting = 0; // nothing more will be written
                    bail!("{CLOSED} ({error})");
                }
                Err(_) => break,
            }
        }
        Ok(())
    }
}

impl Drop for Printer {
    fn drop(&mut self) {
        let _ = self.wait(PATIENCE);
    }
}

const CLOSED: &str = "standard output is closed: what was said last is stored but cannot be printed, and \
                      nothing after it was taken";
