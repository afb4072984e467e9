//! The whole way of a new user, from an empty settings folder to a printed report, by each kind of hand.

use super::bench::Bench;
use super::driver::Browser;
use super::{PATIENCE, TABLET, browser};
use serde_json::json;
use std::cell::Cell;
use std::time::Instant;

const TAB: &str = "\u{e004}";
const ENTER: &str = "\u{e007}";
const DOWN: &str = "\u{e015}";

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Hand {
    Mouse,
    Finger,
    Keys,
}

/// Somebody who does it, and how often they pressed something.
struct Person<'a> {
    browser: &'a Browser,
    hand: Hand,
    presses: Cell<usize>,
}

impl Person<'_> {
    fn key(&self, key: &str) {
        self.presses.set(self.presses.get() + 1);
        self.browser.key(key);
    }

    /// Goes on with the tabulator until the focus is there.
    fn tab_to(&self, there: &str) {
        for _ in 0..150 {
            if self.browser.run(&format!("return {there}")) == true {
                return;
            }
            self.key(TAB);
        }
        panic!("the tabulator does not lead to {there}");
    }

    fn press(&self, css: &str) {
        self.reach(css, &format!("document.activeElement.matches({css:?})"));
        if self.hand == Hand::Keys {
            self.key(ENTER);
        }
    }

    /// Chooses one of several: the tabulator leads to all of them, the arrows to each.
    fn choose(&self, name: &str, value: &str) {
        let css = format!("[name={name}][value='{value}']");
        self.reach(&css, &format!("document.activeElement.name === '{name}'"));
        if self.hand == Hand::Keys {
            while self.browser.run(&format!(
                "return document.activeElement.matches({css:?}) && document.activeElement.checked"
            )) != true
            {
                self.key(DOWN);
            }
        }
    }

    fn reach(&self, css: &str, there: &str) {
        let with = match self.hand {
            Hand::Mouse => "mouse",
            Hand::Finger => "touch",
            Hand::Keys => return self.tab_to(there),
        };
        self.presses.set(self.presses.get() + 1);
        self.browser.point(css, with);
    }
}

fn goes(hand: Hand, (width, height, scale): (u32, u32, u32)) {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let size =
        json!({ "width": width, "height": height, "deviceScaleFactor": scale, "mobile": false });
    browser.devtools("Emulation.setDeviceMetricsOverride", &size);
    let begun = Instant::now();
    let _bench = Bench::at_home(&browser, folder.path());
    let person = Person {
        browser: &browser,
        hand,
        presses: Cell::new(0),
    };
    person.press("#make");
    browser.until(
        "location.pathname === '/' && document.body.dataset.state === 'listening'",
        PATIENCE,
    );
    person.press("#pad-open");
    person.choose("goes", "150000");
    person.choose("stops", "180000");
    person.press("#pad-store");
    browser.until(
        "document.getElementById('left-count').textContent === '11'",
        PATIENCE,
    );
    let (first, seconds) = (person.presses.get(), begun.elapsed().as_secs_f64());
    person.press("footer a[href='/report']");
    browser.until(
        "location.pathname === '/report' && document.getElementById('print')",
        PATIENCE,
    );
    // The browser's own window cannot be seen here: that it is asked for can.
    browser.run("window.print = () => { document.body.dataset.printed = 'yes'; }");
    person.press("#print");
    browser.until("document.body.dataset.printed", PATIENCE);
    let all = person.presses.get();
    println!(
        "{hand:?} at {width}x{height}, {scale}00 %: first reading stored after {first} presses and {seconds:.1} s of this machine, report printed after {all}"
    );
    assert!(super::printed::pages(&browser, &format!("whole-way-{hand:?}.pdf")) >= 1);
    // What is printed has no bar, and holds the reading.
    browser.devtools("Emulation.setEmulatedMedia", &json!({ "media": "print" }));
    assert_eq!(
        browser.run("return [document.querySelector('.bar').checkVisibility(), document.body.innerText.includes('0.15')]"),
        json!([false, true])
    );
    if hand != Hand::Keys {
        assert!(first <= 5 && all <= 7, "{first}, {all}");
    }
}

#[test]
fn by_mouse() {
    goes(Hand::Mouse, (TABLET.0, TABLET.1, 1));
}

#[test]
fn by_keyboard() {
    goes(Hand::Keys, (TABLET.0, TABLET.1, 1));
}

#[test]
fn by_touch_on_a_phone() {
    goes(Hand::Finger, (390, 844, 1));
}

#[test]
fn by_mouse_at_200_percent() {
    goes(Hand::Mouse, (640, 400, 2));
}
