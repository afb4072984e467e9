//! What once needed a terminal: a damaged job is saved, a job is set beside an earlier one, sounds are saved,
//! brought back and removed, and the switches of listening.

use super::access::{accessible, axe, fits};
use super::bench::{Bench, benchcall, job};
use super::driver::Browser;
use super::{PATIENCE, browser, long_job, show_all};
use crate::support::fixtures;
use benchcall::app::job::Job;
use serde_json::json;
use std::fs;
use std::path::{Path, PathBuf};

const ENTER: &str = "\u{e007}";
const SPACE: &str = " ";

fn jobs(folder: &Path) -> PathBuf {
    let jobs = folder.join("jobs");
    fs::create_dir_all(&jobs).unwrap();
    jobs
}

fn says(browser: &Browser, id: &str, words: &str) {
    browser.until(
        &format!("document.getElementById('{id}').textContent.includes('{words}')"),
        PATIENCE,
    );
    let text = browser.run(&format!(
        "return document.getElementById('{id}').textContent"
    ));
    println!("{}", text.as_str().unwrap());
}

fn looked_at(browser: &Browser, page: &str) {
    if let Some(axe) = axe() {
        accessible(browser, &axe, page);
    }
    fits(browser, page);
}

/// Changes one number in the file of a job, in every place that it stands.
fn damage(job: &Path, from: &str, to: &str) {
    assert_eq!(from.len(), to.len());
    let file = job.join("job.sqlite");
    let mut bytes = fs::read(&file).unwrap();
    let at: Vec<usize> = (0..bytes.len() - from.len())
        .filter(|at| bytes[*at..].starts_with(from.as_bytes()))
        .collect();
    assert!(!at.is_empty(), "{from}");
    for at in at {
        bytes[at..at + to.len()].copy_from_slice(to.as_bytes());
    }
    fs::write(file, bytes).unwrap();
}

const LINES: [&str; 2] = [
    "one inlet left fifteen goes eighteen wont",
    "two inlet left thirteen goes fifteen wont",
];

#[test]
fn what_is_left_of_a_damaged_job_is_saved_by_a_button() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let place = jobs(folder.path());
    let made = job(&place, &LINES.map(str::to_owned));
    damage(
        Path::new(&made),
        "\"goes_nm\":130000,",
        "\"goes_nm\":930000,",
    );
    let before = fs::read(Path::new(&made).join("job.sqlite")).unwrap();
    let bench = Bench::at_home(&browser, folder.path());
    let fault = browser.run("return document.querySelector('#jobs .fault').textContent");
    assert!(fault.as_str().unwrap().contains("damaged"), "{fault}");
    looked_at(&browser, "jobs, one damaged");
    browser.click("[aria-label='save what is left: head']");
    says(&browser, "message", "Saved as head-saved");
    says(&browser, "message", "Compare the sheet with your own notes");
    looked_at(&browser, "jobs, one saved");
    let saved = Job::look(&place.join("head-saved")).unwrap();
    assert_eq!(saved.state.view.remaining().len(), 11);
    assert_eq!(
        fs::read(Path::new(&made).join("job.sqlite")).unwrap(),
        before
    );
    // By the keyboard: another beside it.
    browser.keys("[aria-label='save what is left: head']", ENTER);
    says(&browser, "message", "Saved as head-saved-2");
    browser.click("[aria-label='go on: head-saved']");
    browser.until(
        "document.body.dataset.state === 'listening' && document.getElementById('left-count').textContent === '11'",
        PATIENCE,
    );
    drop(bench);
}

/// What the engine was is lost: it is asked, and the rest is saved.
#[test]
fn a_damaged_job_that_lost_its_engine_asks_for_it() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let place = jobs(folder.path());
    let made = job(&place, &LINES.map(str::to_owned));
    damage(
        Path::new(&made),
        "\"engine\":\"triple\"",
        "\"engine\":\"tripl!\"",
    );
    let _bench = Bench::at_home(&browser, folder.path());
    browser.click("[aria-label='save what is left: head']");
    says(&browser, "message", "which engine it was for is lost");
    looked_at(&browser, "jobs, engine asked");
    browser.run("const s = document.querySelector('.rest select'); s.value = 'triple'");
    browser.keys(".rest button", ENTER);
    says(&browser, "message", "Saved as head-saved");
    let saved = Job::look(&place.join("head-saved")).unwrap();
    assert_eq!(saved.state.view.remaining().len(), 10);
}

