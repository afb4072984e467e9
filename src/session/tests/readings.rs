//! How people call a reading: in any order, with slips, two in a breath; and talk that is none.
#![allow(clippy::unwrap_used)]

use super::setup;
use crate::event::{Gap, Reading, Side, Value};
use crate::measure::{LengthUnit::Millimetre, Quantity};
use crate::session::*;
use std::collections::BTreeMap;

/// Says it all, and gives the events of the last.
pub(super) fn say(setup: &JobSetup, all: &[&str]) -> (State, Vec<Event>) {
    let mut state = State::new(setup);
    let mut last = Vec::new();
    for said in all {
        let meant = Interpreter::new(setup, &state, &Interpretations::default()).of(said);
        let hearing = Hearing::typed((*said).to_owned(), meant, 0);
        last = Vec::new();
        for one in one_by_one(setup, &state, hearing) {
            let event = step(setup, &state, one);
            state.apply(&event);
            last.push(event);
        }
    }
    (state, last)
}

fn show(fact: &Fact) -> Option<String> {
    let mm = |l: Length| l.nm() / 1_000;
    match fact {
        Fact::Read(Reading {
            position,
            part,
            value,
            quantity,
            ..
        }) => {
            let place = position.map_or(String::new(), |p| {
                let side = match p.side {
                    Side::Inlet => "in",
                    Side::Exhaust => "ex",
                };
                let valve = p.valve.map_or("", |v| v.key());
                format!("{} {side} {valve} ", p.cylinder)
            });
            let part = part.map_or(String::new(), |p| format!("{p} "));
            let value = match *value {
                Value::Gap(Gap::Between { goes_nm, stops_nm }) => {
                    format!("{}..{}", mm(goes_nm), mm(stops_nm))
                }
                Value::Gap(Gap::Single(l)) => format!("{}", mm(l)),
                Value::Gap(Gap::AtLeast(l)) => format!("{}+", mm(l)),
                Value::Gap(Gap::Below(l)) => format!("<{}", mm(l)),
                Value::Gap(Gap::None) => "none".to_owned(),
                Value::Shim {
                    marked_nm: Some(l), ..
                } => format!("shim {}", mm(l)),
                Value::Shim { measured_nm, .. } => {
                    format!("mikes {}", measured_nm.map_or(0, mm))
                }
                Value::Amount(a) => format!("{quantity} {}", a.show(Millimetre)),
                _ => format!("{quantity}"),
            };
            Some(format!("{place}{part}{value}"))
        }
        Fact::Spare { size_nm, count } => Some(format!("{count} of {}", mm(*size_nm))),
        _ => None,
    }
}

/// What was stored, or "?" and what was asked.
pub(super) fn result(events: &[Event]) -> String {
    let stored: Vec<String> = events
        .iter()
        .flat_map(|e| e.facts.iter().filter_map(show))
        .collect();
    if !stored.is_empty() {
        return stored.join(" + ");
    }
    let event = events.last().unwrap();
    let proposed = event.facts.iter().flat_map(|f| match f {
        Fact::Asked(q) => q.proposed.iter().filter_map(show).collect(),
        _ => Vec::new(),
    });
    match event.outcome {
        Outcome::Ignored => "silent".to_owned(),
        Outcome::Refused => "refused".to_owned(),
        Outcome::Asked | Outcome::Stored => {
            format!("? {}", proposed.collect::<Vec<_>>().join(" + "))
                .trim()
                .to_owned()
        }
    }
}

