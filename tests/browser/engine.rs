//! An engine that is entered in boxes from its manual, and changed in a running job.

use super::access::{accessible, axe};
use super::bench::{Bench, benchcall, board_of};
use super::driver::Browser;
use super::{PATIENCE, TABLET, browser};
use benchcall::app::job::Job;
use benchcall::engine::Profile;
use benchcall::event::Fact;
use benchcall::measure::Length;
use std::path::Path;

fn fill(browser: &Browser, boxes: &[(&str, &str)]) {
    for (key, text) in boxes {
        browser.keys(&format!("[id='{key}']"), text);
    }
}

fn choose(browser: &Browser, key: &str, value: &str) {
    browser.run(&format!(
        "const s = document.getElementById('{key}'); s.value = '{value}'; s.dispatchEvent(new Event('change', {{ bubbles: true }}))"
    ));
}

fn text(browser: &Browser, id: &str) -> String {
    let text = browser.run(&format!(
        "return document.getElementById('{id}').textContent"
    ));
    text.as_str().unwrap().to_owned()
}

/// Waits until the bench has looked at what stands in the boxes now.
fn checked(browser: &Browser, expression: &str) {
    browser.until(expression, PATIENCE);
}

/// No box is cut or stands out of the page.
fn fits(browser: &Browser) {
    for (width, height) in [TABLET, (390, 844), (640, 400)] {
        browser.resize(width, height);
        let found = browser.run(
            "const out = [...document.querySelectorAll('input, select, button, summary, svg')].filter((n) => n.checkVisibility() && n.getBoundingClientRect().right > innerWidth + 1);
             return [document.documentElement.scrollWidth - innerWidth, out.length]",
        );
        assert_eq!(found, serde_json::json!([0, 0]), "{width}x{height}");
    }
    browser.resize(TABLET.0, TABLET.1);
}

/// From an empty settings folder to a reading that is judged by what was entered.
#[test]
fn an_engine_is_entered_from_its_manual_and_a_job_measures_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let settings = folder.path().join("settings");
    let bench = Bench::at_home(&browser, folder.path());
    browser.click("a[href='/engine']");
    browser.until(
        "location.pathname === '/engine' && document.body?.dataset.ready",
        PATIENCE,
    );
    // Nothing is marked before anything was tried; what is needed is said.
    assert!(text(&browser, "state").contains("still to fill in"));
    assert_eq!(
        browser.run("return document.querySelectorAll('[aria-invalid]').length"),
        0
    );
    browser.click("#save");
    browser.until("document.activeElement.id === 'name'", PATIENCE);
    assert!(text(&browser, "message").contains("Not kept"));
    fill(
        &browser,
        &[
            ("name", "Four from the manual"),
            ("source", "workshop manual, page 3-12"),
            ("cylinders.count", "4"),
            ("cylinders.numbering", "one is on the left as you sit on it"),
            ("cylinders.firing_order", "1-2-4-3"),
        ],
    );
    checked(
        &browser,
        "document.getElementById('firing-words').textContent",
    );
    assert_eq!(
        text(&browser, "firing-words"),
        "Cylinder 1 at 0°, 2 at 180°, 4 at 360°, 3 at 540° of the crank, from the firing of cylinder 1."
    );
    for side in ["inlet", "exhaust"] {
        choose(&browser, &format!("{side}.valves"), "left right");
    }
    checked(
        &browser,
        "document.querySelectorAll('#head .seat').length === 16",
    );
    fill(
        &browser,
        &[
            ("inlet.check_band.from", "0,13"),
            ("inlet.check_band.to", "0.10"),
            ("exhaust.check_band.from", "0,22"),
            ("exhaust.check_band.to", "0,31"),
            ("shims.ranges.0.from", "1,20"),
            ("shims.ranges.0.to", "3,50"),
            ("shims.ranges.0.step", "0,025"),
            (
                "feeler.blades",
                "0,10 0,13 0,15 0,18 0,20 0,22 0,25 0,28 0,30 0,33",
            ),
            ("torque.0.stages", "20 40"),
        ],
    );
    // The wrong way round: told at the box.
    checked(
        &browser,
        "document.getElementById('inlet.check_band.from-fault').textContent.includes('smallest, largest')",
    );
    assert_eq!(
        browser.run("return document.querySelectorAll('[aria-invalid]').length"),
        1
    );
    fill(
        &browser,
        &[("inlet.check_band.to", "\u{e009}a\u{e000}0,19")],
    );
    checked(&browser, "document.querySelectorAll('#stops .dial').length");
    assert!(text(&browser, "missing").contains("seat angle"));
    // What was entered outlives a reload.
    browser.open(&format!("{}engine", bench.url));
    checked(&browser, "document.querySelectorAll('#stops .dial').length");
    browser.run("dispatchEvent(new Event('beforeprint'))");
    let paper = text(&browser, "paper");
    for line in [
        "Clearance, engine cold, to: 0,19 mm",
        "Stages: 20 40; Unit: N·m",
        "Check every line against the maker's manual",
    ] {
        assert!(paper.contains(line), "{paper}");
    }
    fits(&browser);
    if let Some(axe) = axe() {
        accessible(&browser, &axe, "engine");
        browser.resize(390, 844);
        accessible(&browser, &axe, "engine, phone");
        browser.resize(TABLET.0, TABLET.1);
    }
    browser.click("#save");
    browser.until(
        "location.pathname === '/jobs' && document.body?.dataset.ready",
        PATIENCE,
    );
    let kept = settings.join("engines/four_from_the_manual.toml");
    let profile = Profile::parse(&std::fs::read_to_string(&kept).unwrap(), "kept").unwrap();
    assert_eq!(profile.crank_deg, [0, 180, 540, 360]);
    assert_eq!(profile.inlet.target, Length::from_um(160));
    // It is chosen, and a job measures with it.
    assert_eq!(
        browser.run("return document.querySelector('[name=engine]:checked').value"),
        "four_from_the_manual"
    );
    browser.click("#make");
    browser.until(
        "location.pathname === '/' && document.querySelectorAll('.valve').length === 16",
        PATIENCE,
    );
    browser.click("#pad-open");
    browser.click("#pad-valves input[value='4 inlet left']");
    browser.click("#pad-goes input[value='150000']");
    browser.click("#pad-stops input[value='180000']");
    browser.click("#pad-store");
    browser.until(
        "document.querySelectorAll('.valve.in_band').length === 1",
        PATIENCE,
    );
}

