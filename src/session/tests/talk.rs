//! A whole evening's talk: what a tired person, an apprentice, a stranger to the language says.
#![allow(clippy::unwrap_used)]

use super::readings::{result, say};
use super::{setup, talk};
use crate::measure::LengthUnit::{Millimetre, Thou};
use crate::session::*;

/// What was said before, with `/` between; what is said; and what comes of it: `?` before what is
/// asked. Own words; common practice, no source.
const SAID: &str = "
two exhaust right | number one inlet on the left, fifteen fits | 1 in left 150+
two exhaust right | three exhaust, the right hand one, I can get twenty in | 3 ex right 200+
two exhaust right | the right hand exhaust on three, twenty will go | 3 ex right 200+
two exhaust right | inlet of two on the left reads thirteen | 2 in left 130
two exhaust right | cylinder one, exhaust side, left valve, twenty two | 1 ex left 220
two exhaust right | the exhaust on three left, twenty | 3 ex left 200
two exhaust right | nothing goes | 2 ex right none
two exhaust right | nothing fits | ? 2 ex right none
two exhaust right | one inlet left, there's no gap at all | 1 in left none
two exhaust right | one inlet left doesn't take anything | 1 in left none
two exhaust right | two inlet right, twenty passes but twenty two hangs up | 2 in right 200..220
two exhaust right | two inlet left the thirteen doesn't go | 2 in left <130
two exhaust right | two inlet left, largest that goes is thirteen | 2 in left 130
two exhaust right | two inlet left thirteen is a nice fit | 2 in left 130
two exhaust right | two inlet left it is between the thirteen and the fifteen | 2 in left 130..150
two exhaust right | two inlet left zero fifteen | 2 in left 150
two exhaust right | two inlet left fifteen and a half | ? 2 in left 155
two exhaust right | the thirteen won't go in two inlet left | ? 2 in left <130
two exhaust right | change two inlet left to thirteen | 2 in left 130
two exhaust right | the other one, twenty | 2 ex left 200
two exhaust right | other one twenty goes, twenty two doesn't | 2 ex left 200..220
two exhaust right | on the left twenty | 2 ex left 200
two exhaust right | and on the left twenty | ? 2 ex left 200
two exhaust right | the other one, eight | ? 2 ex left 80
two exhaust right | the other one is twenty | ? 2 ex left 200
two exhaust right twenty | same on the other side | 2 ex left 200
two exhaust right twenty | ditto on the left | 2 ex left 200
two exhaust right | and the left one eight | ?
two exhaust right | two inlets both thirteen | ? 2 in left 130 + 2 in right 130
two inlet left fifteen | oops, eighteen | ? 2 in left 180
two inlet left fifteen | I said eighteen | ? 2 in left 180
two inlet left fifteen | that should be eighteen | ? 2 in left 180
two inlet left fifteen | sorry that was the right one | ? 2 in right 150
two inlet left fifteen | that was two inlet right not left | 2 in right 150
two inlet left | it mikes two fifty three | 2 in left mikes 2530
two inlet left | one exhaust right micrometer says two six eight | 1 ex right mikes 2680
two inlet left | there's a two sixty in one exhaust right | 1 ex right shim 2600
two inlet left | one exhaust right has a two seventy shim | 1 ex right shim 2700
two inlet left | one exhaust right no number on it, mikes two six four | 1 ex right mikes 2640
two inlet left | in the box I've got a two forty, a two forty five and two two fifties | ? 1 of 2400 + 1 of 2450 + 2 of 2500
two inlet left | I have three two fifty fives spare | ? 3 of 2550
two inlet left | head bolts stage one done | all head bolts stage 1 torque
two inlet left | head bolts, first stage done | all head bolts stage 1 torque
two inlet left | cover bolts tightened to ten | all cover bolts torque 10 N·m
head bolts stage one done | stage two done | all head bolts stage 2 torque
head bolt four stage one done | bolt five stage one done | head bolt 5 stage 1 torque
two inlet left | stem of two exhaust left is five four six five | 2 ex left stem diameter 5.465 mm
two inlet left | the guide on two exhaust left is five point five one | 2 ex left guide bore 5.51 mm
two inlet left | seat on two exhaust left is one point two wide | 2 ex left seat width 1.20 mm
two inlet left | compression on one is twelve bar | cylinder 1 compression 12 bar
two inlet left | twelve bar on two | cylinder 2 compression 12 bar
two inlet left | it's eighteen degrees in here | room temperature 18 °C
";

