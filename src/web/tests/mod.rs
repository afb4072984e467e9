//! Tests of the server: who gets in, and what disturbs it.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod answers;
mod bench;
mod devices;

use super::*;
use bench::{begun_phone, bench, message, name, paired, websocket};
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::{Duration, Instant};

#[test]
fn every_page_loads_and_none_names_another_place() {
    let bench = paired();
    let mut weight = 0;
    let mut at_home = |name: &str, content: &str| {
        weight += content.len();
        let outside = [
            "http:", "https:", "//cdn", "@import", " style=", "<script>", "onclick=",
        ];
        let content = content.replace("http://www.w3.org/2000/svg", "");
        for outside in outside {
            assert!(!content.contains(outside), "{name}: {outside}");
        }
    };
    for (name, kind, content) in pages::FILES {
        at_home(name, &String::from_utf8_lossy(content));
        let (status, head, body) = bench.get(&format!("/a/{name}"), "");
        assert_eq!(status, 200, "{name}");
        assert!(head.contains(kind), "{name}: {head}");
        assert!(!body.is_empty());
    }
    for path in ["/", "/review", "/pair"] {
        let (status, head, body) = bench.get(path, "");
        assert_eq!(status, 200, "{path}");
        assert!(head.contains("text/html; charset=utf-8"), "{path}: {head}");
        assert!(
            body.starts_with("<!doctype html>\n<html lang=\"en\">"),
            "{path}: {body}"
        );
        assert!(body.ends_with("</html>"), "{path}");
        at_home(path, &body);
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
    let bench = paired();
    for path in ["/", "/nothing", "/session.json", "/report"] {
        let (_, head, _) = bench.get(path, "");
        for part in [
            "default-src 'none'",
            "frame-ancestors 'none'",
            "nosniff",
            "x-frame-options: deny",
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

/// RFC 6797, section 7.2: never on an answer without TLS.
#[test]
fn over_tls_a_browser_is_told_to_stay_there() {
    let hsts = "strict-transport-security: max-age=31536000";
    let (_, head, _) = bench(true).get("/pair", "");
    assert!(head.contains(hsts), "{head}");
    let (_, head, _) = bench(false).get("/pair", "");
    assert!(!head.contains("strict-transport-security"), "{head}");
}

#[test]
fn another_host_or_origin_gets_nowhere() {
    let bench = paired();
    let cookie = &bench.cookie;
    let ask = |host: &str, more: &str| {
        let request = format!(
            "GET /session.json HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{cookie}{more}\r\n"
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
        "POST /edit HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{cookie}Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    assert_eq!(bench.raw(&blind).0, 403);
    let socket = "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n";
    assert_eq!(bench.get("/phone", socket).0, 403);
    assert!(bench.backend.edits.lock().unwrap().is_empty());
    assert_eq!(bench.post("/edit", "", body).0, 200);
    assert_eq!(*bench.backend.edits.lock().unwrap(), [Edit::Reject(1)]);
}

#[test]
fn no_name_of_a_clip_leads_elsewhere() {
    let bench = paired();
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
    let bench = paired();
    assert_eq!(bench.post("/edit", "", "{").0, 400);
    assert_eq!(
        bench.post("/edit", "", "{\"confirm\":1,\"reject\":2}").0,
        400
    );
    assert_eq!(bench.post("/edit", "", "{\"erase\":1}").0, 400);
    let (status, _, why) = bench.get("/session.json?seen=all", "");
    assert!(status == 400 && why.contains("an earlier answer"), "{why}");
    let large = format!("{{\"correct\":[1,\"{}\"]}}", "a".repeat(20_000));
    assert_eq!(bench.post("/edit", "", &large).0, 413);
    assert!(bench.backend.edits.lock().unwrap().is_empty());
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
    can_only_pair(&bench(true));
}

/// Another user of this machine, who knows the port.
#[test]
fn an_unpaired_browser_of_this_machine_can_only_pair() {
    can_only_pair(&bench(false));
}

fn can_only_pair(bench: &bench::Bench) {
    for path in [
        "/",
        "/review",
        "/session.json",
        "/report",
        "/live",
        "/devices",
        "/phone",
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
    for path in [
        "/edit",
        "/hear-again",
        "/ticket",
        "/devices/rename",
        "/devices/remove",
        "/devices/code",
    ] {
        assert_eq!(bench.post(path, "", "{\"reject\":1}").0, 401, "{path}");
    }
    let forged = format!("Cookie: {}={}\r\n", bench.cookie_name(), "0".repeat(64));
    assert_eq!(bench.get("/session.json", &forged).0, 401);
    for path in ["/pair", "/a/pair.js", "/a/key.js", "/a/common.css"] {
        assert_eq!(bench.get(path, "").0, 200, "{path}");
    }
    assert!(bench.backend.edits.lock().unwrap().is_empty());
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
fn an_address_lets_one_browser_in_once() {
    let bench = bench(false);
    let first = bench.code();
    // Guessing shuts nobody out here, or any user of this machine could.
    for _ in 0..20 {
        let guess = format!("{{\"code\":\"{}\",\"name\":\"x\"}}", "0".repeat(32));
        assert_eq!(bench.post("/pair", "", &guess).0, 403);
    }
    assert_eq!(bench.code(), first);
    let cookie = bench.pair();
    assert_eq!(bench.get("/session.json", &cookie).0, 200);
    assert_ne!(bench.code(), first, "the next browser gets another");
    let replay = format!("{{\"code\":\"{first}\",\"name\":\"thief\"}}");
    let (status, head, said) = bench.post("/pair", "", &replay);
    assert_eq!(status, 403);
    assert!(said.contains("used already"), "{said}");
    assert!(!head.contains("set-cookie"));
    // The cookie of another bench of this machine, on another port, is no use.
    let other = cookie.replace("benchcall-", "benchcall-1");
    assert_eq!(bench.get("/session.json", &other).0, 401);
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
    let bench = paired();
    let (address, cookie): (SocketAddr, &str) = (bench.server.address(), &bench.cookie);
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
                "POST /edit HTTP/1.1\r\nHost: {host}\r\n{cookie}Origin: http://{host}\r\nContent-Type: application/json\r\nContent-Length: 90\r\n\r\n{{"
            ),
        };
        socket.write_all(part.as_bytes()).unwrap();
    }
    bench.answers_beside(idle.len());
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
    assert!(bench.backend.edits.lock().unwrap().is_empty());
}

/// Before the handshake, in the middle of it, and after it.
#[test]
fn idle_clients_of_the_tls_port_disturb_nothing() {
    let bench = bench(true);
    let cookie = bench.pair();
    let mut idle: Vec<TcpStream> = (0..200)
        .map(|_| TcpStream::connect(bench.server.address()).unwrap())
        .collect();
    for socket in idle.iter_mut().step_by(2) {
        socket.write_all(&[22, 3, 1, 2, 0, 1]).unwrap(); // TLS record and ClientHello (RFC 8446)
    }
    let begun = Instant::now();
    assert_eq!(bench.get("/session.json", &cookie).0, 200);
    assert!(begun.elapsed() < Duration::from_secs(2));
    for socket in &mut idle {
        let patience = Some(Duration::from_secs(30));
        socket.set_read_timeout(patience).unwrap();
        let end = socket.read_to_end(&mut Vec::new());
        let reset = matches!(&end, Err(e) if e.kind() == std::io::ErrorKind::ConnectionReset);
        assert!(end.is_ok() || reset, "{end:?}");
    }
}

#[test]
fn an_oversized_message_of_a_phone_ends_its_connection() {
    let mut bench = paired();
    let port = bench.port.take().unwrap();
    let mut phone = begun_phone(&bench);
    let next = || port.frames.recv_timeout(Duration::from_secs(20)).unwrap();
    assert_eq!(next(), FromPhone::Started { rate_hz: 48_000 });
    // A head that announces a gigabyte; none of it need come.
    let mut head = vec![0x82, 0x80 | 127];
    head.extend(1_000_000_000_u64.to_be_bytes());
    head.extend([0; 4]);
    phone.write_all(&head).unwrap();
    let begun = Instant::now();
    let _ = phone.read_to_end(&mut Vec::new());
    assert!(
        begun.elapsed() < Duration::from_secs(15),
        "it was waited for"
    );
    assert_eq!(next(), FromPhone::Stopped);
    assert_eq!(bench.get("/session.json", "").0, 200);
}

#[test]
fn a_page_that_does_not_read_slows_nobody() {
    let bench = paired();
    let mut deaf = TcpStream::connect(bench.server.address()).unwrap();
    let (host, cookie) = (bench.host(), &bench.cookie);
    let request = format!("GET /live HTTP/1.1\r\nHost: {host}\r\n{cookie}\r\n");
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

#[test]
fn a_phone_sends_frames_and_is_told_to_speak() {
    let mut bench = paired();
    let port = bench.port.take().unwrap();
    let mut phone = begun_phone(&bench);
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
    // A newer phone takes its place, and what is not a frame ends a connection.
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
