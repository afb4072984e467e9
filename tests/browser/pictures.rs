//! The pictures of the README, made from the demo's session. `BENCHCALL_PICTURES` names the folder.

use super::bench::{Bench, benchcall, job, script};
use super::driver::Browser;
use super::{PATIENCE, TABLET};
use crate::support::fixtures;
use serde_json::json;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Two pictures of a page at most; all of them stay in the history for ever.
const MOST_BYTES: u64 = 80_000;

pub(super) fn folder() -> PathBuf {
    std::env::var_os("BENCHCALL_PICTURES").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures"),
        PathBuf::from,
    )
}

/// Takes a page as it is now on a tablet, and on a phone.
fn take(browser: &Browser, name: &str) {
    let mut bytes = 0;
    for (size, (width, height)) in [("tablet", TABLET), ("phone", (390, 844))] {
        browser.resize(width, height);
        browser.run("dispatchEvent(new Event('resize')); scrollTo(0, 0)");
        std::thread::sleep(Duration::from_millis(300));
        let path = folder().join(format!("{name}-{size}.png"));
        browser.picture(&path);
        bytes += std::fs::metadata(&path).unwrap().len();
    }
    browser.resize(TABLET.0, TABLET.1);
    println!("{name}: {bytes} bytes");
    assert!((5_000..=MOST_BYTES).contains(&bytes), "{name}: {bytes}");
}

/// The bench of a folder with the demo's session in it, the whole way through its pages.
#[test]
fn pictures_of_the_bench() {
    let Some(browser) = Browser::start(None, TABLET) else {
        return;
    };
    let place = tempfile::tempdir().unwrap();
    let jobs = place.path().join("jobs");
    std::fs::create_dir(&jobs).unwrap();
    job(&jobs, &script("Two exhaust left, point three one"));
    browser.prefer("prefers-color-scheme", "light");
    let bench = Bench::at_home(&browser, place.path());
    take(&browser, "home");
    bench.open(&browser, "sound");
    take(&browser, "sound");
    bench.open(&browser, "network");
    take(&browser, "network");
    bench.open(&browser, "jobs");
    browser.click("[aria-label='go on: head']");
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    take(&browser, "board");
    for page in ["engine?job", "plan", "findings"] {
        browser.open(&format!("{}{page}", bench.url));
        browser.ready();
        take(&browser, page.split('?').next().unwrap());
    }
    browser.open(&bench.url);
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    browser.run("fetch('/touch', { method: 'POST', body: JSON.stringify({ blades: { place: '3 exhaust right', goes_nm: 450000, stops_nm: 500000 } }) })");
    browser.until("'question' in document.body.dataset", PATIENCE);
    take(&browser, "board-asking");
}

/// Needs sounds: the demo's session itself, heard.
#[test]
fn pictures_of_review_and_report() {
    let Some(browser) = Browser::start(None, TABLET) else {
        return;
    };
    let place = tempfile::tempdir().unwrap();
    let job = place.path().join("head").to_str().unwrap().to_owned();
    benchcall(&["new", &job, "--engine", "triple"]);
    let session = fixtures().join("session/session.flac");
    benchcall(&["hear", "--job", &job, session.to_str().unwrap()]);
    benchcall(&[
        "say",
        "--job",
        &job,
        "listen",
        "two inlet left shim two fifty-five",
        "changed",
        "two inlet left fifteen goes eighteen won't",
        "one exhaust right shim two fifty",
        "changed",
        "one exhaust right twenty-two goes twenty-five won't",
    ]);
    let bench = Bench::start(&["review", "--job", &job]);
    browser.prefer("prefers-color-scheme", "light");
    bench.enter(&browser);
    browser.ready();
    super::show_all(&browser);
    browser.keys("[data-id='24']", "c");
    browser.until(
        "document.querySelector(\"[data-id='24']\").textContent.includes('confirmed')",
        PATIENCE,
    );
    browser.until(
        "[...document.querySelectorAll('canvas')].some((c) => c.dataset.drawn)",
        PATIENCE,
    );
    std::thread::sleep(Duration::from_millis(500));
    take(&browser, "review");
    browser.open(&format!("{}report", bench.url));
    take(&browser, "report");
    // It prints: an A4 page of it as PDF is not empty and not endless.
    let pdf = browser.devtools(
        "Page.printToPDF",
        &json!({ "paperWidth": 8.27, "paperHeight": 11.69 }),
    );
    let bytes = pdf["data"].as_str().unwrap().len() * 3 / 4;
    println!("the report as A4: {bytes} bytes of PDF");
    assert!((10_000..3_000_000).contains(&bytes));
}
