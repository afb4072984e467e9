//! A whole job, and after each event every face against every other: what the voice answers, the
//! board, the sheet, the plan, the stops of the crank, the list of progress and the report.
#![allow(clippy::unwrap_used)]

use super::turns;
use crate::app::assets::english;
use crate::app::board::Board;
use crate::app::job::Job;
use crate::engine::Verdict;
use crate::event::{Event, Position};
use crate::measure::LengthUnit::Millimetre;
use crate::session::{Review, step};
use serde_json::Value;
use std::collections::BTreeSet;

const SCRIPT: &[&str] = &[
    "two of two fifty in the box",
    "whats next",
    "one inlet left shim two seventy",
    "fifteen goes eighteen wont",
    "one inlet right shim two sixty five",
    "eight goes ten wont",
    "one exhaust left shim two seventy",
    "thirty five goes",
    "forty wont",
    "one exhaust right shim two seventy",
    "twenty goes twenty three wont",
    "correction twenty three goes twenty five wont",
    "next",
    "shim two seventy",
    "ten goes thirteen wont",
    "disregard",
    "ten goes thirteen wont",
    "two inlet right shim two seventy",
    "no gap",
    "both exhausts on two are twenty five",
    "affirm",
    "two exhaust left shim two eighty",
    "two exhaust right shim two eighty",
    "three inlet left fifteen goes eighteen wont",
    "three inlet right twenty goes twenty three wont",
    "three exhaust left fifteen",
    "three exhaust right forty eight",
    "affirm",
    "three exhaust right shim two seventy",
    "three exhaust left shim two forty",
    "leave that one",
    "the rest are fifteen",
    "affirm",
    "one inlet right shim two fifty",
    "changed",
    "thirteen goes fifteen wont",
    "one exhaust left shim two eighty",
    "changed",
    "two inlet right shim two fifty",
    "changed",
    "the rest are fifteen",
    "negative",
    "two inlet right fifteen goes eighteen wont",
    "one exhaust left twenty goes twenty five wont",
    "three inlet left shim two sixty",
    "three inlet left eighteen goes fifteen wont",
    "three inlet left eighteen goes twenty wont",
    "affirm",
    "go back one",
    "wrong hole that was three",
    "negative",
];

/// What is answered by voice; nothing is stored.
fn asked(job: &Job, said: &str) -> Event {
    step(&job.setup, &job.state, job.typed(said))
}

fn names(value: &Value) -> Vec<&str> {
    let all = value.as_array().unwrap().iter();
    all.map(|v| v.as_str().unwrap()).collect()
}

fn shown(valves: &[Position]) -> Vec<String> {
    valves.iter().map(ToString::to_string).collect()
}

fn agree(job: &Job, after: &str) {
    let (view, wording) = (&job.state.view, &job.setup.grammar.wording);
    let remaining = shown(view.remaining());
    let (sheet, plan) = (view.sheet(), view.plan());
    let to_measure = sheet.rows.iter().filter(|r| r.verdict.is_to_measure());
    let to_measure: Vec<String> = to_measure.map(|r| r.position.to_string()).collect();
    assert_eq!(to_measure, remaining, "{after}");
    assert_eq!(sheet.remaining, remaining.len(), "{after}");

    let board: Value = serde_json::from_str(&Board::new("").json(job).unwrap()).unwrap();
    assert_eq!(board["measured"], sheet.measured, "{after}");
    assert_eq!(board["total"], sheet.measured + sheet.remaining, "{after}");
    let next = asked(job, "whats next");
    let subject = next.subject.map(|p| p.to_string());
    assert_eq!(
        board["next"]["place"].as_str(),
        subject.as_deref(),
        "{after}"
    );
    let opened = asked(job, "next").subject.map(|p| p.to_string());
    assert_eq!(opened, subject, "{after}");
    let marked = |key: &str| -> Vec<&str> {
        let valves = board["valves"].as_array().unwrap().iter();
        let marked = valves.filter(|v| v[key] == true);
        marked.map(|v| v["place"].as_str().unwrap()).collect()
    };
    assert_eq!(
        marked("next"),
        Vec::from_iter(subject.as_deref()),
        "{after}"
    );
    let asks = marked("asked");
    if asks.is_empty() {
        let open = job.state.open.map(|p| p.to_string());
        assert_eq!(marked("open"), Vec::from_iter(open.as_deref()), "{after}");
        assert_eq!(board["open"].as_str(), open.as_deref(), "{after}");
    } else {
        assert!(job.state.question.is_some(), "{after}");
        assert_eq!(marked("open"), asks, "{after}");
    }

    let left = asked(job, "how many left").spoken;
    let count = |n: usize| wording.whole(u32::try_from(n).unwrap());
    match remaining.len() {
        0 => assert_eq!(left, "all measured", "{after}"),
        n => {
            let to_measure = format!("{} to measure", count(n));
            assert!(left.starts_with(&to_measure), "{left}, {after}");
        }
    }

    let turns = turns::plan(job, false, false).unwrap();
    let planned: BTreeSet<String> = turns.valves().map(|p| p.to_string()).collect();
    assert_eq!(planned, remaining.iter().cloned().collect(), "{after}");
    let turn = asked(job, "where do i turn");
    match turns.stops.first() {
        Some(stop) => {
            let degrees = count(usize::try_from(stop.crank_mdeg / 1_000).unwrap());
            let says = format!("turn to {degrees} degrees");
            assert!(turn.spoken.starts_with(&says), "{}, {after}", turn.spoken);
        }
        None => assert_eq!(turn.spoken, "all measured", "{after}"),
    }
    if let Some(valve) = next.subject {
        let stop = turns
            .stops
            .iter()
            .find(|s| s.valves.contains(&valve))
            .unwrap();
        assert_eq!(
            board["next"]["crank_deg"],
            stop.crank_mdeg / 1_000,
            "{after}"
        );
        let here = shown(&stop.valves);
        assert_eq!(names(&board["next"]["here"]), here, "{after}");
    }

    let progress = serde_json::to_value(crate::app::progress::of(job)).unwrap();
    assert_eq!(names(&progress["unmeasured"]), remaining, "{after}");

    let report = crate::app::report::of(job);
    assert_eq!(&report.plan, plan, "{after}");
    for (row, valve) in sheet.rows.iter().zip(&report.valves) {
        assert_eq!(
            (row.position, row.verdict),
            (valve.position, valve.verdict),
            "{after}"
        );
        let place = wording.place(row.position);
        let fitting = plan.fittings.iter().find(|f| f.position == row.position);
        assert_eq!(row.fit_nm, fitting.map(|f| f.new_nm), "{after}");
        let stays = plan.untouched.iter().any(|u| u.position == row.position);
        let expected = match row.fit_nm {
            Some(size) => format!("{place}, fit {}", wording.length(size, Millimetre)),
            None if stays => format!("{place}, leave"),
            None if row.verdict == Verdict::Unmeasured => format!("{place}, not measured"),
            None => place.clone(),
        };
        let spoken = asked(job, &format!("which shim {place}")).spoken;
        assert!(spoken.starts_with(&expected), "{spoken}, {after}");
        let names_one = spoken.contains("fit ");
        assert_eq!(names_one, row.fit_nm.is_some(), "{spoken}, {after}");
    }
}

