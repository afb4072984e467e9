//! What must be read from two metres and pressed with a gloved finger.

use super::bench::{Bench, board_of, job};
use super::driver::Browser;
use super::working::{draw, verdicts};
use super::{PATIENCE, SIZES, browser};
use serde_json::json;

/// How high a part's letters stand before the eye, in minutes of arc: on a ten-inch tablet (1280 pixels on
/// 217 mm) at two metres. Capitals and figures are measured by a figure, other words by an x.
const MINUTES: &str = "
    const mm = 217 / 1280, minute = 2000 * Math.tan(Math.PI / 180 / 60), pen = document.createElement('canvas').getContext('2d');
    const letters = (part) => {
      const style = getComputedStyle(part);
      pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
      const high = style.textTransform === 'uppercase' || /\\d/.test(part.textContent) ? '0' : 'x';
      return pen.measureText(high).actualBoundingBoxAscent * mm / minute;
    };
    const id = (name) => letters(document.getElementById(name));
    const least = (css, of) => Math.min(...[...document.querySelectorAll(css)].filter((n) => n.textContent || n.matches('svg')).map(of));";

/// What is measured, in minutes of arc.
fn minutes(browser: &Browser, what: &str) -> Vec<f64> {
    let found = browser.run(&format!("{MINUTES} return {what}"));
    let found = found.as_array().unwrap();
    found.iter().map(|m| m.as_f64().unwrap()).collect()
}

/// Ten minutes of arc are read easily (16 are wanted for what must be acted on; 5 are the limit of good
/// eyes): from the brief of the board, common practice, no source.
#[test]
fn cells_and_what_comes_next_are_read_from_two_metres() {
    let lines = [
        "one inlet left fifteen goes eighteen wont",
        "one inlet right fifteen goes eighteen wont",
        "two inlet left fifteen goes eighteen wont",
    ];
    let Some((browser, _, _bench)) = board_of(&lines) else {
        return;
    };
    browser.until(
        "document.querySelectorAll('.valve.in_band').length === 3",
        PATIENCE,
    );
    for (name, cylinders, inlet, exhaust) in [
        ("2 valves", 1, 1, 1),
        ("8 valves", 2, 2, 2),
        ("12 valves", 3, 2, 2),
        ("16 valves", 4, 2, 2),
        ("20 valves", 4, 3, 2),
        ("24 valves", 6, 2, 2),
    ] {
        let thirds = verdicts(cylinders, inlet, exhaust);
        let usual = serde_json::from_str(&thirds.to_string().replace("0.125", "0.12")).unwrap();
        for board in [usual, thirds] {
            draw(&browser, &board);
            let shown = "[least('.figure', letters), least('.shape', (n) => n.getBoundingClientRect().height * mm / minute),
                id('value'), id('next-place'), id('outcome'), id('place'), letters(document.querySelector('#next-turn b'))]";
            let found = minutes(&browser, shown);
            println!(
                "{name}: figure, shape, value, next, outcome, place, turn in minutes of arc: {found:.1?}"
            );
            assert!(found[0] >= 10.0 && found[1] >= 10.0, "{name}: {found:?}");
            // Beside twelve cells with three lines each, place and turn have room for twelve minutes.
            assert!(found[2] >= 16.0 && found[3] >= 12.0, "{name}: {found:?}");
            assert!(found[6] >= 11.5, "{name}: {found:?}");
        }
    }
}

#[test]
fn a_question_is_read_from_two_metres_and_nothing_is_cut() {
    let lines = [
        "three exhaust right twenty two goes twenty five wont",
        "three exhaust right point four eight",
    ];
    let Some((browser, _, _bench)) = board_of(&lines) else {
        return;
    };
    browser.until("'question' in document.body.dataset", PATIENCE);
    // The old value and the band stand beside the new one.
    let stands = browser.run("return document.getElementById('stands').textContent");
    let stands = stands.as_str().unwrap();
    assert!(
        stands.contains("stands: 0.22–0.25") && stands.contains("band: "),
        "{stands}"
    );
    let minutes = minutes(&browser, "[id('outcome'), id('value'), id('words')]");
    println!("outcome, value, reason in minutes of arc: {minutes:.1?}");
    assert!(
        minutes[0] >= 16.0 && minutes[1] >= 16.0 && minutes[2] >= 10.0,
        "{minutes:?}"
    );
    for (width, height) in SIZES {
        browser.resize(width, height);
        browser.run("dispatchEvent(new Event('resize'))");
        let found = browser.run(
            "const said = document.getElementById('said'), words = document.getElementById('words');
             const targets = [...document.querySelectorAll('#touch button:not([hidden])')].map((b) => b.getBoundingClientRect());
             const under = words.getBoundingClientRect().bottom > document.getElementById('touch').getBoundingClientRect().top + 1;
             return [said.scrollHeight - said.clientHeight > 1 || under, document.documentElement.scrollWidth - innerWidth,
                     document.getElementById('state').scrollWidth > innerWidth,
                     targets.filter((t) => t.height < 44 || t.width < 44 || t.bottom > innerHeight + 1 || t.right > innerWidth + 1).length]",
        );
        assert_eq!(found, json!([false, 0, false, 0]), "{width}x{height}");
    }
}

#[test]
fn parts_stand_out_and_an_open_valve_does_in_forced_colours() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(
        folder.path(),
        &["one inlet left shim two seventy".to_owned()],
    );
    let bench = Bench::start(&["listen", "--job", &job, "--board", "--phone"]);
    bench.enter(&browser);
    browser.until("document.querySelector('.valve[data-open]')", PATIENCE);
    for scheme in ["light", "dark"] {
        browser.prefer("prefers-color-scheme", scheme);
        // WCAG 2.2, 1.4.11: parts 3 : 1, text (1.4.3) 4.5 : 1.
        let ratios = browser.run(
            "const light = (c) => c.match(/\\d+/g).slice(0, 3).map((v) => v / 255).map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
               .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
             const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
             const style = (css) => getComputedStyle(document.querySelector(css));
             const plain = style('.valve:not([data-open]):not([data-next])');
             return [ratio(plain.borderTopColor, plain.backgroundColor), ratio(style('.pot').borderTopColor, style('.pot').backgroundColor),
                     ratio(style('.valve .name').color, plain.backgroundColor)]",
        );
        let ratio = |at: usize| ratios[at].as_f64().unwrap();
        assert!(
            ratio(0) >= 3.0 && ratio(1) >= 3.0 && ratio(2) >= 4.5,
            "{scheme}: {ratios}"
        );
    }
    browser.prefer("forced-colors", "active");
    let differ = browser.run(
        "const style = (css) => getComputedStyle(document.querySelector(css));
         const open = style('.valve[data-open]'), plain = style('.valve:not([data-open]):not([data-next])');
         return open.borderTopColor !== plain.borderTopColor && parseFloat(open.borderTopWidth) > parseFloat(plain.borderTopWidth)",
    );
    assert_eq!(differ, true);
    // A shim does not look like a clearance, and what has only a shim is not measured.
    let shown = browser.run(
        "return [document.querySelector('#value .what').textContent, document.querySelector('.valve[data-open] .figure').textContent, document.getElementById('left-word').textContent]",
    );
    assert_eq!(
        shown,
        json!(["shim", "shim 2.70", "of 12 to measure, 1 shims known"])
    );
}
