//! The sound check: what a phrase is understood as, before there is any job.

use super::access::{accessible, axe};
use super::bench::Bench;
use super::{PATIENCE, TABLET, browser, spoken};

#[test]
fn a_phrase_is_understood_and_stored_nowhere() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let place = folder.path().join("jobs");
    let voice = spoken(folder.path(), 5); // "One inlet left, shim two sixty-five."
    let recording = ["--silent", "--recording", voice.to_str().unwrap()];
    let bench = Bench::of_jobs(folder.path(), &recording);
    bench.enter(&browser);
    browser.ready();
    browser.click("a[href='/sound']");
    browser.until(
        "location.pathname === '/sound' && document.body?.dataset.ready",
        PATIENCE,
    );
    browser.until(
        "document.getElementById('heard').textContent.includes('shim two')",
        PATIENCE,
    );
    let heard = browser.run("return document.querySelector('#heard .state').textContent");
    assert!(
        heard.as_str().unwrap().starts_with("✓ one inlet left"),
        "{heard}"
    );
    assert_eq!(
        std::fs::read_dir(&place).unwrap().count(),
        0,
        "nothing is stored"
    );
    // A recording stands in the place of the microphone, so none can be chosen; that is said.
    browser.run("document.getElementById('microphone').dispatchEvent(new Event('change'))");
    browser.until(
        "document.getElementById('message').textContent.includes('recording')",
        PATIENCE,
    );
    if let Some(axe) = axe() {
        accessible(&browser, &axe, "sound check");
        browser.resize(390, 844);
        accessible(&browser, &axe, "sound check, phone");
        let wide = browser.overhang();
        assert_eq!(wide, 0);
        browser.resize(TABLET.0, TABLET.1);
    }
}
