//! Proof that the floors test fails: made-up sources with one thing wrong in each.

use super::{faults, faults_of_all};
use std::collections::BTreeMap;

/// The faults of a made-up file, without its name, as lines.
fn said(name: &str, body: &str) -> String {
    let found = faults(name, &format!("//! Made up.\n{body}"), false);
    found
        .iter()
        .map(|f| f.replacen(name, "", 1))
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn downward_paths_pass() {
    assert_eq!(
        said("session/mod.rs", "use crate::{engine::Sheet, grammar};"),
        ""
    );
    assert_eq!(
        said(
            "store/sqlite.rs",
            "fn f() { crate::event::fold(); super::open(); }"
        ),
        ""
    );
    assert_eq!(
        said(
            "cli/hear.rs",
            "use crate::app::Bench;\npub(crate) use crate::cli::args;"
        ),
        ""
    );
    assert_eq!(said("lib.rs", "pub mod web;\nuse crate::web::x;"), "");
    assert_eq!(
        said("engine/plan.rs", "mod tests { use super::super::sheet; }"),
        ""
    );
}

#[test]
fn upward_and_sideways_paths_fail() {
    let one = |name, body, fault| assert_eq!(said(name, body), fault, "{body}");
    one(
        "measure/a.rs",
        "use crate::event::Event;",
        ":2: `measure` may not know `event`",
    );
    one(
        "event/a.rs",
        "\nuse crate::session;",
        ":3: `event` may not know `session`",
    );
    one(
        "engine/a.rs",
        "use crate::grammar::Net;",
        ":2: `engine` may not know `grammar`",
    );
    one(
        "grammar/a.rs",
        "use crate::engine as other;",
        ":2: `grammar` may not know `engine`",
    );
    one(
        "engine/a.rs",
        "use crate::session;",
        ":2: `engine` may not know `session`",
    );
    one(
        "session/a.rs",
        "fn f() { crate::audio::cut() }",
        ":2: `session` may not know `audio`",
    );
    one(
        "audio/a.rs",
        "use crate::grammar;",
        ":2: `audio` may not know `grammar`",
    );
    one(
        "web/a.rs",
        "use crate::store::Store;",
        ":2: `web` may not know `store`",
    );
    one(
        "report/a.rs",
        "pub use crate::app::Bench;",
        ":2: `report` may not know `app`",
    );
    one(
        "app/a.rs",
        "use crate::cli;",
        ":2: `app` may not know `cli`",
    );
    one(
        "voice/a.rs",
        "use crate::{\n  event::Fact,\n  models::{self, Card},\n};",
        ":4: `voice` may not know `models`\n:4: `voice` may not know `models`",
    );
    one(
        "engine/plan.rs",
        "use super::super::grammar::Net;",
        ":2: `engine` may not know `grammar`",
    );
    one(
        "engine/mod.rs",
        "use super::{measure, store};",
        ":2: `engine` may not know `store`",
    );
    one(
        "models/a.rs",
        "use benchcall::voice;",
        ":2: `models` may not know `voice`",
    );
    one(
        "device/a.rs",
        "use crate::*;",
        ":2: `device` may not know `*`",
    );
    one(
        "device/a.rs",
        "use crate as all;",
        ":2: `device` may not know the whole crate",
    );
    one(
        "device/a.rs",
        "use crate::{self as all};",
        ":2: `device` may not know `the whole crate`",
    );
    one(
        "store/a.rs",
        "use tokio::sync::mpsc;",
        ":2: tokio outside web and app",
    );
    one(
        "common/a.rs",
        "",
        ": module `common` has no floor; give it one in tests/floors.rs",
    );
    one(
        "engine/a.rs",
        "#[cfg(test)]\nmod tests { use crate::grammar; }",
        ":3: `engine` may not know `grammar`",
    );
}

#[test]
fn comments_and_strings_are_no_code() {
    let body = "// use crate::web;\n/* crate::web /* f64 */ 1.5 */\n/// [`crate::web`]\n\
        const A: &str = \"crate::web \\\" 0.5 f32\";\nconst B: &str = r#\"std::fs::\"read\"\"#;\n\
        fn f<'a>(x: &'a (u8, (u8, u8))) -> u8 { let _ = ['\"', '\\'']; x.1.0 }";
    assert_eq!(said("engine/a.rs", body), "");
    assert_eq!(
        said("engine/a.rs", "const C: char = '\"';\nuse crate::web;"),
        ":3: `engine` may not know `web`"
    );
}

#[test]
fn io_clocks_and_threads_fail_on_the_lower_floors() {
    for body in [
        "use std::fs;",
        "use std::fs::File;",
        "use std::{fmt, fs::{self, File}};",
        "fn f() { std::fs::read(1) }",
        "use std::io::Read;",
        "use std::net::TcpStream;",
        "use std::env;",
        "use std::process::Command;",
        "use std::thread;",
        "use std::time::Instant;",
        "use std::time::{Duration, SystemTime};",
        "use std::time::*;",
        "use std::time;",
        "use std::*;",
        "use tokio::sync::mpsc;",
        "fn f() { rand::random() }",
        "fn f() { jiff::Timestamp::now() }",
    ] {
        assert_ne!(said("grammar/a.rs", body), "", "{body}");
        assert_ne!(said("event/a.rs", body), "", "{body}");
        assert_eq!(said("app/a.rs", body), "", "{body}");
    }
    assert_eq!(
        said(
            "grammar/a.rs",
            "use std::{fmt, time::Duration};\nfn rand(std: u8) {}"
        ),
        ""
    );
    assert_eq!(
        said("grammar/a.rs", "#[cfg(test)]\nmod tests { use std::fs; }"),
        ""
    );
    assert_eq!(
        said("grammar/a.rs", "#[cfg(test)]\nmod tests;\nuse std::fs;"),
        ":4: `std::fs` on floor 0 or 1"
    );
}

#[test]
fn printing_fails_everywhere_but_in_tests() {
    for body in ["fn f() { println!(\"x\") }", "fn f() { eprint!(\"x\") }"] {
        assert_ne!(said("grammar/a.rs", body), "", "{body}");
        assert_ne!(said("cli/a.rs", body), "", "{body}");
    }
    let test = "#[cfg(test)]\nmod tests { fn f() { println!(\"x\") } }";
    assert_eq!(said("cli/a.rs", test), "");
}

#[test]
fn floats_fail_where_lengths_live() {
    for body in [
        "fn f(x: f64) {}",
        "type A = Vec<f32>;",
        "const A: u8 = 0.5;",
        "let x = 2f64;",
        "let x = 1_000.25;",
    ] {
        assert_ne!(said("measure/a.rs", body), "", "{body}");
        assert_ne!(said("engine/sub/a.rs", body), "", "{body}");
        assert_eq!(said("engine/clearance/uncertainty.rs", body), "", "{body}");
        assert_eq!(said("engine/sums/geometry.rs", body), "", "{body}");
        assert_eq!(said("event/a.rs", body), "", "{body}");
    }
    assert_eq!(
        said(
            "engine/a.rs",
            "let x = 0..5; let y = 0xf32; t.0.1; t.0.iter()"
        ),
        ""
    );
    assert_eq!(
        said("engine/a.rs", "#[cfg(test)]\nmod tests { fn f(x: f64) {} }"),
        ""
    );
}

#[test]
fn a_heading_and_a_bounded_length_are_asked_for() {
    let heading = "event/a.rs:1: the first line must begin with //! and say what lives here";
    let faults = |name: &str, source: &str| faults(name, source, false);
    assert_eq!(faults("event/a.rs", "use std::fmt;\n"), [heading]);
    assert_eq!(faults("lib.rs", "mod event;\n").len(), 1);
    assert_eq!(
        faults("event/a.rs", &format!("//! Long.{}", "\n".repeat(800))),
        [""; 0]
    );
    let long = faults("event/a.rs", &format!("//! Long.\n{}", "\n".repeat(800)));
    assert_eq!(long, ["event/a.rs: 801 lines; at most 800"]);
}

/// The faults of a made-up source, as lines.
fn said_of(files: &[(&str, &str)]) -> String {
    let made_up =
        |(name, body): &(&str, &str)| ((*name).to_owned(), format!("//! Made up.\n{body}"));
    let files: BTreeMap<String, String> = files.iter().map(made_up).collect();
    faults_of_all(&files).join("\n")
}

#[test]
fn a_file_is_a_test_where_it_is_declared_as_one_whatever_its_name() {
    let (root, writes) = (("lib.rs", "mod event;"), "use std::fs;");
    let event = |modules| [root, ("event/mod.rs", modules), ("event/tests.rs", writes)];
    assert_eq!(said_of(&event("#[cfg(test)]\nmod tests;")), "");
    assert_eq!(
        said_of(&event("mod tests;")),
        "event/tests.rs:2: `std::fs` on floor 0 or 1"
    );
    let fault = "event/a_tests.rs:2: `std::fs` on floor 0 or 1";
    let a = |modules| {
        [
            root,
            ("event/mod.rs", "mod a;"),
            ("event/a.rs", modules),
            ("event/a_tests.rs", writes),
        ]
    };
    assert_eq!(
        said_of(&a("#[cfg(test)]\n#[path = \"a_tests.rs\"]\nmod tests;")),
        ""
    );
    assert_eq!(
        said_of(&a("#[path = \"a_tests.rs\"]\npub(crate) mod tests;")),
        fault
    );
    // What a file of tests declares is a test too.
    let below = [
        root,
        ("event/mod.rs", "#[cfg(test)]\nmod proof;"),
        ("event/proof/mod.rs", "mod a;"),
        ("event/proof/a.rs", writes),
    ];
    assert_eq!(said_of(&below), "");
}

#[test]
fn circles_inside_a_room_fail() {
    let event = |modules, a, b, c| {
        said_of(&[
            ("lib.rs", "mod event;\nmod measure;"),
            ("event/mod.rs", modules),
            ("event/a.rs", a),
            ("event/b/mod.rs", b),
            ("event/b/c.rs", c),
        ])
    };
    let plain = "mod a;\nmod b;\npub use a::A;\npub use b::{self, C};";
    let two = "event/a.rs: a circle: event/a.rs -> event/b/mod.rs -> event/a.rs";
    let three = "event/a.rs: a circle: event/a.rs -> event/b/c.rs -> event/a.rs";
    // One way only, and a folder with what lies in it.
    assert_eq!(
        event(
            plain,
            "use super::b::B;",
            "mod c;\nuse c::C;",
            "use super::B;"
        ),
        ""
    );
    assert_eq!(
        event(
            plain,
            "",
            "mod c;\nuse crate::event::a;",
            "use crate::event::A;"
        ),
        ""
    );
    for (a, b) in [
        ("use super::b;", "mod c;\nuse super::a::A;"),
        ("use super::b::B;", "mod c;\nuse crate::event::A;"),
        (
            "fn f() { super::b::f() }",
            "mod c;\nfn f() { super::a::f() }",
        ),
        (
            "use crate::event::{b, self as all};",
            "mod c;\nuse super::{a};",
        ),
    ] {
        assert_eq!(event(plain, a, b, ""), two, "{a} {b}");
    }
    for (a, c) in [
        ("use super::b::c::C;", "use super::super::a::A;"),
        // Through the re-exports of both `mod.rs`.
        ("use super::C;", "use crate::event::A;"),
    ] {
        assert_eq!(
            event(plain, a, "mod c;\npub use c::C;", c),
            three,
            "{a} {c}"
        );
    }
    // Tests may look wherever they want.
    assert_eq!(
        event(
            plain,
            "#[cfg(test)]\nmod tests { use super::super::b::B; }",
            "mod c;\nuse super::a::A;",
            ""
        ),
        ""
    );
    // Another room is a matter of floors.
    assert_eq!(
        said_of(&[
            ("lib.rs", "mod event;\nmod measure;"),
            ("event/mod.rs", "mod a;"),
            ("event/a.rs", "use crate::measure::a;"),
            ("measure/mod.rs", "mod a;"),
            ("measure/a.rs", "use super::super::event::a;"),
        ]),
        "measure/a.rs:2: `measure` may not know `event`"
    );
}
