//! What the board says of the bench: one word and shape for each state, and why nothing comes any more.

use super::bench::{Bench, job};
use super::driver::Browser;
use super::{PATIENCE, browser};
use serde_json::json;
use std::collections::BTreeSet;

/// Waits for a state; its word and its shape.
fn state(browser: &Browser, state: &str) -> (String, String) {
    browser.until(
        &format!("document.body.dataset.state === '{state}'"),
        PATIENCE,
    );
    let shown = browser.run(
        "return [document.getElementById('state-word').textContent, document.getElementById('state-shape').getAttribute('d')]",
    );
    let text = |at: usize| shown[at].as_str().unwrap().to_owned();
    (text(0), text(1))
}

#[test]
fn each_state_has_its_word_and_shape() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(folder.path(), &[]);
    let mut seen = Vec::new();
    // No phone has joined: nobody is heard, whatever else is well.
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--phone"]);
    bench.enter(&browser);
    seen.push(state(&browser, "no_microphone"));
    drop(bench);
    let bench = Bench::listening(folder.path(), &job, &[]);
    bench.enter(&browser);
    seen.push(state(&browser, "listening"));
    browser.click("#pause");
    seen.push(state(&browser, "stand_by"));
    let hint = "document.getElementById('state-say').textContent";
    assert_eq!(browser.run(&format!("return {hint}")), "say “listen”");
    browser.click("#pause");
    state(&browser, "listening");
    browser.run("fetch('/touch', { method: 'POST', body: JSON.stringify({ blades: { place: '1 inlet left', goes_nm: 800000, stops_nm: 850000 } }) })");
    seen.push(state(&browser, "asking"));
    // Answered by a button, it is asked no more.
    browser.click("[data-press=negative]");
    state(&browser, "listening");
    browser.until("!('question' in document.body.dataset)", PATIENCE);
    let outcome = browser.run("return document.getElementById('outcome-word').textContent");
    assert_eq!(outcome, "done");
    drop(bench);
    let bench = Bench::listening(folder.path(), &job, &["--talk-key", "space"]);
    bench.enter(&browser);
    seen.push(state(&browser, "key_not_pressed"));
    browser.click("#talk");
    state(&browser, "listening");
    drop(bench);
    let words: BTreeSet<&String> = seen.iter().map(|(word, _)| word).collect();
    let shapes: BTreeSet<&String> = seen.iter().map(|(_, shape)| shape).collect();
    assert_eq!((words.len(), shapes.len()), (5, 5), "{seen:?}");
}

#[test]
fn a_bench_that_ended_is_not_cut_off() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(folder.path(), &[]);
    let bench = Bench::listening(folder.path(), &job, &["--stop-after", "6"]);
    bench.enter(&browser);
    let word = |word: &str| {
        format!(
            "!document.getElementById('stale').hidden && document.getElementById('stale-word').textContent === '{word}'"
        )
    };
    browser.until(&word("ENDED"), PATIENCE);
    drop(bench);
    // One that is killed is.
    let bench = Bench::listening(folder.path(), &job, &[]);
    bench.enter(&browser);
    state(&browser, "listening");
    drop(bench);
    browser.until(&word("CUT OFF"), PATIENCE);
}

/// A device that the bench does not know any more is told so: trying again would not help.
#[test]
fn a_device_that_is_not_known_any_more_is_told_to_pair_again() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(folder.path(), &[]);
    let bench = Bench::listening(folder.path(), &job, &[]);
    bench.enter(&browser);
    state(&browser, "listening");
    let port = bench
        .url
        .trim_end_matches('/')
        .rsplit(':')
        .next()
        .unwrap()
        .to_owned();
    // The bench is started anew, and the browser has lost what it was known by.
    browser.devtools("Network.clearBrowserCookies", &json!({}));
    drop(bench);
    let _bench = Bench::listening(folder.path(), &job, &["--port", &port]);
    browser.until(
        "document.getElementById('stale-word').textContent === 'PAIR AGAIN' && !document.getElementById('stale-pair').hidden",
        PATIENCE,
    );
}
