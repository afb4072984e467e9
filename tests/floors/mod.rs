//! Reads the source and fails on a path that leads upward or sideways, on I/O, clocks,
//! threads or floats where they may not be, and on a file too long or without a heading.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circles;
mod proof;
mod source;

use circles::{circles, needs, production};
use source::{Token, paths, tokens, without_tests};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// Each module and the modules it may name, besides itself. Floors from the bottom up.
const MAY_KNOW: &[(&str, &[&str])] = &[
    // 0: values
    ("measure", &[]),
    ("event", &["measure"]),
    // 1: logic; engine and grammar never meet
    ("engine", &["measure", "event"]),
    ("grammar", &["measure", "event"]),
    ("record", &["measure", "event", "engine"]),
    (
        "session",
        &["measure", "event", "engine", "grammar", "record"],
    ),
    // 2: signal
    ("audio", &["measure", "event"]),
    // 3: edges; none knows another
    ("device", BELOW_EDGES),
    ("recognise", BELOW_EDGES),
    ("voice", BELOW_EDGES),
    ("store", BELOW_EDGES),
    ("models", BELOW_EDGES),
    ("report", BELOW_EDGES),
    ("web", BELOW_EDGES),
    // 3½: understanding and its evaluation
    ("understand", BELOW_UNDERSTANDING),
    ("evaluate", BELOW_EVALUATION),
    // … and learning a voice, which needs the recogniser's weights alone
    ("learn", BELOW_LEARNING),
    // 4: wiring
    ("app", BELOW_APP),
    ("cli", BELOW_CLI),
];
const BELOW_EDGES: &[&str] = &[
    "measure", "event", "engine", "grammar", "record", "session", "audio",
];
/// No store, web or device: sound comes as samples, and a conversation keeps what is understood.
const BELOW_UNDERSTANDING: &[&str] = &[
    "measure",
    "event",
    "engine",
    "grammar",
    "record",
    "session",
    "audio",
    "recognise",
    "report",
];
const BELOW_LEARNING: &[&str] = &["measure", "event", "grammar", "audio", "recognise"];
#[rustfmt::skip]
const BELOW_EVALUATION: &[&str] = &[
    "measure", "event", "engine", "grammar", "record", "session", "audio", "recognise", "report", "understand",
];
#[rustfmt::skip]
const BELOW_APP: &[&str] = &[
    "measure", "event", "engine", "grammar", "record", "session", "audio",
    "device", "recognise", "voice", "store", "models", "report", "web", "understand", "evaluate", "learn",
];
#[rustfmt::skip]
const BELOW_CLI: &[&str] = &[
    "measure", "event", "engine", "grammar", "record", "session", "audio",
    "device", "recognise", "voice", "store", "models", "report", "web", "understand", "evaluate", "learn",
    "app",
];

/// The modules of floors 0 and 1: no I/O, clock, randomness, threads or async.
const PURE: &[&str] = &["measure", "event", "engine", "grammar", "record", "session"];
/// What a pure module may not name: a path that begins so.
#[rustfmt::skip]
const IMPURE: &[&str] = &[
    "std::fs", "std::io", "std::net", "std::env", "std::process", "std::thread", "std::sync::mpsc",
    "std::time::SystemTime", "std::time::Instant", "rand", "jiff", "rusqlite", "cpal",
];
/// Only these may name tokio.
const ASYNC: &[&str] = &["web", "app"];
/// Globs and whole modules through which one of those could come in unseen.
const OPEN_DOORS: &[&str] = &["std", "std::*", "std::time", "std::time::*"];
const PRINTING: &[&str] = &["print", "println", "eprint", "eprintln", "dbg"];

/// Modules that hold lengths, readings and plans: whole numbers only.
const EXACT: &[&str] = &["measure", "engine"];
/// The files of those that may use floats: angles, and the uncertainty budget.
const FLOATS_ALLOWED: &[&str] = &["engine/sums/geometry.rs", "engine/clearance/uncertainty.rs"];

/// More than `LONG` is a reason to look for a second subject, and is printed; more than
/// `TOO_LONG` fails.
const LONG: usize = 500;
const TOO_LONG: usize = 800;

/// What is wrong with the source; `files` by their paths below `src`.
fn faults_of_all(files: &BTreeMap<String, String>) -> Vec<String> {
    let production = production(files);
    let mut faults: Vec<String> = (files.iter())
        .flat_map(|(name, text)| faults(name, text, !production.contains(name)))
        .collect();
    let needs = needs(files);
    for circle in circles(&needs) {
        let first = &circle[0];
        faults.push(format!(
            "{first}: a circle: {} -> {first}",
            circle.join(" -> ")
        ));
    }
    faults
}

