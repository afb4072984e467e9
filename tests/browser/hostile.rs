//! Names and notes that somebody else wrote, on every page: text, never markup.

use super::bench::{Bench, benchcall, job};
use super::{PATIENCE, browser};
use serde_json::Value;
use std::path::Path;

const MARKUP: &str = "<img src=x onerror=document.body.dataset.run=1><b>bold</b>";

/// A report whose engine, notes and utterances hold markup, brought back as a job.
fn hostile(folder: &Path) -> String {
    let lines = [
        "one inlet left fifteen goes eighteen wont",
        "note one inlet left scuffed",
        "three exhaust right point four eight",
    ];
    let good = job(folder, &lines.map(str::to_owned));
    let file = folder.join("bad.json").to_str().unwrap().to_owned();
    benchcall(&["report", "--job", &good, "--json", &file]);
    let text = std::fs::read_to_string(&file).unwrap();
    let mut report: Value = serde_json::from_str(&text).unwrap();
    for event in report["events"].as_array_mut().unwrap().iter_mut().skip(1) {
        event["said"] = MARKUP.into();
        event["spoken"] = MARKUP.into();
        event["why"] = MARKUP.into();
    }
    let events = report["events"].to_string();
    let events = events
        .replace("scuffed", MARKUP)
        .replace("in-line triple, four valves", MARKUP);
    report["events"] = serde_json::from_str(&events).unwrap();
    std::fs::write(&file, report.to_string()).unwrap();
    let job = folder.join("bad").to_str().unwrap().to_owned();
    benchcall(&["report", "--job", &job, "--import", &file]);
    job
}

#[test]
fn markup_in_names_and_notes_stays_text_on_every_page() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = hostile(folder.path());
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--phone", "--lan"]);
    browser.open(&bench.url);
    browser.keys("#code", &bench.code());
    browser.keys("#name", "\u{e009}a\u{e000}<b>bold</b>");
    browser.click("#form button");
    browser.until("location.pathname === '/'", PATIENCE);
    browser.until("'question' in document.body.dataset", PATIENCE);
    let harmless = |page: &str, least: u64| {
        let found = browser.run(
            "return [document.querySelectorAll('img, b:not([id])').length - document.querySelectorAll('#next-turn b').length,
                     document.body.dataset.run || 'no', document.documentElement.textContent.split('<b>bold</b>').length - 1]",
        );
        assert_eq!((&found[0], &found[1]), (&0.into(), &"no".into()), "{page}");
        assert!(found[2].as_u64().unwrap() >= least, "{page}: {found}");
    };
    harmless("board", 2);
    bench.open(&browser, "review");
    harmless("review", 6);
    browser.open(&format!("{}report", bench.url));
    harmless("report", 2);
    browser.open(&format!("{}pair", bench.url));
    browser.until("!document.getElementById('list').hidden", PATIENCE);
    harmless("pair", 1);
}
