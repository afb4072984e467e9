//! A phone joins without a terminal: a page of the bench opens the local network, and shuts it.

use super::access::{accessible, axe, fits};
use super::bench::{Bench, quiet_room};
use super::driver::Browser;
use super::{PATIENCE, browser, spoken};
use crate::support::certificate_of_ones_own;
use serde_json::json;

/// Makes a job and opens the network on its page; gives the address and the code that it shows.
fn opened(browser: &Browser, bench: &Bench, sound: &str) -> (String, String) {
    bench.enter(browser);
    browser.ready();
    browser.click("#make");
    browser.until(
        "location.pathname === '/' && document.querySelector('.valve')",
        PATIENCE,
    );
    browser.click("footer a[href='/network']");
    browser.ready();
    browser.click(&format!("[name=sound][value={sound}]"));
    browser.click("#open");
    browser.until("document.querySelector('#picture path')", PATIENCE);
    let text = |id: &str| {
        let text = browser.run(&format!(
            "return document.getElementById('{id}').textContent"
        ));
        text.as_str().unwrap().to_owned()
    };
    (text("url"), text("code"))
}

fn joins(device: &Browser, url: &str, code: &str) {
    device.open(&format!("{url}pair"));
    device.keys("#name", " of the bench");
    device.keys("#code", code);
    device.click("#form button");
    device.until(
        "location.pathname === '/' && document.querySelector('.valve')",
        PATIENCE,
    );
}

#[test]
fn the_network_is_opened_and_shut_on_a_page() {
    let folder = tempfile::tempdir().unwrap();
    let (Some(browser), Some(device)) = (browser(None), browser(None)) else {
        return;
    };
    let room = quiet_room(folder.path());
    let bench = Bench::of_jobs(folder.path(), &["--silent", "--recording", &room]);
    let (url, code) = opened(&browser, &bench, "here");
    assert!(url.starts_with("https://"), "{url}");
    assert_eq!(code.len(), "1234 5678".len(), "{code}");
    if let Some(axe) = axe() {
        accessible(&browser, &axe, "phone and tablet, open");
    }
    fits(&browser, "phone and tablet");
    joins(&device, &url, &code);
    // The code is used up, and the next one shown.
    let next = format!(
        "document.getElementById('code').textContent !== '{code}' && document.querySelector('#devices li')"
    );
    browser.until(&next, PATIENCE);
    // A device cannot open, shut or send away; no microphone is asked of it.
    let status = |ask: &str| {
        device.wait_for(&format!(
            "const d = arguments[0]; fetch('/network', {{ method: 'POST', body: '{ask}' }}).then((a) => d(a.status))"
        ))
    };
    for ask in ["\"shut\"", "{\"send_away\": 1}"] {
        assert_eq!(status(ask), 403, "{ask}");
    }
    assert_eq!(
        device.run("return document.getElementById('mic').hidden"),
        true
    );
    browser.click("#devices button");
    device.until(
        "document.getElementById('stale-word').textContent === 'PAIR AGAIN'",
        PATIENCE,
    );
    // A certificate that is none is refused in words, and the network stays as it was.
    let wrong = folder.path().join("wrong.pem");
    std::fs::write(&wrong, "nothing").unwrap();
    for id in ["#chain", "#key"] {
        browser.keys(id, wrong.to_str().unwrap());
    }
    browser.click("#own button");
    browser.until(
        "document.getElementById('message').textContent.includes('certificate')",
        PATIENCE,
    );
    let said = browser.run("return document.getElementById('message').textContent");
    println!("a certificate that is none: {said}");
    browser.click("#shut");
    browser.until(
        "document.getElementById('state').textContent.startsWith('shut')",
        PATIENCE,
    );
    if let Some(axe) = axe() {
        accessible(&browser, &axe, "phone and tablet, shut");
    }
    let reached =
        std::net::TcpStream::connect(url.trim_start_matches("https://").trim_end_matches('/'));
    assert!(reached.is_err());
    // The bench itself has not noticed.
    browser.open(&bench.url);
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
}

#[test]
fn a_phone_that_joined_by_a_page_is_the_microphone() {
    let folder = tempfile::tempdir().unwrap();
    let microphone = spoken(folder.path(), 5); // "One inlet left, shim two sixty-five."
    let (Some(browser), Some(device)) = (browser(None), browser(Some(&microphone))) else {
        return;
    };
    let bench = Bench::of_jobs(folder.path(), &[]);
    let (url, code) = opened(&browser, &bench, "device");
    joins(&device, &url, &code);
    // The job goes on with the sound of the device, once it is pressed.
    device.until("document.body.dataset.state === 'no_microphone'", PATIENCE);
    device.click("#mic");
    browser.open(&bench.url);
    browser.until(
        "document.getElementById('value')?.textContent.includes('2.65')",
        PATIENCE,
    );
    let source = browser.run("return document.getElementById('source').textContent");
    assert!(
        source
            .as_str()
            .unwrap()
            .contains("the device that shows the board"),
        "{source}"
    );
    bench.open(&browser, "network");
    browser.click("#shut");
    browser.until(
        "document.getElementById('state').textContent.startsWith('shut')",
        PATIENCE,
    );
    device.until("!document.getElementById('stale').hidden", PATIENCE);
    assert_eq!(
        browser.run("return document.getElementById('open-part').hidden"),
        json!(true)
    );
}

#[test]
fn a_certificate_tells_its_end_is_used_no_longer_and_is_made_anew() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let room = quiet_room(folder.path());
    let bench = Bench::of_jobs(folder.path(), &["--silent", "--recording", &room]);
    opened(&browser, &bench, "here");
    let says = |id: &str, words: &str| {
        let script = format!("document.getElementById('{id}').textContent.includes('{words}')");
        browser.until(&script, PATIENCE);
    };
    let made = || std::fs::read_to_string(folder.path().join("settings/certificate.json"));
    says("until", "made by the bench, good until ");
    let first = made().unwrap();
    let (chain, key) = certificate_of_ones_own(5);
    for (id, text) in [("chain", chain), ("key", key)] {
        let path = folder.path().join(id);
        std::fs::write(&path, text).unwrap();
        browser.keys(&format!("#{id}"), path.to_str().unwrap());
    }
    browser.click("#own button");
    says("until", "your own, good until ");
    says("ends", "Your certificate ends on ");
    if let Some(axe) = axe() {
        accessible(&browser, &axe, "a certificate that ends soon");
    }
    browser.click("#forget");
    says("until", "made by the bench, good until ");
    assert_eq!(
        browser.run("return document.getElementById('ends').hidden"),
        true
    );
    browser.click("#renew");
    says("until", "None yet");
    browser.click("#open");
    says("until", "made by the bench, good until ");
    let root = |text: &str| {
        let all: serde_json::Value = serde_json::from_str(text).unwrap();
        all["root"]["certificate"].as_str().unwrap().to_owned()
    };
    assert_ne!(root(&made().unwrap()), root(&first));
}
