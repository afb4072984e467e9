//! The certificates of this machine on the local network, made once and kept, with their keys, where only
//! this person can read them.
//!
//! A phone is told once to trust the root. It can vouch for addresses of private networks alone, so that
//! whoever got hold of its key could not pass for any place on the internet. The certificate that is shown
//! is signed by it, and made anew for another network without anybody having to trust it again.

use super::Error;
use super::devices::hex;
use super::kept::Kept;
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DnType, ExtendedKeyUsagePurpose,
    GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose, NameConstraints,
};
use serde::{Deserialize, Serialize};
use std::io;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// The file of certificates and keys.
const FILE: &str = "certificate.json";
/// How long a certificate is good: phones refuse one of their owner's that is good for longer than 825
/// days (from memory, as the makers of the browsers publish it).
const DAYS: u64 = 800;
/// It is made anew so long before its end.
pub(super) const SPARE_DAYS: u64 = 30;
/// How long the root is good.
const ROOT_DAYS: u64 = 3_650;
pub(super) const DAY_S: u64 = 24 * 3_600;
/// Addresses that it names at most: those of the networks where this machine was.
const NAMES: usize = 16;

/// Networks that are nobody's on the internet: RFC 1918, RFC 6598, RFC 3927, RFC 4193, RFC 4291; and this
/// machine itself.
const PRIVATE: [(IpAddr, u8); 8] = [
    (IpAddr::V4(Ipv4Addr::new(10, 0, 0, 0)), 8),
    (IpAddr::V4(Ipv4Addr::new(172, 16, 0, 0)), 12),
    (IpAddr::V4(Ipv4Addr::new(192, 168, 0, 0)), 16),
    (IpAddr::V4(Ipv4Addr::new(100, 64, 0, 0)), 10),
    (IpAddr::V4(Ipv4Addr::new(169, 254, 0, 0)), 16),
    (IpAddr::V4(Ipv4Addr::new(127, 0, 0, 0)), 8),
    (IpAddr::V6(Ipv6Addr::new(0xfc00, 0, 0, 0, 0, 0, 0, 0)), 7),
    (IpAddr::V6(Ipv6Addr::new(0xfe80, 0, 0, 0, 0, 0, 0, 0)), 10),
];

/// What is kept.
#[derive(Clone, Serialize, Deserialize)]
struct Identity {
    /// What it is good for, the newest last.
    names: Vec<String>,
    #[serde(flatten)]
    shown: Pair,
    /// Missing in what an older program kept.
    root: Option<Pair>,
}

/// A certificate and its key.
#[derive(Clone, Serialize, Deserialize)]
struct Pair {
    /// When it was made, in seconds since 1970 UTC.
    made_s: u64,
    /// The certificate, DER in hex.
    certificate: String,
    /// Its private key, PKCS #8 in hex. It never leaves this file.
    key: String,
}

/// What a server shows.
pub(super) struct Shown {
    /// DER.
    pub(super) certificate: Vec<u8>,
    /// DER.
    pub(super) root: Vec<u8>,
    /// PKCS #8.
    pub(super) key: Vec<u8>,
    /// It was made just now, so no browser knows it.
    pub(super) is_new: bool,
}

/// The certificate that is kept; one that does not name the address, or is about to end, is replaced.
pub(super) fn of(kept: &dyn Kept, address: IpAddr) -> Result<Shown, Error> {
    let now = now_s();
    let name = address.to_string();
    let before = kept.read(FILE).map_err(failed)?;
    let known = before.as_deref().and_then(|text| good(text, &name, now));
    let is_new = known.is_none();
    let Identity { shown, root, .. } = match known {
        Some(identity) => identity,
        None => made(kept, &name, now)?,
    };
    let root = root.map(|root| root.certificate).unwrap_or_default();
    let bytes = |hex: &str| from_hex(hex).ok_or_else(|| failed("its hex is damaged"));
    Ok(Shown {
        certificate: bytes(&shown.certificate)?,
        root: bytes(&root)?,
        key: bytes(&shown.key)?,
        is_new,
    })
}

