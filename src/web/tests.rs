//! Tests of the server: who gets in, and what disturbs it.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use super::fake::ScriptedHouse;
use super::*;
use std::io::{Read, Write};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpStream};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A server on loopback with a clip, and the codes that it showed.
struct Bench {
    server: Server,
    house: Arc<ScriptedHouse>,
    live: Live,
    codes: Arc<Mutex<Vec<String>>>,
    port: Option<PhonePort>,
}

fn name() -> String {
    "ab".repeat(32)
}

fn bench(lan: bool) -> Bench {
    let house = Arc::new(ScriptedHouse {
        session: "{\"rows\":[]}".to_owned(),
        clips: [(name(), b"RIFF sound".to_vec())].into(),
        ..ScriptedHouse::default()
    });
    let live = Live::new("{\"event\":1}");
    let codes: Arc<Mutex<Vec<String>>> = Arc::default();
    let seen = codes.clone();
    let (link, port) = link();
    let server = Server::start(Options {
        lan: lan.then_some(Some(IpAddr::V4(Ipv4Addr::LOCALHOST))),
        port: 0,
        house: house.clone(),
        live: Some(live.clone()),
        phone: Some(link),
        on_code: Box::new(move |code| seen.lock().unwrap().push(code.to_owned())),
    })
    .unwrap();
    Bench {
        server,
        house,
        live,
        codes,
        port: Some(port),
    }
}

trait Wire: Read + Write {}
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
    fn host(&self) -> String {
        self.server.address().to_string()
    }

    fn wire(&self) -> Box<dyn Wire> {
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
            .with_custom_certificate_verifier(Arc::new(Compared(print.to_owned())))
            .with_no_client_auth();
        let ip = self.server.address().ip();
        let client = rustls::ClientConnection::new(Arc::new(config), ip.into()).unwrap();
        Box::new(rustls::StreamOwned::new(client, tcp))
    }

    /// Sends a request as it stands, and gives status, head and body.
    fn raw(&self, request: &str) -> (u16, String, String) {
        let mut wire = self.wire();
        let _ = wire.write_all(request.as_bytes()); // the server may have had enough before the end
        let mut all = Vec::new();
        let _ = wire.read_to_end(&mut all); // a TLS peer may end without a goodbye
        let all = String::from_utf8_lossy(&all).into_owned();
        let (head, body) = all.split_once("\r\n\r\n").unwrap_or((&all, ""));
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok());
        (status.unwrap_or(0), head.to_lowercase(), body.to_owned())
    }

    fn get(&self, path: &str, more: &str) -> (u16, String, String) {
        let host = self.host();
        self.raw(&format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{more}\r\n"
        ))
    }

    fn post(&self, path: &str, more: &str, body: &str) -> (u16, String, String) {
        let (host, length) = (self.host(), body.len());
        let scheme = if self.server.fingerprint().is_some() {
            "https"
        } else {
            "http"
        };
        self.raw(&format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: {scheme}://{host}\r\n\
             Connection: close\r\nContent-Length: {length}\r\n{more}\r\n{body}"
        ))
    }

    fn code(&self) -> String {
        self.codes.lock().unwrap().last().unwrap().clone()
    }

    /// Pairs, and gives the header line with the cookie.
    fn pair(&self) -> String {
        let body = format!("{{\"code\":\"{}\",\"name\":\"phone\"}}", self.code());
        let (status, head, _) = self.post("/pair", "", &body);
        assert_eq!(status, 204);
        for flag in ["secure", "httponly", "samesite=strict", "path=/"] {
            assert!(head.contains(flag), "{flag}: {head}");
        }
        let cookie = head.split("set-cookie: ").nth(1).unwrap();
        let cookie = cookie.split(';').next().unwrap();
        let value = cookie.split_once('=').unwrap().1;
        format!("Cookie: a=b; {}={value}\r\n", gate::COOKIE)
    }
}

