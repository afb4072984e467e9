//! A server to test, and a client that sends exactly what it is told.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use super::super::fake::ScriptedBackend;
use super::super::kept::Memory;
use super::super::*;
use std::io::{Read, Write};
use std::net::{IpAddr, Ipv4Addr, TcpStream};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A server on this machine with a clip, and the codes that it showed.
pub(super) struct Bench {
    pub(super) server: Server,
    pub(super) backend: Arc<ScriptedBackend>,
    pub(super) live: Live,
    pub(super) codes: Arc<Mutex<Vec<Codes>>>,
    pub(super) port: Option<PhonePort>,
    /// The header lines of the pass that every request sends; empty at first.
    pub(super) cookie: String,
}

pub(super) fn name() -> String {
    "ab".repeat(32)
}

/// A bench without TLS, and this client paired with it.
pub(super) fn paired() -> Bench {
    let mut bench = bench(false);
    bench.cookie = bench.pair();
    bench
}

/// A bench that nobody is paired with; over TLS for `lan`.
pub(super) fn bench(lan: bool) -> Bench {
    bench_of(lan, Arc::new(Memory::default()))
}

/// The same, on what was kept before.
pub(super) fn bench_of(lan: bool, kept: Arc<dyn Kept>) -> Bench {
    let backend = Arc::new(ScriptedBackend {
        session: "{\"rows\":[]}".to_owned(),
        clips: [(name(), b"RIFF sound".to_vec())].into(),
        ..ScriptedBackend::default()
    });
    let live = Live::new("{\"state\":\"listening\"}", "{\"event\":1}");
    let codes: Arc<Mutex<Vec<Codes>>> = Arc::default();
    let seen = codes.clone();
    let (link, port) = link();
    let server = Server::start(Options {
        lan: lan.then_some(Some(IpAddr::V4(Ipv4Addr::LOCALHOST))),
        port: 0,
        backend: backend.clone(),
        live: Some(live.clone()),
        phone: Some(link),
        kept: Some(kept),
        on_code: Box::new(move |codes| seen.lock().unwrap().push(codes.clone())),
    })
    .unwrap();
    Bench {
        server,
        backend,
        live,
        codes,
        port: Some(port),
        cookie: String::new(),
    }
}

pub(super) trait Wire: Read + Write {}
impl<T: Read + Write> Wire for T {}

/// Trusts the certificate that was made on the spot, as a person does who compares it.
#[derive(Debug)]
struct Compared(String);

impl rustls::client::danger::ServerCertVerifier for Compared {
    fn verify_server_cert(
        &self,
        cert: &rustls::pki_types::CertificateDer<'_>,
        _: &[rustls::pki_types::CertificateDer<'_>],
        _: &rustls::pki_types::ServerName<'_>,
        _: &[u8],
        _: rustls::pki_types::UnixTime,
    ) -> Result<rustls::client::danger::ServerCertVerified, rustls::Error> {
        use sha2::{Digest, Sha256};
        let print: Vec<String> = Sha256::digest(cert)
            .iter()
            .map(|b| format!("{b:02X}"))
            .collect();
        assert_eq!(
            print.join(":"),
            self.0,
            "the fingerprint is that of the certificate"
        );
        Ok(rustls::client::danger::ServerCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        _: &[u8],
        _: &rustls::pki_types::CertificateDer<'_>,
        _: &rustls::DigitallySignedStruct,
    ) -> Result<rustls::client::danger::HandshakeSignatureValid, rustls::Error> {
        Ok(rustls::client::danger::HandshakeSignatureValid::assertion())
    }

    fn verify_tls13_signature(
        &self,
        _: &[u8],
        _: &rustls::pki_types::CertificateDer<'_>,
        _: &rustls::DigitallySignedStruct,
    ) -> Result<rustls::client::danger::HandshakeSignatureValid, rustls::Error> {
        Ok(rustls::client::danger::HandshakeSignatureValid::assertion())
    }

    fn supported_verify_schemes(&self) -> Vec<rustls::SignatureScheme> {
        rustls::crypto::ring::default_provider()
            .signature_verification_algorithms
            .supported_schemes()
    }
}

impl Bench {
    /// The paired page is answered at once, 20 times, whatever else is connected.
    pub(super) fn answers_beside(&self, idle: usize) {
        let mut slowest = Duration::ZERO;
        for _ in 0..20 {
            let begun = Instant::now();
            assert_eq!(self.get("/session.json", "").0, 200);
            slowest = slowest.max(begun.elapsed());
        }
        println!("beside {idle} idle sockets: slowest of 20 answers {slowest:?}");
        assert!(slowest < Duration::from_secs(2), "{slowest:?}");
    }

    pub(super) fn host(&self) -> String {
        self.server.address().to_string()
    }

    pub(super) fn wire(&self) -> Box<dyn Wire> {
        let tcp = TcpStream::connect(self.server.address()).unwrap();
        tcp.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let Some(print) = self.server.fingerprint() else {
            return Box::new(tcp);
        };
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = rustls::ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .unwrap()
            .dangerous()
            .with_custom_certificate_verifier(Arc::new(Compared(print.clone())))
            .with_no_client_auth();
        let ip = self.server.address().ip();
        let client = rustls::ClientConnection::new(Arc::new(config), ip.into()).unwrap();
        Box::new(rustls::StreamOwned::new(client, tcp))
    }

    /// Sends a request as it stands, and gives status, head and body.
    pub(super) fn raw(&self, request: &str) -> (u16, String, String) {
        let mut wire = self.wire();
        let _ = wire.write_all(request.as_bytes()); // the server may have had enough before the end
        let mut all = Vec::new();
        let _ = wire.read_to_end(&mut all); // a TLS peer may end without a goodbye
        let all = String::from_utf8_lossy(&all).into_owned();
        let (head, body) = all.split_once("\r\n\r\n").unwrap_or((&all, ""));
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok());
        (status.unwrap_or(0), head.to_lowercase(), body.to_owned())
    }

    pub(super) fn get(&self, path: &str, more: &str) -> (u16, String, String) {
        let (host, cookie) = (self.host(), &self.cookie);
        self.raw(&format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{cookie}{more}\r\n"
        ))
    }

