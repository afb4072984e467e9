//! The board and the plan by hand: what is tapped is what would have been said.

use super::bench::{Bench, benchcall, board_of, job};
use super::{PATIENCE, browser, show_all};
use benchcall::app::job::Job;
use benchcall::event::{Event, Fact, Gap, Outcome, Value};
use benchcall::measure::Length;
use std::path::Path;

fn last(job: &str) -> Event {
    let job = Job::look(Path::new(job)).unwrap();
    job.state.events().last().unwrap().clone()
}

fn gap(event: &Event) -> Option<Gap> {
    event.facts.iter().find_map(|f| match f {
        Fact::Read(r) => match r.value {
            Value::Gap(gap) => Some(gap),
            _ => None,
        },
        _ => None,
    })
}

#[test]
fn a_question_is_answered_and_a_reading_taken_back_by_a_finger() {
    let Some((browser, job, _bench)) = board_of(&["three exhaust right point four eight"]) else {
        return;
    };
    browser.until("'question' in document.body.dataset", PATIENCE);
    browser.click("[data-press=affirm]");
    browser.until(
        "document.getElementById('outcome-word').textContent === 'stored'",
        PATIENCE,
    );
    assert_eq!(gap(&last(&job)), Some(Gap::Single(Length::from_um(480))));
    browser.click("[data-press=disregard]");
    browser.until(
        "document.getElementById('left-count').textContent === '12'",
        PATIENCE,
    );
    assert_eq!(last(&job).command.as_deref(), Some("disregard"));
}

#[test]
fn a_reading_is_typed_on_the_pad() {
    let Some((browser, job, _bench)) = board_of(&[]) else {
        return;
    };
    // While nothing has been said, it says what can be.
    assert_eq!(
        browser.run("return document.querySelectorAll('#examples:not([hidden]) li').length"),
        3
    );
    browser.click("#pad-open");
    browser.click("#pad-valves input[value='3 exhaust left']");
    browser.click("#pad-goes input[value='150000']");
    browser.click("#pad-stops input[value='180000']");
    let says = browser.run("return document.getElementById('pad-says').textContent");
    assert_eq!(says, "3 exhaust left, 0.15 goes, 0.18 does not");
    browser.click("#pad-store");
    browser.until(
        "document.getElementById('place').textContent === '3 exhaust left'",
        PATIENCE,
    );
    let event = last(&job);
    let expected = Gap::Between {
        goes_nm: Length::from_um(150),
        stops_nm: Length::from_um(180),
    };
    assert_eq!(
        (event.outcome, gap(&event)),
        (Outcome::Stored, Some(expected))
    );
    // The other way round it cannot be, and nothing is stored.
    browser.until("!document.getElementById('pad').open", PATIENCE);
    browser.click("#pad-open");
    browser.click("#pad-goes input[value='180000']");
    browser.click("#pad-stops input[value='150000']");
    browser.click("#pad-store");
    browser.until(
        "document.getElementById('pad-says').textContent.startsWith('Not stored')",
        PATIENCE,
    );
}

/// A step that is ticked is the same fit as the one that is spoken.
#[test]
fn a_step_of_the_plan_is_ticked() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = measured(folder.path());
    let (one, other) = (job.clone(), folder.path().join("other"));
    copy(Path::new(&one), &other);
    let bench = Bench::start(&["review", "--job", &job]);
    bench.enter(&browser);
    bench.open(&browser, "plan");
    browser.until("document.querySelector('#steps button')", PATIENCE);
    let spoken =
        browser.run("return document.querySelector('#steps button').parentElement.textContent");
    println!("ticked: {spoken}");
    browser.click("#steps button");
    browser.until(
        "document.getElementById('message').textContent.startsWith('Stored')",
        PATIENCE,
    );
    drop(bench);
    let (ticked, text) = (last(&job), said_before_last(&job));
    let other = other.to_str().unwrap();
    benchcall(&["say", "--job", other, &text, "changed"]);
    assert_eq!(last(other).facts, ticked.facts);
    let fitted = |f: &Fact| matches!(f, Fact::Read(r) if matches!(r.value, Value::Shim { .. }));
    assert!(ticked.facts.iter().any(fitted), "{ticked:?}");
}

