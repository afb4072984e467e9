//! Pairing: a one-time code lets one device in; guessing locks the door; devices can be sent away.
//!
//! On the local network the code is typed, so it is short, grows old, and is guarded by the lock. On
//! this machine it is a part of the address that is printed, and too long to be guessed.

use super::Error;
use sha2::{Digest, Sha256};
use std::time::{Duration, Instant};

/// Digits of a typed code: with five guesses a lock, a guess hits one in 20 million.
const TYPED: usize = 8;
/// Digits of a code in an address, 106 bits.
const LINKED: usize = 32;
/// A typed code that nobody used is replaced after this long.
const LIFE: Duration = Duration::from_mins(10);
/// Wrong codes before the door is locked.
const GUESSES: u32 = 5;
/// The first lock; each further one lasts twice as long, up to an hour.
const LOCK: Duration = Duration::from_mins(1);
const LONGEST_LOCK: Duration = Duration::from_hours(1);
/// Devices that can be paired at a time.
const DEVICES: usize = 16;

/// Why a code does not let in.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub(crate) enum Refused {
    /// Not the code, or one that was used already.
    #[error("this is not the code that is shown now; {left} more tries")]
    Wrong {
        /// Tries before the lock.
        left: u32,
    },
    /// Not the code of the address that is good now.
    #[error(
        "this address was used already, or never was good: open the one that the terminal shows last"
    )]
    Used,
    /// Too many wrong ones.
    #[error("too many wrong codes; a new code works again in {seconds} s")]
    Locked {
        /// Seconds until then.
        seconds: u64,
    },
    /// Too many devices.
    #[error("{DEVICES} devices are paired already; send one away first")]
    Full,
}

/// A device that was let in.
#[derive(Clone, Debug)]
pub(super) struct Device {
    pub(super) id: u64,
    pub(super) name: String,
    token: [u8; 32],
}

/// Who is let in. Kept in memory only: it ends with the program.
#[derive(Debug)]
pub(crate) struct Pairing {
    code: String,
    digits: usize,
    made: Instant,
    wrong: u32,
    locks: u32,
    locked_until: Option<Instant>,
    devices: Vec<Device>,
    next_id: u64,
}

impl Pairing {
    /// A closed door with a first code, to be typed.
    ///
    /// # Errors
    /// [`Error::Random`].
    pub(crate) fn typed(now: Instant) -> Result<Self, Error> {
        Self::new(TYPED, now)
    }

    /// A closed door with a first code, for an address.
    ///
    /// # Errors
    /// [`Error::Random`].
    pub(crate) fn linked(now: Instant) -> Result<Self, Error> {
        Self::new(LINKED, now)
    }

    fn new(digits: usize, now: Instant) -> Result<Self, Error> {
        Ok(Self {
            code: new_code(digits)?,
            digits,
            made: now,
            wrong: 0,
            locks: 0,
            locked_until: None,
            devices: Vec::new(),
            next_id: 1,
        })
    }

    /// The code that lets the next device in; a new one where it was too old.
    ///
    /// # Errors
    /// [`Error::Random`].
    pub(crate) fn code(&mut self, now: Instant) -> Result<&str, Error> {
        if self.digits == TYPED && now.saturating_duration_since(self.made) >= LIFE {
            self.renew(now)?;
        }
        Ok(&self.code)
    }

    fn renew(&mut self, now: Instant) -> Result<(), Error> {
        self.code = new_code(self.digits)?;
        self.made = now;
        Ok(())
    }

    /// Tries a code; the token of the new device, 64 hex digits. The code is used up then.
    ///
    /// # Errors
    /// [`Refused`], inside [`Error::Random`] where the system fails.
    pub(crate) fn open(
        &mut self,
        code: &str,
        name: &str,
        now: Instant,
    ) -> Result<Result<String, Refused>, Error> {
        if let Some(until) = self.locked_until.filter(|until| *until > now) {
            let seconds = until.duration_since(now).as_secs() + 1;
            return Ok(Err(Refused::Locked { seconds }));
        }
        let given: String = code.chars().filter(char::is_ascii_digit).collect();
        let right = Sha256::digest(given.as_bytes()) == Sha256::digest(self.code(now)?.as_bytes());
        if !right {
            return Ok(Err(self.missed(now)?));
        }
        if self.devices.len() >= DEVICES {
            return Ok(Err(Refused::Full));
        }
        let token = hex(&random::<32>()?);
        self.devices.push(Device {
            id: self.next_id,
            name: name.chars().filter(|c| !c.is_control()).take(40).collect(),
            token: Sha256::digest(token.as_bytes()).into(),
        });
        self.next_id += 1;
        (self.wrong, self.locks) = (0, 0);
        self.renew(now)?;
        Ok(Ok(token))
    }

