//! Tests of what every answer says of itself, over every route that there is.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use super::bench::{Bench, bench, name, paired};
use std::io::Read;

/// Every address of the router, read from where it is made, and one that leads nowhere.
fn addresses() -> Vec<String> {
    let sources = [
        include_str!("../routes.rs"),
        include_str!("../pairing_routes.rs"),
        include_str!("../certificate_routes.rs"),
    ];
    let routes = sources.iter().flat_map(|s| s.split(".route(").skip(1));
    let mut all: Vec<String> = routes
        .map(|r| r.split('"').nth(1).unwrap())
        .map(|r| r.replace("/a/{name}", "/a/board.js"))
        .map(|r| r.replace("{before}", "last-year"))
        .map(|r| r.replace("{name}", &format!("{}.wav", name())))
        .collect();
    assert!(all.len() > 35, "{all:?}");
    all.extend(["/nothing".to_owned(), "/clip/no.wav".to_owned()]);
    all
}

/// Sends a request and reads the head alone: a stream never ends.
fn head_of(bench: &Bench, method: &str, path: &str) -> (u16, String) {
    let (host, pass) = (bench.host(), &bench.cookie);
    let origin = match bench.server.fingerprint() {
        Some(_) => format!("https://{host}"),
        None => format!("http://{host}"),
    };
    let mut wire = bench.wire();
    let request = format!(
        "{method} {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: {origin}\r\n\
         Connection: close\r\nContent-Type: application/json\r\nContent-Length: 0\r\n{pass}\r\n"
    );
    wire.write_all(request.as_bytes()).unwrap();
    let mut head = Vec::new();
    let mut byte = [0];
    while !head.ends_with(b"\r\n\r\n") {
        wire.read_exact(&mut byte).unwrap();
        head.push(byte[0]);
    }
    let head = String::from_utf8(head).unwrap().to_lowercase();
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    (status, head)
}

/// The value of a header.
fn value<'a>(head: &'a str, name: &str) -> Option<&'a str> {
    let mut lines = head.lines().filter_map(|line| line.split_once(": "));
    lines.find(|(n, _)| *n == name).map(|(_, value)| value)
}

#[test]
fn every_answer_names_its_kind_and_data_a_file() {
    let mut seen = std::collections::BTreeSet::new();
    for bench in [paired(), bench(false)] {
        for path in addresses() {
            for method in ["GET", "POST", "DELETE"] {
                if method == "POST" && path == "/jobs/end" {
                    continue; // as good as the other buttons, but the bench may end
                }
                let (status, head) = head_of(&bench, method, &path);
                let asked = format!("{method} {path}: {head}");
                let kind = value(&head, "content-type").expect(&asked).to_owned();
                if kind.starts_with("text/") {
                    assert!(kind.ends_with("; charset=utf-8"), "{asked}");
                }
                let file = match kind.split(';').next().unwrap() {
                    "application/json" => Some("attachment; filename=\"benchcall.json\""),
                    "text/csv" => Some("attachment; filename=\"benchcall.csv\""),
                    "audio/wav" => Some("inline; filename=\"clip.wav\""),
                    _ => None,
                };
                assert_eq!(value(&head, "content-disposition"), file, "{asked}");
                seen.insert((status, kind));
            }
        }
    }
    for kind in [
        "application/json",
        "audio/wav",
        "text/event-stream; charset=utf-8",
    ] {
        assert!(seen.contains(&(200, kind.to_owned())), "{kind}: {seen:?}");
    }
    assert!(
        seen.iter().any(|(_, k)| k.starts_with("text/csv")),
        "{seen:?}"
    );
}

#[test]
fn a_wrong_method_is_refused_with_those_that_would_do() {
    let bench = paired();
    for path in addresses().iter().filter(|p| *p != "/nothing") {
        let (status, head) = head_of(&bench, "DELETE", path);
        assert_eq!(status, 405, "{path}");
        let allow = value(&head, "allow").expect(path);
        assert!(
            allow.contains("get") || allow.contains("post"),
            "{path}: {allow}"
        );
    }
    let (status, head, said) = bench.get("/touch", "");
    assert_eq!((status, value(&head, "allow")), (405, Some("post")));
    assert!(said.contains("GET cannot be used here"), "{said}");
    assert_eq!(head_of(&bench, "DELETE", "/nothing").0, 404);
}

/// The three kinds that a form or a script of another page may send without the browser asking first
/// (WHATWG Fetch, "CORS-safelisted request-header"), and others that are not what is taken.
#[test]
fn what_a_form_could_send_changes_nothing() {
    let bench = paired();
    let all = addresses();
    let takes_post = |path: &&String| {
        let (_, head) = head_of(&bench, "DELETE", path);
        value(&head, "allow").is_some_and(|allow| allow.contains("post"))
    };
    let taken: Vec<&String> = all.iter().filter(takes_post).collect();
    assert!(taken.len() > 20, "{taken:?}");
    // What would do something if it were called by its right kind.
    let changes = [
        "{\"confirm\":1}",
        "{\"id\":1}",
        "{\"press\":\"listen\"}",
        "",
    ];
    for path in taken {
        let file = path.starts_with("/hear-again/with/");
        let (right, other) = match file {
            true => ("application/octet-stream", "application/json"),
            false => ("application/json", "application/octet-stream"),
        };
        for kind in [
            "application/x-www-form-urlencoded",
            "multipart/form-data; boundary=a",
            "text/plain",
            "text/plain; charset=application/json",
            "application/jsonp",
            other,
            "",
        ] {
            for body in changes {
                let (status, _, said) = bench.post_as(kind, path, "", body);
                assert_eq!(status, 415, "{path} {kind} {body}: {said}");
                let expected = said.contains(&format!("expected {right}"));
                assert!(expected, "{path} {kind}: {said}");
            }
        }
    }
    assert!(bench.backend.edits.lock().unwrap().is_empty());
    assert!(bench.backend.touches.lock().unwrap().is_empty());
    let devices: serde_json::Value = serde_json::from_str(&bench.get("/devices", "").2).unwrap();
    assert_eq!(devices.as_array().unwrap().len(), 1);
    let named = "Application/JSON; charset=utf-8";
    assert_eq!(bench.post_as(named, "/edit", "", changes[0]).0, 200);
}