/// A triple of which every valve is measured and two are out of band.
fn measured(folder: &Path) -> String {
    let mut lines = Vec::new();
    for cylinder in ["one", "two", "three"] {
        for (side, gap) in [
            ("inlet", "fifteen goes eighteen wont"),
            ("exhaust", "twenty two goes twenty five wont"),
        ] {
            for valve in ["left", "right"] {
                lines.push(format!("{cylinder} {side} {valve} shim two seventy"));
                lines.push(format!("{cylinder} {side} {valve} {gap}"));
            }
        }
    }
    lines.push("two inlet left eight goes ten wont".to_owned());
    lines.push("affirm".to_owned());
    job(folder, &lines)
}

/// The box of spares is entered by tapping, and a what-if stands beside the plan without being stored.
#[test]
fn a_spare_is_tapped_and_a_what_if_is_worked_out() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = measured(folder.path());
    let bench = Bench::listening(folder.path(), &job, &[]);
    bench.enter(&browser);
    browser.open(&format!("{}plan", bench.url));
    browser.until("document.querySelector('#steps button')", PATIENCE);
    let buys =
        |words: &str| format!("document.getElementById('buy').textContent.includes('{words}')");
    browser.until(&buys("2.65"), PATIENCE);
    browser.click("#box-title ~ details summary");
    for _ in 0..2 {
        let before = last(&job).id;
        browser.click("#size-2650000");
        browser.until(
            "document.getElementById('message').textContent.startsWith('Stored')",
            PATIENCE,
        );
        browser.until(
            "!document.getElementById('size-2650000').disabled",
            PATIENCE,
        );
        assert_eq!(last(&job).id, before + 1);
    }
    assert_eq!(
        last(&job).facts,
        [Fact::Spare {
            size_nm: Length::from_um(2_650),
            count: 2
        }]
    );
    browser.until(&format!("!({})", buys("2.65")), PATIENCE);
    browser.click("#box-title ~ details input[value='-1']");
    browser.click("#size-2650000");
    browser.until(
        "document.getElementById('box-now').textContent === '1 × 2.65 mm'",
        PATIENCE,
    );
    // An empty box, and another target; a comma is a point.
    let events = last(&job).id;
    browser.keys("#if [name=spares]", "none");
    browser.keys("#if [name=inlet_target]", "0,13");
    browser.click("#if button");
    browser.until(
        "document.getElementById('if-result').textContent.includes('To buy: ')",
        PATIENCE,
    );
    browser.keys("#if [name=inlet_target]", "\u{e009}a\u{e000}0,5");
    browser.click("#if button");
    browser.until(
        "document.getElementById('if-result').textContent.includes('outside the set band')",
        PATIENCE,
    );
    assert_eq!(last(&job).id, events);
    // Every round of every valve stands on the sheet.
    let sheet = browser.run("return document.getElementById('sheet').textContent");
    assert!(sheet.as_str().unwrap().contains("as found: "), "{sheet}");
    if let Some(axe) = super::access::axe() {
        browser.run("document.querySelector('details').open = true");
        super::access::accessible(&browser, &axe, "plan, measured");
        browser.resize(390, 844);
        super::access::accessible(&browser, &axe, "plan, phone");
        let wide = browser.overhang();
        assert_eq!(wide, 0);
    }
}

/// Valves that wait for the same stand in one line.
#[test]
fn what_is_not_measured_is_said_once() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(folder.path(), &[]);
    let bench = Bench::start(&["review", "--job", &job]);
    bench.enter(&browser);
    bench.open(&browser, "plan");
    let lines = browser
        .run("return [...document.querySelectorAll('#cautions li')].map((l) => l.textContent)");
    assert_eq!(lines.as_array().unwrap().len(), 1, "{lines}");
    assert!(
        lines[0].as_str().unwrap().starts_with("12 valves: "),
        "{lines}"
    );
}