/// Two heads, and a torque in the unit of its manual: the boxes of an engine that comes with the program
/// are those of its file.
#[test]
fn an_engine_with_two_heads_is_shown_in_boxes() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = folder.path().join("vfour").to_str().unwrap().to_owned();
    benchcall(&["new", &job, "--engine", "vfour"]);
    let bench = Bench::listening(folder.path(), &job, &[]);
    bench.enter(&browser);
    bench.open(&browser, "engine?job");
    assert_eq!(
        browser.run(
            "const value = (id) => document.getElementById(id).value;
             return [value('head.0.place'), value('head.1.cylinders'), value('torque.0.unit'), value('torque.0.new_bolts')]"
        ),
        serde_json::json!(["front", "3 4", "pound_foot", "true"])
    );
    assert!(text(&browser, "change-lines").contains("nothing would change"));
    // Only an engine with several heads is asked of which one a limit is.
    let hidden = "document.querySelector(\"[data-box^='limit.'][data-box$='.head']\").hidden";
    assert_eq!(browser.run(&format!("return {hidden}")), false);
    choose(&browser, "torque.0.unit", "kilogram_metre");
    fill(&browser, &[("torque.0.stages", "\u{e009}a\u{e000}2 4,5")]);
    checked(
        &browser,
        "document.getElementById('change-lines').textContent.includes('2, 4.5 kgf·m')",
    );
    fits(&browser);
}

/// Changed in a running job as an event: what it changes is told before, and the board goes by it.
#[test]
fn the_engine_of_a_running_job_is_changed() {
    let Some((browser, job, bench)) = board_of(&["one inlet left fifteen goes eighteen wont"])
    else {
        return;
    };
    browser.until(
        "document.querySelectorAll('.valve.in_band').length === 1",
        PATIENCE,
    );
    bench.open(&browser, "plan");
    browser.click("nav a[href='/engine?job']");
    browser.until(
        "location.pathname === '/engine' && document.body?.dataset.ready",
        PATIENCE,
    );
    assert!(text(&browser, "change-lines").contains("nothing would change"));
    fill(
        &browser,
        &[
            ("inlet.check_band.from", "\u{e009}a\u{e000}0.02"),
            ("inlet.check_band.to", "\u{e009}a\u{e000}0.12"),
            ("inlet.set_band.from", "\u{e009}a\u{e000}0.04"),
            ("inlet.set_band.to", "\u{e009}a\u{e000}0.12"),
            ("inlet.target", "\u{e009}a\u{e000}0.10"),
        ],
    );
    checked(
        &browser,
        "document.getElementById('change-verdicts').textContent.includes('now loose')",
    );
    browser.click("#save");
    browser.until(
        "location.pathname === '/plan' && document.body?.dataset.ready",
        PATIENCE,
    );
    let sheet = text(&browser, "sheet");
    assert!(sheet.contains("loose"), "{sheet}");
    let stored = Job::look(Path::new(&job)).unwrap();
    let last = stored.state.events().last().unwrap().clone();
    assert!(
        matches!(last.facts[..], [Fact::ProfileChanged { .. }]),
        "{last:?}"
    );
    drop(stored);
    browser.open(&bench.url);
    browser.until(
        "document.querySelectorAll('.valve.loose').length === 1",
        PATIENCE,
    );
    // The command line shows the same profile.
    let shown = benchcall(&["engine", "--job", &job]);
    assert!(String::from_utf8_lossy(&shown.stdout).contains("aimed at 0.10 mm"));
}
