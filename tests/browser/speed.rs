//! What the pages weigh, how soon they are there, and how soon a reading is on the board.

use super::bench::{Bench, job};
use super::{PAGES, PATIENCE, browser};

#[test]
fn every_page_is_light_and_soon_there() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(
        folder.path(),
        &["one inlet left fifteen goes eighteen wont".to_owned()],
    );
    let bench = Bench::listening(folder.path(), &job, &[]);
    bench.enter(&browser);
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    for page in PAGES {
        let mut best = (f64::MAX, 0.0);
        for _ in 0..3 {
            browser.open(&format!("{}{page}", bench.url));
            browser.until(
                "document.readyState === 'complete' && performance.getEntriesByName('first-contentful-paint').length",
                PATIENCE,
            );
            let found = browser.run(
                "const all = [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')];
                 return [performance.getEntriesByName('first-contentful-paint')[0].startTime, all.reduce((sum, r) => sum + r.encodedBodySize, 0)]",
            );
            let at = |i: usize| found[i].as_f64().unwrap();
            if at(0) < best.0 {
                best = (at(0), at(1));
            }
        }
        println!(
            "/{page}: first paint after {:.0} ms, {:.0} bytes",
            best.0, best.1
        );
        // The report is a whole record, and the engine all that a manual gives.
        assert!(best.1 < 100_000.0, "/{page}: {} bytes", best.1);
        // 200 ms are wanted; the machines that test this are often busy.
        assert!(best.0 < 1_000.0, "/{page}: {} ms", best.0);
    }
}

#[test]
fn a_reading_is_on_the_board_within_a_tenth_of_a_second() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(folder.path(), &[]);
    let bench = Bench::listening(folder.path(), &job, &[]);
    bench.enter(&browser);
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    let found = browser.wait_for(
        "const done = arguments[0], lags = [], all = [];
         (async () => {
           for (let i = 0; i < 40; i += 1) {
             const before = document.body.dataset.event, begun = performance.now();
             const spare = { size_nm: 2000000 + 50000 * (i % 20), count: i + 1 };
             await fetch('/touch', { method: 'POST', body: JSON.stringify({ spare }) });
             while (document.body.dataset.event === before) await new Promise((go) => setTimeout(go, 2));
             lags.push(Number(document.body.dataset.lag));
             all.push(performance.now() - begun);
           }
           done([lags, all].map((n) => n.sort((a, b) => a - b)));
         })()",
    );
    for (at, what) in ["understood to shown", "pressed to shown"]
        .iter()
        .enumerate()
    {
        let lags = found[at].as_array().unwrap().iter();
        let lags: Vec<f64> = lags.map(|l| l.as_f64().unwrap()).collect();
        let (median, p95) = (lags[lags.len() / 2], lags[lags.len() * 95 / 100]);
        println!("{what}, the disk included: median {median:.0} ms, p95 {p95:.0} ms of 40");
        // 100 ms for 95 of 100 are wanted; the machines that test this are often busy.
        assert!(median < 100.0 && p95 < 300.0, "{what}: {lags:?}");
    }
}
