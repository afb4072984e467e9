//! A pedal or keyboard that is read itself, so that its keys count whichever window has the focus.
//!
//! The kernel gives each press as a record (linux/input.h): the time as two longs, then type, code
//! and value. Reading them needs no more than a file.

use crate::app::terminal::aside;
use anyhow::{Context, Result, bail};
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Where the kernel lists what can be pressed.
const DEVICES: &str = "/proc/bus/input/devices";
/// After its device has gone, it is looked for again this often.
const AGAIN: Duration = Duration::from_secs(2);
const TIME: usize = 2 * size_of::<usize>();
const RECORD: usize = TIME + 8;
/// The type of a record that tells of a key, and its value if the key went down
/// (linux/input-event-codes.h).
const KEY: [u8; 2] = 1_u16.to_ne_bytes();
const DOWN: [u8; 4] = 1_i32.to_ne_bytes();

/// Calls `pressed` with the code of every key that goes down, from a thread of its own, until that
/// says that nobody listens any more.
///
/// # Errors
/// There is no such device, or it may not be read.
pub(super) fn follow(
    name: &str,
    mut pressed: impl FnMut(u16) -> bool + Send + 'static,
) -> Result<()> {
    let mut device = open(name)?;
    let name = name.to_owned();
    std::thread::spawn(move || {
        while presses(&mut device, &mut pressed) {
            aside(&format!(
                "The pedal \"{name}\" has gone; its keys count again when it is back."
            ));
            device = loop {
                std::thread::sleep(AGAIN);
                if let Ok(back) = open(&name) {
                    break back;
                }
            };
            aside(&format!("The pedal \"{name}\" is back."));
        }
    });
    Ok(())
}

/// Reads presses until the device ends, which is true, or nobody listens any more.
fn presses(device: &mut impl Read, pressed: &mut impl FnMut(u16) -> bool) -> bool {
    let mut record = [0; RECORD];
    while device.read_exact(&mut record).is_ok() {
        let what = &record[TIME..];
        if what[..2] == KEY && what[4..] == DOWN && !pressed(u16::from_ne_bytes([what[2], what[3]]))
        {
            return false;
        }
    }
    true
}

/// A device by its path, or by a part of its name.
fn open(name: &str) -> Result<File> {
    let path = if name.contains('/') {
        PathBuf::from(name)
    } else {
        let listing = std::fs::read_to_string(DEVICES).with_context(|| {
            format!("{DEVICES} cannot be read, so a pedal is only found by its path: --pedal /dev/input/…")
        })?;
        path_of(name, &listing)?
    };
    match File::open(&path) {
        Ok(file) => Ok(file),
        Err(error) if error.kind() == ErrorKind::PermissionDenied => bail!(refusal(&path)),
        Err(error) => Err(error).with_context(|| format!("--pedal {}", path.display())),
    }
}

fn refusal(path: &Path) -> String {
    format!(
        "--pedal: you may not read {}. Join the group that may (`input` on most systems: sudo usermod -aG input NAME, \
         then log in again), or give a udev rule for it TAG+=\"uaccess\"",
        path.display()
    )
}

/// The event device of the one whose name holds this, in the kernel's list.
fn path_of(name: &str, listing: &str) -> Result<PathBuf> {
    let all: Vec<(&str, &str)> = listing.split("\n\n").filter_map(device_of).collect();
    let wanted = name.to_lowercase();
    let mut found = all
        .iter()
        .filter(|(n, _)| n.to_lowercase().contains(&wanted));
    match (found.next(), found.next()) {
        (Some((_, event)), None) => Ok(Path::new("/dev/input").join(event)),
        (one, _) => {
            let how_many = if one.is_some() {
                "several devices"
            } else {
                "no device"
            };
            let names: Vec<String> = all.iter().map(|(n, _)| format!("\"{n}\"")).collect();
            let there = match names.is_empty() {
                true => "there is none that has keys".to_owned(),
                false => format!("there are {}", names.join(", ")),
            };
            bail!("--pedal: {how_many} called \"{name}\"; {there}. A path works too: /dev/input/…")
        }
    }
}

/// The name of a device with keys, and its event device.
fn device_of(about: &str) -> Option<(&str, &str)> {
    let line = |start: &str| about.lines().find_map(|l| l.strip_prefix(start));
    let name = line("N: Name=")?.trim_matches('"');
    let mut handlers = line("H: Handlers=")?.split_whitespace();
    line("B: KEY=")?;
    Some((name, handlers.find(|h| h.starts_with("event"))?))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// As the kernel writes it: down, up, and the mark that ends each.
    pub(in crate::cli) fn record(kind: u16, code: u16, value: i32) -> Vec<u8> {
        let mut all = vec![0; TIME];
        all.extend(kind.to_ne_bytes());
        all.extend(code.to_ne_bytes());
        all.extend(value.to_ne_bytes());
        all
    }

    #[test]
    fn only_keys_that_go_down_count() {
        let (down, up, held) = (record(1, 48, 1), record(1, 48, 0), record(1, 48, 2));
        let (end, moved, cut) = (record(0, 0, 0), record(2, 0, 1), vec![0; 5]);
        let stream = [down.clone(), end, held, up, moved, down, cut].concat();
        let mut codes = Vec::new();
        let mut take = |code| {
            codes.push(code);
            true
        };
        assert!(presses(&mut stream.as_slice(), &mut take), "it has gone");
        assert_eq!(codes, [48, 48]);
        assert!(!presses(&mut stream.as_slice(), &mut |_| false));
    }

    #[test]
    fn a_pedal_is_found_by_a_part_of_its_name() {
        let listing = "I: Bus=0019\nN: Name=\"Power Button\"\nH: Handlers=kbd event0 \nB: EV=3\nB: KEY=10000000000000 0\n\n\
            I: Bus=0003\nN: Name=\"Foot Switch\"\nH: Handlers=sysrq kbd leds event4 \nB: EV=120013\nB: KEY=7 ff80\n\n\
            I: Bus=0003\nN: Name=\"Foot Light\"\nH: Handlers=event5 \nB: EV=1\n\n";
        let path = path_of("foot", listing).unwrap();
        assert_eq!(path, Path::new("/dev/input/event4"));
        let error = |name| path_of(name, listing).unwrap_err().to_string();
        assert_eq!(
            error("hand"),
            "--pedal: no device called \"hand\"; there are \"Power Button\", \"Foot Switch\". A path works too: /dev/input/…"
        );
        assert!(error("o").starts_with("--pedal: several devices called \"o\""));
        let none = path_of("foot", "").unwrap_err().to_string();
        assert!(none.contains("there is none that has keys"), "{none}");
    }

    #[test]
    fn a_device_that_may_not_be_read_says_who_may() {
        let words = refusal(Path::new("/dev/input/event4"));
        assert!(words.contains("/dev/input/event4") && words.contains("usermod -aG input"));
        let missing = open("/nowhere/event9").unwrap_err();
        assert_eq!(missing.to_string(), "--pedal /nowhere/event9");
    }
}
