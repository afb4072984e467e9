//! A foot pedal, or any key: push to talk, "affirm" and "disregard" without a word.
//!
//! A pedal is a keyboard to the machine. Keys are read from standard input as they come; a pipe
//! works as well as a terminal. With `--pedal` they are read from the device too.

use super::args::Listen;
use super::pedal;
use anyhow::{Context, Result, bail};
use std::io::{BufRead, IsTerminal};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};

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

/// Names of keys that are no single character, the bytes that a terminal sends for them, and their
/// codes on a device (linux/input-event-codes.h).
const NAMED: [(&str, &[u8], u16); 12] = [
    ("space", b" ", 57),
    ("enter", b"\n", 28),
    ("tab", b"\t", 15),
    ("pageup", b"\x1b[5~", 104),
    ("pagedown", b"\x1b[6~", 109),
    ("up", b"\x1b[A", 103),
    ("down", b"\x1b[B", 108),
    ("f1", b"\x1bOP", 59),
    ("f2", b"\x1bOQ", 60),
    ("f3", b"\x1bOR", 61),
    ("f4", b"\x1bOS", 62),
    ("f5", b"\x1b[15~", 63),
];

/// The rows of a keyboard, and the code of the first key of each.
const ROWS: [(u16, &[u8]); 4] = [
    (2, b"1234567890"),
    (16, b"qwertyuiop"),
    (30, b"asdfghjkl"),
    (44, b"zxcvbnm"),
];

/// The keys in use; the terminal is as it was again when they go.
pub(super) struct Keys {
    map: Vec<(Vec<u8>, Press)>,
    bytes: Receiver<Vec<u8>>,
    waiting: Vec<u8>,
    before: Option<rustix::termios::Termios>,
    /// Whether a key must be pressed before anything is heard.
    pub(super) push_to_talk: bool,
}

/// The bytes of a key by its name.
fn bytes_of(name: &str) -> Result<Vec<u8>> {
    if let Some((_, bytes, _)) = NAMED.iter().find(|(known, ..)| *known == name) {
        return Ok(bytes.to_vec());
    }
    let mut chars = name.chars();
    match (chars.next(), chars.next()) {
        (Some(one), None) if !one.is_control() => Ok(one.to_string().into_bytes()),
        _ => {
            let known: Vec<&str> = NAMED.iter().map(|(n, ..)| *n).collect();
            bail!(
                "\"{name}\" is not a key: expected one character or {}",
                known.join(", ")
            )
        }
    }
}

/// The bytes that a terminal sends for a key of a device.
fn bytes_of_code(code: u16) -> Option<Vec<u8>> {
    let named = NAMED.iter().find(|(.., known)| *known == code);
    let in_row = |(first, row): &(u16, &[u8])| {
        let at = usize::from(code.checked_sub(*first)?);
        row.get(at).map(|byte| vec![*byte])
    };
    let named = named.map(|(_, bytes, _)| bytes.to_vec());
    named.or_else(|| ROWS.iter().find_map(in_row))
}

/// Sends bytes on as they come; each stops the voice. False once nobody wants them.
fn send(bytes: Vec<u8>, to: &Sender<Vec<u8>>, hush: &AtomicBool) -> bool {
    hush.store(true, Ordering::Relaxed);
    to.send(bytes).is_ok()
}

/// Sends what is typed until it ends.
fn follow(typed: impl BufRead, to: &Sender<Vec<u8>>, hush: &AtomicBool) {
    for byte in typed.bytes().map_while(Result::ok) {
        if !send(vec![byte], to, hush) {
            break;
        }
    }
}

impl Keys {
    /// The keys that were asked for; `None` if none was. Whatever key comes sets `hush`.
    ///
    /// # Errors
    /// A name that is not a key, one key for two things, a terminal that cannot be set, or a pedal
    /// that cannot be read.
    pub(super) fn open(args: &Listen, hush: &Arc<AtomicBool>) -> Result<Option<Self>> {
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
        let (to, bytes) = channel();
        if let Some(name) = &args.pedal {
            let (to, hush, map) = (to.clone(), Arc::clone(hush), map.clone());
            // A keyboard types much that is not meant for the program.
            let is_mapped = move |b: &Vec<u8>| map.iter().any(|(known, _)| known == b);
            pedal::follow(name, move |code| {
                let bytes = bytes_of_code(code).filter(&is_mapped);
                bytes.is_none_or(|bytes| send(bytes, &to, &hush))
            })?;
        }
        let before = quiet_terminal().context("the terminal does not give single keys")?;
        map.push((b"\x03".to_vec(), Press::End));
        let hush = Arc::clone(hush);
        std::thread::spawn(move || follow(std::io::stdin().lock(), &to, &hush));
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
        self.waiting.extend(self.bytes.try_iter().flatten());
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
        assert!(bytes_of_code(0).is_none());
        for (name, code) in [("b", 48), ("5", 6), ("space", 57), ("pagedown", 109)] {
            assert_eq!(bytes_of_code(code), bytes_of(name).ok(), "{name}");
        }
        let error = bytes_of("pedal").unwrap_err().to_string();
        assert!(error.contains("expected one character or space, enter"));
    }

    #[test]
    fn a_key_stops_the_voice_at_once() {
        let hush = AtomicBool::new(false);
        let (to, bytes) = channel();
        follow(b"d".as_slice(), &to, &hush);
        assert!(hush.load(Ordering::Relaxed));
        assert_eq!(bytes.try_iter().collect::<Vec<_>>(), [b"d"]);
    }
}