#[test]
fn every_page_loads_and_none_names_another_place() {
    let bench = bench(false);
    let mut weight = 0;
    for (name, kind, content) in pages::FILES {
        weight += content.len();
        let outside = [
            "http:", "https:", "//cdn", "@import", " style=", "<script>", "onclick=",
        ];
        let content = content.replace("http://www.w3.org/2000/svg", "");
        for outside in outside {
            assert!(!content.contains(outside), "{name}: {outside}");
        }
        if name.ends_with(".html") {
            continue;
        }
        let (status, head, body) = bench.get(&format!("/a/{name}"), "");
        assert_eq!(status, 200, "{name}");
        assert!(head.contains(kind), "{name}: {head}");
        assert!(!body.is_empty());
    }
    println!("all pages with their scripts and styles: {weight} bytes");
    assert!(weight < 150_000);
    for path in ["/", "/review", "/session.json", "/report", "/devices"] {
        assert_eq!(bench.get(path, "").0, 200, "{path}");
    }
    for path in ["/a/review.html", "/a/nothing.js", "/nothing"] {
        assert_eq!(bench.get(path, "").0, 404, "{path}");
    }
}

#[test]
fn every_answer_is_closed_to_other_places() {
    let bench = bench(false);
    for path in ["/", "/nothing", "/session.json", "/report"] {
        let (_, head, _) = bench.get(path, "");
        for part in [
            "default-src 'none'",
            "frame-ancestors 'none'",
            "nosniff",
            "no-referrer",
            "no-store",
        ] {
            assert!(head.contains(part), "{path}: {part}");
        }
        assert!(!head.contains("access-control-allow"), "{path}");
    }
    let (_, head, _) = bench.get("/", "");
    assert!(!head.contains("unsafe"));
}

