//! A board that stands all evening: neither the page nor the server grows with what it shows.

use super::bench::{Bench, job};
use super::driver::Browser;
use super::{PATIENCE, browser};
use serde_json::json;
use std::time::{Duration, Instant};

/// Readings of the memory in one run.
const LOOKS: u32 = 10;

/// What the page holds once its rubbish is gone: bytes of its heap, and nodes.
fn held(browser: &Browser) -> [f64; 2] {
    browser.devtools("HeapProfiler.collectGarbage", &json!({}));
    let found = browser.devtools("Performance.getMetrics", &json!({}));
    let all = found["metrics"].as_array().unwrap();
    ["JSHeapUsedSize", "Nodes"].map(|name| {
        let metric = all.iter().find(|m| m["name"] == name).unwrap();
        metric["value"].as_f64().unwrap()
    })
}

/// Each update is one of a spare, a reading or a press, and stands on the board before the next. As fast as
/// they go for a minute, or for `BENCHCALL_UPDATES_MINUTES` with half a second between two.
#[test]
fn updates_cost_neither_page_nor_server_memory() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let long = std::env::var("BENCHCALL_UPDATES_MINUTES").ok();
    let minutes: u32 = long.as_ref().map_or(1, |m| m.parse().unwrap());
    let pause_ms = if long.is_some() { 500 } else { 0 };
    let job = job(folder.path(), &[]);
    let bench = Bench::listening_for(minutes + 2, folder.path(), &job, &[]);
    bench.enter(&browser);
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    browser.devtools("Performance.enable", &json!({}));
    let part_ms = 60_000 * minutes / LOOKS;
    let update = format!(
        "const done = arguments[0], end = performance.now() + {part_ms};
         window.updates ??= 0;
         const send = (what) => fetch('/touch', {{ method: 'POST', body: JSON.stringify(what) }});
         (async () => {{
           while (performance.now() < end) {{
             const before = document.body.dataset.event, i = window.updates++;
             if (i % 3 === 0) await send({{ spare: {{ size_nm: 2000000 + 50000 * (i % 20), count: i % 90 + 1 }} }});
             if (i % 3 === 1) await send({{ blades: {{ place: ['1 inlet left', '2 exhaust right'][i % 2], goes_nm: 150000, stops_nm: 180000 }} }});
             if (i % 3 === 2) await send({{ press: 'say_again' }});
             for (let t = 0; t < 200 && document.body.dataset.event === before; t += 1) await new Promise((go) => setTimeout(go, 5));
             await new Promise((go) => setTimeout(go, {pause_ms}));
           }}
           done(window.updates);
         }})()"
    );
    let patience = Duration::from_millis(u64::from(part_ms) + 60_000);
    let begun = Instant::now();
    let mut looks = Vec::new();
    for _ in 0..LOOKS {
        let updates = browser.wait_within(&update, patience).as_f64().unwrap();
        let [heap, nodes] = held(&browser);
        let server = bench.memory();
        println!(
            "after {:.0} s and {updates} updates: page {:.2} MB in {nodes} nodes, server {:.1} MB",
            begun.elapsed().as_secs_f64(),
            heap / 1e6,
            server / 1e6
        );
        looks.push([updates, heap, nodes, server]);
    }
    let (first, last) = (looks[1], looks[LOOKS as usize - 1]);
    let updates = last[0] - first[0];
    assert!(updates > 100.0, "{updates} updates in {minutes} minutes");
    assert!(last[1] < first[1] + 1e6, "the page's heap grows: {looks:?}");
    assert!(
        last[2] < first[2] + 50.0,
        "the page's nodes grow: {looks:?}"
    );
    // The events of a job are held in memory: some kilobytes each, with what is worked out from them.
    assert!(
        last[3] < first[3] + 8e6 + updates * 4e3,
        "the server grows: {looks:?}"
    );
}