/// Kind, what is said with three exhaust right open, and what must come of it: `?` before what is
/// asked, alone if no value is proposed. Common practice, no source; own words.
const SAID: &str = "
order | one inlet left, thirteen goes, fifteen doesn't | 1 in left 130..150
order | exhaust left on one, twenty goes, twenty two no | 1 ex left 200..220
order | outside exhaust on two twenty five | refused
order | right exhaust on two twenty five | 2 ex right 250
order | fifteen goes eighteen doesn't on two inlet right | 2 in right 150..180
order | twenty five on two exhaust left | 2 ex left 250
order | it's twenty eight for one exhaust right | 1 ex right 280
order | thirteen goes fifteen doesn't two inlet left | ? 2 in left 130..150
order | one exhaust left, twenty two no, twenty yes | 1 ex left 200..220
order | two inlet left fifteen won't go, thirteen does | 2 in left 130..150
filler | er two inlet left um fifteen | 2 in left 150
filler | right then, one exhaust right, twenty goes | 1 ex right 200+
filler | okay so two inlet right eighteen doesn't | 2 in right <180
filler | well one inlet left is er thirteen | 1 in left 130
filler | now then two exhaust left twenty two and a bit | 2 ex left 220+
filler | okay fifteen | ? 3 ex right 150
filler | er fifteen | 3 ex right 150
link | two exhaust left is twenty five | 2 ex left 250
link | two exhaust left's twenty five | 2 ex left 250
link | two exhaust left reads twenty five | 2 ex left 250
link | two exhaust left I've got twenty eight | 2 ex left 280
link | one inlet right, call it fifteen | 1 in right 150
link | one inlet right, that makes it fifteen | 1 in right 150
link | one inlet right at fifteen | 1 in right 150
link | two exhaust left, for now twenty five | 2 ex left 250
link | two exhaust left about twenty five | 2 ex left 250
link | one inlet left on eight | ? 1 in left 80
link | two exhaust right twenty five I reckon | ? 2 ex right 250
link | two exhaust right, twenty by eye | 2 ex right 200
verdict | one inlet left fifteen will go but eighteen won't | 1 in left 150..180
verdict | one inlet left thirteen yes fifteen no | 1 in left 130..150
verdict | one inlet left thirteen's fine fifteen isn't | 1 in left 130..150
verdict | one inlet left thirteen in fifteen out | 1 in left 130..150
verdict | one exhaust right twenty two goes, twenty five doesn't want to know | 1 ex right 220..250
verdict | two exhaust left, thirteen won't even start | 2 ex left <130
verdict | two exhaust left, thirteen won't have it | 2 ex left <130
verdict | two inlet right thirteen slides in fifteen stops | 2 in right 130..150
verdict | two inlet right thirteen goes fifteen is tight | ? 2 in right 130..150
verdict | two inlet right thirteen goes and fifteen drags | ? 2 in right 130..150
verdict | two inlet right thirteen is a go fifteen is a no | 2 in right 130..150
verdict | two inlet right thirteen goes but not fifteen | 2 in right 130..150
verdict | two exhaust right, twenty five, bit of drag | 2 ex right 250
verdict | one inlet left thirteen with a bit of drag | 1 in left 130
verdict | one inlet left thirteen rattles | 1 in left 130+
verdict | one inlet left thirteen does | 1 in left 130+
verdict | two inlet left, too tight | ?
verdict | two inlet left tight | ?
between | one inlet left somewhere between fifteen and eighteen | 1 in left 150..180
between | one inlet left fifteen slash eighteen | 1 in left 150..180
between | three exhaust left twenty, twenty two | ? 3 ex left 200..220
between | two exhaust left just over twenty five | 2 ex left 250+
between | two exhaust left a shade under twenty five | 2 ex left <250
walking | one inlet left ten goes, thirteen goes, fifteen doesn't | 1 in left 130..150
walking | two inlet left, ten goes, thirteen goes, fifteen goes, eighteen doesn't | 2 in left 150..180
walking | two inlet left, eighteen doesn't, fifteen doesn't, thirteen goes | 2 in left 130..150
walking | two inlet left, eighteen goes, fifteen doesn't | refused
walking | two inlet left, ten goes, fifteen goes, thirteen doesn't | refused
slip | two exhaust left, twenty five goes, no, twenty goes, twenty two doesn't | 2 ex left 200..220
slip | two inlet left, eighteen, no hang on, fifteen goes, eighteen doesn't | 2 in left 150..180
slip | two inlet left fifteen, no, make that thirteen | 2 in left 130
slip | two inlet left, no, two inlet right, fifteen | 2 in right 150
slip | two inlet left, sorry no, right, thirteen goes | 2 in right 130+
slip | two inlet left thirteen goes, no, fifteen | ?
slip | two inlet left thirteen goes no fifteen doesn't | ?
slip | one exhaust left twenty, I mean twenty two | 1 ex left 220
slip | one inlet left point one, correction, five | ? 1 in left 50
slip | one inlet left, correction, thirteen | 1 in left 130
two | two inlet left fifteen and two inlet right thirteen | 2 in left 150 + 2 in right 130
two | one inlet left thirteen goes fifteen doesn't, one inlet right ten goes thirteen doesn't | 1 in left 130..150 + 1 in right 100..130
two | one inlet left thirteen, right fifteen | 1 in left 130 + 1 in right 150
two | one inlet left thirteen and exhaust right twenty five | 1 in left 130 + 1 ex right 250
two | twenty goes twenty two doesn't then one inlet right thirteen | 3 ex right 200..220 + 1 in right 130
two | two inlet left fifteen and two inlet right fifty | ? 2 in left 150 + 2 in right 500
two | two inlet left fifteen and seven inlet right thirteen | refused
two | two inlet left twenty two inlet right thirteen | ?
owned | one inlet left seventeen goes | ? 1 in left 170+
owned | one inlet left fifteen goes, seventeen doesn't | ? 1 in left 150..170
owned | two inlet left sixteen | 2 in left 160
shim | one exhaust right shim a two seventy-five | 1 ex right shim 2750
shim | one inlet left shim two sixty-five | 1 in left shim 2650
shim | one inlet left, the shim is two sixty | 1 in left shim 2600
shim | the shim in one inlet left is a two forty | 1 in left shim 2400
shim | two inlet right can't read it, mikes at two point four flat | 2 in right mikes 2400
shim | two inlet right mikes two flat | ? 2 in right mikes 2000
shim | one exhaust left marked two one two half | 1 ex left shim 2125
shim | one exhaust left, shim two twelve five | 1 ex left shim 2125
shim | two inlet right shim two and a quarter | 2 in right shim 2250
shim | one intake left shim two millimetres oh five | 1 in left shim 2050
spares | spares: two fifty, two of two fifty five, two sixty | ? 1 of 2500 + 2 of 2550 + 1 of 2600
spares | spare shims: two oh five, two ten, two fifteen | ? 1 of 2050 + 1 of 2100 + 1 of 2150
link | call it fifteen | ? 3 ex right 150
link | that's twenty five | ? 3 ex right 250
verdict | twenty is fine | ? 3 ex right 200+
verdict | twenty is fine twenty two isn't | 3 ex right 200..220
spares | a couple of two eighty-fives in the tin | 2 of 2850
spares | two spare two eighty-fives | 2 of 2850
spares | there's a two twenty in the box and two two thirties | ? 1 of 2200 + 2 of 2300
spares | two oh five times three | ? 3 of 2050
measure | stem one exhaust left, five four five two at the bottom | 1 ex left bottom stem diameter 5.452 mm
measure | stem two inlet left, five forty-eight five | 2 in left stem diameter 5.485 mm
measure | okay, seat two inlet right is one point two | 2 in right seat width 1.20 mm
measure | spring two inlet left reads thirty-nine point eight | 2 in left spring free length 39.80 mm
measure | bucket bore one inlet right, twenty six oh two | 1 in right bucket bore 26.02 mm
measure | diagonal, oh three in, oh four no | diagonal 30..40
measure | rear head face diagonal oh three goes oh four doesn't | ? diagonal 30..40
measure | flatness front head lengthways oh three goes oh four doesn't | ? along 30..40
measure | head bolt three at twenty | ? head bolt 3 torque 20 N·m
measure | head bolt three, eighteen | ? head bolt 3 torque 18 N·m
measure | end float front inlet cam point one two | ? inlet cam end float 0.12 mm
measure | sorry, stem one inlet left five point four six | ? 1 in left stem diameter 5.46 mm
measure | new guide two exhaust left five five oh two | 2 ex left guide bore 5.502 mm
measure | end float inlet cam is point one two | inlet cam end float 0.12 mm
measure | head face diagonal oh three goes oh four doesn't | diagonal 30..40
";

