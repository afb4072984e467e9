//! Devices that are paired: what each half of a pass is good for, what outlives the server, and who was sent
//! away is out.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use super::bench::{Bench, begun_phone, bench, bench_of, message, paired};
use crate::web::kept::{Kept, Memory};
use crate::web::{Devices, FromPhone};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

const GOES: &str = "Sec-Fetch-Mode: navigate\r\nSec-Fetch-Site: same-origin\r\n";

fn cookie(bench: &Bench) -> String {
    let pass = bench.cookie.split_inclusive("\r\n");
    pass.take(1).collect()
}

fn key(bench: &Bench) -> String {
    let key = bench.cookie.split("X-Benchcall-Key: ").nth(1).unwrap();
    key.trim().to_owned()
}

/// Another program of this machine has the cookie: a browser sends it to every port.
#[test]
fn the_cookie_alone_reads_and_changes_nothing() {
    let mut bench = paired();
    let (key, cookie) = (key(&bench), cookie(&bench));
    bench.cookie = String::new();
    for path in [
        "/",
        "/review",
        "/session.json",
        "/report",
        "/live",
        "/devices",
        "/nothing",
    ] {
        let (status, _, body) = bench.get(path, &cookie);
        assert_eq!(status, 401, "{path}");
        assert!(!body.contains("rows") && !body.contains("event"), "{path}");
    }
    for path in ["/edit", "/ticket", "/devices/remove", "/devices/code"] {
        assert_eq!(bench.post(path, &cookie, "{\"reject\":1}").0, 401, "{path}");
    }
    let wrong = format!("{cookie}X-Benchcall-Key: {}\r\n", "0".repeat(64));
    assert_eq!(bench.get("/session.json", &wrong).0, 401);
    assert_eq!(
        bench
            .get("/session.json", &format!("X-Benchcall-Key: {key}\r\n"))
            .0,
        401
    );
    assert!(bench.backend.edits.lock().unwrap().is_empty());
    // As a page that is gone to it gets the pairing, with nothing of the job.
    let (status, _, body) = bench.get("/report", &format!("{cookie}{GOES}"));
    assert_eq!(status, 200);
    assert!(
        body.contains("/a/ticket.js") && !body.contains("report"),
        "{body}"
    );
    // Both halves together, in a header or in the address of a stream.
    let both = format!("{cookie}X-Benchcall-Key: {key}\r\n");
    assert_eq!(bench.get("/session.json", &both).0, 200);
    assert_eq!(
        bench.get(&format!("/session.json?key={key}"), &cookie).0,
        401
    );
    assert_eq!(bench.get(&format!("/phone?key={key}"), &cookie).0, 400);
    assert_eq!(bench.get("/phone", &cookie).0, 401);
}

#[test]
fn a_ticket_opens_a_page_once() {
    let mut bench = paired();
    let (_, _, answer) = bench.post("/ticket", "", "");
    let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
    let ticket = answer["ticket"].as_str().unwrap();
    bench.cookie = cookie(&bench);
    let go = || bench.get(&format!("/report?ticket={ticket}"), GOES).2;
    let first = go();
    assert!(!first.contains("/a/ticket.js"), "{first}");
    assert!(go().contains("/a/ticket.js"), "it is used up");
    bench.cookie = String::new();
    assert_eq!(bench.get(&format!("/report?ticket={ticket}"), GOES).0, 303);
}

#[test]
fn pairings_certificate_and_port_outlive_the_server() {
    let new: Arc<dyn Kept> = Arc::new(Memory::default());
    let host = bench_of(true, new.clone()).host();
    let port = new.read("port.json").unwrap().unwrap();
    assert!(host.ends_with(&format!(":{port}")), "{host}, {port}");
    // One below those that the system gives to the tests beside this one.
    let free = |port: &u16| std::net::TcpListener::bind(("127.0.0.1", *port)).is_ok();
    let port = (20_000..30_000).find(free).unwrap();
    let kept: Arc<dyn Kept> = Arc::new(Memory::default());
    let known = kept.change("port.json", &mut |_| Ok(port.to_string()));
    known.unwrap();
    let first = bench_of(true, kept.clone());
    let pass = first.pair();
    let (print, host) = (first.server.fingerprint().unwrap(), first.host());
    assert!(first.server.has_new_certificate());
    drop(first);
    let again = bench_of(true, kept.clone());
    assert_eq!(again.server.fingerprint().as_ref(), Some(&print));
    assert!(!again.server.has_new_certificate());
    assert_eq!(again.host(), host);
    assert_eq!(again.get("/session.json", &pass).0, 200);
    // A second server beside it has another port, and the first keeps its own.
    let beside = bench_of(true, kept.clone());
    assert_ne!(beside.host(), host);
    drop((beside, again));
    assert_eq!(bench_of(true, kept).host(), host);
}

