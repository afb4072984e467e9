//! Sentences as people say them: readings in odd order, slips, questions, checks, talk. Own words;
//! common practice, no source.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::readings::{result, say};
use super::setup;
use crate::measure::LengthUnit::Millimetre;
use crate::session::*;

/// Kind, what was said before (`-` for nothing, `/` between), what is said, and what comes of it. A
/// reading may be asked instead; after `fact:` stand words of the facts, after `say:` of the answer.
const SAID: &str = include_str!("people.tsv");

/// The same of sentences that hold more words than a phrase has, of a writer who did not know the
/// phrases.
const AMONG: &str = include_str!("among.tsv");

/// What is said in a workshop to anybody. Own words; common practice, no source.
const SHOP_TALK: &str = include_str!("shop_talk.txt");

/// Until something is meant by them in the record, they store nothing.
const NOT_YET: &str = "
two inlet left | I'm back
two inlet left fifteen | correct forty eight
two inlet left fifteen | this one's fifteen and the other's thirteen
two inlet left fifteen | oops wrong side that was the right
two inlet left fifteen | what shim do I need
two inlet left fifteen | bucket's got a scratch on this one
- | on two the exhausts are twenty two left and twenty five right
- | taking the cams out now
- | o-ring's in
- | new seals on all of them
- | head bolts one to eight at twenty
- | leakdown on two eight percent out the exhaust
- | front inlet left, twelve goes, fifteen won't
- | piston's at top dead centre on the front
- | cam cover's off
- | washed and dried
- | chamber one fifty six cc
- | squish is one point one
- | bit of a rattle from the cam chain
";

const PLAN: &str = "one inlet left shim two sixty / one inlet left eight goes ten wont / spare two fifty / \
    one inlet right shim two sixty / one inlet right fifteen";

#[derive(Debug, PartialEq)]
enum Outcome {
    AsMeant,
    /// With the right reading, or for what is missing.
    Asked,
    Otherwise(String),
}

fn turns<'a>(before: &'a str, said: &'a str) -> Vec<&'a str> {
    let before = before.split(" / ").flat_map(|turn| match turn {
        "-" => Vec::new(),
        "PLAN" => PLAN.split(" / ").collect(),
        turn => vec![turn],
    });
    before.chain([said]).collect()
}

/// Facts that are more than a question or an open valve.
fn stored(events: &[Event]) -> Vec<&Fact> {
    let facts = events.iter().flat_map(|e| &e.facts);
    facts
        .filter(|f| !matches!(f, Fact::Asked(_) | Fact::Closed | Fact::Opened(_)))
        .collect()
}

fn outcome(setup: &JobSetup, before: &str, said: &str, expected: &str) -> Outcome {
    let events = say(setup, &turns(before, said)).1;
    let last = events.last().unwrap();
    let asked = last.outcome == crate::event::Outcome::Asked;
    let ignored = last.outcome == crate::event::Outcome::Ignored;
    let spoken: Vec<&str> = events.iter().map(|e| e.spoken.as_str()).collect();
    let spoken = spoken.join(". ").to_lowercase();
    let got = result(&events);
    let facts = format!("{:?}", events.iter().map(|e| &e.facts).collect::<Vec<_>>());
    let facts = facts.to_lowercase();
    let is_as = |expected: &str| {
        if let Some(words) = expected.strip_prefix("say:") {
            return !ignored && !spoken.contains("say again") && spoken.contains(words.trim());
        }
        if let Some(words) = expected.strip_prefix("fact:") {
            return !ignored && words.split(' ').all(|w| facts.contains(w));
        }
        match expected {
            "talk" | "none stored" => stored(&events).is_empty(),
            "silent" => ignored,
            expected => got == expected || got.trim_start_matches(['?', ' ']) == expected,
        }
    };
    if !expected.split(" || ").any(is_as) {
        return Outcome::Otherwise(format!("{got} | {spoken}"));
    }
    if asked {
        Outcome::Asked
    } else {
        Outcome::AsMeant
    }
}

fn fields<const N: usize>(line: &str) -> [&str; N] {
    let parts: Vec<&str> = line.split(" | ").map(str::trim).collect();
    parts.try_into().unwrap_or_else(|_| panic!("{line}"))
}