#[test]
fn a_job_is_set_beside_an_earlier_one_of_its_engine() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let place = jobs(folder.path());
    let named = |name: &str, engine: &str, line: &str| {
        let path = place.join(name).to_str().unwrap().to_owned();
        benchcall(&["new", &path, "--engine", engine]);
        benchcall(&["say", "--job", &path, line]);
    };
    named("last year", "triple", LINES[0]);
    named("another engine", "twin270", "one inlet left point one five");
    named("now", "triple", "one inlet left eighteen goes twenty wont");
    let bench = Bench::at_home(&browser, folder.path());
    browser.click("[aria-label='go on: now']");
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    browser.open(&format!("{}report", bench.url));
    browser.until("!document.getElementById('before-part').hidden", PATIENCE);
    let choices = "return [...document.getElementById('before').options].map((o) => o.value)";
    assert_eq!(browser.run(choices), json!(["", "last year"]));
    // A select is changed by its keys.
    browser.keys("#before", "\u{e015}");
    browser.until(
        "location.pathname === '/report/beside/last%20year' && document.body.textContent.includes('Since last time')",
        PATIENCE,
    );
    browser.until(
        "document.getElementById('before').value === 'last year'",
        PATIENCE,
    );
    looked_at(&browser, "report beside an earlier one");
    let saved = browser.wait_for(
        "const d = arguments[0]; fetch('/report.json/beside/last%20year').then((a) => a.text()).then(d)",
    );
    assert!(
        saved.as_str().unwrap().contains("\"then_ms\""),
        "it is saved too"
    );
    let other = browser.wait_for(
        "const d = arguments[0]; fetch('/report/beside/another%20engine').then(async (a) => d([a.status, await a.text()]))",
    );
    assert_eq!(other[0], 409);
    assert!(
        other[1].as_str().unwrap().contains("different engines"),
        "{other}"
    );
    browser.run("const s = document.getElementById('before'); s.value = ''; s.dispatchEvent(new Event('change'))");
    browser.until("location.pathname === '/report'", PATIENCE);
}

#[test]
fn a_job_is_saved_with_its_sounds_and_brought_back() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let place = jobs(folder.path());
    let made = long_job(&place, 8);
    let bench = Bench::at_home(&browser, folder.path());
    browser.click("[aria-label='go on: long']");
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    browser.open(&format!("{}report", bench.url));
    let downloads = json!({ "behavior": "allow", "downloadPath": folder.path() });
    browser.devtools("Browser.setDownloadBehavior", &downloads);
    browser.click("[data-save='report-with-sounds.json']");
    says(&browser, "saved", "Saved: report-with-sounds.json");
    let file = folder.path().join("report-with-sounds.json");
    let begun = std::time::Instant::now();
    while !file.exists() {
        assert!(begun.elapsed() < PATIENCE, "no file came");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    bench.open(&browser, "jobs");
    browser.keys("#saved", file.to_str().unwrap());
    says(&browser, "message", "Brought back: ");
    let back = fs::read_dir(&place).unwrap().map(|e| e.unwrap().path());
    let back = back.into_iter().find(|p| *p != place.join("long")).unwrap();
    let (back, old) = (
        Job::look(&back).unwrap(),
        Job::look(Path::new(&made)).unwrap(),
    );
    let last = old.state.events().last().unwrap();
    let sound = &last.sound.as_ref().unwrap().sha256;
    assert_eq!(back.clip(sound).unwrap(), old.clip(sound).unwrap());
}