    fn missed(&mut self, now: Instant) -> Result<Refused, Error> {
        if self.digits != TYPED {
            return Ok(Refused::Used);
        }
        self.wrong += 1;
        if self.wrong < GUESSES {
            return Ok(Refused::Wrong {
                left: GUESSES - self.wrong,
            });
        }
        let lock = (LOCK * 2_u32.saturating_pow(self.locks.min(6))).min(LONGEST_LOCK);
        self.wrong = 0;
        self.locks += 1;
        self.locked_until = Some(now + lock);
        self.renew(now)?;
        Ok(Refused::Locked {
            seconds: lock.as_secs(),
        })
    }

    /// The device of a token.
    #[must_use]
    pub(crate) fn holds(&self, token: &str) -> Option<u64> {
        let token: [u8; 32] = Sha256::digest(token.as_bytes()).into();
        let found = self.devices.iter().find(|d| d.token == token);
        found.map(|d| d.id)
    }

    /// Sends a device away; whether it was there.
    pub(crate) fn revoke(&mut self, id: u64) -> bool {
        let before = self.devices.len();
        self.devices.retain(|d| d.id != id);
        self.devices.len() < before
    }

    /// The code as it was last made, old or not.
    pub(super) fn last_code(&self) -> &str {
        &self.code
    }

    pub(super) fn devices(&self) -> &[Device] {
        &self.devices
    }
}

fn new_code(digits: usize) -> Result<String, Error> {
    let mut code = String::new();
    while code.len() < digits {
        // 2^64 / 10^8 leaves a bias below 10^-11.
        let number = u64::from_le_bytes(random::<8>()?) % 100_000_000;
        code.push_str(&format!("{number:08}"));
    }
    Ok(code)
}

fn random<const N: usize>() -> Result<[u8; N], Error> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|e| Error::Random(e.to_string()))?;
    Ok(bytes)
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_code_works_once() {
        let now = Instant::now();
        let mut door = Pairing::typed(now).unwrap();
        let code = door.code(now).unwrap().to_owned();
        assert_eq!(code.len(), TYPED);
        let spaced = format!("{} {}", &code[..4], &code[4..]);
        let token = door.open(&spaced, "phone", now).unwrap().unwrap();
        let id = door.holds(&token).unwrap();
        assert_eq!(door.holds("0000"), None);
        assert_eq!(
            door.open(&code, "thief", now).unwrap(),
            Err(Refused::Wrong { left: GUESSES - 1 })
        );
        assert!(door.revoke(id));
        assert_eq!(door.holds(&token), None);
        assert!(!door.revoke(id));
    }

    #[test]
    fn guessing_locks_and_changes_the_code() {
        let now = Instant::now();
        let mut door = Pairing::typed(now).unwrap();
        let first = door.code(now).unwrap().to_owned();
        for left in (1..GUESSES).rev() {
            assert_eq!(
                door.open("1", "x", now).unwrap(),
                Err(Refused::Wrong { left })
            );
        }
        assert_eq!(
            door.open("1", "x", now).unwrap(),
            Err(Refused::Locked { seconds: 60 })
        );
        assert_ne!(door.code(now).unwrap(), first);
        let code = door.code(now).unwrap().to_owned();
        // Even the right one has to wait.
        let soon = now + Duration::from_secs(59);
        assert!(matches!(
            door.open(&code, "x", soon).unwrap(),
            Err(Refused::Locked { .. })
        ));
        let later = now + Duration::from_secs(61);
        assert!(door.open(&code, "x", later).unwrap().is_ok());
    }

    #[test]
    fn a_code_grows_old() {
        let now = Instant::now();
        let mut door = Pairing::typed(now).unwrap();
        let code = door.code(now).unwrap().to_owned();
        let later = now + LIFE;
        assert!(door.open(&code, "x", later).unwrap().is_err());
    }

    #[test]
    fn an_address_waits_works_once_and_cannot_be_locked_by_guessing() {
        let now = Instant::now();
        let mut door = Pairing::linked(now).unwrap();
        let code = door.code(now).unwrap().to_owned();
        assert_eq!(code.len(), LINKED);
        for _ in 0..20 {
            assert_eq!(door.open("1", "x", now).unwrap(), Err(Refused::Used));
        }
        let evening = now + Duration::from_mins(500);
        assert!(door.open(&code, "browser", evening).unwrap().is_ok());
        let again = door.open(&code, "thief", evening).unwrap();
        assert_eq!(again, Err(Refused::Used));
        assert_ne!(door.code(evening).unwrap(), code);
    }
}
