//! The pages while the bench works: what is asked is not yet open, what a review changes then, and
//! that no cell of any head is cut.

use super::bench::{Bench, benchcall, job};
use super::driver::Browser;
use super::{PATIENCE, SIZES, browser};
use benchcall::app::job::Job;
use serde_json::json;
use std::path::Path;

fn phrases(phrases: &[&str]) -> Vec<String> {
    phrases.iter().map(|p| (*p).to_owned()).collect()
}

/// A question is not a reading: its valve has a word, a shape and a border of its own.
#[test]
fn a_valve_that_is_asked_about_is_not_shown_as_open() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let lines = ["one inlet left", "three exhaust right point four eight"];
    let job = job(folder.path(), &phrases(&lines));
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--phone"]);
    bench.enter(&browser);
    browser.until("'question' in document.body.dataset", PATIENCE);
    let marked = browser.run(
        "const all = [...document.querySelectorAll('.valve')];
         const asked = all.filter((v) => 'asked' in v.dataset);
         const plain = all.find((v) => Object.keys(v.dataset).length === 0);
         return [all.filter((v) => 'open' in v.dataset).length, asked.length,
                 asked[0].querySelector('.name').textContent, asked[0].querySelector('.flag').textContent,
                 asked[0].querySelectorAll('svg.mark').length,
                 getComputedStyle(asked[0]).borderTopStyle, getComputedStyle(plain).borderTopStyle]",
    );
    let expected = json!([0, 1, "exhaust right", "ASKED", 1, "dashed", "solid"]);
    assert_eq!(marked, expected);
}

/// An answer that is none leaves the question and its figure in sight, and says neither twice.
#[test]
fn what_is_still_asked_is_still_shown() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let lines = [
        "one inlet left shim two sixty",
        "one inlet left shim two fifty-five",
        "affirm",
    ];
    let job = job(folder.path(), &phrases(&lines));
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--phone"]);
    bench.enter(&browser);
    browser.until("'question' in document.body.dataset", PATIENCE);
    let shown = browser.run(
        "const text = (id) => document.getElementById(id).textContent;
         return [text('place'), text('value'), text('words').includes('read again, or changed')]",
    );
    assert_eq!(shown, json!(["1 inlet left", "shim 2.55 mm", true]));
}

#[test]
fn an_edit_while_the_bench_listens_is_stored_and_on_the_board() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let lines = [
        "one inlet left point one five",
        "one inlet right point one six",
    ];
    let job = job(folder.path(), &phrases(&lines));
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--phone"]);
    bench.enter(&browser);
    let left = |n: usize| format!("document.getElementById('left-count').textContent === '{n}'");
    browser.until(&left(10), PATIENCE);
    bench.open(&browser, "review");
    // What cannot be is said, and the bench goes on.
    browser.keys("[data-id='2']", "e");
    browser.until("document.activeElement.tagName === 'INPUT'", PATIENCE);
    let typed = "\u{e009}a\u{e000}one inlet middle point one\u{e007}";
    browser.keys("[data-id='2'] input", typed);
    let said =
        |words: &str| format!("document.getElementById('message').textContent.includes('{words}')");
    browser.until(&said("cannot be taken"), PATIENCE);
    browser.keys("[data-id='3']", "x");
    browser.until(&said("Stored: 3"), PATIENCE);
    let row = browser.run("return document.querySelector(\"[data-id='3']\").textContent");
    assert!(row.as_str().unwrap().contains("rejected"), "{row}");
    browser.open(&bench.url);
    browser.until(&left(11), PATIENCE);
    drop(bench);
    let stored = Job::look(Path::new(&job)).unwrap();
    let last = stored.state.events().last().unwrap();
    assert_eq!((last.id, last.command.as_deref()), (4, Some("review")));
}