#[test]
fn another_host_or_origin_gets_nowhere() {
    let bench = bench(false);
    let ask = |host: &str, more: &str| {
        let request = format!(
            "GET /session.json HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{more}\r\n"
        );
        bench.raw(&request).0
    };
    let host = bench.host();
    assert_eq!(ask(&host, ""), 200);
    // A name that was pointed at this machine (DNS rebinding).
    assert_eq!(ask("evil.example", ""), 421);
    assert_eq!(
        ask(
            &format!("evil.example:{}", bench.server.address().port()),
            ""
        ),
        421
    );
    assert_eq!(ask(&host, "Host: evil.example\r\n"), 421);
    assert_eq!(ask(&host, "Origin: http://evil.example\r\n"), 403);
    assert_eq!(ask(&host, "Origin: null\r\n"), 403);
    assert_eq!(ask(&host, "Sec-Fetch-Site: cross-site\r\n"), 403);
    let own = format!("Origin: http://{host}\r\nSec-Fetch-Site: same-origin\r\n");
    assert_eq!(ask(&host, &own), 200);
    // Writing needs an origin at all.
    let body = "{\"reject\":1}";
    let blind = format!(
        "POST /edit HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    assert_eq!(bench.raw(&blind).0, 403);
    let socket = "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n";
    assert_eq!(bench.get("/phone", socket).0, 403);
    assert!(bench.house.edits.lock().unwrap().is_empty());
    assert_eq!(bench.post("/edit", "", body).0, 200);
    assert_eq!(*bench.house.edits.lock().unwrap(), [Edit::Reject(1)]);
}

#[test]
fn no_name_of_a_clip_leads_elsewhere() {
    let bench = bench(false);
    let (status, _, body) = bench.get(&format!("/clip/{}.wav", name()), "");
    assert_eq!((status, body.as_str()), (200, "RIFF sound"));
    let long = "a".repeat(64);
    for name in [
        "../job.sqlite",
        "..%2f..%2fetc%2fpasswd",
        "%2e%2e/%2e%2e/job.sqlite.wav",
        &format!("{long}%00.wav"),
        &format!("{}.wav", long.to_uppercase()),
        &long,
        &format!("{long}.wav"),
    ] {
        let (status, _, body) = bench.get(&format!("/clip/{name}"), "");
        assert!(matches!(status, 400 | 404), "{name}: {status}");
        assert!(!body.contains("RIFF") && !body.contains("root:"), "{name}");
    }
}

#[test]
fn odd_and_oversized_bodies_are_refused() {
    let bench = bench(false);
    assert_eq!(bench.post("/edit", "", "{").0, 400);
    assert_eq!(
        bench.post("/edit", "", "{\"confirm\":1,\"reject\":2}").0,
        400
    );
    assert_eq!(bench.post("/edit", "", "{\"erase\":1}").0, 400);
    let large = format!("{{\"correct\":[1,\"{}\"]}}", "a".repeat(20_000));
    assert_eq!(bench.post("/edit", "", &large).0, 413);
    assert!(bench.house.edits.lock().unwrap().is_empty());
    let head = format!(
        "GET / HTTP/1.1\r\nHost: {}\r\nX: {}\r\n\r\n",
        bench.host(),
        "a".repeat(60_000)
    );
    assert!(matches!(bench.raw(&head).0, 0 | 431));
    assert_eq!(bench.get("/", "").0, 200);
}

#[test]
fn an_unpaired_device_can_only_pair() {
    let bench = bench(true);
    for path in [
        "/",
        "/review",
        "/session.json",
        "/report",
        "/live",
        "/devices",
        "/a/board.js",
        "/nothing",
    ] {
        let (status, _, body) = bench.get(path, "");
        assert_eq!(status, 401, "{path}");
        assert!(!body.contains("rows") && !body.contains("<html"), "{path}");
    }
    let clip = format!("/clip/{}.wav", name());
    assert_eq!(bench.get(&clip, "").0, 401);
    let (status, head, _) = bench.get("/", "Sec-Fetch-Mode: navigate\r\nSec-Fetch-Site: none\r\n");
    assert_eq!(status, 303);
    assert!(head.contains("location: /pair"));
    for path in ["/edit", "/hear-again", "/devices/remove", "/devices/code"] {
        assert_eq!(bench.post(path, "", "{\"reject\":1}").0, 401, "{path}");
    }
    let forged = format!("Cookie: {}={}\r\n", gate::COOKIE, "0".repeat(64));
    assert_eq!(bench.get("/session.json", &forged).0, 401);
    for path in ["/pair", "/a/pair.js", "/a/common.css"] {
        assert_eq!(bench.get(path, "").0, 200, "{path}");
    }
    assert!(bench.house.edits.lock().unwrap().is_empty());
}

#[test]
fn a_code_lets_one_device_in_once_and_it_can_be_sent_away() {
    let bench = bench(true);
    let first = bench.code();
    let cookie = bench.pair();
    let (status, _, body) = bench.get("/session.json", &cookie);
    assert_eq!((status, body.as_str()), (200, "{\"rows\":[]}"));
    // The code is used up, and a new one is shown.
    assert_ne!(bench.code(), first);
    let replay = format!("{{\"code\":\"{first}\",\"name\":\"thief\"}}");
    let (status, head, _) = bench.post("/pair", "", &replay);
    assert_eq!(status, 403);
    assert!(!head.contains("set-cookie"));
    // Another origin cannot ride on the cookie.
    let foreign = format!("{cookie}Origin: https://evil.example\r\n");
    assert_eq!(bench.get("/session.json", &foreign).0, 403);
    assert_eq!(bench.post("/devices/remove", &cookie, "{\"id\":1}").0, 204);
    assert_eq!(bench.get("/session.json", &cookie).0, 401);
}

#[test]
fn guessing_is_stopped() {
    let bench = bench(true);
    let right = bench.code();
    let guess = |code: &str| {
        let body = format!("{{\"code\":\"{code}\",\"name\":\"x\"}}");
        bench.post("/pair", "", &body)
    };
    for _ in 0..4 {
        assert_eq!(guess("00000000").0, 403);
    }
    let (_, _, said) = guess("00000000");
    assert!(said.contains("too many wrong codes"), "{said}");
    // The right one is no use any more, nor is the new one for a while.
    assert!(guess(&right).2.contains("works again in"));
    assert!(guess(&bench.code()).2.contains("works again in"));
}

#[test]
fn plain_speech_on_the_tls_port_gets_nothing() {
    let bench = bench(true);
    let mut tcp = TcpStream::connect(bench.server.address()).unwrap();
    tcp.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    tcp.write_all(b"GET /session.json HTTP/1.1\r\nHost: x\r\n\r\n")
        .unwrap();
    let mut all = Vec::new();
    let _ = tcp.read_to_end(&mut all);
    assert!(!String::from_utf8_lossy(&all).contains("rows"));
}

#[test]
fn idle_and_slow_clients_disturb_nothing() {
    let bench = bench(false);
    let address: SocketAddr = bench.server.address();
    let mut idle: Vec<TcpStream> = (0..200)
        .map(|_| TcpStream::connect(address).unwrap())
        .collect();
    for (i, socket) in idle.iter_mut().enumerate() {
        // A third say nothing, a third half a head, a third a head whose body never comes.
        let host = bench.host();
        let part = match i % 3 {
            0 => String::new(),
            1 => "GET / HTTP/1.1\r\nHo".to_owned(),
            _ => format!(
                "POST /edit HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Length: 90\r\n\r\n{{"
            ),
        };
        socket.write_all(part.as_bytes()).unwrap();
    }
    let mut slowest = Duration::ZERO;
    for _ in 0..50 {
        let begun = Instant::now();
        assert_eq!(bench.get("/session.json", "").0, 200);
        slowest = slowest.max(begun.elapsed());
    }
    println!("beside 200 idle sockets: slowest of 50 answers {slowest:?}");
    assert!(slowest < Duration::from_secs(2), "{slowest:?}");
    // And none of them may stay for ever.
    let begun = Instant::now();
    for socket in &mut idle {
        socket
            .set_read_timeout(Some(Duration::from_secs(30)))
            .unwrap();
        let mut rest = Vec::new();
        let end = socket.read_to_end(&mut rest);
        let reset = matches!(&end, Err(e) if e.kind() == std::io::ErrorKind::ConnectionReset);
        assert!(end.is_ok() || reset, "{end:?}");
    }
    println!("all 200 were closed after {:?}", begun.elapsed());
    assert!(bench.house.edits.lock().unwrap().is_empty());
}

#[test]
fn a_page_that_does_not_read_slows_nobody() {
    let bench = bench(false);
    let mut deaf = TcpStream::connect(bench.server.address()).unwrap();
    let request = format!("GET /live HTTP/1.1\r\nHost: {}\r\n\r\n", bench.host());
    deaf.write_all(request.as_bytes()).unwrap();
    let board = format!("{{\"event\":2,\"much\":\"{}\"}}", "x".repeat(4_000));
    let begun = Instant::now();
    for _ in 0..20_000 {
        bench.live.board(&board);
    }
    println!(
        "20 000 boards of 4 kB past a page that does not read: {:?}",
        begun.elapsed()
    );
    assert!(begun.elapsed() < Duration::from_secs(5));
    assert_eq!(bench.get("/session.json", "").0, 200);
}

/// Sends websocket frames, masked as a client must (RFC 6455), mask zero.
fn websocket(bench: &Bench) -> TcpStream {
    let host = bench.host();
    let mut tcp = TcpStream::connect(bench.server.address()).unwrap();
    tcp.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let request = format!(
        "GET /phone HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nConnection: Upgrade\r\n\
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

fn message(kind: u8, body: &[u8]) -> Vec<u8> {
    let mut out = vec![0x80 | kind];
    match u16::try_from(body.len()).unwrap() {
        short @ 0..=125 => out.push(0x80 | short as u8),
        long => {
            out.push(0x80 | 126);
            out.extend(long.to_be_bytes());
        }
    }
    out.extend([0; 4]);
    out.extend(body);
    out
}

#[test]
fn a_phone_sends_frames_and_is_told_to_speak() {
    let mut bench = bench(false);
    let port = bench.port.take().unwrap();
    let mut phone = websocket(&bench);
    phone
        .write_all(&message(1, b"{\"rate_hz\":48000}"))
        .unwrap();
    phone
        .write_all(&message(2, &[5, 0, 0, 0, 1, 0, 2, 0]))
        .unwrap();
    let next = || port.frames.recv_timeout(Duration::from_secs(20)).unwrap();
    assert_eq!(next(), FromPhone::Started { rate_hz: 48_000 });
    let samples = vec![1, 2];
    assert_eq!(next(), FromPhone::Samples { number: 5, samples });
    port.speak.send(b"RIFF".to_vec().into()).unwrap();
    let mut got = [0; 6];
    phone.read_exact(&mut got).unwrap();
    assert_eq!(&got, b"\x82\x04RIFF");
    phone.write_all(&message(1, b"played")).unwrap();
    port.played.recv_timeout(Duration::from_secs(20)).unwrap();
    // A newer phone takes its place, and what is no frame ends a connection.
    let mut second = websocket(&bench);
    second
        .write_all(&message(1, b"{\"rate_hz\":44100}"))
        .unwrap();
    assert_eq!(next(), FromPhone::Started { rate_hz: 44_100 });
    second.write_all(&message(2, &[1, 2, 3])).unwrap();
    assert_eq!(next(), FromPhone::Stopped);
    let mut odd = websocket(&bench);
    odd.write_all(&message(1, b"{\"rate_hz\":1}")).unwrap();
    let mut rest = Vec::new();
    let _ = odd.read_to_end(&mut rest);
    assert!(
        port.frames
            .recv_timeout(Duration::from_millis(300))
            .is_err()
    );
}