/// The certificate that is kept, DER, if one is.
pub(super) fn kept_now(kept: &dyn Kept) -> Result<Option<Vec<u8>>, Error> {
    let text = kept.read(FILE).map_err(failed)?;
    let identity = text.and_then(|text| serde_json::from_str::<Identity>(&text).ok());
    Ok(identity.and_then(|identity| from_hex(&identity.shown.certificate)))
}

/// Forgets certificate, root and both keys: all are made anew the next time.
pub(super) fn forget(kept: &dyn Kept) -> Result<(), Error> {
    kept.remove(FILE).map_err(failed)?;
    Ok(())
}

/// What is kept, if it will do.
fn good(text: &str, name: &str, now: u64) -> Option<Identity> {
    let identity: Identity = serde_json::from_str(text).ok()?;
    let fresh = now < identity.shown.made_s + (DAYS - SPARE_DAYS) * DAY_S;
    let names_it = identity.names.iter().any(|n| n == name);
    (names_it && fresh && identity.root.is_some()).then_some(identity)
}

/// A new certificate, with the keys there were and the addresses it named.
fn made(kept: &dyn Kept, name: &str, now: u64) -> Result<Identity, Error> {
    let mut made = None;
    let mut write = |text: Option<String>| {
        let before: Option<Identity> = text.and_then(|t| serde_json::from_str(&t).ok());
        let identity = renewed(before, name, now).map_err(io::Error::other)?;
        let text = serde_json::to_string_pretty(&identity).map_err(io::Error::other)?;
        made = Some(identity);
        Ok(text)
    };
    kept.change(FILE, &mut write).map_err(failed)?;
    made.ok_or_else(|| failed("it was not written"))
}

fn renewed(before: Option<Identity>, name: &str, now: u64) -> Result<Identity, rcgen::Error> {
    let (key, mut names, root) = match before {
        Some(before) => (key_of(&before.shown)?, before.names, before.root),
        None => (KeyPair::generate()?, vec!["localhost".to_owned()], None),
    };
    names.retain(|n| n != name);
    names.push(name.to_owned());
    names.drain(..names.len().saturating_sub(NAMES));
    // A root that ends before what it signs is worth nothing.
    let lasts = |root: &Pair| now + DAYS * DAY_S < root.made_s + ROOT_DAYS * DAY_S;
    let root = root.filter(lasts).map_or_else(|| new_root(now), Ok)?;
    let root_key = key_of(&root)?;
    let root_params = root_params(root.made_s);
    let mut params = CertificateParams::new(names.clone())?;
    params.distinguished_name = called("Benchcall bench");
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.use_authority_key_identifier_extension = true;
    lasting(&mut params, now, DAYS);
    let issuer = Issuer::from_params(&root_params, &root_key);
    let certificate = params.signed_by(&key, &issuer)?;
    Ok(Identity {
        names,
        shown: Pair {
            made_s: now,
            certificate: hex(certificate.der()),
            key: hex(&key.serialize_der()),
        },
        root: Some(root),
    })
}

fn new_root(now: u64) -> Result<Pair, rcgen::Error> {
    let key = KeyPair::generate()?;
    let certificate = root_params(now).self_signed(&key)?;
    Ok(Pair {
        made_s: now,
        certificate: hex(certificate.der()),
        key: hex(&key.serialize_der()),
    })
}

/// The same for the same time, so that a root that is kept can sign again.
fn root_params(made_s: u64) -> CertificateParams {
    let mut params = CertificateParams::default();
    params.distinguished_name = called("Benchcall root of one bench");
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign];
    let network =
        |(address, bits)| GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(address, bits));
    let mut permitted_subtrees = vec![GeneralSubtree::DnsName("localhost".to_owned())];
    permitted_subtrees.extend(PRIVATE.map(network));
    params.name_constraints = Some(NameConstraints {
        permitted_subtrees,
        excluded_subtrees: Vec::new(),
    });
    lasting(&mut params, made_s, ROOT_DAYS);
    params
}

