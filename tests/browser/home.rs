//! One server that stays: from an empty folder to a stored reading, without a terminal or a path.

use super::access::{accessible, axe};
use super::bench::{Bench, benchcall, job, quiet_room};
use super::{PATIENCE, browser};
use benchcall::app::job::Job;
use std::path::PathBuf;

fn jobs(folder: &std::path::Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut all: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).collect();
    all.sort();
    all
}

/// Who opened it by its icon and went home finds no microphone open the next morning.
#[test]
fn a_bench_that_nobody_uses_ends_by_itself() {
    let folder = tempfile::tempdir().unwrap();
    let room = quiet_room(folder.path());
    let unused = ["--silent", "--recording", &room, "--stop-unused", "2"];
    let mut bench = Bench::of_jobs(folder.path(), &unused);
    bench.ends();
}

#[test]
fn a_new_user_makes_a_job_and_stores_a_reading() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let place = folder.path().join("jobs");
    let mut bench = Bench::at_home(&browser, folder.path());
    // The head is drawn as it comes out, before anything is made.
    assert_eq!(
        browser.run("return document.querySelectorAll('#head .side span').length"),
        12
    );
    assert_eq!(
        browser.run("return document.getElementById('none').hidden"),
        false
    );
    if let Some(axe) = axe() {
        accessible(&browser, &axe, "jobs");
    }
    // Without a blade it is not made, and says so.
    browser.run("for (const b of document.querySelectorAll('[name=blade]')) b.checked = false");
    browser.click("#make");
    browser.until(
        "document.getElementById('message').textContent.includes('choose the blades')",
        PATIENCE,
    );
    browser.run("for (const b of document.querySelectorAll('[name=blade]')) b.checked = true");
    browser.keys("#machine", "The red one");
    browser.keys("#owner", "A. N. Other");
    browser.click("#make");
    browser.until(
        "location.pathname === '/' && document.body.dataset.state === 'listening'",
        PATIENCE,
    );
    browser.click("#pad-open");
    browser.click("#pad-valves input[value='1 inlet left']");
    browser.click("#pad-goes input[value='150000']");
    browser.click("#pad-stops input[value='180000']");
    browser.click("#pad-store");
    browser.until(
        "document.getElementById('left-count').textContent === '11'",
        PATIENCE,
    );
    let made = jobs(&place);
    assert_eq!(made.len(), 1);
    let stored = Job::look(&made[0]).unwrap();
    assert_eq!(stored.state.view.remaining().len(), 11);
    let told: Vec<&str> = (stored.state.counting().about().into_iter())
        .map(|(_, text)| text)
        .collect();
    assert_eq!(told, ["A. N. Other", "The red one"]);
    drop(stored);
    // Back on the first page it is found again; ended there, another may be gone on with.
    let other = place.join("other");
    benchcall(&["new", other.to_str().unwrap(), "--engine", "twin270"]);
    browser.open(&format!("{}jobs", bench.url));
    browser.until(
        "document.querySelectorAll('#jobs li').length === 2",
        PATIENCE,
    );
    let now = browser.run("return document.querySelector('#jobs .now').textContent");
    let now = now.as_str().unwrap();
    assert!(
        now.contains("The red one") && now.contains("1 of 12 measured"),
        "{now}"
    );
    browser.click("[aria-label='go on: other']");
    browser.until(
        "location.pathname === '/' && document.querySelectorAll('.valve').length === 8",
        PATIENCE,
    );
    browser.open(&format!("{}jobs", bench.url));
    browser.until("document.querySelector('#jobs .now')", PATIENCE);
    browser.click("[aria-label='end: other']");
    browser.until("!document.querySelector('#jobs .now') && document.querySelectorAll('#jobs li').length === 2", PATIENCE);
    browser.open(&bench.url);
    browser.until("document.getElementById('new')", PATIENCE);
    // Who started it from an icon has no Ctrl-C.
    browser.click("#end");
    browser.until(
        "document.getElementById('message').textContent.startsWith('The bench is off')",
        PATIENCE,
    );
    bench.ends();
}

/// A job that was saved on one machine is gone on with on another, and what is no such file changes nothing.
#[test]
fn a_saved_job_is_brought_back_by_a_button() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let lines = ["one inlet left fifteen goes eighteen wont", "note all well"];
    let old = job(folder.path(), &lines.map(str::to_owned));
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let saved = file("saved.json");
    benchcall(&["report", "--job", &old, "--json", &saved]);
    let whole = std::fs::read_to_string(&saved).unwrap();
    let place = folder.path().join("jobs");
    let _bench = Bench::at_home(&browser, folder.path());
    let newer = whole.replacen("\"report\": 1", "\"report\": 99", 1);
    assert_ne!(newer, whole);
    let wrong = [
        (
            "picture.json",
            "not a job at all".to_owned(),
            "this is not a saved job",
        ),
        (
            "other.json",
            "{\"a\": 1}".to_owned(),
            "this is not a saved job",
        ),
        ("newer.json", newer, "saved by a newer benchcall"),
        (
            "cut.json",
            whole[..whole.len() / 2].to_owned(),
            "this is not a saved job",
        ),
    ];
    for (name, text, why) in wrong {
        std::fs::write(file(name), text).unwrap();
        browser.keys("#saved", &file(name));
        browser.until(
            &format!("document.getElementById('message').textContent.startsWith('Not brought back: ') && document.getElementById('message').textContent.includes('{why}')"),
            PATIENCE,
        );
        let said = browser.run("return document.getElementById('message').textContent");
        println!("{name}: {said}");
        assert_eq!(
            browser.run("return document.querySelectorAll('#jobs li').length"),
            0
        );
        browser.run("document.getElementById('message').textContent = ''");
    }
    browser.keys("#saved", &saved);
    browser.until(
        "document.getElementById('message').textContent.startsWith('Brought back: ') && document.querySelectorAll('#jobs li').length === 1",
        PATIENCE,
    );
    let listed = browser.run("return document.querySelector('#jobs li').textContent");
    assert!(
        listed.as_str().unwrap().contains("1 of 12 measured"),
        "{listed}"
    );
    if let Some(axe) = axe() {
        accessible(&browser, &axe, "jobs, brought back");
    }
    let made = jobs(&place);
    let events = |folder: &std::path::Path| Job::look(folder).unwrap().state.events().to_vec();
    assert_eq!(events(&made[0]), events(std::path::Path::new(&old)));
    // Once more: another job beside it.
    browser.keys("#saved", &saved);
    browser.until(
        "document.querySelectorAll('#jobs li').length === 2",
        PATIENCE,
    );
}