/// What is wrong with one file; `name` is its path below `src`.
fn faults(name: &str, source: &str, is_test_file: bool) -> Vec<String> {
    let mut faults = Vec::new();
    if !source.starts_with("//!") {
        faults.push(format!(
            "{name}:1: the first line must begin with //! and say what lives here"
        ));
    }
    let lines = source.lines().count();
    if lines > TOO_LONG {
        faults.push(format!("{name}: {lines} lines; at most {TOO_LONG}"));
    } else if lines > LONG {
        println!("{name}: {lines} lines; more than {LONG}: has it a second subject?");
    }
    let (Some(home), all) = (home(name), tokens(source)) else {
        return faults; // lib.rs and main.rs join everything
    };
    let Some((_, may_know)) = MAY_KNOW.iter().find(|(module, _)| *module == home) else {
        faults.push(format!(
            "{name}: module `{home}` has no floor; give it one in tests/floors.rs"
        ));
        return faults;
    };
    for (path, line) in paths(&all) {
        if path[0] == "tokio" && !ASYNC.contains(&home) {
            faults.push(format!("{name}:{line}: tokio outside web and app"));
        }
        if let Some(target) = top_module(&path, depth(name))
            && target != home
            && !may_know.contains(&target)
        {
            faults.push(format!("{name}:{line}: `{home}` may not know `{target}`"));
        }
    }
    for pair in all.windows(2) {
        if pair[0].text == "crate" && pair[1].text == "as" {
            let line = pair[0].line;
            faults.push(format!(
                "{name}:{line}: `{home}` may not know the whole crate"
            ));
        }
    }
    let code = if is_test_file {
        Vec::new()
    } else {
        without_tests(&all)
    };
    faults.extend(prints(name, &code));
    if PURE.contains(&home) {
        faults.extend(impure(name, &code));
    }
    if EXACT.contains(&home) && !FLOATS_ALLOWED.contains(&name) {
        faults.extend(floats(name, &code));
    }
    faults
}

/// The top module that a file belongs to; none for the crate's roots.
fn home(name: &str) -> Option<&str> {
    match name {
        "lib.rs" | "main.rs" => None,
        _ => Some(
            name.split('/')
                .next()
                .unwrap_or(name)
                .trim_end_matches(".rs"),
        ),
    }
}

/// How many `super::` lead from a file to the crate's root.
fn depth(name: &str) -> usize {
    let parts = name.split('/').count();
    if name.ends_with("/mod.rs") {
        parts - 1
    } else {
        parts
    }
}

/// The top module that a path names, through `crate::` or enough `super::`.
fn top_module(path: &[String], depth: usize) -> Option<&str> {
    let supers = path.iter().take_while(|part| *part == "super").count();
    let rest = match path.first().map(String::as_str) {
        Some("crate" | "benchcall") => &path[1..],
        Some("super") if supers >= depth => &path[supers..],
        _ => return None,
    };
    let first = rest.first().map(String::as_str);
    let is_module = |module: &str| MAY_KNOW.iter().any(|(known, _)| *known == module);
    match (first, path[0].as_str()) {
        // From a module of tests inside a file, `super::super` need not be the root.
        (Some(module), "super") => is_module(module).then_some(module),
        (Some("self"), _) => Some("the whole crate"),
        (module, _) => module, // none: `pub(crate)`
    }
}

fn impure(name: &str, code: &[Token]) -> Vec<String> {
    let mut faults = Vec::new();
    for (path, line) in paths(code) {
        let path = path.join("::");
        let path = path.strip_suffix("::self").unwrap_or(&path);
        let inside = |banned: &&&str| {
            path.strip_prefix(**banned)
                .is_some_and(|rest| rest.starts_with("::"))
        };
        let whole = |banned: &&&str| path == **banned && banned.contains("::");
        if IMPURE.iter().any(|b| inside(&b) || whole(&b))
            || (path != "std" && OPEN_DOORS.contains(&path))
        {
            faults.push(format!("{name}:{line}: `{path}` on floor 0 or 1"));
        }
    }
    faults
}

/// A name, a note or a file may hold what commands a terminal: `app/terminal.rs` takes it out, and nothing
/// else prints.
fn prints(name: &str, code: &[Token]) -> Vec<String> {
    let pairs = code.windows(2);
    let printing = pairs.filter(|p| PRINTING.contains(&p[0].text.as_str()) && p[1].text == "!");
    let fault = |pair: &[Token]| {
        let (line, what) = (pair[0].line, &pair[0].text);
        format!("{name}:{line}: `{what}!` outside app/terminal.rs")
    };
    printing.map(fault).collect()
}

fn floats(name: &str, code: &[Token]) -> Vec<String> {
    let is_float = |text: &str| {
        let number = text.starts_with(|c: char| c.is_ascii_digit());
        matches!(text, "f32" | "f64")
            || number
                && (text.contains('.') || text.ends_with("f32") || text.ends_with("f64"))
                && !text.starts_with("0x")
    };
    (code.iter().filter(|token| is_float(&token.text)))
        .map(|token| {
            format!(
                "{name}:{}: a float (`{}`) where only whole numbers are",
                token.line, token.text
            )
        })
        .collect()
}

fn sources(folder: &Path, root: &Path, out: &mut BTreeMap<String, String>) {
    for entry in fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display())) {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, root, out);
        } else if path.extension().is_some_and(|ext| ext == "rs") {
            let name = path
                .strip_prefix(root)
                .unwrap()
                .to_str()
                .unwrap()
                .replace('\\', "/");
            let text =
                fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            out.insert(name, text);
        }
    }
}

#[test]
fn the_source_keeps_to_its_floors() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = BTreeMap::new();
    sources(&root, &root, &mut files);
    assert!(
        files.contains_key("lib.rs"),
        "no source under {}",
        root.display()
    );
    let faults = faults_of_all(&files);
    assert!(faults.is_empty(), "\n{}\n", faults.join("\n"));
}

#[test]
fn every_module_knows_only_modules_below_it() {
    for (i, (module, may_know)) in MAY_KNOW.iter().enumerate() {
        for target in *may_know {
            let place = MAY_KNOW.iter().position(|(known, _)| known == target);
            assert!(place.is_some_and(|place| place < i), "{module} -> {target}");
        }
    }
}