/// Where an engine has two heads, nobody measures on the wrong one for want of its name.
#[test]
fn each_of_two_heads_is_named_in_every_drawing() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = folder.path().join("v").to_str().unwrap().to_owned();
    benchcall(&["new", &job, "--engine", "vfour"]);
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--phone"]);
    bench.enter(&browser);
    browser.until("document.querySelector('.valve')", PATIENCE);
    let names =
        "const named = [...document.querySelectorAll('.of-head')].map((n) => n.textContent)";
    let expected = json!(["front head", "front head", "rear head", "rear head"]);
    assert_eq!(browser.run(&format!("{names}; return named")), expected);
    for (width, height) in SIZES {
        browser.resize(width, height);
        browser.run("dispatchEvent(new Event('resize'))");
        assert_eq!(browser.run(CUT), json!([[], 0, 0]), "{width}x{height}");
    }
    browser.open(&format!("{}engine?job", bench.url));
    let drawn = |id: &str| {
        format!(
            "[...document.querySelectorAll('{id}')].filter((n) => n.textContent === 'rear head').length === 2"
        )
    };
    browser.until(&drawn("#head text"), PATIENCE);
    drop(bench);
    let _bench = Bench::at_home(&browser, folder.path());
    browser.run("document.querySelector('[name=engine][value=vfour]').click()");
    browser.until(&drawn("#head .of-head"), PATIENCE);
}

/// Cells of the head whose text is larger than they are, and by how much the page is too wide.
const CUT: &str = "
    const cut = [];
    for (const valve of document.querySelectorAll('.valve')) {
      const cell = valve.getBoundingClientRect();
      for (const part of valve.querySelectorAll('.name, .flag, .word, .figure')) {
        const range = document.createRange();
        range.selectNodeContents(part);
        const text = range.getBoundingClientRect();
        const out = getComputedStyle(part).display === 'none' || text.left < cell.left - 1 || text.right > cell.right + 1
          || text.top < cell.top - 1 || text.bottom > cell.bottom + 1;
        if (out && part.textContent) cut.push(part.textContent);
      }
    }
    const said = document.getElementById('said');
    return [cut, document.documentElement.scrollWidth - innerWidth, Math.max(0, said.scrollHeight - said.clientHeight)]";

/// Heads of two to twenty-four valves, with every verdict, at the sizes of a tablet, a desktop and a
/// phone, upright and on its side, and at 200 % zoom.
#[test]
fn no_cell_of_any_head_is_cut() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(
        folder.path(),
        &phrases(&["three exhaust left fifteen goes eighteen wont"]),
    );
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--phone"]);
    bench.enter(&browser);
    browser.until("document.querySelector('.valve')", PATIENCE);
    for (name, cylinders, inlet, exhaust) in [
        ("six", 6, 2, 2),
        ("four", 4, 2, 2),
        ("five valves", 4, 3, 2),
        ("twin", 2, 2, 1),
        ("single", 1, 1, 1),
    ] {
        let board = verdicts(cylinders, inlet, exhaust);
        for (width, height) in SIZES {
            browser.resize(width, height);
            draw(&browser, &board);
            let found = browser.run(CUT);
            assert_eq!(found, json!([[], 0, 0]), "{name}, {width}x{height}");
        }
    }
}

/// Shows the page as it is, with the head of another engine.
pub(super) fn draw(browser: &Browser, board: &serde_json::Value) {
    browser.wait_for(&format!(
        "const done = arguments[0];
         import('/a/head.js').then((m) => {{
           document.getElementById('head').replaceChildren(...m.head({board}));
           dispatchEvent(new Event('resize')); done(true); }})"
    ));
}

/// A board of so many cylinders whose valves go through all verdicts; one is open, one asked, one next.
pub(super) fn verdicts(cylinders: usize, inlet: usize, exhaust: usize) -> serde_json::Value {
    const SHOWN: [(&str, &str, &str); 9] = [
        ("in_band", "in band", "0.125–0.15"),
        ("tight", "tight", "0.15–0.18"),
        ("loose", "loose", "0.125–0.15"),
        ("on_the_limit", "on the limit", "0.125–0.15"),
        ("no_gap", "no gap", "<0.03"),
        ("open", "one end open", "≥0.40"),
        ("contradictory", "contradictory", ""),
        ("refitted", "measure again", ""),
        ("unmeasured", "not measured", ""),
    ];
    let mut valves = Vec::new();
    for cylinder in 1..=cylinders {
        for (side, count) in [("inlet", inlet), ("exhaust", exhaust)] {
            let names: &[&str] =
                [&[""][..], &["left", "right"], &["left", "middle", "right"]][count - 1];
            for name in names {
                let at = valves.len();
                let (verdict, words, value) = SHOWN[at % SHOWN.len()];
                valves.push(json!({
                    "cylinder": cylinder, "side": side, "name": name, "verdict": verdict, "words": words,
                    "value": value, "open": at == 1, "asked": at == 3, "next": at == 5,
                }));
            }
        }
    }
    json!({ "valves": valves })
}
