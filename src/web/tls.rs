//! The certificate of the local network, made once and kept, with its key, where only this person can
//! read it.

use super::Error;
use super::devices::hex;
use super::kept::Kept;
use rcgen::{CertificateParams, KeyPair};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::io;
use std::net::{IpAddr, UdpSocket};
use std::sync::Arc;
use std::time::{Duration, SystemTime, UNIX_EPOCH};
use tokio_rustls::TlsAcceptor;

/// The file of certificate and key.
const FILE: &str = "certificate.json";
/// How long a certificate is good: phones refuse one of their owner's that is good for longer than 825
/// days (from memory, as the makers of the browsers publish it).
const DAYS: u64 = 800;
/// It is made anew so long before its end.
const SPARE_DAYS: u64 = 30;
const DAY_S: u64 = 24 * 3_600;
/// Addresses that it names at most: those of the networks where this machine was.
const NAMES: usize = 16;

/// What is kept.
#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Identity {
    /// What it is good for, the newest last.
    names: Vec<String>,
    /// When it was made, in seconds since 1970 UTC.
    made_s: u64,
    /// The certificate, DER in hex.
    certificate: String,
    /// Its private key, PKCS #8 in hex. It never leaves this file.
    key: String,
}

/// How this machine shows itself on the network.
pub(super) struct Tls {
    pub(super) acceptor: TlsAcceptor,
    /// The SHA-256 of the certificate as a browser shows it.
    pub(super) fingerprint: String,
    /// It was made just now, so no browser knows it.
    pub(super) is_new: bool,
}

/// TLS with the certificate that is kept; one that does not name the address, or is about to end, is
/// replaced.
pub(super) fn of(kept: &dyn Kept, address: IpAddr) -> Result<Tls, Error> {
    let now = now_s();
    let name = address.to_string();
    let before = kept.read(FILE).map_err(failed)?;
    let known = before.as_deref().and_then(|text| good(text, &name, now));
    let is_new = known.is_none();
    let identity = match known {
        Some(identity) => identity,
        None => made(kept, &name, now)?,
    };
    let der = from_hex(&identity.certificate).ok_or_else(|| failed("its hex is damaged"))?;
    let print: Vec<String> = Sha256::digest(&der)
        .iter()
        .map(|b| format!("{b:02X}"))
        .collect();
    let key = from_hex(&identity.key).ok_or_else(|| failed("its hex is damaged"))?;
    let key = rustls::pki_types::PrivatePkcs8KeyDer::from(key);
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = rustls::ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(failed)?
        .with_no_client_auth()
        .with_single_cert(vec![der.into()], key.into())
        .map_err(failed)?;
    Ok(Tls {
        acceptor: TlsAcceptor::from(Arc::new(config)),
        fingerprint: print.join(":"),
        is_new,
    })
}

/// What is kept, if it will do.
fn good(text: &str, name: &str, now: u64) -> Option<Identity> {
    let identity: Identity = serde_json::from_str(text).ok()?;
    let ends = identity.made_s + (DAYS - SPARE_DAYS) * DAY_S;
    let names_it = identity.names.iter().any(|n| n == name);
    (names_it && now < ends).then_some(identity)
}

/// A new certificate, with the key there was and the addresses it named.
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
    let (key, mut names) = match before {
        Some(before) => {
            let key = from_hex(&before.key).ok_or(rcgen::Error::CouldNotParseKeyPair)?;
            (KeyPair::try_from(key)?, before.names)
        }
        None => (KeyPair::generate()?, vec!["localhost".to_owned()]),
    };
    names.retain(|n| n != name);
    names.push(name.to_owned());
    names.drain(..names.len().saturating_sub(NAMES));
    let mut params = CertificateParams::new(names.clone())?;
    let at = |seconds| rcgen::date_time_ymd(1970, 1, 1) + Duration::from_secs(seconds);
    params.not_before = at(now.saturating_sub(DAY_S));
    params.not_after = at(now + DAYS * DAY_S);
    let certificate = params.self_signed(&key)?;
    Ok(Identity {
        names,
        made_s: now,
        certificate: hex(certificate.der()),
        key: hex(&key.serialize_der()),
    })
}

fn from_hex(text: &str) -> Option<Vec<u8>> {
    let digits = text.as_bytes().chunks(2);
    let byte = |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
    digits.map(byte).collect()
}

fn failed(why: impl ToString) -> Error {
    Error::Certificate(why.to_string())
}

fn now_s() -> u64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |d| d.as_secs())
}

/// This machine's address on the local network.
pub(super) fn lan_address() -> Result<IpAddr, Error> {
    // Connecting a datagram socket sends nothing; it only picks the way out. 192.0.2.1 is reserved
    // for documentation (RFC 5737).
    let pick = || {
        let socket = UdpSocket::bind("0.0.0.0:0")?;
        socket.connect("192.0.2.1:9")?;
        Ok(socket.local_addr()?.ip())
    };
    pick().map_err(Error::NoNetwork)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::web::kept::Memory;
    use std::net::Ipv4Addr;

    const HOME: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 0, 2, 5));
    const BENCH: IpAddr = IpAddr::V4(Ipv4Addr::new(198, 51, 100, 7));

    fn kept_key(kept: &Memory) -> String {
        let text = kept.read(FILE).unwrap().unwrap();
        serde_json::from_str::<Identity>(&text).unwrap().key
    }

    #[test]
    fn a_certificate_stays_while_it_names_the_address() {
        let kept = Memory::default();
        let first = of(&kept, HOME).unwrap();
        assert!(first.is_new);
        let again = of(&kept, HOME).unwrap();
        assert!(!again.is_new);
        assert_eq!(again.fingerprint, first.fingerprint);
        let key = kept_key(&kept);
        // In another network it is another one, with the same key, and good for both.
        let other = of(&kept, BENCH).unwrap();
        assert!(other.is_new && other.fingerprint != first.fingerprint);
        assert_eq!(of(&kept, HOME).unwrap().fingerprint, other.fingerprint);
        assert_eq!(kept_key(&kept), key);
    }

    #[test]
    fn a_certificate_that_is_about_to_end_is_replaced() {
        let kept = Memory::default();
        let first = of(&kept, HOME).unwrap();
        let mut age = |text: Option<String>| {
            let mut identity: Identity = serde_json::from_str(&text.unwrap())?;
            identity.made_s -= (DAYS - SPARE_DAYS) * DAY_S;
            serde_json::to_string(&identity).map_err(io::Error::other)
        };
        kept.change(FILE, &mut age).unwrap();
        assert_ne!(of(&kept, HOME).unwrap().fingerprint, first.fingerprint);
    }
}