#[test]
fn people_are_understood_or_asked() {
    let setup = setup("triple", Millimetre);
    let mut off = Vec::new();
    let mut asked = 0;
    for line in SAID.lines() {
        let [_, before, said, expected] = fields(line);
        match outcome(&setup, before, said, expected) {
            Outcome::AsMeant => {}
            Outcome::Asked => asked += 1,
            Outcome::Otherwise(got) => off.push(format!("{line} => {got}")),
        }
    }
    assert!(off.is_empty(), "{}", off.join("\n"));
    // Whoever is asked at every third sentence stops talking.
    assert!(asked * 4 < SAID.lines().count(), "{asked} asked");
}

#[test]
fn what_stands_among_other_words_is_asked_or_answered() {
    let setup = setup("triple", Millimetre);
    let mut off = Vec::new();
    for line in AMONG.lines() {
        let [_, before, said, expected] = fields(line);
        if let Outcome::Otherwise(got) = outcome(&setup, before, said, expected) {
            off.push(format!("{line} => {got}"));
        }
    }
    assert!(off.is_empty(), "{}", off.join("\n"));
}

/// Whoever talks to a customer is neither asked nor answered.
#[test]
fn talk_in_the_workshop_stays_unanswered() {
    let setup = setup("triple", Millimetre);
    for before in ["-", "two exhaust left", "one inlet right fifteen"] {
        for said in SHOP_TALK.lines() {
            let events = say(&setup, &turns(before, said)).1;
            let last = events.last().unwrap();
            assert_eq!(
                last.outcome,
                crate::event::Outcome::Ignored,
                "{before} / {said}"
            );
        }
    }
}

#[test]
fn what_has_no_meaning_yet_stores_nothing() {
    let setup = setup("triple", Millimetre);
    for line in NOT_YET.lines().filter(|l| !l.is_empty()) {
        let [before, said] = fields(line);
        let events = say(&setup, &turns(before, said)).1;
        assert!(stored(&events).is_empty(), "{line}: {events:?}");
    }
}

/// Of a sentence that is no phrase the reading is asked, and only a yes stores it.
#[test]
fn a_reading_among_other_words_is_asked() {
    super::talk(
        "triple",
        Millimetre,
        "
        well on two inlet left the thirteen goes lovely and fifteen no sir => asked | two inlet left, point one three not one five. confirm
        yes => stored | two inlet left, point one three not one five, in band
        lads three exhaust left yesterday twenty five => asked | three exhaust left, point two five. confirm
        no => stored | nothing stored
        two inlet left hardly takes the fifteen => asked | say again
        without two inlet left fifteen => ignored | …
        right lads twenty two in and twenty five out on the exhaust on the right of number one => asked | one exhaust right, point two two not two five. confirm
        no => stored | nothing stored
    ",
    );
}

/// What else was measured is not asked as a clearance.
#[test]
fn another_measurement_among_other_words_is_no_clearance() {
    for (said, expected) in [
        (
            "the lobe down on three exhaust left has now worn to thirty four",
            "asked | say again",
        ),
        (
            "one exhaust right, the spring's thirty nine point four, free length",
            "asked | say again",
        ),
        (
            "shim out of three exhaust right says two seventy",
            "stored | three exhaust right, shim two point seven oh",
        ),
    ] {
        super::talk("triple", Millimetre, &format!("{said} => {expected}"));
    }
}

#[test]
fn a_remark_that_names_no_note_is_asked_and_kept_whole() {
    super::talk(
        "triple",
        Millimetre,
        "
        the guide on one exhaust left rocks more than I'd like => asked | note, one exhaust left. confirm
        yes => stored | note, one exhaust left
        the guide on two exhaust left rocks more than I'd like => asked | note, two exhaust left. confirm
        no => stored | nothing stored
        does the guide on one exhaust left rock, would you say => ignored | …
    ",
    );
}

/// A sentence that lacks its cylinder keeps its reading until the cylinder is named.
#[test]
fn a_reading_waits_for_its_cylinder() {
    super::talk(
        "triple",
        Millimetre,
        "
        inlet left, fifteen goes, eighteen doesn't => asked | which cylinder
        number two => stored | two inlet left, point one five not one eight, in band
        exhaust right twenty five => asked | which cylinder
        three => stored | three exhaust right, point two five, in band
    ",
    );
}

/// "Right one fifteen" may be 0.115 or 0.15 at the right one: the one that is a blade is asked.
#[test]
fn of_two_ways_to_hear_a_number_the_blade_that_is_owned_is_asked() {
    super::talk(
        "triple",
        Millimetre,
        "
        one inlet left twelve goes thirteen won't => stored | one inlet left, point one two not one three, in band
        and the right one fifteen goes eighteen is too tight => asked | one inlet right, point one five not one eight. confirm
        yes => stored | one inlet right, point one five not one eight, in band
    ",
    );
}