#[test]
fn readings_in_a_tired_persons_words() {
    let setup = setup("triple", Millimetre);
    let mut off = Vec::new();
    for line in SAID.lines().filter(|l| !l.trim().is_empty()) {
        let parts: Vec<&str> = line.split(" | ").map(str::trim).collect();
        let [before, said, expected] = parts[..] else {
            unreachable!("{line}")
        };
        let turns: Vec<&str> = before.split(" / ").chain([said]).collect();
        let got = result(&say(&setup, &turns).1);
        if got != expected {
            off.push(format!("{said} => {got}, expected {expected}"));
        }
    }
    assert!(off.is_empty(), "{}", off.join("\n"));
}

#[test]
fn the_other_valve_of_a_pair_is_none_where_no_valve_is_open() {
    let setup = setup("triple", Millimetre);
    for said in ["the other one, fifteen", "and on the left twenty"] {
        assert_eq!(result(&say(&setup, &[said]).1), "silent", "{said}");
    }
}

#[test]
fn the_lobe_is_away_is_an_answer_to_the_caution() {
    talk(
        "triple",
        Millimetre,
        "
        one inlet left no gap => stored | one inlet left, no gap, valve may be held open. lobe away
        lobe's away => stored | one inlet left, lobe away
        one inlet right lobe is away => stored | one inlet right, lobe away
    ",
    );
}

