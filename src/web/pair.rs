//! Pairing: a one-time code lets one device in; guessing locks the address that guesses.
//!
//! On the local network a short code is typed: it grows old, and is guarded by the lock. The other code
//! is a part of the address that is printed and shown as a picture: too long to be guessed, so no lock
//! shuts out who stands at the bench.

use super::Error;
use super::devices::{Devices, MOST, Pass, random};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::net::IpAddr;
use std::time::{Duration, Instant};

/// Digits of a typed code: with five guesses a lock, a guess hits one in 20 million.
const TYPED: usize = 8;
/// Digits of a code in an address, 106 bits.
const LINKED: usize = 32;
/// A typed code that nobody used is replaced after this long.
const LIFE: Duration = Duration::from_mins(10);
/// Wrong codes before an address is locked.
const GUESSES: u32 = 5;
/// Wrong codes of all addresses together before the typed code is replaced.
const ALL_GUESSES: u32 = 1_000;
/// Addresses whose guesses are remembered.
const ADDRESSES: usize = 1_000;
/// The first lock; each further one lasts twice as long, up to an hour.
const LOCK: Duration = Duration::from_mins(1);
const LONGEST_LOCK: Duration = Duration::from_hours(1);

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
    #[error(
        "too many wrong codes from this device; a code works again in {seconds} s, the picture at the bench at once"
    )]
    Locked {
        /// Seconds until then.
        seconds: u64,
    },
    /// Too many devices.
    #[error("{MOST} devices are paired already; send one away first")]
    Full,
}

/// The codes that let the next device in.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Codes {
    /// To be typed; on the local network only.
    pub typed: Option<String>,
    /// A part of an address.
    pub linked: String,
}

/// What an address has guessed.
#[derive(Clone, Copy, Debug, Default)]
struct Guesser {
    wrong: u32,
    locks: u32,
    locked_until: Option<Instant>,
}

/// Who is let in.
pub(crate) struct Pairing {
    codes: Codes,
    made: Instant,
    wrong: u32,
    guessers: BTreeMap<IpAddr, Guesser>,
    pub(super) devices: Devices,
}

impl Pairing {
    /// A closed pairing with first codes; a typed one for the local network.
    ///
    /// # Errors
    /// [`Error::Random`].
    pub(crate) fn new(lan: bool, devices: Devices, now: Instant) -> Result<Self, Error> {
        let codes = Codes {
            typed: lan.then(|| new_code(TYPED)).transpose()?,
            linked: new_code(LINKED)?,
        };
        Ok(Self {
            codes,
            made: now,
            wrong: 0,
            guessers: BTreeMap::new(),
            devices,
        })
    }

    /// The codes that let the next device in; a new typed one if it was too old.
    ///
    /// # Errors
    /// [`Error::Random`].
    pub(crate) fn codes(&mut self, now: Instant) -> Result<&Codes, Error> {
        if now.saturating_duration_since(self.made) >= LIFE {
            self.renew_typed(now)?;
        }
        Ok(&self.codes)
    }

    /// The codes as they were last made, old or not.
    pub(super) const fn last_codes(&self) -> &Codes {
        &self.codes
    }

    fn renew_typed(&mut self, now: Instant) -> Result<(), Error> {
        if self.codes.typed.is_some() {
            self.codes.typed = Some(new_code(TYPED)?);
        }
        (self.made, self.wrong) = (now, 0);
        Ok(())
    }

    /// Tries a code. Both codes are used up by a right one.
    ///
    /// # Errors
    /// [`Refused`], inside [`Error::Random`] or [`Error::Kept`] if the system fails.
    pub(crate) fn open(
        &mut self,
        code: &str,
        name: &str,
        from: IpAddr,
        now: Instant,
    ) -> Result<Result<Pass, Refused>, Error> {
        let given: String = code.chars().filter(char::is_ascii_digit).collect();
        let same = |code: &str| Sha256::digest(given.as_bytes()) == Sha256::digest(code.as_bytes());
        let (right, typed) = match &self.codes(now)?.typed {
            Some(typed) if given.len() != LINKED => (same(typed), true),
            _ => (same(&self.codes.linked), false),
        };
        if typed && let Some(seconds) = self.locked(from, now) {
            return Ok(Err(Refused::Locked { seconds }));
        }
        if !right {
            return match typed {
                true => self.missed(from, now).map(Err),
                false => Ok(Err(Refused::Used)),
            };
        }
        let Some(pass) = self.devices.add(name)? else {
            return Ok(Err(Refused::Full));
        };
        self.guessers.remove(&from);
        self.codes.linked = new_code(LINKED)?;
        self.renew_typed(now)?;
        Ok(Ok(pass))
    }

    /// For so many seconds more an address may not try.
    fn locked(&self, from: IpAddr, now: Instant) -> Option<u64> {
        let until = self.guessers.get(&from)?.locked_until?;
        (until > now).then(|| until.duration_since(now).as_secs() + 1)
    }