    pub(super) fn post(&self, path: &str, more: &str, body: &str) -> (u16, String, String) {
        self.post_as("application/json", path, more, body)
    }

    /// Sends what is called by that content type.
    pub(super) fn post_as(
        &self,
        kind: &str,
        path: &str,
        more: &str,
        body: &str,
    ) -> (u16, String, String) {
        let (host, cookie, length) = (self.host(), &self.cookie, body.len());
        let scheme = if self.server.fingerprint().is_some() {
            "https"
        } else {
            "http"
        };
        self.raw(&format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: {scheme}://{host}\r\n\
             Connection: close\r\nContent-Type: {kind}\r\nContent-Length: {length}\r\n{cookie}{more}\r\n{body}"
        ))
    }

    pub(super) fn cookie_name(&self) -> String {
        match self.server.fingerprint() {
            Some(_) => format!("__Host-benchcall-{}", self.server.address().port()),
            None => format!("benchcall-{}", self.server.address().port()),
        }
    }

    pub(super) fn codes(&self) -> Codes {
        self.codes.lock().unwrap().last().unwrap().clone()
    }

    /// The one that a person types, or that stands in the address if none is typed.
    pub(super) fn code(&self) -> String {
        let codes = self.codes();
        codes.typed.unwrap_or(codes.linked)
    }

    /// Pairs, and gives the header lines with cookie and key.
    pub(super) fn pair(&self) -> String {
        let body = format!("{{\"code\":\"{}\",\"name\":\"phone\"}}", self.code());
        let (status, head, answer) = self.post("/pair", "", &body);
        assert_eq!(status, 200);
        let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
        let key = answer["key"].as_str().unwrap();
        for flag in ["httponly", "samesite=strict", "path=/"] {
            assert!(head.contains(flag), "{flag}: {head}");
        }
        let tls = self.server.fingerprint().is_some();
        assert_eq!(head.contains("; secure"), tls, "{head}");
        let cookie = head.split("set-cookie: ").nth(1).unwrap();
        let cookie = cookie.split(';').next().unwrap();
        let value = cookie.split_once('=').unwrap().1;
        let name = self.cookie_name();
        format!("Cookie: a=b; {name}={value}\r\nX-Benchcall-Key: {key}\r\n")
    }
}

/// Sends websocket frames, masked as a client must (RFC 6455), mask zero.
pub(super) fn websocket(bench: &Bench) -> TcpStream {
    let (host, cookie) = (bench.host(), &bench.cookie);
    let mut tcp = TcpStream::connect(bench.server.address()).unwrap();
    tcp.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let request = format!(
        "GET /phone HTTP/1.1\r\nHost: {host}\r\n{cookie}Origin: http://{host}\r\nConnection: Upgrade\r\n\
         Upgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    );
    tcp.write_all(request.as_bytes()).unwrap();
    let mut head = Vec::new();
    let mut byte = [0];
    while !head.ends_with(b"\r\n\r\n") {
        tcp.read_exact(&mut byte).unwrap();
        head.push(byte[0]);
    }
    assert!(head.starts_with(b"HTTP/1.1 101"));
    tcp
}

pub(super) fn message(kind: u8, body: &[u8]) -> Vec<u8> {
    let mut out = vec![0x80 | kind];
    match u16::try_from(body.len()).unwrap() {
        short @ 0..=125 => out.push(0x80 | short as u8),
        long => {
            out.push(0x80 | 0x7e);
            out.extend(long.to_be_bytes());
        }
    }
    out.extend([0; 4]);
    out.extend(body);
    out
}

/// A phone that has begun to send, at 48 000 Hz.
pub(super) fn begun_phone(bench: &Bench) -> TcpStream {
    let mut phone = websocket(bench);
    phone
        .write_all(&message(1, b"{\"rate_hz\":48000}"))
        .unwrap();
    phone
}
