//! TLS on the local network: with a certificate of this person's own if one lies in the settings folder,
//! else with the one that is made (`certificate`).

use super::Error;
use super::certificate::{self, failed};
use super::fingerprint::Fingerprint;
use super::kept::{Kept, Memory};
use super::x509::said;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer};
use std::net::{IpAddr, Ipv4Addr, UdpSocket};
use std::sync::Arc;
use tokio_rustls::TlsAcceptor;

/// A certificate of this person's own with those that vouch for it, and its key, as PEM.
const GIVEN: [&str; 2] = ["certificate.pem", "key.pem"];

/// How this machine shows itself on the network.
pub(super) struct Tls {
    pub(super) acceptor: TlsAcceptor,
    pub(super) certificate: Certificate,
    /// Names that the certificate is good for besides the address.
    pub(super) names: Vec<String>,
}

/// What others see of it.
#[derive(Clone)]
pub(super) struct Certificate {
    /// As a browser shows it.
    pub(super) fingerprint: Fingerprint,
    /// It was made just now, so no browser knows it.
    pub(super) is_new: bool,
    /// What a phone can be told to trust, DER; `None` for a certificate of this person's own.
    pub(super) root: Option<Vec<u8>>,
}

/// TLS for a server at that address.
pub(super) fn of(kept: &dyn Kept, address: IpAddr) -> Result<Tls, Error> {
    if let Some((chain, key)) = given(kept)? {
        let shown = chain.first().ok_or_else(|| failed("it is empty"))?;
        let certificate = Certificate {
            fingerprint: Fingerprint::of(shown),
            is_new: false,
            root: None,
        };
        let names = said(shown)?.names;
        return tls(chain, key, certificate, names);
    }
    let made = certificate::of(kept, address)?;
    let certificate = Certificate {
        fingerprint: Fingerprint::of(&made.certificate),
        is_new: made.is_new,
        root: Some(made.root.clone()),
    };
    let chain = vec![made.certificate.into(), made.root.into()];
    let key = PrivatePkcs8KeyDer::from(made.key).into();
    tls(chain, key, certificate, Vec::new())
}

fn tls(
    chain: Vec<CertificateDer<'static>>,
    key: PrivateKeyDer<'static>,
    certificate: Certificate,
    names: Vec<String>,
) -> Result<Tls, Error> {
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = rustls::ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(failed)?
        .with_no_client_auth()
        .with_single_cert(chain, key)
        .map_err(failed)?;
    Ok(Tls {
        acceptor: TlsAcceptor::from(Arc::new(config)),
        certificate,
        names,
    })
}

/// Keeps a certificate of this person's own, once a server could show it.
///
/// # Errors
/// [`Error::Certificate`]: what is wrong with it.
pub(crate) fn keep_certificate(kept: &dyn Kept, chain: &str, key: &str) -> Result<(), Error> {
    let tried = Memory::default();
    for (name, text) in GIVEN.into_iter().zip([chain, key]) {
        keep(&tried, name, text)?;
    }
    of(&tried, Ipv4Addr::LOCALHOST.into())?;
    // The key first: a certificate that lay alone would be an error.
    for (name, text) in GIVEN.into_iter().zip([chain, key]).rev() {
        keep(kept, name, text)?;
    }
    Ok(())
}

/// The certificate that is shown now, or the next time that the network is opened.
pub(crate) struct CertificateNow {
    /// This person's own, not the bench's.
    pub(crate) own: bool,
    /// When it ends, in milliseconds since 1970 UTC.
    pub(crate) until_ms: i64,
    /// That is soon, or was.
    pub(crate) ends_soon: bool,
}

/// The one that is kept; `None` if none was needed yet.
///
/// # Errors
/// [`Error::Certificate`]: it cannot be read.
pub(crate) fn certificate_now(kept: &dyn Kept) -> Result<Option<CertificateNow>, Error> {
    let (own, said) = match given(kept)? {
        Some((chain, _)) => (true, chain.first().map(|shown| said(shown)).transpose()?),
        // One that is damaged is made anew.
        None => (
            false,
            certificate::kept_now(kept)?.and_then(|der| said(&der).ok()),
        ),
    };
    let soon_ms = (certificate::now_s() + certificate::SPARE_DAYS * certificate::DAY_S) * 1_000;
    Ok(said.map(|said| CertificateNow {
        own,
        until_ms: said.ends_ms,
        ends_soon: said.ends_ms < soon_ms.cast_signed(),
    }))
}

/// Stops showing a certificate of this person's own; whether there was one.
///
/// # Errors
/// [`Error::Certificate`]: the settings folder.
pub(crate) fn forget_certificate(kept: &dyn Kept) -> Result<bool, Error> {
    let mut any = false;
    for name in GIVEN {
        any |= kept
            .remove(name)
            .map_err(|e| failed(format!("{name}: {e}")))?;
    }
    Ok(any)
}

/// Makes the bench's own certificate anew the next time, with its root and both keys.
///
/// # Errors
/// [`Error::Certificate`]: the settings folder.
pub(crate) fn renew_certificate(kept: &dyn Kept) -> Result<(), Error> {
    certificate::forget(kept)
}