#[test]
fn every_face_says_the_same_after_every_event() {
    let mut job = Job::unkept(english().unwrap(), "triple", Millimetre).unwrap();
    agree(&job, "nothing");
    let (mut none, mut again) = (0, 0);
    for said in SCRIPT {
        let reply = job.say(said).unwrap();
        let outcome = reply.outcome;
        agree(&job, &format!("\"{said}\" ({outcome:?}: {})", reply.spoken));
        none += usize::from(job.state.view.remaining().is_empty());
        again += usize::from(!job.state.view.plan().fittings.is_empty());
    }
    assert!(none > 0 && again > 0, "{none} {again}");
    // A review reaches back to what was measured first.
    for (id, what) in [
        (5, Review::Reject),
        (
            7,
            Review::Correct {
                text: "one inlet right point two".to_owned(),
                sure: true,
            },
        ),
        (5, Review::Confirm),
        (31, Review::Reject),
    ] {
        job.review(id, &what).unwrap().unwrap();
        agree(&job, &format!("{what:?} of event {id}"));
    }
}

#[test]
fn the_valve_that_is_asked_about_is_the_one_marked() {
    let mut job = Job::unkept(english().unwrap(), "triple", Millimetre).unwrap();
    let marks = |job: &Job| -> [Vec<String>; 2] {
        let board: Value = serde_json::from_str(&Board::new("").json(job).unwrap()).unwrap();
        ["asked", "open"].map(|key| {
            let valves = board["valves"].as_array().unwrap().iter();
            let marked = valves.filter(|v| v[key] == true);
            marked
                .map(|v| v["place"].as_str().unwrap().to_owned())
                .collect()
        })
    };
    job.say("one inlet left").unwrap();
    let open = ["1 inlet left".to_owned()];
    assert_eq!(marks(&job), [vec![], open.to_vec()]);
    // Out of the usual range: only a yes stores it, and what is said next is of that valve.
    job.say("three exhaust right forty eight").unwrap();
    let asked = vec!["3 exhaust right".to_owned()];
    assert_eq!(marks(&job), [asked.clone(), asked.clone()]);
    job.say("negative").unwrap();
    assert_eq!(marks(&job), [vec![], asked]);
    // Which of two: either may be meant.
    job.say("two inlet fifteen").unwrap();
    let either = ["2 inlet left", "2 inlet right"]
        .map(str::to_owned)
        .to_vec();
    assert_eq!(marks(&job), [either.clone(), either]);
    job.say("left").unwrap();
    let left = vec!["2 inlet left".to_owned()];
    assert_eq!(marks(&job), [vec![], left.clone()]);
    // A question about the box is about no valve.
    job.say("two of two fifty in the box").unwrap();
    job.say("one of two fifty in the box").unwrap();
    assert!(job.state.question.is_some());
    assert_eq!(marks(&job), [vec![], left]);
}
