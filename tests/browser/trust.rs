//! A phone that trusts the bench for good, keeps it as an app, and comes back after its network went.

use super::access::{accessible, axe};
use super::bench::{Bench, job};
use super::{PATIENCE, browser};
use serde_json::json;

#[test]
fn a_phone_is_told_how_to_trust_the_bench_before_it_is_paired() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(folder.path(), &[]);
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--lan", "--phone"]);
    let words = bench.line_after("which must show these words:");
    browser.resize(390, 844);
    browser.open(&format!("{}certificate", bench.url));
    assert_eq!(
        browser.run("return document.getElementById('words').textContent"),
        words.as_str()
    );
    // What is loaded is what the page shows the fingerprint of.
    let same = browser.wait_for(
        "const d = arguments[0];
         fetch('/certificate.crt').then(async (a) => {
           const print = new Uint8Array(await crypto.subtle.digest('SHA-256', await a.arrayBuffer()));
           const text = [...print].map((b) => b.toString(16).padStart(2, '0').toUpperCase()).join(':');
           d([a.headers.get('content-type'), document.querySelector('.figures').textContent.endsWith(text)]); })",
    );
    assert_eq!(same, json!(["application/x-x509-ca-cert", true]));
    browser.until("document.querySelector('img').naturalWidth > 100", PATIENCE);
    let wide = browser.overhang();
    assert_eq!(wide, 0);
    if let Some(axe) = axe() {
        accessible(&browser, &axe, "certificate, phone");
    }
    // An app on the home screen begins at the first page, with a picture that loads.
    let app = browser.wait_for(
        "const d = arguments[0];
         fetch('/a/app.webmanifest').then((a) => a.json()).then(async (app) => {
           const icons = await Promise.all(app.icons.map((i) => fetch(i.src).then((a) => a.ok)));
           d([app.start_url, app.display, icons, document.querySelector('link[rel=manifest]').href.endsWith('/a/app.webmanifest')]); })",
    );
    assert_eq!(app, json!(["/", "standalone", [true, true], true]));
}

#[test]
fn a_phone_tells_its_battery_and_comes_back_after_its_network_went() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(folder.path(), &[]);
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--phone", "--silent"]);
    let low = "navigator.getBattery = async () => Object.assign(new EventTarget(), { charging: false, level: 0.12 });";
    browser.devtools(
        "Page.addScriptToEvaluateOnNewDocument",
        &json!({ "source": low }),
    );
    bench.enter(&browser);
    browser.until(
        "document.getElementById('device').textContent.includes('battery is at 12 %')",
        PATIENCE,
    );
    browser.click("#mic");
    let listens = "document.getElementById('mic').textContent === 'This device listens'";
    browser.until(listens, PATIENCE);
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    // Another network: the old line is given up at once, not after its time.
    browser.run("dispatchEvent(new Event('online'))");
    browser.until(&format!("!({listens})"), PATIENCE);
    browser.until(listens, PATIENCE);
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
}