#[test]
fn devices_are_named_and_listed() {
    let bench = paired();
    let named = "{\"id\":1,\"name\":\"tablet\"}";
    assert_eq!(bench.post("/devices/rename", "", named).0, 204);
    let (_, _, list) = bench.get("/devices", "");
    let list: serde_json::Value = serde_json::from_str(&list).unwrap();
    assert_eq!(list[0]["name"], "tablet");
    assert_eq!(list[0]["me"], true);
    let days = list[0]["until_ms"].as_i64().unwrap() - list[0]["paired_ms"].as_i64().unwrap();
    assert_eq!(days / 86_400_000, 30);
    let empty = "{\"id\":1,\"name\":\" \"}";
    assert_eq!(bench.post("/devices/rename", "", empty).0, 400);
    assert_eq!(bench.post("/devices/remove", "", "{\"id\":9}").0, 404);
}

#[test]
fn guessing_locks_who_guesses_and_never_who_stands_at_the_bench() {
    let bench = bench(true);
    let codes = bench.codes();
    let guess = |code: &str| {
        let body = format!("{{\"code\":\"{code}\",\"name\":\"x\"}}");
        bench.post("/pair", "", &body)
    };
    for _ in 0..4 {
        assert_eq!(guess("00000000").0, 403);
    }
    let (_, _, said) = guess("00000000");
    assert!(said.contains("too many wrong codes"), "{said}");
    // The right one is no use there for a while.
    let right = codes.typed.unwrap();
    assert!(guess(&right).2.contains("works again in"));
    // The address at the bench is.
    assert_eq!(guess(&codes.linked).0, 200);
    let next = bench.codes();
    assert!(next.linked != codes.linked && next.typed != Some(right));
}

/// A page's stream of what is heard.
fn stream(bench: &Bench) -> TcpStream {
    let mut live = TcpStream::connect(bench.server.address()).unwrap();
    live.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    let (host, pass) = (bench.host(), &bench.cookie);
    let request = format!("GET /live HTTP/1.1\r\nHost: {host}\r\n{pass}\r\n");
    live.write_all(request.as_bytes()).unwrap();
    let mut some = [0; 200];
    assert!(live.read(&mut some).unwrap() > 0);
    live
}

/// Reads to the end, and says how long that took.
fn ended(wire: &mut TcpStream) -> Duration {
    let begun = Instant::now();
    let end = wire.read_to_end(&mut Vec::new());
    let reset = matches!(&end, Err(e) if e.kind() == std::io::ErrorKind::ConnectionReset);
    assert!(end.is_ok() || reset, "{end:?}");
    begun.elapsed()
}

#[test]
fn who_is_sent_away_is_out_at_once_with_stream_and_microphone() {
    let mut bench = paired();
    let port = bench.port.take().unwrap();
    let mut live = stream(&bench);
    let mut phone = begun_phone(&bench);
    phone.write_all(&message(2, &[0, 0, 0, 0, 1, 0])).unwrap();
    let next = || port.frames.recv_timeout(Duration::from_secs(20)).unwrap();
    assert_eq!(next(), FromPhone::Started { rate_hz: 48_000 });
    assert!(matches!(next(), FromPhone::Samples { .. }));
    assert_eq!(bench.post("/devices/remove", "", "{\"id\":1}").0, 204);
    assert!(ended(&mut live) < Duration::from_secs(1));
    assert!(ended(&mut phone) < Duration::from_secs(1));
    assert_eq!(
        port.sent_away.load(Ordering::SeqCst),
        1,
        "the listener is told"
    );
    assert_eq!(bench.get("/session.json", "").0, 401);
}

/// `benchcall devices --remove` is another program.
#[test]
fn who_is_sent_away_by_another_program_is_out_too() {
    let kept: Arc<dyn Kept> = Arc::new(Memory::default());
    let bench = bench_of(true, kept.clone());
    let pass = bench.pair();
    let host = bench.host();
    let mut live = bench.wire();
    let request = format!("GET /live HTTP/1.1\r\nHost: {host}\r\n{pass}\r\n");
    live.write_all(request.as_bytes()).unwrap();
    let mut some = [0; 200];
    assert!(live.read(&mut some).unwrap() > 0);
    assert!(Devices::kept_in(kept).unwrap().remove(1).unwrap());
    let begun = Instant::now();
    let _ = live.read_to_end(&mut Vec::new()); // a TLS peer may end without a goodbye
    assert!(begun.elapsed() < Duration::from_secs(2));
    assert_eq!(bench.get("/session.json", &pass).0, 401);
}

/// More than the server ever holds, all from the address of the paired page.
#[test]
fn idle_strangers_do_not_shut_out_who_is_paired() {
    let bench = paired();
    let mut live = stream(&bench);
    let idle: Vec<TcpStream> = (0..512)
        .map(|_| TcpStream::connect(bench.server.address()).unwrap())
        .collect();
    bench.answers_beside(idle.len());
    let mut some = [0; 100];
    assert!(live.read(&mut some).unwrap() > 0, "its stream goes on");
    drop(idle);
}