/// Marks what a line came to against what was expected.
fn mark(got: &str, expected: &str) -> &'static str {
    match got {
        "silent" => "silent",
        _ if got == expected && got.starts_with('?') => "asked",
        _ if got == expected => "understood",
        _ if got.starts_with('?') || got == "refused" => "asked otherwise",
        _ => "wrong",
    }
}

#[test]
fn readings_in_many_words() {
    let setup = setup("triple", Millimetre);
    let mut table: BTreeMap<&str, BTreeMap<&str, usize>> = BTreeMap::new();
    let mut off = Vec::new();
    for line in SAID.lines().filter(|l| !l.trim().is_empty()) {
        let parts: Vec<&str> = line.split(" | ").map(str::trim).collect();
        let [kind, said, expected] = parts[..] else {
            unreachable!("{line}")
        };
        let got = result(&say(&setup, &["three exhaust right", said]).1);
        let mark = mark(&got, expected);
        *table.entry(kind).or_default().entry(mark).or_default() += 1;
        if !matches!(mark, "understood" | "asked") {
            off.push(format!("{mark}: {said} => {got}, expected {expected}"));
        }
    }
    for (kind, marks) in &table {
        println!("{kind:<10} {marks:?}");
    }
    assert!(off.is_empty(), "{}", off.join("\n"));
}

