//! The pictures of the README, made from the demo's session. `BENCHCALL_PICTURES` names the folder.

use super::bench::{Bench, benchcall, fixtures, job, script};
use super::driver::Browser;
use super::{PATIENCE, TABLET};
use serde_json::json;
use std::path::{Path, PathBuf};

/// Largest picture that belongs in a README.
const MOST_BYTES: u64 = 150_000;

pub(super) fn folder() -> PathBuf {
    std::env::var_os("BENCHCALL_PICTURES").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures"),
        PathBuf::from,
    )
}

fn take(browser: &Browser, name: &str) {
    let path = folder().join(name);
    browser.picture(&path);
    let bytes = std::fs::metadata(&path).unwrap().len();
    println!("{}: {bytes} bytes", path.display());
    assert!(
        (5_000..=MOST_BYTES).contains(&bytes),
        "{name}: {bytes} bytes"
    );
}

#[test]
fn pictures_of_the_board() {
    let Some(browser) = Browser::start(None, TABLET) else {
        return;
    };
    let place = tempfile::tempdir().unwrap();
    let mut lines = script("Two exhaust left, point three one");
    let job = job(place.path(), &lines);
    let bench = Bench::listening(place.path(), &job, &[]);
    browser.prefer("prefers-color-scheme", "light");
    bench.enter(&browser);
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    take(&browser, "board.webp");
    browser.prefer("prefers-color-scheme", "dark");
    take(&browser, "board-dark.webp");
    browser.devtools(
        "Emulation.setDeviceMetricsOverride",
        &json!({
        "width": 412, "height": 870, "deviceScaleFactor": 1, "mobile": true }),
    );
    take(&browser, "board-phone.webp");
    drop(bench);
    lines.clear();
    for (say, state, name) in [
        (
            "three exhaust right point four eight",
            "asking",
            "board-asking.webp",
        ),
        ("stand by", "stand_by", "board-stand-by.webp"),
    ] {
        benchcall(&["say", "--job", &job, say]);
        let bench = Bench::listening(place.path(), &job, &[]);
        browser.resize(TABLET.0, TABLET.1);
        browser.prefer("prefers-color-scheme", "light");
        bench.enter(&browser);
        browser.until(
            &format!("document.body.dataset.state === '{state}'"),
            PATIENCE,
        );
        take(&browser, name);
        drop(bench);
    }
    browser.until("!document.getElementById('stale').hidden", PATIENCE);
    take(&browser, "board-cut-off.webp");
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
        "affirm",
        "two inlet left fifteen goes eighteen won't",
        "one exhaust right shim two fifty",
        "affirm",
        "one exhaust right twenty-two goes twenty-five won't",
    ]);
    let bench = Bench::start(&["review", "--job", &job]);
    browser.prefer("prefers-color-scheme", "light");
    bench.enter(&browser);
    browser.until("document.body.dataset.ready", PATIENCE);
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
    std::thread::sleep(std::time::Duration::from_millis(500));
    take(&browser, "review.webp");
    browser.open(&format!("{}report", bench.url));
    browser.resize(900, 1100);
    take(&browser, "report.webp");
    // It prints: an A4 page of it as PDF is not empty and not endless.
    let pdf = browser.devtools(
        "Page.printToPDF",
        &json!({ "paperWidth": 8.27, "paperHeight": 11.69 }),
    );
    let bytes = pdf["data"].as_str().unwrap().len() * 3 / 4;
    println!("the report as A4: {bytes} bytes of PDF");
    assert!((10_000..3_000_000).contains(&bytes));
}
