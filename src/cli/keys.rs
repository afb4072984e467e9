//! A foot pedal, or any key: push to talk, "affirm" and "disregard" without a word.
//!
//! A pedal is a keyboard to the machine. Keys are read from standard input as they come; a pipe
//! works as well as a terminal.

use super::args::Listen;
use anyhow::{Context, Result, bail};
use std::io::{IsTerminal, Read};
use std::sync::mpsc::{Receiver, channel};

/// What a key stands for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Press {
    /// Listen until the next utterance, or no longer.
    Talk,
    /// As if "affirm" had been said.
    Affirm,
    /// As if "disregard" had been said.
    Disregard,
    /// Ctrl-C.
    End,
}

/// Names of keys that are no single character, and the bytes that a terminal sends for them.
const NAMED: [(&str, &[u8]); 12] = [
    ("space", b" "),
    ("enter", b"\n"),
    ("tab", b"\t"),
    ("pageup", b"\x1b[5~"),
    ("pagedown", b"\x1b[6~"),
    ("up", b"\x1b[A"),
    ("down", b"\x1b[B"),
    ("f1", b"\x1bOP"),
    ("f2", b"\x1bOQ"),
    ("f3", b"\x1bOR"),
    ("f4", b"\x1bOS"),
    ("f5", b"\x1b[15~"),
];

/// The keys in use; the terminal is as it was again when they go.
pub(super) struct Keys {
    map: Vec<(Vec<u8>, Press)>,
    bytes: Receiver<u8>,
    waiting: Vec<u8>,
    before: Option<rustix::termios::Termios>,
    /// Whether a key must be pressed before anything is heard.
    pub(super) push_to_talk: bool,
}

/// The bytes of a key by its name.
fn bytes_of(name: &str) -> Result<Vec<u8>> {
    if let Some((_, bytes)) = NAMED.iter().find(|(known, _)| *known == name) {
        return Ok(bytes.to_vec());
    }
    let mut chars = name.chars();
    match (chars.next(), chars.next()) {
        (Some(one), None) if !one.is_control() => Ok(one.to_string().into_bytes()),
        _ => {
            let known: Vec<&str> = NAMED.iter().map(|(n, _)| *n).collect();
            bail!(
                "\"{name}\" is not a key: expected one character or {}",
                known.join(", ")
            )
        }
    }
}

impl Keys {
    /// The keys that were asked for; `None` where none was.
    ///
    /// # Errors
    /// A name that is not a key, one key for two things, or a terminal that cannot be set.
    pub(super) fn open(args: &Listen) -> Result<Option<Self>> {
        let asked = [
            ("--talk-key", &args.talk_key, Press::Talk),
            ("--affirm-key", &args.affirm_key, Press::Affirm),
            ("--disregard-key", &args.disregard_key, Press::Disregard),
        ];
        let mut map: Vec<(Vec<u8>, Press)> = Vec::new();
        for (option, name, press) in asked {
            let Some(name) = name else { continue };
            let bytes = bytes_of(name).context(option)?;
            if map.iter().any(|(known, _)| *known == bytes) {
                bail!("{option}: the key \"{name}\" already stands for something else");
            }
            map.push((bytes, press));
        }
        if map.is_empty() {
            return Ok(None);
        }
        let before = quiet_terminal().context("the terminal does not give single keys")?;
        map.push((b"\x03".to_vec(), Press::End));
        let (send, bytes) = channel();
        std::thread::spawn(move || {
            for byte in std::io::stdin().lock().bytes().map_while(Result::ok) {
                if send.send(byte).is_err() {
                    break;
                }
            }
        });
        Ok(Some(Self {
            map,
            bytes,
            waiting: Vec::new(),
            before,
            push_to_talk: args.talk_key.is_some(),
        }))
    }

    /// What was pressed since the last call.
    pub(super) fn pressed(&mut self) -> Vec<Press> {
        self.waiting.extend(self.bytes.try_iter());
        take(&self.map, &mut self.waiting)
    }
}

/// Takes the presses out of the bytes that came; keys that stand for nothing are dropped.
fn take(map: &[(Vec<u8>, Press)], waiting: &mut Vec<u8>) -> Vec<Press> {
    let mut all = Vec::new();
    while !waiting.is_empty() {
        match map.iter().find(|(bytes, _)| waiting.starts_with(bytes)) {
            Some((bytes, press)) => {
                all.push(*press);
                waiting.drain(..bytes.len());
            }
            None => {
                waiting.remove(0);
            }
        }
    }
    all
}

/// Single keys without echo; output stays as it was.
fn quiet_terminal() -> Result<Option<rustix::termios::Termios>> {
    use rustix::termios::{LocalModes, OptionalActions, tcgetattr, tcsetattr};
    let input = std::io::stdin();
    if !input.is_terminal() {
        return Ok(None);
    }
    let before = tcgetattr(&input)?;
    let mut quiet = before.clone();
    quiet.local_modes -= LocalModes::ICANON | LocalModes::ECHO | LocalModes::ISIG;
    tcsetattr(&input, OptionalActions::Now, &quiet)?;
    Ok(Some(before))
}

impl Drop for Keys {
    fn drop(&mut self) {
        if let Some(before) = &self.before {
            // Nothing is left to do about a terminal that has gone.
            let _ = rustix::termios::tcsetattr(
                std::io::stdin(),
                rustix::termios::OptionalActions::Now,
                before,
            );
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn keys_by_name_and_out_of_a_stream() {
        let map = [
            (bytes_of("space").unwrap(), Press::Talk),
            (bytes_of("pagedown").unwrap(), Press::Affirm),
            (bytes_of("d").unwrap(), Press::Disregard),
        ];
        let mut waiting = b"x \x1b[6~dd\x1b[5~".to_vec();
        assert_eq!(
            take(&map, &mut waiting),
            [
                Press::Talk,
                Press::Affirm,
                Press::Disregard,
                Press::Disregard
            ]
        );
        assert!(waiting.is_empty());
        let error = bytes_of("pedal").unwrap_err().to_string();
        assert!(error.contains("expected one character or space, enter"));
    }
}
