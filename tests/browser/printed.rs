//! The report on paper and on a phone.

use super::bench::{Bench, benchcall, job, script};
use super::browser;
use super::driver::Browser;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::json;

fn report(browser: &Browser, job: &str) -> Bench {
    let bench = Bench::start(&["review", "--job", job]);
    bench.enter(browser);
    browser.ready();
    browser.open(&format!("{}report", bench.url));
    bench
}

/// How many A4 pages it has; the file is kept beside the pictures.
pub(super) fn pages(browser: &Browser, name: &str) -> usize {
    let size = json!({ "paperWidth": 8.27, "paperHeight": 11.69, "preferCSSPageSize": true });
    let pdf = browser.devtools("Page.printToPDF", &size);
    let pdf = STANDARD.decode(pdf["data"].as_str().unwrap()).unwrap();
    let folder = super::pictures::folder();
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(name), &pdf).unwrap();
    let text = String::from_utf8_lossy(&pdf);
    let leaves = text.matches("/Type /Page\n").count();
    assert!(leaves > 0, "no page was found in {} bytes", pdf.len());
    leaves
}

/// Page one for the customer, and the whole record behind it.
#[test]
fn a_demo_job_prints_on_few_pages() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(folder.path(), &script("Two exhaust left, point three one"));
    benchcall(&[
        "say",
        "--job",
        &job,
        "two inlet left shim two fifty-five",
        "affirm",
        "two inlet left fifteen goes eighteen won't",
        "one exhaust right shim two fifty",
        "affirm",
    ]);
    let _bench = report(&browser, &job);
    // What is out of limit is what was found, not the band.
    let marked = browser.run(
        "const colour = (n) => getComputedStyle(document.querySelector(`tr.out td:nth-of-type(${n})`)).color;
         return colour(2) !== colour(1)",
    );
    assert_eq!(marked, true);
    let count = pages(&browser, "report.pdf");
    println!("a demo job prints on {count} pages of A4");
    assert!(count <= 4, "{count} pages");
}

/// Nothing stands beside the screen, at any width; no figure is parted from its column.
#[test]
fn the_report_fits_a_phone_and_a_tablet() {
    let folder = tempfile::tempdir().unwrap();
    let Some(browser) = browser(None) else { return };
    let job = job(folder.path(), &script("Two exhaust left, point three one"));
    let _bench = report(&browser, &job);
    for (width, height) in [(390, 844), (800, 1280), (1280, 800)] {
        browser.resize(width, height);
        let over = browser.overhang();
        assert_eq!(over, 0, "{width}x{height}");
    }
    // On a tablet a clearance stands in one line.
    let lines = browser.run(
        "return [...document.querySelectorAll('.figures td')].filter((c) => c.getClientRects().length && c.offsetHeight > 40).length",
    );
    assert_eq!(lines, 0);
}
