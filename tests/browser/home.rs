//! One server that stays: from an empty folder to a stored reading, without a terminal or a path.

use super::access::{accessible, axe};
use super::bench::{Bench, benchcall, quiet_room};
use super::{PATIENCE, browser};
use benchcall::app::job::Job;
use std::path::PathBuf;

fn jobs(folder: &std::path::Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut all: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).collect();
    all.sort();
    all
}

/// Who opened it by its icon and went home finds no microphone open the next morning.
#[test]
fn a_bench_that_nobody_uses_ends_by_itself() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().join("jobs");
    let room = quiet_room(folder.path());
    let place = place.to_str().unwrap();
    let bench = ["bench", place, "--port", "0", "--silent", "--recording"];
    let mut bench = Bench::start(&[&bench[..], &[&room, "--stop-unused", "2"]].concat());
    bench.ends();
}

#[test]
fn a_new_user_makes_a_job_and_stores_a_reading() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let place = folder.path().join("jobs");
    let room = quiet_room(folder.path());
    let mut bench = Bench::of_jobs(&place, None, &room);
    bench.enter(&browser);
    browser.until("document.body.dataset.ready", PATIENCE);
    // The head is drawn as it comes out, before anything is made.
    assert_eq!(
        browser.run("return document.querySelectorAll('#head .side span').length"),
        12
    );
    assert_eq!(
        browser.run("return document.getElementById('none').hidden"),
        false
    );
    if let Some(axe) = axe() {
        accessible(&browser, &axe, "jobs");
    }
    // Without a blade it is not made, and says so.
    browser.run("for (const b of document.querySelectorAll('[name=blade]')) b.checked = false");
    browser.click("#make");
    browser.until(
        "document.getElementById('message').textContent.includes('choose the blades')",
        PATIENCE,
    );
    browser.run("for (const b of document.querySelectorAll('[name=blade]')) b.checked = true");
    browser.keys("#machine", "The red one");
    browser.keys("#owner", "A. N. Other");
    browser.click("#make");
    browser.until(
        "location.pathname === '/' && document.body.dataset.state === 'listening'",
        PATIENCE,
    );
    browser.click("#pad-open");
    browser.click("#pad-valves input[value='1 inlet left']");
    browser.click("#pad-goes input[value='150000']");
    browser.click("#pad-stops input[value='180000']");
    browser.click("#pad-store");
    browser.until(
        "document.getElementById('left-count').textContent === '11'",
        PATIENCE,
    );
    let made = jobs(&place);
    assert_eq!(made.len(), 1);
    let stored = Job::look(&made[0]).unwrap();
    assert_eq!(stored.state.view.remaining().len(), 11);
    let told: Vec<&str> = (stored.state.counting().about().into_iter())
        .map(|(_, text)| text)
        .collect();
    assert_eq!(told, ["A. N. Other", "The red one"]);
    drop(stored);
    // Back on the first page it is found again; ended there, another may be gone on with.
    let other = place.join("other");
    benchcall(&["new", other.to_str().unwrap(), "--engine", "twin270"]);
    browser.open(&format!("{}jobs", bench.url));
    browser.until(
        "document.querySelectorAll('#jobs li').length === 2",
        PATIENCE,
    );
    let now = browser.run("return document.querySelector('#jobs .now').textContent");
    let now = now.as_str().unwrap();
    assert!(
        now.contains("The red one") && now.contains("1 of 12 measured"),
        "{now}"
    );
    browser.click("[aria-label='go on: other']");
    browser.until(
        "location.pathname === '/' && document.querySelectorAll('.valve').length === 8",
        PATIENCE,
    );
    browser.open(&format!("{}jobs", bench.url));
    browser.until("document.querySelector('#jobs .now')", PATIENCE);
    browser.click("[aria-label='end: other']");
    browser.until("!document.querySelector('#jobs .now') && document.querySelectorAll('#jobs li').length === 2", PATIENCE);
    browser.open(&bench.url);
    browser.until("document.getElementById('new')", PATIENCE);
    // Who started it from an icon has no Ctrl-C.
    browser.click("#end");
    browser.until(
        "document.getElementById('message').textContent.startsWith('The bench is off')",
        PATIENCE,
    );
    bench.ends();
}
