//! What somebody trips over who sees the bench for the first time, and did not stay.

use super::bench::{Bench, board_of};
use super::{PATIENCE, SIZES, browser};
use serde_json::json;

/// Twelve valves and twenty-one blades are longer than any screen: what stores them is in sight.
#[test]
fn what_stores_a_typed_reading_is_in_sight() {
    let Some((browser, _, _bench)) = board_of(&[]) else {
        return;
    };
    for (width, height) in SIZES {
        browser.resize(width, height);
        browser.click("#pad-open");
        let sight = browser.run(
            "const at = document.getElementById('pad-store').getBoundingClientRect(), pad = document.getElementById('pad').getBoundingClientRect();
             const over = document.elementFromPoint(at.x + at.width / 2, at.y + at.height / 2);
             return [over?.id, at.bottom <= Math.min(innerHeight, pad.bottom) + 1, at.height >= 44]",
        );
        assert_eq!(sight, json!(["pad-store", true, true]), "{width}x{height}");
        browser.key("\u{e00c}"); // escape
        browser.until("!document.getElementById('pad').open", PATIENCE);
    }
}

/// The first page shows no path, says what to do, and where one's own engine goes before it is too late.
#[test]
fn the_first_page_says_what_to_do_and_shows_no_path() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let bench = Bench::at_home(&browser, folder.path());
    let told = browser.run(
        "const own = document.querySelector('a[href=\"/engine\"]').getBoundingClientRect(), first = document.querySelector('[name=engine]').getBoundingClientRect();
         return [document.body.innerText.includes('/'), document.getElementById('none').textContent.includes(document.getElementById('make').textContent), own.bottom <= first.top]",
    );
    assert_eq!(told, json!([false, true, true]));
    // On a phone a job has the width of the page, and its buttons stand below.
    browser.click("#make");
    browser.until(
        "location.pathname === '/' && document.querySelector('.valve')",
        PATIENCE,
    );
    bench.open(&browser, "jobs");
    browser.resize(390, 844);
    let share = browser.run(
        "return document.querySelector('#jobs h3').getBoundingClientRect().width / document.getElementById('jobs').getBoundingClientRect().width",
    );
    assert!(share.as_f64().unwrap() > 0.8, "{share}");
}

/// No word is broken where none may be: a history of readings stands in one line, and so does each word of
/// the report's tables on a phone.
#[test]
fn no_figure_and_no_word_is_broken() {
    let lines = [
        "one inlet left fifteen goes eighteen wont",
        "two exhaust right twenty goes twenty two wont",
    ];
    let Some((browser, _, bench)) = board_of(&lines) else {
        return;
    };
    bench.open(&browser, "plan");
    let tall = browser.run(
        "return Math.max(...[...document.querySelectorAll('#sheet td:nth-child(3) p')].map((p) => p.getBoundingClientRect().height))",
    );
    assert!(tall.as_f64().unwrap() < 30.0, "{tall}");
    browser.open(&format!("{}report", bench.url));
    browser.resize(390, 844);
    let broken = browser.run(
        "const broken = new Set();
         for (const cell of document.querySelectorAll('.figures :is(th, td)')) {
           const walk = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
           while (walk.nextNode()) for (const word of walk.currentNode.data.matchAll(/\\S+/g)) {
             const range = document.createRange();
             range.setStart(walk.currentNode, word.index);
             range.setEnd(walk.currentNode, word.index + word[0].length);
             if (range.getClientRects().length > 1) broken.add(word[0]);
           }
         }
         return [[...broken], document.documentElement.scrollWidth - innerWidth]",
    );
    assert_eq!(broken, json!([[], 0]));
}

/// Who came by the icon has no terminal to look at.
#[test]
fn a_browser_that_is_not_known_is_told_of_the_icon() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let room = super::bench::quiet_room(folder.path());
    let bench = Bench::of_jobs(folder.path(), &["--silent", "--recording", &room]);
    browser.open(&bench.url);
    assert!(browser.url().ends_with("/pair"), "{}", browser.url());
    let told = browser.run("return document.getElementById('here').textContent");
    assert!(told.as_str().unwrap().contains("by its icon"), "{told}");
}
