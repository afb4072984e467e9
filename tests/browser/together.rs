//! Several pages at once, while the bench listens: two boards and a review show the same job.

use super::bench::{Bench, job};
use super::{PATIENCE, browser, show_all};
use crate::support::fixtures;
use benchcall::app::job::Job;
use benchcall::event::Outcome;
use std::path::Path;
use std::time::Duration;

#[test]
fn two_boards_and_a_review_follow_a_bench_that_listens() {
    let folder = tempfile::tempdir().unwrap();
    let (Some(first), Some(second), Some(review)) = (browser(None), browser(None), browser(None))
    else {
        return;
    };
    let job = job(folder.path(), &["three exhaust left fifteen".to_owned()]);
    let recording = fixtures().join("session/session.flac");
    let recording = ["--recording", recording.to_str().unwrap()];
    let listen = ["listen", "--job", &job, "--board", "--silent"];
    let bench = Bench::start(&[&listen[..], &recording].concat());
    bench.enter(&first);
    for other in [&second, &review] {
        other.open(&bench.another_way_in());
        other.until("location.pathname === '/'", PATIENCE);
    }
    review.open(&format!("{}review", bench.url));
    review.ready();
    show_all(&review);
    review.run("document.querySelector(\"[data-id='2']\").focus()");
    // What is heard comes to both boards, soon and in the same words.
    let heard = |n: u64| format!("Number(document.body.dataset.event) >= {n}");
    let mut lags = Vec::new();
    for n in [4, 6, 8] {
        for board in [&first, &second] {
            board.until(&heard(n), PATIENCE);
            lags.push(
                board
                    .run("return Number(document.body.dataset.lag)")
                    .as_f64()
                    .unwrap(),
            );
        }
    }
    println!("understood to shown on each of two boards, a review beside them, in ms: {lags:?}");
    lags.sort_by(f64::total_cmp);
    assert!(lags[lags.len() / 2] < 300.0, "{lags:?}");
    // The review grows at its end, and whoever reads it keeps the place.
    review.until("document.querySelectorAll('.row').length >= 7", PATIENCE);
    let focused = review.run("return document.activeElement.closest('.row')?.dataset.id");
    assert_eq!(focused, "2");
    // What it changes is on both boards, though it was said before anything was heard.
    review.keys("[data-id='2']", "x");
    let is_gone = "![...document.querySelectorAll('.valve')].find((v) => v.querySelector('.name').textContent === 'exhaust left' && v.closest('.pot').textContent.includes('cylinder 3')).querySelector('.figure').textContent.includes('15')";
    for board in [&first, &second] {
        board.until(is_gone, PATIENCE);
    }
    // And no page shows less than another at the end.
    let last = |b: &super::Browser| b.run("return Number(document.body.dataset.event)").as_u64();
    std::thread::sleep(Duration::from_millis(200));
    drop(bench);
    let stored = Job::look(Path::new(&job)).unwrap();
    let spoken =
        |e: &&benchcall::event::Event| e.outcome != Outcome::Ignored && !e.spoken.is_empty();
    let on_disk = stored
        .state
        .events()
        .iter()
        .filter(spoken)
        .map(|e| e.id)
        .max();
    for board in [&first, &second] {
        assert!(
            last(board) <= on_disk && last(board) >= Some(8),
            "{:?} of {on_disk:?}",
            last(board)
        );
    }
}