/// Said to other people with a valve open, most of it with numbers: none of it may be stored.
const TALK: &str = "
channel four, inlet two
spare ribs two sixty five
pass me the ten mil spanner
pass me the ten mil spanner will you
no I said the half inch drive
four, eight, fifteen, sixteen, twenty three, forty two
the lottery was three nine eleven twenty thirty one
it's two sixty five a kilo
that makes it fifteen quid
about ten past four
he reads two newspapers on a Sunday
I've got two kids and a dog
call it twenty with the tip
so it goes
well no, not really
and then he goes no way
okay so what's for lunch
is it in or out
shut the door it's ten below
two sugars please
the exhaust on the van is gone
left at the lights and right at the pub
it goes from nought to sixty in eight
he won't go before five
she doesn't want to know
that one's too tight for him
for now I'd leave it
ate nothing so far
on one condition
around twenty people came
I reckon fifty quid
scratch that, get the blue one
hang on a minute
a couple of pints in the tin
there's a bloke at the door and two more outside
put the kettle on
put the cat in the shed
between you and me
half past nine or so
the first one was fine but the second one stops and starts
inner tube sixteen inch
right then, who wants tea
twenty goes into sixty three times
the number two bus stops at the corner
and a pair of gloves size nine
I make it a quarter to
";

#[test]
fn talk_with_a_valve_open_stores_nothing() {
    let setup = setup("triple", Millimetre);
    let mut stored = Vec::new();
    let mut marks: BTreeMap<String, usize> = BTreeMap::new();
    for said in TALK.lines().filter(|l| !l.trim().is_empty()) {
        let (_, events) = say(&setup, &["three exhaust right", said]);
        *marks.entry(format!("{:?}", events[0].outcome)).or_default() += 1;
        if events[0].outcome == Outcome::Asked {
            println!("asked: {said}: {}", events[0].spoken);
        }
        let kept = |f: &Fact| !matches!(f, Fact::Asked(_) | Fact::Closed);
        if events.iter().any(|e| e.facts.iter().any(kept)) {
            stored.push(format!("{said} => {}", result(&events)));
        }
    }
    println!("{marks:?}");
    assert!(stored.is_empty(), "{}", stored.join("\n"));
}

/// What a dialogue comes to, turn by turn.
fn dialogue(turns: &[(&str, &str)]) {
    let setup = setup("triple", Millimetre);
    let said: Vec<&str> = turns.iter().map(|(said, _)| *said).collect();
    for (at, (said_now, expected)) in turns.iter().enumerate() {
        let (_, events) = say(&setup, &said[..=at]);
        assert_eq!(result(&events), *expected, "{said_now}");
    }
}

