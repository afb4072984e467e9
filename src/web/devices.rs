//! The devices that are let in. Each holds two halves of a pass: a token in a cookie, which the browser
//! sends to every port of this host, and a key that only the bench's own pages can read.

use super::Error;
use super::kept::{Kept, Version};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::io;
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

/// The file of the paired devices.
const FILE: &str = "devices.json";
/// Devices that can be paired at a time.
pub(super) const MOST: usize = 16;
/// So long a device is let in; then it pairs again. OWASP ASVS 4.0.3, 3.3.2: at least every 30 days.
const DAYS: i64 = 30;
pub(super) const LIFE_S: i64 = DAYS * 24 * 3_600;
const NAME: usize = 40;

/// A device that was let in.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Device {
    /// Its number; never given twice.
    pub id: u64,
    /// As the person calls it.
    pub name: String,
    /// When it was paired, in milliseconds since 1970 UTC.
    pub paired_ms: i64,
    token_sha256: String,
    key_sha256: String,
}

impl Device {
    /// When it is let in no longer, in milliseconds since 1970 UTC.
    #[must_use]
    pub(crate) const fn until_ms(&self) -> i64 {
        self.paired_ms + LIFE_S * 1_000
    }
}

/// Both halves of a pass.
pub(crate) struct Pass {
    pub token: String,
    pub key: String,
}

/// Whose token it is, and whether the key is that device's too.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Holder {
    pub(super) id: u64,
    pub(super) has_key: bool,
}

#[derive(Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct List {
    next_id: u64,
    devices: Vec<Device>,
}

/// The list, as far as it is known here: another program may change it at any time.
pub(crate) struct Devices {
    kept: Arc<dyn Kept>,
    list: List,
    read: Option<Version>,
}

impl Devices {
    /// Those that are kept there.
    ///
    /// # Errors
    /// [`Error::Kept`]: the list cannot be read.
    pub(crate) fn kept_in(kept: Arc<dyn Kept>) -> Result<Self, Error> {
        let mut devices = Self {
            kept,
            list: List::default(),
            read: None,
        };
        devices.look().map_err(unreadable)?;
        Ok(devices)
    }

    /// Reads the list if it changed. Of one that cannot be read nobody is let in.
    fn look(&mut self) -> io::Result<()> {
        let now = self.kept.version(FILE);
        if now == self.read {
            return Ok(());
        }
        self.list = List::default();
        self.list = list(self.kept.read(FILE)?)?;
        self.read = now;
        Ok(())
    }

    /// All that are let in now.
    pub(crate) fn all(&mut self) -> Vec<Device> {
        let _ = self.look();
        let now = now_ms();
        let all = self.list.devices.iter();
        all.filter(|d| now < d.until_ms()).cloned().collect()
    }

    /// The device of a token.
    pub(super) fn holder(&mut self, token: &str, key: Option<&str>) -> Option<Holder> {
        let token = sha256(token);
        let device = self.all().into_iter().find(|d| d.token_sha256 == token)?;
        Some(Holder {
            id: device.id,
            has_key: key.is_some_and(|key| sha256(key) == device.key_sha256),
        })
    }

    /// Lets one more in; `None` if there are too many.
    ///
    /// # Errors
    /// [`Error::Random`], [`Error::Kept`].
    pub(super) fn add(&mut self, name: &str) -> Result<Option<Pass>, Error> {
        let pass = Pass {
            token: hex(&random::<32>()?),
            key: hex(&random::<32>()?),
        };
        let now = now_ms();
        let added = self.change(|list| {
            list.devices.retain(|d| now < d.until_ms());
            if list.devices.len() >= MOST {
                return false;
            }
            list.next_id += 1;
            list.devices.push(Device {
                id: list.next_id,
                name: shown(name),
                paired_ms: now,
                token_sha256: sha256(&pass.token),
                key_sha256: sha256(&pass.key),
            });
            true
        })?;
        Ok(added.then_some(pass))
    }

    /// Sends a device away; whether it was there.
    ///
    /// # Errors
    /// [`Error::Kept`].
    pub(crate) fn remove(&mut self, id: u64) -> Result<bool, Error> {
        self.change(|list| {
            let before = list.devices.len();
            list.devices.retain(|d| d.id != id);
            list.devices.len() < before
        })
    }