/// By valve, what was replaced struck through with a link, taken back again, and exported.
#[test]
fn a_review_finds_undoes_and_exports() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let lines = [
        "one inlet left point one five",
        "two inlet left point one six",
        "correction point one seven",
        "one inlet left point one six",
        "affirm",
    ];
    let job = job(folder.path(), &lines.map(str::to_owned));
    let bench = Bench::start(&["review", "--job", &job]);
    bench.enter(&browser);
    browser.ready();
    show_all(&browser);
    browser.run("const f = document.getElementById('valve'); f.value = '2 inlet left'; f.dispatchEvent(new Event('change'))");
    let shown = browser.run(
        "return [...document.querySelectorAll('.row:not([hidden])')].map((r) => r.dataset.id)",
    );
    assert_eq!(shown, serde_json::json!(["3", "4"]));
    let struck = browser.run("const p = document.querySelector(\"[data-id='3'] .counts\"); return getComputedStyle(p).textDecorationLine");
    assert_eq!(struck, "line-through");
    browser.click("[data-id='3'] a.mark");
    browser.until("document.activeElement.dataset.id === '4'", PATIENCE);
    let row = || browser.run("return document.querySelector(\"[data-id='4']\").textContent");
    browser.keys("[data-id='4']", "x");
    browser.until("document.querySelector('#message button')", PATIENCE);
    assert!(row().as_str().unwrap().contains("rejected"));
    browser.click("#message button");
    browser.until(
        "document.querySelector(\"[data-id='4']\").textContent.includes('confirmed')",
        PATIENCE,
    );
    browser.click("#export");
    browser.until(
        "document.getElementById('message').textContent.includes('written to')",
        PATIENCE,
    );
    assert!(folder.path().join("head-checked/manifest.tsv").is_file());
    drop(bench);
    let counts = Job::look(Path::new(&job))
        .unwrap()
        .state
        .view
        .remaining()
        .len();
    assert_eq!(counts, 10);
}

fn said_before_last(job: &str) -> String {
    let job = Job::look(Path::new(job)).unwrap();
    job.state.events().iter().rev().nth(1).unwrap().said.clone()
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Heard rightly, stored, and asked back are three things; what the bench does not answer is not
/// stored, and says so.
#[test]
fn a_review_asks_as_the_bench_does() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let lines = [
        "one inlet left point one five",
        "one inlet right point four eight",
        "negative",
    ];
    let job = job(folder.path(), &lines.map(str::to_owned));
    let bench = Bench::start(&["review", "--job", &job]);
    bench.enter(&browser);
    browser.ready();
    show_all(&browser);
    let counts = || {
        Job::look(Path::new(&job))
            .unwrap()
            .state
            .view
            .remaining()
            .len()
    };
    let said =
        |words: &str| format!("document.getElementById('message').textContent.includes('{words}')");
    let row = browser.run("return document.querySelector(\"[data-id='3']\").textContent");
    assert!(
        row.as_str().unwrap().contains("denied at the bench"),
        "{row}"
    );
    browser.keys("[data-id='3']", "c");
    browser.until(&said("Stored: 3 heard rightly"), PATIENCE);
    assert_eq!(counts(), 11, "denied, and heard rightly: not stored");
    browser.keys("[data-id='3']", "s");
    browser.until(&said("Stored: 3 stored after all"), PATIENCE);
    assert_eq!(counts(), 10);
    // Out of the usual range it is asked, as at the bench.
    browser.run("document.querySelector(\"[data-id='2']\").focus()");
    browser.keys("[data-id='2']", "e");
    browser.until("document.activeElement.tagName === 'INPUT'", PATIENCE);
    browser.keys(
        "[data-id='2'] input",
        "\u{e009}a\u{e000}one inlet left point nine five\u{e007}",
    );
    browser.until(&said("The bench asks"), PATIENCE);
    let before = last(&job).id;
    browser.click("#message button");
    browser.until(&said("Stored: 2 put right"), PATIENCE);
    assert_eq!(last(&job).id, before + 1);
    // A command is no reading.
    browser.keys("[data-id='2']", "e");
    browser.until("document.activeElement.tagName === 'INPUT'", PATIENCE);
    browser.keys("[data-id='2'] input", "\u{e009}a\u{e000}stand by\u{e007}");
    browser.until(&said("stores no reading"), PATIENCE);
    // What is too long is refused in our words.
    let answer = browser.wait_for("const d = arguments[0]; fetch('/edit', { method: 'POST', body: 'x'.repeat(20000) }).then((a) => a.text()).then(d)");
    assert_eq!(answer, "nothing was stored: that is longer than 16 kB");
    drop(bench);
    browser.keys("[data-id='3']", "x");
    let unsent = "document.getElementById('unsent').textContent.includes('NOT STORED: 3')";
    browser.until(unsent, PATIENCE);
}