fn called(name: &str) -> rcgen::DistinguishedName {
    let mut called = rcgen::DistinguishedName::new();
    called.push(DnType::CommonName, name);
    called
}

fn lasting(params: &mut CertificateParams, from_s: u64, days: u64) {
    let at = |seconds| rcgen::date_time_ymd(1970, 1, 1) + Duration::from_secs(seconds);
    params.not_before = at(from_s.saturating_sub(DAY_S));
    params.not_after = at(from_s + days * DAY_S);
}

fn key_of(pair: &Pair) -> Result<KeyPair, rcgen::Error> {
    let key = from_hex(&pair.key).ok_or(rcgen::Error::CouldNotParseKeyPair)?;
    KeyPair::try_from(key)
}

fn from_hex(text: &str) -> Option<Vec<u8>> {
    let digits = text.as_bytes().chunks(2);
    let byte = |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
    digits.map(byte).collect()
}

pub(super) fn failed(why: impl ToString) -> Error {
    Error::Certificate(why.to_string())
}

pub(super) fn now_s() -> u64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |d| d.as_secs())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::web::kept::Memory;

    const HOME: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 0, 2, 5));
    const BENCH: IpAddr = IpAddr::V4(Ipv4Addr::new(198, 51, 100, 7));

    #[test]
    fn a_certificate_stays_while_it_names_the_address() {
        let kept = Memory::default();
        let first = of(&kept, HOME).unwrap();
        assert!(first.is_new);
        let again = of(&kept, HOME).unwrap();
        assert!(!again.is_new);
        assert_eq!(again.certificate, first.certificate);
        // In another network it is another one, with the same keys, and good for both. Who trusts the root
        // need not trust anything again.
        let other = of(&kept, BENCH).unwrap();
        assert!(other.is_new && other.certificate != first.certificate);
        assert_eq!((&other.root, &other.key), (&first.root, &first.key));
        assert_eq!(of(&kept, HOME).unwrap().certificate, other.certificate);
    }

    /// Whoever got hold of its key can do nothing with it once phones trust the new root.
    #[test]
    fn what_is_forgotten_is_made_anew_with_its_root() {
        let kept = Memory::default();
        assert_eq!(kept_now(&kept).unwrap(), None);
        let first = of(&kept, HOME).unwrap();
        assert_eq!(kept_now(&kept).unwrap(), Some(first.certificate));
        forget(&kept).unwrap();
        let second = of(&kept, HOME).unwrap();
        assert!(second.is_new);
        assert!(second.root != first.root && second.key != first.key);
    }

    #[test]
    fn a_certificate_that_is_about_to_end_is_replaced() {
        let kept = Memory::default();
        let first = of(&kept, HOME).unwrap();
        let mut age = |text: Option<String>| {
            let mut identity: Identity = serde_json::from_str(&text.unwrap())?;
            identity.shown.made_s -= (DAYS - SPARE_DAYS) * DAY_S;
            serde_json::to_string(&identity).map_err(io::Error::other)
        };
        kept.change(FILE, &mut age).unwrap();
        assert_ne!(of(&kept, HOME).unwrap().certificate, first.certificate);
    }

    /// What an older program kept has no root.
    #[test]
    fn a_certificate_of_an_older_program_gets_a_root_and_keeps_its_key() {
        let kept = Memory::default();
        let first = of(&kept, HOME).unwrap();
        let mut old = |text: Option<String>| {
            let mut all: serde_json::Value = serde_json::from_str(&text.unwrap())?;
            all.as_object_mut().unwrap().remove("root");
            Ok(all.to_string())
        };
        kept.change(FILE, &mut old).unwrap();
        let again = of(&kept, HOME).unwrap();
        assert!(again.is_new && !again.root.is_empty());
        assert_eq!(again.key, first.key);
    }
}
