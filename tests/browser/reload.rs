//! Reload, and back, while something is half entered: nothing of it is stored, and what can be kept is.

use super::bench::{Bench, board_of};
use super::{PATIENCE, browser, show_all};
use benchcall::app::job::Job;
use serde_json::json;
use std::path::Path;

fn stored(job: &str) -> usize {
    Job::look(Path::new(job)).unwrap().state.events().len()
}

#[test]
fn a_pad_that_is_reloaded_or_left_stores_nothing() {
    let Some((browser, job, bench)) = board_of(&[]) else {
        return;
    };
    let before = stored(&job);
    let half = || {
        browser.until("document.body.dataset.state === 'listening'", PATIENCE);
        browser.click("#pad-open");
        browser.click("#pad-valves input[value='1 inlet left']");
        browser.click("#pad-goes input[value='150000']");
        assert_eq!(
            browser.run("return document.getElementById('pad').open"),
            true
        );
    };
    half();
    browser.reload();
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    assert_eq!(
        browser.run("return document.getElementById('pad').open"),
        false
    );
    bench.open(&browser, "plan");
    browser.back();
    half();
    browser.back();
    browser.forward();
    browser.forward();
    browser.until("location.pathname === '/plan'", PATIENCE);
    assert_eq!(stored(&job), before);
    // A question that waits is asked again after a reload, and answered once.
    browser.open(&bench.url);
    half();
    browser.click("#pad-goes input[value='500000']");
    browser.click("#pad-store");
    browser.until("'question' in document.body.dataset", PATIENCE);
    browser.reload();
    browser.until("'question' in document.body.dataset", PATIENCE);
    browser.click("[data-press=affirm]");
    browser.until(
        "document.getElementById('left-count').textContent === '11'",
        PATIENCE,
    );
    assert_eq!(stored(&job), before + 2);
}

#[test]
fn a_correction_and_an_engine_that_are_half_typed_survive_or_vanish_whole() {
    let Some((browser, job, bench)) = board_of(&["one inlet left fifteen"]) else {
        return;
    };
    let before = stored(&job);
    bench.open(&browser, "review");
    show_all(&browser);
    browser.run("document.querySelector(\"[data-id='2']\").focus()");
    browser.keys("[data-id='2']", "e");
    browser.until("document.activeElement.tagName === 'INPUT'", PATIENCE);
    browser.keys("[data-id='2'] input", " nine");
    browser.reload();
    browser.ready();
    assert_eq!(
        browser.run("return document.querySelectorAll('.row input').length"),
        0
    );
    bench.open(&browser, "engine?job");
    browser.keys("#note", " half of it");
    for leave in ["reload", "back"] {
        if leave == "reload" {
            browser.reload();
        } else {
            browser.back();
            browser.until("location.pathname === '/review'", PATIENCE);
            browser.forward();
        }
        browser.until(
            "document.getElementById('note')?.value.endsWith('half of it')",
            PATIENCE,
        );
    }
    assert_eq!(stored(&job), before);
}

#[test]
fn the_answers_for_a_new_job_outlive_a_reload_and_the_page_of_engines() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let place = folder.path().join("jobs");
    let bench = Bench::at_home(&browser, folder.path());
    browser.click("[name=engine][value=vtwin]");
    browser.click("[name=unit][value=thou]");
    browser.click("[name=blade]:first-of-type");
    browser.keys("#owner", "A. N. Other");
    let told = "[document.querySelector('[name=engine]:checked').value, document.querySelector('[name=unit]:checked').value,
        document.querySelectorAll('[name=blade]:not(:checked)').length > 0, document.getElementById('owner').value]";
    let expected = json!(["vtwin", "thou", true, "A. N. Other"]);
    assert_eq!(browser.run(&format!("return {told}")), expected);
    browser.reload();
    browser.ready();
    assert_eq!(browser.run(&format!("return {told}")), expected);
    bench.open(&browser, "engine");
    bench.open(&browser, "jobs?engine=vtwin");
    assert_eq!(browser.run(&format!("return {told}")), expected);
    // Once it is made, the next one begins afresh.
    browser.click("#make");
    browser.until(
        "location.pathname === '/' && document.body.dataset.state === 'listening'",
        PATIENCE,
    );
    bench.open(&browser, "jobs");
    assert_eq!(
        browser.run("return document.getElementById('owner').value"),
        ""
    );
    assert_eq!(std::fs::read_dir(&place).unwrap().count(), 1);
}