#[test]
fn sounds_are_removed_and_readings_stay() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = long_job(folder.path(), 8);
    let clips = || fs::read_dir(Path::new(&job).join("clips")).unwrap().count();
    assert_eq!(clips(), 1);
    let bench = Bench::listening(folder.path(), &job, &[]);
    bench.enter(&browser);
    bench.open(&browser, "review");
    show_all(&browser);
    browser.click("#remove summary");
    looked_at(&browser, "review, removing");
    // Readings share the sound of the talk, so nothing of that goes.
    let yes = "#message button:first-of-type";
    browser.click("#forget");
    says(&browser, "message", "They cannot be brought back");
    browser.click("#message button:last-of-type");
    says(&browser, "message", "Nothing was removed");
    browser.click("#forget");
    browser.click(yes);
    says(&browser, "message", "There is no such sound");
    assert_eq!(clips(), 1);
    // Those of that day, by the keyboard.
    browser.run("const s = document.getElementById('whose'); s.value = s.options[2].value");
    browser.keys("#forget", ENTER);
    browser.keys(yes, SPACE);
    says(&browser, "message", "Every reading stays");
    assert_eq!(clips(), 0);
    looked_at(&browser, "review, removed");
    let stored = Job::look(Path::new(&job)).unwrap();
    assert_eq!(stored.state.view.remaining().len(), 11);
}

#[test]
fn a_session_is_heard_again_with_other_weights() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let made = folder.path().join("head").to_str().unwrap().to_owned();
    benchcall(&["new", &made, "--engine", "triple"]);
    let clip = fixtures().join("recogniser/three_exhaust_left_point_two_five.wav");
    benchcall(&["hear", "--job", &made, clip.to_str().unwrap()]);
    let bench = Bench::listening(folder.path(), &made, &[]);
    bench.enter(&browser);
    bench.open(&browser, "review");
    browser.click("#other summary");
    looked_at(&browser, "review, another recogniser");
    let wrong = folder.path().join("wrong.bin");
    fs::write(&wrong, "not weights").unwrap();
    browser.keys("#weights", wrong.to_str().unwrap());
    says(&browser, "message", "expected");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let weights = root.join("models/ggml-tiny.en-bench-q8_0.bin");
    browser.keys("#weights", weights.to_str().unwrap());
    says(&browser, "message", "Heard again: 1 of 1");
    let session = browser
        .wait_for("const d = arguments[0]; fetch('/session.json').then((a) => a.json()).then(d)");
    assert_eq!(session["other_recogniser"], "ggml-tiny.en-bench-q8_0.bin");
    let heard = session["rows"].as_array().unwrap().iter();
    let heard: Vec<_> = heard.filter(|r| r["other"]["same_words"] == true).collect();
    assert_eq!(heard.len(), 1, "{session}");
}

#[test]
fn the_switches_of_listening_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    jobs(folder.path());
    let bench = Bench::at_home(&browser, folder.path());
    bench.open(&browser, "sound");
    let on = |id: &str| format!("document.getElementById('{id}').checked");
    browser.click("#headset");
    browser.keys("#push_to_talk", SPACE);
    let kept = folder.path().join("settings/sound.json");
    let begun = std::time::Instant::now();
    while !fs::read_to_string(&kept).is_ok_and(|t| t.contains("\"push_to_talk\": true")) {
        assert!(begun.elapsed() < PATIENCE, "not kept");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    // Where nothing is read back aloud, there is nothing to measure; that is said.
    browser.click("#measure");
    says(&browser, "delay", "there is no loudspeaker");
    looked_at(&browser, "sound check, switches");
    drop(bench);
    let bench = Bench::at_home(&browser, folder.path());
    bench.open(&browser, "sound");
    browser.until(
        &format!("{} && {}", on("headset"), on("push_to_talk")),
        PATIENCE,
    );
    // The board of a job waits for its button.
    bench.open(&browser, "jobs");
    browser.click("#make");
    browser.until(
        "document.body.dataset.state === 'key_not_pressed'",
        PATIENCE,
    );
    browser.click("#talk");
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    // Switched off while a job is open, it goes on without.
    bench.open(&browser, "sound");
    browser.click("#push_to_talk");
    browser.until(&format!("!{}", on("push_to_talk")), PATIENCE);
    browser.open(&bench.url);
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
}
