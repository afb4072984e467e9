//! The certificate of the local network, made on the spot and kept nowhere.

use super::Error;
use sha2::{Digest, Sha256};
use std::net::{IpAddr, UdpSocket};
use std::sync::Arc;
use tokio_rustls::TlsAcceptor;

/// A way to serve TLS, and the SHA-256 of the certificate as a browser shows it.
pub(super) fn acceptor(address: IpAddr) -> Result<(TlsAcceptor, String), Error> {
    let failed = |e: String| Error::Certificate(e);
    let names = vec![address.to_string(), "localhost".to_owned()];
    let made = rcgen::generate_simple_self_signed(names).map_err(|e| failed(e.to_string()))?;
    let der = made.cert.der().clone();
    let print: Vec<String> = Sha256::digest(&der)
        .iter()
        .map(|b| format!("{b:02X}"))
        .collect();
    let key = rustls::pki_types::PrivatePkcs8KeyDer::from(made.signing_key.serialize_der());
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = rustls::ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(|e| failed(e.to_string()))?
        .with_no_client_auth()
        .with_single_cert(vec![der], key.into())
        .map_err(|e| failed(e.to_string()))?;
    Ok((TlsAcceptor::from(Arc::new(config)), print.join(":")))
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