    fn missed(&mut self, from: IpAddr, now: Instant) -> Result<Refused, Error> {
        self.wrong += 1;
        if self.wrong >= ALL_GUESSES {
            self.renew_typed(now)?;
        }
        if self.guessers.len() >= ADDRESSES {
            self.guessers
                .retain(|_, g| g.locked_until.is_some_and(|until| until > now));
        }
        if self.guessers.len() >= ADDRESSES && !self.guessers.contains_key(&from) {
            let seconds = LOCK.as_secs();
            return Ok(Refused::Locked { seconds });
        }
        let guesser = self.guessers.entry(from).or_default();
        guesser.wrong += 1;
        if guesser.wrong < GUESSES {
            let left = GUESSES - guesser.wrong;
            return Ok(Refused::Wrong { left });
        }
        let lock = (LOCK * 2_u32.saturating_pow(guesser.locks.min(6))).min(LONGEST_LOCK);
        *guesser = Guesser {
            wrong: 0,
            locks: guesser.locks + 1,
            locked_until: Some(now + lock),
        };
        let seconds = lock.as_secs();
        Ok(Refused::Locked { seconds })
    }

    /// Who stands at the bench lets everybody try again.
    pub(super) fn unlock(&mut self) {
        self.guessers.clear();
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::web::kept::Memory;
    use std::net::Ipv4Addr;
    use std::sync::Arc;

    const PHONE: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 0, 2, 5));
    const OTHER: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 0, 2, 6));

    fn pairing(lan: bool, now: Instant) -> Pairing {
        let devices = Devices::kept_in(Arc::new(Memory::default())).unwrap();
        Pairing::new(lan, devices, now).unwrap()
    }

    fn typed(pairing: &mut Pairing, now: Instant) -> String {
        pairing.codes(now).unwrap().typed.clone().unwrap()
    }

    /// What trying a code comes to, without the pass.
    fn tried(pairing: &mut Pairing, code: &str, from: IpAddr, now: Instant) -> Result<(), Refused> {
        pairing.open(code, "x", from, now).unwrap().map(|_| ())
    }

    #[test]
    fn a_code_works_once() {
        let now = Instant::now();
        let mut pairing = pairing(true, now);
        let code = typed(&mut pairing, now);
        assert_eq!(code.len(), TYPED);
        let spaced = format!("{} {}", &code[..4], &code[4..]);
        let pass = pairing.open(&spaced, "phone", PHONE, now).unwrap().unwrap();
        assert!(pairing.devices.holder(&pass.token, None).is_some());
        assert!(pairing.devices.holder("0000", None).is_none());
        let left = GUESSES - 1;
        assert_eq!(
            tried(&mut pairing, &code, OTHER, now),
            Err(Refused::Wrong { left })
        );
    }

    #[test]
    fn guessing_locks_the_address_that_guesses_and_no_other() {
        let now = Instant::now();
        let mut pairing = pairing(true, now);
        let code = typed(&mut pairing, now);
        for left in (1..GUESSES).rev() {
            let wrong = Err(Refused::Wrong { left });
            assert_eq!(tried(&mut pairing, "1", PHONE, now), wrong);
        }
        let locked = Err(Refused::Locked { seconds: 60 });
        assert_eq!(tried(&mut pairing, "1", PHONE, now), locked);
        // Even the right one has to wait, there.
        let soon = now + Duration::from_secs(59);
        let refused = tried(&mut pairing, &code, PHONE, soon);
        assert!(matches!(refused, Err(Refused::Locked { .. })));
        assert_eq!(tried(&mut pairing, &code, OTHER, soon), Ok(()));
        // The address at the bench is never locked.
        let linked = pairing.codes(soon).unwrap().linked.clone();
        assert_eq!(tried(&mut pairing, &linked, PHONE, soon), Ok(()));
        // The next lock is longer, until who stands at the bench lifts it.
        for _ in 0..GUESSES {
            let _ = tried(&mut pairing, "1", OTHER, soon);
        }
        let code = typed(&mut pairing, soon);
        assert!(tried(&mut pairing, &code, OTHER, soon).is_err());
        pairing.unlock();
        assert_eq!(tried(&mut pairing, &code, OTHER, soon), Ok(()));
    }

    #[test]
    fn many_addresses_that_guess_get_a_code_replaced() {
        let now = Instant::now();
        let mut pairing = pairing(true, now);
        let code = typed(&mut pairing, now);
        for n in 0..ALL_GUESSES {
            let from = IpAddr::V4(Ipv4Addr::from_bits(n));
            assert!(tried(&mut pairing, "1", from, now).is_err());
        }
        assert_ne!(typed(&mut pairing, now), code);
    }

    #[test]
    fn a_code_grows_old() {
        let now = Instant::now();
        let mut pairing = pairing(true, now);
        let code = typed(&mut pairing, now);
        assert!(tried(&mut pairing, &code, PHONE, now + LIFE).is_err());
    }

    #[test]
    fn an_address_waits_works_once_and_cannot_be_locked_by_guessing() {
        let now = Instant::now();
        let mut pairing = pairing(false, now);
        let code = pairing.codes(now).unwrap().linked.clone();
        assert_eq!(code.len(), LINKED);
        for _ in 0..20 {
            assert_eq!(tried(&mut pairing, "1", PHONE, now), Err(Refused::Used));
        }
        let evening = now + Duration::from_mins(500);
        assert_eq!(tried(&mut pairing, &code, PHONE, evening), Ok(()));
        assert_eq!(
            tried(&mut pairing, &code, PHONE, evening),
            Err(Refused::Used)
        );
        assert_ne!(pairing.codes(evening).unwrap().linked, code);
    }
}