    /// Calls a device otherwise; whether it was there.
    ///
    /// # Errors
    /// [`Error::Kept`].
    pub(crate) fn rename(&mut self, id: u64, name: &str) -> Result<bool, Error> {
        self.change(|list| {
            let device = list.devices.iter_mut().find(|d| d.id == id);
            device.map(|d| d.name = shown(name)).is_some()
        })
    }

    fn change<T>(&mut self, change: impl Fn(&mut List) -> T) -> Result<T, Error> {
        let mut done = None;
        let mut write = |text| {
            let mut list = list(text)?;
            done = Some(change(&mut list));
            serde_json::to_string_pretty(&list).map_err(io::Error::other)
        };
        self.kept.change(FILE, &mut write).map_err(unreadable)?;
        self.look().map_err(unreadable)?;
        done.ok_or_else(|| unreadable(io::Error::other("it was not changed")))
    }
}

fn list(text: Option<String>) -> io::Result<List> {
    let text = text.unwrap_or_else(|| "{\"next_id\":0,\"devices\":[]}".to_owned());
    serde_json::from_str(&text).map_err(io::Error::other)
}

fn unreadable(source: io::Error) -> Error {
    Error::Kept { name: FILE, source }
}

/// A name without what commands a terminal, and no longer than a line of the list.
fn shown(name: &str) -> String {
    name.chars()
        .filter(|c| !c.is_control())
        .take(NAME)
        .collect()
}

fn now_ms() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |d| i64::try_from(d.as_millis()).unwrap_or(i64::MAX))
}

fn sha256(text: &str) -> String {
    hex(&Sha256::digest(text.as_bytes()))
}

pub(super) fn random<const N: usize>() -> Result<[u8; N], Error> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|e| Error::Random(e.to_string()))?;
    Ok(bytes)
}

pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::web::kept::Memory;

    #[test]
    fn another_program_sends_a_device_away_and_its_number_never_comes_again() {
        let kept: Arc<dyn Kept> = Arc::new(Memory::default());
        let mut here = Devices::kept_in(kept.clone()).unwrap();
        let pass = here
            .add("phone\u{1b}[31m of the \u{7}bench")
            .unwrap()
            .unwrap();
        let mut there = Devices::kept_in(kept).unwrap();
        assert_eq!(there.all()[0].name, "phone[31m of the bench");
        let holder = |devices: &mut Devices, key| devices.holder(&pass.token, key);
        let whole = Holder {
            id: 1,
            has_key: true,
        };
        assert_eq!(holder(&mut here, Some(&pass.key)), Some(whole));
        let half = Holder {
            id: 1,
            has_key: false,
        };
        assert_eq!(holder(&mut here, None), Some(half));
        assert_eq!(holder(&mut here, Some(&pass.token)), Some(half));
        assert!(there.rename(1, "old phone").unwrap());
        assert_eq!(here.all()[0].name, "old phone");
        assert!(there.remove(1).unwrap());
        assert_eq!(holder(&mut here, Some(&pass.key)), None);
        assert!(!there.remove(1).unwrap());
        here.add("another").unwrap().unwrap();
        assert_eq!(there.all()[0].id, 2);
    }

    #[test]
    fn a_pass_ends_after_thirty_days() {
        let kept: Arc<dyn Kept> = Arc::new(Memory::default());
        let mut devices = Devices::kept_in(kept.clone()).unwrap();
        let pass = devices.add("phone").unwrap().unwrap();
        let mut age = |text: Option<String>| {
            let mut list = list(text)?;
            list.devices[0].paired_ms -= LIFE_S * 1_000;
            serde_json::to_string(&list).map_err(io::Error::other)
        };
        kept.change(FILE, &mut age).unwrap();
        assert_eq!(devices.holder(&pass.token, Some(&pass.key)), None);
        assert!(devices.all().is_empty());
    }

    #[test]
    fn a_list_that_cannot_be_read_lets_nobody_in() {
        let kept: Arc<dyn Kept> = Arc::new(Memory::default());
        let mut devices = Devices::kept_in(kept.clone()).unwrap();
        let pass = devices.add("phone").unwrap().unwrap();
        kept.change(FILE, &mut |_| Ok("nothing".to_owned()))
            .unwrap();
        assert_eq!(devices.holder(&pass.token, Some(&pass.key)), None);
        let error = Devices::kept_in(kept).err().unwrap().to_string();
        assert!(error.contains("devices.json"), "{error}");
    }
}