#[test]
fn a_blade_that_did_not_go_is_asked_for_and_belongs_to_its_valve() {
    for answer in ["fifteen", "fifteen doesn't", "the fifteen doesn't go"] {
        dialogue(&[
            ("one exhaust right", "?"),
            ("two inlet left, too tight", "?"),
            (answer, "2 in left <150"),
        ]);
    }
    let (_, events) = say(&setup("triple", Millimetre), &["two inlet left, too tight"]);
    assert_eq!(events[0].spoken, "two inlet left. which blade does not go");
}

#[test]
fn a_blade_that_is_not_owned_is_asked_with_the_two_next_to_it() {
    let setup_ = setup("triple", Millimetre);
    let (_, events) = say(&setup_, &["one inlet left, seventeen goes"]);
    assert_eq!(
        events[0].spoken,
        "one inlet left, point one seven goes. no such blade. point one five or point one eight"
    );
    dialogue(&[
        ("one inlet left, seventeen goes", "? 1 in left 170+"),
        ("fifteen", "1 in left 150+"),
    ]);
    dialogue(&[
        (
            "one inlet left, fifteen goes, seventeen doesn't",
            "? 1 in left 150..170",
        ),
        ("eighteen", "1 in left 150..180"),
    ]);
    dialogue(&[
        ("one inlet left, seventeen goes", "? 1 in left 170+"),
        ("affirm", "1 in left 170+"),
    ]);
}

#[test]
fn words_that_sound_like_figures_are_none_where_they_have_a_sense() {
    dialogue(&[
        ("one inlet right", "?"),
        ("ate nothing so far", "silent"),
        ("too tight", "?"),
    ]);
    let (state, _) = say(
        &setup("triple", Millimetre),
        &[
            "two exhaust left, for now twenty five",
            "exhaust left on one, twenty goes, twenty two no",
        ],
    );
    let all: Vec<Reading> = state.counting().readings().copied().collect();
    assert_eq!(all.len(), 2);
    assert!(all.iter().all(|r| r.quantity == Quantity::Clearance));
}

#[test]
fn two_readings_of_one_breath_are_two_events_each_read_back() {
    let setup = setup("triple", Millimetre);
    let said = "two inlet left fifteen and two inlet right thirteen";
    let (state, events) = say(&setup, &[said]);
    let spoken: Vec<&str> = events.iter().map(|e| e.spoken.as_str()).collect();
    assert_eq!(
        spoken,
        [
            "two inlet left, point one five, in band",
            "two inlet right, point one three, in band"
        ]
    );
    assert!(events.iter().all(|e| e.said == said.replace(',', "")));
    // A correction is of the second only.
    assert_eq!(state.counting().readings().count(), 2);
    dialogue(&[
        (said, "2 in left 150 + 2 in right 130"),
        ("correction fifteen", "2 in right 150"),
        ("read back two inlet left", "?"),
    ]);
    let (state, _) = say(&setup, &[said, "disregard"]);
    assert_eq!(state.counting().readings().count(), 1);
    // One that must be asked holds back the other: one yes for both.
    let (state, _) = say(
        &setup,
        &["two inlet left fifteen and two inlet right fifty"],
    );
    assert_eq!(state.counting().readings().count(), 0);
    let (state, _) = say(
        &setup,
        &["two inlet left fifteen and two inlet right fifty", "affirm"],
    );
    assert_eq!(state.counting().readings().count(), 2);
}

#[test]
fn a_list_of_spares_is_read_back_and_one_yes_stores_it() {
    let setup = setup("triple", Millimetre);
    let list = "spares: two fifty, two of two fifty five, two sixty";
    let (state, events) = say(&setup, &[list]);
    assert_eq!(
        events[0].spoken,
        "spare shim two point five oh. spare shim two point five five, two pieces. spare shim two point six oh. confirm"
    );
    assert_eq!(state.counting().spares(Length::from_um(2_550), None), 0);
    let (state, _) = say(&setup, &[list, "yes"]);
    assert_eq!(state.counting().spares(Length::from_um(2_550), None), 2);
    assert_eq!(state.counting().spares(Length::from_um(2_600), None), 1);
}
