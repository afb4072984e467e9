//! What axe-core says of every page, in every state that it can be in.

use super::bench::{Bench, job, script};
use super::driver::Browser;
use super::{PAGES, PATIENCE, TABLET, browser, show_all};
use std::path::Path;

pub(super) fn axe() -> Option<String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(".tools/axe-core-4.14.1.min.js");
    let found = std::fs::read_to_string(&path);
    if found.is_err() {
        let word = "passed over: no axe-core; ./setup.sh --test fetches it";
        assert!(std::env::var_os("CI").is_none(), "{word}");
        println!("{word}");
    }
    found.ok()
}

/// What axe-core finds against WCAG 2.2 A and AA, in both colour schemes.
pub(super) fn accessible(browser: &Browser, axe: &str, page: &str) {
    for scheme in ["light", "dark"] {
        browser.prefer("prefers-color-scheme", scheme);
        browser.run(axe);
        let found = browser.wait_for(
            "const done = arguments[0];
             axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })
               .then((r) => done({ passes: r.passes.length, violations: r.violations.map((v) => `${v.id}: ${v.help}: ${v.nodes.map((n) => n.html + ' ' + n.failureSummary).join(' | ')}`) }),
                     (e) => done({ passes: 0, violations: [String(e)] }))");
        let violations = found["violations"].as_array().unwrap();
        assert!(violations.is_empty(), "{page}, {scheme}: {violations:#?}");
        println!(
            "{page}, {scheme}: {} rules pass, none fails",
            found["passes"]
        );
        assert!(found["passes"].as_u64().unwrap() > 5, "{page}");
    }
}

/// Nothing stands out of the page on a phone or at 200 %.
pub(super) fn fits(browser: &Browser, page: &str) {
    for (width, height) in [(390, 844), (640, 400)] {
        browser.resize(width, height);
        let over = browser.overhang();
        assert_eq!(over, 0, "{page}, {width}x{height}");
    }
    browser.resize(TABLET.0, TABLET.1);
}

#[test]
fn the_pages_are_accessible() {
    let (Some(axe), Some(browser)) = (axe(), browser(None)) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let job = job(
        folder.path(),
        &script("Three exhaust right, point four eight"),
    );
    let bench = Bench::listening(folder.path(), &job, &[]);
    bench.enter(&browser);
    browser.until("'question' in document.body.dataset", PATIENCE);
    accessible(&browser, &axe, "board, asking");
    browser.click("[data-press=negative]");
    browser.until("document.body.dataset.state === 'listening'", PATIENCE);
    accessible(&browser, &axe, "board, listening");
    browser.click("#pause");
    browser.until("document.body.dataset.state === 'stand_by'", PATIENCE);
    accessible(&browser, &axe, "board, standing by");
    browser.click("#pad-open");
    accessible(&browser, &axe, "board, pad");
    for page in ["plan", "findings", "engine?job", "pair", "report"] {
        browser.open(&format!("{}{page}", bench.url));
        if !["pair", "report"].contains(&page) {
            browser.ready();
        }
        accessible(&browser, &axe, page);
        fits(&browser, page);
    }
    browser.open(&bench.url);
    browser.until("document.body.dataset.state === 'stand_by'", PATIENCE);
    drop(bench);
    browser.until("!document.getElementById('stale').hidden", PATIENCE);
    accessible(&browser, &axe, "board, cut off");
}

/// Who prefers less motion gets none (WCAG 2.2, 2.3.3 asks for it on demand).
#[test]
fn nothing_moves_for_who_prefers_less_motion() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(
        folder.path(),
        &script("Three exhaust right, point four eight"),
    );
    let bench = Bench::listening(folder.path(), &job, &[]);
    let moves = "const all = [document.documentElement, ...document.querySelectorAll('*')].map((n) => [n, getComputedStyle(n)]);
        return all.filter(([, s]) => s.transitionDuration.split(', ').some((d) => d !== '0s') || s.animationName !== 'none' || s.scrollBehavior === 'smooth')
          .map(([n]) => n.id || n.tagName)";
    bench.enter(&browser);
    browser.until("document.querySelector('.valve')", PATIENCE);
    // The meter glides for everybody else: what is looked for can be found.
    browser.prefer("prefers-reduced-motion", "no-preference");
    assert_eq!(browser.run(moves), serde_json::json!(["meter-bar"]));
    browser.prefer("prefers-reduced-motion", "reduce");
    for page in PAGES {
        browser.open(&format!("{}{page}", bench.url));
        browser.until("document.readyState === 'complete'", PATIENCE);
        assert_eq!(browser.run(moves), serde_json::json!([]), "/{page}");
        assert_eq!(
            browser.run("return document.getAnimations().length"),
            0,
            "/{page}"
        );
    }
}

/// The review: looked at, narrowed, edited, asked back, refused, rejected, cut off.
#[test]
fn the_review_is_accessible_in_every_state() {
    let (Some(axe), Some(browser)) = (axe(), browser(None)) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let lines = [
        "one inlet left point one five",
        "one inlet right point four eight",
        "mind the dog",
    ];
    let job = job(folder.path(), &lines.map(str::to_owned));
    let bench = Bench::start(&["review", "--job", &job]);
    bench.enter(&browser);
    browser.ready();
    browser.run("document.querySelector('.row:not([hidden])').focus()");
    accessible(&browser, &axe, "review, in focus");
    show_all(&browser);
    accessible(&browser, &axe, "review, all");
    fits(&browser, "review");
    let says =
        |words: &str| format!("document.getElementById('message').textContent.includes('{words}')");
    let edit = |typed: &str| {
        browser.run("document.querySelector(\"[data-id='2']\").focus()");
        browser.keys("[data-id='2']", "e");
        browser.until("document.activeElement.tagName === 'INPUT'", PATIENCE);
        accessible(&browser, &axe, "review, editing");
        let typed = format!("\u{e009}a\u{e000}{typed}\u{e007}");
        browser.keys("[data-id='2'] input", &typed);
    };
    edit("one inlet left point nine five");
    browser.until(&says("The bench asks"), PATIENCE);
    accessible(&browser, &axe, "review, asked back");
    browser.click("#message button");
    browser.until(&says("Stored: 2 put right"), PATIENCE);
    accessible(&browser, &axe, "review, put right");
    edit("stand by");
    browser.until(&says("stores no reading"), PATIENCE);
    accessible(&browser, &axe, "review, refused");
    browser.keys("[data-id='3']", "x");
    browser.until(&says("Stored: 3"), PATIENCE);
    accessible(&browser, &axe, "review, rejected");
    drop(bench);
    browser.keys("[data-id='4']", "c");
    browser.until(
        "document.getElementById('unsent').textContent.includes('NOT STORED')",
        PATIENCE,
    );
    accessible(&browser, &axe, "review, cut off");
}