#[test]
fn what_is_seen_at_a_valve_is_noted_there() {
    let state = talk("triple", Millimetre, "
        that one's bent => ignored |
        stem two inlet right five point four six => stored | two inlet right, stem five point four six, in limit
        that one's bent => stored | noted
        two exhaust left is burnt => stored | noted
        one inlet left fifteen => stored | one inlet left, point one five, in band
        two exhaust right weeps at one minute => stored | two exhaust right, weeps, one minute
        mark it for lapping => stored | two exhaust right, on the list
        three exhaust left is pitted => stored | three exhaust left, pitted
        that needs lapping => stored | three exhaust left, on the list
    ");
    let notes: Vec<_> = state
        .counting()
        .notes()
        .iter()
        .map(|n| (n.position.map(|p| p.to_string()), n.text.clone()))
        .collect();
    let at = |place: &str, text: &str| (Some(place.to_owned()), text.to_owned());
    assert_eq!(
        notes,
        [at("2 inlet right", "bent"), at("2 exhaust left", "burnt")]
    );
}

#[test]
fn the_last_one_is_taken_out_and_what_may_be_said_to_anybody_asks_first() {
    for said in [
        "take out the last one",
        "take the last one out",
        "remove the last reading",
        "delete that",
    ] {
        let script = format!(
            "
            one inlet left fifteen => stored | one inlet left, point one five, in band
            {said} => stored | one inlet left, point one five, disregarded
        "
        );
        assert_eq!(
            talk("triple", Millimetre, &script)
                .counting()
                .readings()
                .count(),
            0
        );
    }
    for said in [
        "never mind",
        "forget it",
        "that was wrong",
        "I read that wrong",
        "I misread it",
    ] {
        let script = format!(
            "
            one inlet left fifteen => stored | one inlet left, point one five, in band
            {said} => asked | one inlet left, point one five, disregarded. confirm
            no => stored | one inlet left, point one five
        "
        );
        assert_eq!(
            talk("triple", Millimetre, &script)
                .counting()
                .readings()
                .count(),
            1
        );
    }
    talk(
        "triple",
        Millimetre,
        "
        one inlet left forty eight => asked | one inlet left, point four eight. outside. confirm
        never mind => stored | nothing stored. one inlet left
    ",
    );
}

#[test]
fn a_valve_is_asked_about_by_name() {
    talk("triple", Millimetre, "
        how tight is two inlet left => stored | two inlet left, not measured
        two inlet left ten => stored | two inlet left, point one oh, in band
        two exhaust left eight goes ten wont => stored | two exhaust left, point oh eight not one oh, tight
        one inlet right twenty five => stored | one inlet right, point two five, loose
        how tight is two inlet left => stored | two inlet left, point one oh, in band
        is two exhaust left okay => stored | two exhaust left, point oh eight not one oh, tight
        what's two inlet left => stored | two inlet left, point one oh
        what did we get for two inlet left => stored | two inlet left, point one oh
        which is the tightest => stored | two exhaust left, point oh eight not one oh, tight
        what's the tightest inlet => stored | two inlet left, point one oh, in band
        which is the loosest => stored | one inlet right, point two five, loose
        read back the lot => stored | one inlet right, point two five. two inlet left, point one oh. two exhaust left, point oh eight not one oh
        go to three inlet left => stored | three inlet left
        which one am I on => stored | three inlet left. last, one inlet right, point two five. nine to measure. nothing open
    ");
}

#[test]
fn it_is_in_fits_what_the_plan_has_just_said() {
    for (asked, fitted) in [
        ("read me the plan", "it's in"),
        ("what do I fit first", "okay that's done"),
        ("what shim goes in one exhaust left", "put it in"),
        ("which shim for one exhaust left", "that one's fitted"),
    ] {
        let setup = setup("triple", Millimetre);
        let turns = [
            "one of two fifty in the box",
            "one exhaust left shim two sixty",
            "fifteen goes eighteen wont",
            asked,
            fitted,
        ];
        let (state, events) = say(&setup, &turns);
        assert_eq!(result(&events), "1 ex left shim 2500", "{asked} / {fitted}");
        assert!(
            state.view.remaining().contains(&setup.profile.valves()[2]),
            "to be measured again"
        );
        // Nothing was planned just now: it is no fit.
        let (_, events) = say(&setup, &[&turns[..3], &[fitted]].concat());
        assert_eq!(result(&events), "silent", "{fitted}");
    }
}

/// Said to other people with a valve open, all of it with numbers: none of it may be stored.
const TALK: &str = "
the left one cost fifteen quid
my wife is on the other one
the other one is eighteen and still at school
nothing goes right today
nothing fits in that drawer
there's no gap in the hedge
nothing under it but dust
he's got two sixty in the bank
it's got a two litre engine
the right one was thirty quid
maximum thirty in town
it does sixty five to the gallon
I can get twenty in the boot
the biggest one is eighteen feet
wait ten minutes
actually ten past
I said six o'clock
I said half past two
oops that's my second cup
make it two coffees
change that to the radio four
make it twenty
wrong number
it should be here by three
that should be fifty each
not four, five of us
not the fifteen, the sixteen bus
next one's at four thirty
the next train is four fifteen
next stop twenty minutes
number seven is the red house
number two is out of the race
number four twelve bar blues
twelve bar blues
twelve bar on the radio
two bar in the front tyre
front tyre two point two bar
thirty psi in the rear
I put two sugars in
put two in the box
put one in the bin
two in the box by the door
take two out of the fridge
four rags and a bucket
bring three rags
I took three days off
stage two of the tour starts at ten
stage one was won by a Dutchman
that's stage one done with the divorce
bolt was on the hundred metres, nine five eight
bolts of cloth, ten metres
head for the pub at five
all at ten each
all ten of them came
plus ninety pence postage
another sixty miles on the clock
it's eighteen degrees outside
ninety degrees to the wall
one oh four on the bus
journal three is on my desk
seat two B on the plane
seat fourteen by the window
spring is on its way
load of old rubbish, ten bags
room twelve at the hotel
margin of two per cent
eight per cent beer
compression stockings, two pairs
runout in the second innings, sixty two
guide dogs, five of them
the guide said ten o'clock
lobe of his left ear
the inlet at low tide is two metres
exhaust on the left bank fell off
exhaust two hundred quid fitted
right at ten then left at twelve
left two hours ago
right one more and I'm off
on the left two doors down
on the right fifteen houses
the left wing got thirty per cent
on the other side fifteen people
other side of fifty
both of them are twenty
both twenty one in June
all the rest are six quid
the rest is two fifty
same again two pints please
same again mate
ditto on the chips
three point one four one five nine
two hundred grams of ham
point two of a percent
fifteen love
thirty fifteen
forty love
between ten and twenty people
between eight and nine tonight
fifteen to twenty minutes
ten fits in there easily
two goes a pound
it goes up to eleven
twenty goes into a hundred five times
five goes at the dartboard
eighteen doesn't count
twelve won't be enough
twenty is tight on the motorway
fifteen minutes won't kill you
size ten is too tight
thirty two waist thirty four leg
pin is four eight seven two
oh seven seven oh nine hundred
extension two five six
gate fifteen boarding
platform nine and three quarters
lap two of the race
lapped the leader twice
lapping at one twenty
it leaks two litres a week
shim sham, two shows nightly
clearance sale fifty per cent off
spare room ten by twelve
spares two tenners
got any spares two of them
in the box I've got a two and a five
there's a two in it and a three
that one's worn at the knee
it's in the other room
that's in next week
that's done and dusted
fitted kitchen two grand
pitted olives two tins
what's the worst that can happen
how many have you done
forget it mate
go to two inlet road
back to one more time
open two windows
mark it down to fifteen
don't forget two tickets
front row at fifteen each
rear seats two
I've got two fifty on the horse
it's two sixty five a kilo
he's two metres flat
dead on ten
bang on fifteen hundred
a shade under fifty
just over ten
two and a quarter hours
four and a half
a quarter of a pint
";

#[test]
fn talk_full_of_numbers_stores_nothing() {
    for (engine, unit, open) in [
        ("triple", Millimetre, "three exhaust right"),
        ("triple", Millimetre, "two inlet left shim two sixty"),
        ("twin270", Thou, "one inlet left eight thou"),
    ] {
        let setup = setup(engine, unit);
        let before = say(&setup, &[open]).0;
        let mut stored = Vec::new();
        for said in TALK.lines().filter(|l| !l.trim().is_empty()) {
            let meant = Interpreter::new(&setup, &before, &Interpretations::default()).of(said);
            let mut state = before.clone();
            for one in one_by_one(&setup, &before, Hearing::typed(said.to_owned(), meant, 0)) {
                let event = step(&setup, &state, one);
                state.apply(&event);
                let kept = |f: &Fact| !matches!(f, Fact::Asked(_) | Fact::Closed);
                if event.facts.iter().any(kept) {
                    stored.push(format!("{said} => {:?}", event.facts));
                }
            }
        }
        assert!(
            stored.is_empty(),
            "{engine} {unit:?}: {}",
            stored.join("\n")
        );
    }
}

/// Each is said with two inlet left open, and "fifteen goes" after it: that is never stored there.
#[test]
fn a_place_that_was_begun_closes_the_valve_before() {
    let setup = setup("triple", Millimetre);
    for said in [
        "three exhaust",
        "seven exhaust left",
        "four inlet right",
        "exhaust left",
        "two inlet middle",
        "inlet three",
        "cylinder three",
        "three exhaust reft",
        "three inlet wobbly",
        "now three exhaust",
        "three exhaust left umm hang on",
        "bring the three exhaust left shim over",
        "I'm on three exhaust left now",
        "three exhaust left eighteen goes fifteen won't",
        "three exhaust left shim nine hundred",
        "stem three exhaust left",
        "that was three exhaust",
        "how tight is three exhaust left",
        "which shim for three exhaust left",
        "what shim's in three exhaust left",
        "read back three exhaust left",
        "note three exhaust left is rusty",
        "lapped three exhaust left",
        "three exhaust left weeps",
        "mark three exhaust left for lapping",
        "what's next",
        "where do I turn",
        "compression three twelve bar",
    ] {
        let (state, events) = say(&setup, &["two inlet left", said, "fifteen goes"]);
        let open = setup.profile.valves()[4];
        let stored = state
            .counting()
            .latest(open, crate::measure::Quantity::Clearance);
        assert_eq!(stored, None, "{said}: {:?}", events[0].spoken);
    }
    // The valve itself may be asked about.
    for said in [
        "how tight is two inlet left",
        "which shim",
        "what's the target",
        "how many left",
    ] {
        let (_, events) = say(&setup, &["two inlet left", said, "fifteen goes"]);
        assert_eq!(result(&events), "2 in left 150+", "{said}");
    }
}

/// Only what stands behind the point comes digit by digit.
#[test]
fn the_figures_of_an_answer_are_said_as_people_say_them() {
    talk("triple", Millimetre, "
        compression one eleven point five bar => stored | cylinder one, compression eleven point five bar
        compression two twelve bar => stored | cylinder two, compression twelve bar
        inlet lobe centre one oh four and a half => stored | inlet cam, lobe centre one hundred and four point five degrees, in limit
        bucket two exhaust left twenty five point nine seven => stored | two exhaust left, bucket twenty five point nine seven
        load one inlet left one eighty newtons at thirty three point five => stored | one inlet left, load one hundred and eighty newtons at thirty three point five oh
        full read-back => stored | full read back
        compression three twelve bar => stored | cylinder three, compression one two bar
    ");
    talk("twin270", Thou, "
        one inlet left eight thou => stored | one inlet left, eight thou, loose
        one exhaust right eleven goes twelve wont => stored | one exhaust right, eleven not twelve thou, on the limit
        two exhaust right eleven => stored | two exhaust right, eleven thou, in band
    ");
}