fn keep(kept: &dyn Kept, name: &str, text: &str) -> Result<(), Error> {
    let mut write = |_| Ok(text.to_owned());
    let kept = kept.change(name, &mut write);
    kept.map_err(|e| failed(format!("{name}: {e}")))
}

type Chain = (Vec<CertificateDer<'static>>, PrivateKeyDer<'static>);

/// The certificate of this person's own, if there is one.
fn given(kept: &dyn Kept) -> Result<Option<Chain>, Error> {
    let [name, key_name] = GIVEN;
    let read = |name: &str| kept.read(name).map_err(|e| failed(format!("{name}: {e}")));
    let (chain, key) = match (read(name)?, read(key_name)?) {
        (None, None) => return Ok(None),
        (Some(chain), Some(key)) => (chain, key),
        (chain, _) => {
            let alone = if chain.is_some() { name } else { key_name };
            let why = format!(
                "{alone} lies alone in the settings folder: expected {name} and {key_name}, or neither"
            );
            return Err(failed(why));
        }
    };
    let chain: Result<Vec<_>, _> = CertificateDer::pem_slice_iter(chain.as_bytes()).collect();
    let chain = chain.map_err(|e| failed(format!("{name}: {e}")))?;
    let key = PrivateKeyDer::from_pem_slice(key.as_bytes());
    let key = key.map_err(|e| failed(format!("{key_name}: {e}")))?;
    if chain.is_empty() {
        let why = format!("{name} holds no certificate: expected PEM, this machine's first");
        return Err(failed(why));
    }
    Ok(Some((chain, key)))
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
    use base64::Engine;
    use base64::engine::general_purpose::STANDARD;

    const HOME: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 168, 0, 5));

    /// RFC 7468.
    fn pem(label: &str, der: &[u8]) -> String {
        let text = STANDARD.encode(der);
        let lines = text.as_bytes().chunks(64).map(String::from_utf8_lossy);
        let lines = lines.collect::<Vec<_>>().join("\n");
        format!("-----BEGIN {label}-----\n{lines}\n-----END {label}-----\n")
    }

    #[test]
    fn a_certificate_of_ones_own_is_taken_with_its_names() {
        let own = rcgen::generate_simple_self_signed(vec![
            "bench.example".to_owned(),
            "*.example".to_owned(),
            "192.168.0.5".to_owned(),
        ])
        .unwrap();
        let kept = Memory::default();
        keep(
            &kept,
            "certificate.pem",
            &pem("CERTIFICATE", own.cert.der()),
        )
        .unwrap();
        let alone = of(&kept, HOME).err().unwrap().to_string();
        assert!(alone.contains("certificate.pem lies alone"), "{alone}");
        keep(
            &kept,
            "key.pem",
            &pem("PRIVATE KEY", &own.signing_key.serialize_der()),
        )
        .unwrap();
        let tls = of(&kept, HOME).unwrap();
        assert_eq!(tls.names, ["bench.example"]);
        assert!(tls.certificate.root.is_none());
        keep(&kept, "certificate.pem", "nothing").unwrap();
        let none = of(&kept, HOME).err().unwrap().to_string();
        assert!(none.contains("holds no certificate"), "{none}");
    }

    /// The key of another certificate is refused at the start, not at the first handshake.
    #[test]
    fn a_key_that_does_not_fit_is_refused() {
        let make = || rcgen::generate_simple_self_signed(vec!["bench.example".to_owned()]).unwrap();
        let kept = Memory::default();
        keep(
            &kept,
            "certificate.pem",
            &pem("CERTIFICATE", make().cert.der()),
        )
        .unwrap();
        keep(
            &kept,
            "key.pem",
            &pem("PRIVATE KEY", &make().signing_key.serialize_der()),
        )
        .unwrap();
        assert!(of(&kept, HOME).is_err());
        // Nor is it kept if a page brings it.
        let pems = |own: &rcgen::CertifiedKey<rcgen::KeyPair>| {
            let key = own.signing_key.serialize_der();
            [pem("CERTIFICATE", own.cert.der()), pem("PRIVATE KEY", &key)]
        };
        let (one, other, kept) = (pems(&make()), pems(&make()), Memory::default());
        assert!(keep_certificate(&kept, &one[0], &other[1]).is_err());
        assert!(kept.read("key.pem").unwrap().is_none());
        keep_certificate(&kept, &one[0], &one[1]).unwrap();
        assert_eq!(of(&kept, HOME).unwrap().names, ["bench.example"]);
        let now = certificate_now(&kept).unwrap().unwrap();
        assert!(now.own && !now.ends_soon);
        assert!(forget_certificate(&kept).unwrap());
        assert!(!forget_certificate(&kept).unwrap());
        assert!(certificate_now(&kept).unwrap().is_none());
        assert!(of(&kept, HOME).unwrap().certificate.root.is_some());
        let now = certificate_now(&kept).unwrap().unwrap();
        assert!(!now.own && !now.ends_soon);
    }
}
