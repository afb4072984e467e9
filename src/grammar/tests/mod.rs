//! Phrases of the bench and what they mean: one line each.
#![allow(clippy::unwrap_used, clippy::panic)]

mod de;
mod readback;

use super::fault::GrammarError;
use super::*;
use crate::event::{Gap, Side, Value, Valve};
use crate::measure::{Length, LengthUnit, Place, Quantity};
use std::sync::LazyLock;

/// The shipped English grammar, read once.
pub(crate) fn english() -> Grammar {
    static ENGLISH: LazyLock<Grammar> = LazyLock::new(read_english);
    ENGLISH.clone()
}

const ENGLISH_FILES: [(&str, &str); 7] = [
    (
        "numbers.toml",
        include_str!("../../../grammars/en/numbers.toml"),
    ),
    (
        "positions.toml",
        include_str!("../../../grammars/en/positions.toml"),
    ),
    (
        "phrases.toml",
        include_str!("../../../grammars/en/phrases.toml"),
    ),
    (
        "inspect.toml",
        include_str!("../../../grammars/en/inspect.toml"),
    ),
    ("job.toml", include_str!("../../../grammars/en/job.toml")),
    (
        "commands.toml",
        include_str!("../../../grammars/en/commands.toml"),
    ),
    (
        "readback.toml",
        include_str!("../../../grammars/en/readback.toml"),
    ),
];

fn read_english() -> Grammar {
    Grammar::from_files(&ENGLISH_FILES).unwrap_or_else(|e| panic!("{e}"))
}

pub(super) fn triple(unit: LengthUnit) -> Scope {
    Scope {
        unit,
        cylinders: 3,
        inlet: vec![Valve::Left, Valve::Right],
        exhaust: vec![Valve::Left, Valve::Right],
        shims: Place::OverBucket,
        blades: (3..=50).map(|n| Length::from_um(n * 10)).collect(),
        open: None,
        last: None,
        heads: Vec::new(),
        last_head: None,
        last_part: None,
        shim_in_hand: false,
        fitting: false,
        gauge: crate::measure::Unit::Bar,
        wrench: crate::measure::Unit::NewtonMetre,
    }
}

pub(super) fn show(heard: &Heard) -> String {
    let place = |w: &Whereabouts| {
        let side = w.side.map(|s| if s == Side::Inlet { "in" } else { "ex" });
        let parts = [
            w.cylinder.map(|c| c.to_string()),
            side.map(str::to_owned),
            w.valve.map(|v| v.key().to_owned()),
        ];
        parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
    };
    let um = |l: Length| format!("{}", l.nm() / 1_000);
    let one = |s: &Said| {
        let what = match &s.meaning {
            Meaning::Open => "open".to_owned(),
            Meaning::Answer => "answer".to_owned(),
            Meaning::Note(text) => format!("note <{text}>"),
            Meaning::Seen(text) => format!("seen <{text}>"),
            Meaning::Command(c) => c.key().to_owned(),
            Meaning::Group(group, gap, _) => format!("group {group:?} {gap:?}"),
            Meaning::ShimStep { steps, by } => format!("step {steps} {by:?}"),
            Meaning::LimitOf(quantity) => format!("limit of {quantity}"),
            Meaning::AskedAbout(what) => format!("asked {}", what.key()),
            Meaning::WhatIfCut(by) => format!("cut {}", um(*by)),
            Meaning::BoltCalled(part) => format!("bolt called {part:?}"),
            Meaning::Check { items, good, .. } => {
                let one = |(item, count): &(String, Option<u16>)| {
                    let count = count.map(|c| format!(" {c}")).unwrap_or_default();
                    format!("{item}{count}")
                };
                let items = items.iter().map(one).collect::<Vec<_>>().join(", ");
                format!("check {items}{}", if *good { "" } else { " bad" })
            }
            Meaning::Repaired { work, reading } => {
                let reading = reading.iter().map(|r| {
                    let meaning = (**r).clone();
                    let place = Whereabouts::default();
                    show(&Heard::Accepted(Said { place, meaning }))
                });
                let reading: Vec<String> = reading.collect();
                format!("{} {}", work.key(), reading.join(""))
                    .trim()
                    .to_owned()
            }
            Meaning::About { what, text } => format!("{} <{text}>", what.key()),
            Meaning::Task { kind, text, unsure } => {
                format!("task {kind} <{text}>{}", if *unsure { " ?" } else { "" })
            }
            Meaning::Tick(text) => format!("tick <{text}>"),
            Meaning::Stage { stage, done } => {
                format!("{} {stage}", if *done { "done" } else { "begin" })
            }
            Meaning::Several(all) => {
                let all: Vec<String> = all
                    .iter()
                    .map(|s| show(&Heard::Accepted(s.clone())))
                    .collect();
                all.join(" + ")
            }
            Meaning::Spare { size, count, .. } => format!("spare {count}x{}", um(*size)),
            Meaning::Reading {
                quantity,
                part,
                value,
                fix,
                unusual,
                ..
            } => {
                let value = match value {
                    Value::Gap(Gap::Between { goes_nm, stops_nm }) => {
                        format!("{}..{}", um(*goes_nm), um(*stops_nm))
                    }
                    Value::Gap(Gap::Single(v)) => format!("={}", um(*v)),
                    Value::Gap(Gap::AtLeast(v)) => format!(">={}", um(*v)),
                    Value::Gap(Gap::Below(v)) => format!("<{}", um(*v)),
                    Value::Gap(Gap::None) => "none".to_owned(),
                    Value::Shim {
                        marked_nm,
                        measured_nm,
                    } => {
                        format!(
                            "shim {}/{}",
                            marked_nm.map(um).unwrap_or_default(),
                            measured_nm.map(um).unwrap_or_default()
                        )
                    }
                    Value::Amount(a) => a.show(LengthUnit::Millimetre),
                    Value::Pair(a, b) => format!(
                        "{}, {}",
                        a.show(LengthUnit::Millimetre),
                        b.show(LengthUnit::Millimetre)
                    ),
                    Value::Done => "done".to_owned(),
                };
                let value = match (quantity, part) {
                    (Quantity::Clearance | Quantity::ShimFitted, None) => value,
                    (quantity, None) => format!("{quantity} {value}"),
                    (quantity, Some(part)) => format!("{quantity} of {part} {value}"),
                };
                format!(
                    "{}{value}{}",
                    if *fix { "fix " } else { "" },
                    if *unusual { " ?" } else { "" }
                )
            }
        };
        format!("{} {what}", place(&s.place)).trim().to_owned()
    };
    match heard {
        Heard::Accepted(s) => one(s),
        Heard::Ambiguous(all) => all.iter().map(one).collect::<Vec<_>>().join(" OR "),
        Heard::Refused(r) => format!("refused: {}", r.explain(&triple(LengthUnit::Millimetre))),
        Heard::Nothing => "nothing".to_owned(),
    }
}

#[test]
fn phrases_in_a_millimetre_job() {
    assert_means(&english(), PHRASES);
}

/// Each line, `phrase => meaning`, means that in a millimetre job; the number of lines.
fn assert_means(grammar: &Grammar, phrases: &str) -> usize {
    let scope = triple(LengthUnit::Millimetre);
    let mut wrong = Vec::new();
    let lines = phrases.lines().filter(|l| !l.trim().is_empty());
    let count = lines.clone().count();
    for line in lines {
        let (text, expected) = line.split_once("=>").unwrap();
        let (text, expected) = (text.trim(), expected.trim());
        let got = show(&grammar.parse(text, &scope));
        if got != expected {
            wrong.push(format!("{text} => {got}, expected {expected}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    count
}

/// What the words mean is common practice, no source.
const PHRASES: &str = r#"
cylinder three exhaust left, point two five => 3 ex left =250
cylinder three exhaust, point two five => 3 ex =250
three exhaust left fifteen goes eighteen wont => 3 ex left 150..180
Three exhaust left, fifteen goes, eighteen doesn't. => 3 ex left 150..180
goes at fifteen, won't go at eighteen => 150..180
fifteen in, eighteen no => 150..180
between fifteen and eighteen => 150..180
one inlet right nought point one => 1 in right =100
one intake right oh eight => 1 in right =80
one in left eight => 1 in left =80
exhaust two left twenty => 2 ex left =200
left exhaust two point two => 2 ex left =200
two left exhaust twenty five => 2 ex left =250
inlet left cylinder two ten thou => 2 in left =254
pot two inlet left double one => 2 in left =110
number two inlet right point one two five => 2 in right =125
two inlet right no gap => 2 in right none
nothing => none
zero => none ?
fifteen goes => >=150
eighteen won't go => <180
takes the twenty easy => >=200
won't take the ten => <100
tight fifteen => =150
nice drag on fifteen => =150
point eight => =800 ? OR =80
two fifty => =250
one oh five => =105 ?
two two two five => refused: "2225" is out of range for clearance: expected 0.00 mm to 1.00 mm
eighteen goes fifteen won't => refused: 0.18 mm goes and 0.15 mm does not: the blade that goes must be the smaller one
three exhaust left one point five => refused: "1.5" is out of range for exhaust clearance: expected 0.00 mm to 1.00 mm
seven exhaust left fifteen => refused: this engine has no cylinder 7: expected 1 to 3
eleven exhaust left fifteen => refused: this engine has no cylinder 11: expected 1 to 3
two exhaust front fifteen => refused: there is no exhaust valve called front: expected left or right
one inlet left, shim two sixty-five => 1 in left shim 2650/
shim one inlet left two point six five => 1 in left shim 2650/
one inlet left shim two six two five => 1 in left shim 2625/
one inlet left shim two sixty-two and a half => 1 in left shim 2625/
one inlet left marked two sixty-five, mikes two six four eight => 1 in left shim 2650/2648
marked two sixty-five mikes two sixty-four => shim 2650/2640
shim three flat => shim 3000/ ?
shim three hundred => shim 3000/
shim two hundred and sixty-five => shim 2650/
shim seventy two => refused: "72" is out of range for shim over the bucket: expected 1.50 mm to 4.50 mm
spare shim two seventy => spare 1x2700
shim two mil eight => shim 2800/
correction, two of two sixty => spare 2x2600
two spare shims two seventy five => spare 2x2750
three of two sixty in the box => spare 3x2600
cylinder two exhaust right => 2 ex right open
three exhaust left shim => 3 ex left measure_begun
going left to right => which_place
from the chain end => which_place
timing side => which_place
rear inlet right => in right which_place
left => left answer
correction, point one eight => fix =180
no, point two => fix =200
make that sixteen => fix =160
correction three exhaust left fifteen goes eighteen won't => 3 ex left fix 150..180
say again => say_again
disregard => disregard
scratch that => disregard
affirm => affirm
that's right => affirm
stand by => stand_by
listen => listen
what's next => whats_next
read back three exhaust left => 3 ex left read_back
which shim for three exhaust left => 3 ex left which_shim
two inlet left again fifteen goes eighteen wont => 2 in left 150..180
clearance again thirteen goes fifteen wont => 130..150
same again exhaust right => ex right same_again
note the guide feels loose => note <the guide feels loose>
note three exhaust left seat ring even => 3 ex left note <seat ring even>
stem two ex left, five four six five => 2 ex left stem diameter 5.465 mm
new guide in two exhaust left, reamed six oh one => 2 ex left new_guide guide bore 6.01 mm
two exhaust left new guide five five oh two => 2 ex left new_guide guide bore 5.502 mm
guide reamed two exhaust left to five point five two => 2 ex left reamed_guide guide bore 5.52 mm
the owner is the corner garage => owner <the corner garage>
frame number a b one two three => frame_number <a b one two three>
mileage two four three one two kilometres => mileage <24312 km>
new valve three inlet right => 3 in right new_valve
three inlet right new springs fitted => 3 in right new_spring
recut the seat on two inlet left => 2 in left recut_seat
two exhaust left tip ground => 2 ex left ground_tip
stem clearance two ex left, forty microns => 2 ex left stem clearance 0.04 mm
one and a half thou, stem => stem clearance 0.038 mm
guide two ex left, five five oh two => 2 ex left guide bore 5.502 mm
stem runout three in left, one hundredth => 3 in left runout 0.01 mm
seat runout three in left, two hundredths => 3 in left seat runout 0.02 mm
seat one ex left, one point one => 1 ex left seat width 1.10 mm
seat one ex left outer twenty-nine inner twenty-seven point three => 1 ex left seat width 29.00 mm, 27.30 mm
spring three ex left outer, thirty-nine point eight => 3 ex left spring free length of outer spring 39.80 mm
bucket two in right, twenty-five point nine seven => 2 in right bucket diameter 25.97 mm
lobe two inlet, thirty-five point four one => 2 in lobe height 35.41 mm
load one inlet left, one eighty newtons at thirty-three point five => 1 in left spring load 180 N, 33.50 mm
one inlet left load at thirty-one five, one hundred and fifteen newtons => 1 in left spring load 115 N, 31.50 mm
load one inlet left, one eighty newtons at thirty-three five => 1 in left spring load 180 N, 33.50 mm
lobe two inlet, thirty-five four one => 2 in lobe height 35.41 mm
end float inlet cam, point one two => end float of inlet cam 0.12 mm
end float inlet cam, oh four five => end float of inlet cam 0.045 mm OR end float of inlet cam 0.45 mm
journal three, oh four five => journal clearance of journal 3 0.045 mm
journal three, forty microns => journal clearance of journal 3 0.04 mm
head face, diagonal, oh four goes, oh five doesn't => flatness of diagonal 40..50
head bolt seven, stage two done => torque of head bolt 7 stage 2 done
cap three inlet, ten newton metres => torque of cam cap 3 inlet 10 N·m
all head bolts twenty newton metres stage one => torque of all head bolts stage 1 20 N·m
cover bolt two, twenty-two inch pounds => torque of cover bolt 2 22 lbf·in ?
head bolt two, two point two kilos => torque of head bolt 2 2.2 kgf·m
head bolt three plus ninety => angle stage of head bolt 3 90 °
compression one, twelve and a half bar => compression of cylinder 1 12.5 bar
compression twelve bar => compression 12 bar
deck height one, point two below => deck height of cylinder 1 0.20 mm
deck height two point one above => deck height of cylinder 2 -0.10 mm
deck one point two => deck height of cylinder 1 0.20 mm
squish one point one => squish 1.10 mm OR squish of cylinder 1 0.10 mm ?
when's the next check => asked next_check
who worked on it => asked worked_by
what's the limit on seat width => limit of seat width
what's the exhaust stem clearance limit => ex limit of stem clearance
seat one inlet left thirty degrees point six => 1 in left seat width of 30 degrees 0.60 mm
positive stop at twenty before twenty four after => top dead centre 20 °, 24 °
what's the compression ratio of cylinder two => 2 compression_ratio
seat recut two exhaust left by fifteen hundredths => 2 ex left recut_seat seat cut 0.15 mm
tip ground one inlet left by five hundredths => 1 in left ground_tip tip ground 0.05 mm
front inlet cap three, ten newton metres => torque of cam cap 3 inlet 10 N·m ?
compression one, one eight five => compression of cylinder 1 185 psi ?
compression one wet, thirteen bar => compression of cylinder 1 wet 13 bar
leak-down three, eight per cent, exhaust => leak down of cylinder 3, exhaust 8 %
leak-down three, 8 %, exhaust => leak down of cylinder 3, exhaust 8 %
leak-down three 8% => leak down of cylinder 3 8 %
leak-down three, seventy-four over eighty psi => leak down of cylinder 3 80 psi, 74 psi
leak-down three, eighty over seventy-four => refused: "80" is out of range for leak-down: expected 0 % to 100 %
inlet lobe centre one oh four => lobe centre of inlet cam 104 °
one oh four and a half => lobe centre 104.5 °
one hundred and four degrees => lobe centre 104 °
exhaust up one hundred and fifty-one and a half, down fifty-eight and a half => lobe centre of exhaust cam 151.5 °, 58.5 °
twenty-two pins => chain pins 22
eighteen degrees in here => room temperature 18 °C
sixty-eight in the shop => room temperature 68 °F ?
stem two ex left, two => refused: "2" is out of range for stem diameter: expected 3.00 mm to 12.00 mm
plugs in => check plugs
dowels two => check dowels 2
still warm => check cold bad
no tick => check tick
plugs in, jets clear, dowels two => check plugs, jets, dowels 2
rags in four, rags out four => check rags_in 4, rags_out 4
two turns, free, marks line up => check turns, marks
lapped two inlet left, no weep five minutes => 2 in left check lapped, leak_check 5
idle eleven hundred => check idle 1100
remind me new cover gasket => task remind <new cover gasket>
order two stem seals => task order <two stem seals>
mark that one for lapping => task lap <>
tick off stem seals => tick <stem seals>
start lapping => begin lapping
lapping done => done lapping
done => done
where am I => where_am_i
put the kettle on please => nothing
three exhaust left 0.15 goes 0.18 won't => 3 ex left 150..180
"#;

#[test]
fn phrases_in_a_thou_job() {
    let grammar = english();
    let scope = triple(LengthUnit::Thou);
    for (text, expected) in [
        ("three exhaust left eight", "3 ex left =203"),
        ("three exhaust left oh one two", "3 ex left =304"),
        ("three exhaust left point oh one two", "3 ex left =304"),
        ("six goes eight won't", "152..203"),
        (
            "three exhaust left point two five millimetres",
            "3 ex left =250",
        ),
        (
            "three exhaust left shim two sixty-five",
            "3 ex left shim 2650/",
        ),
        ("one inlet left two and a half thou", "1 in left =63"),
    ] {
        assert_eq!(show(&grammar.parse(text, &scope)), expected, "{text}");
    }
}

#[test]
fn a_wrong_file_names_line_and_column() {
    let good = include_str!("../../../grammars/en/readback.toml");
    for (text, expected) in [
        (
            "[rules]\nplace = \"{cylinder} [left\"",
            "bad.toml:2:26: found the end of the pattern: expected `]`",
        ),
        (
            "[rules]\na = \"{b}\"",
            "bad.toml:2:5: there is no rule `b`: expected one of a",
        ),
        (
            "[rules]\na = \"{b}\"\nb = \"x {a}\"",
            "bad.toml:2:5: rule `a` contains itself",
        ),
        (
            "[rule]\na = \"x\"",
            "bad.toml:1:2: unknown field `rule`, expected one of `rules`, `phrase`, `sound_alike`, `homophone`, `synonym`, `spelling`, `compound`, `ending`, `stage`, `readback`",
        ),
        (
            "[rules]\na = \"one/1\"\n[[phrase]]\nmeans = \"open\"\nexamples = [\"one\"]\nsay = [\"{value:a}\"]\n[sound_alike]\none = [\"won\"]",
            "bad.toml:8:1: `one` carries a value: a digit, position or unit is never repaired",
        ),
        (
            "[rules]\na = \"one/1\"\n[[phrase]]\nmeans = \"open\"\nexamples = [\"one\"]\nsay = [\"{value:a}\"]\n[homophone]\naye = [\"eye\"]",
            "bad.toml:8:1: `aye` carries no value: expected a digit, position or unit; commands go to `sound_alike`",
        ),
        (
            "[[phrase]]\nmeans = \"affirm\"\nexamples = [\"aye\"]\nsay = [\"yes\"]",
            "bad.toml:3:13: the example \"aye\" matches no phrase",
        ),
        (
            "[rules]\nitem = \"leave it/leave\"\n[[phrase]]\nmeans = \"check\"\nexamples = [\"leave it\"]\nsay = [\"{item:item}\"]",
            "bad.toml:6:8: no phrase that means `check` says the item `comes_out`, which the plan of the shims knows",
        ),
        (
            "[[phrase]]\nmeans = \"clearence\"\nexamples = [\"aye\"]\nsay = [\"aye\"]",
            "bad.toml:2:9: no phrase means `clearence`: expected one of `clearance`, `shim_fitted`, `shim_spare`, `measure`, `check`, `repaired`, `about`, `task`, `ticked`, `stage_begun`, `stage_done`, `group`, `shim_step`, `open`, `answer`, `note`, `what_if_cut`, `asked_about`, `limit_of`, `measure_begun`, `note_begun`, `note_ended`, `unclear`, `which_place`, `which_blade`, `say_again`, `correction`, `disregard`, `affirm`, `negative`, `roger`, `stand_by`, `listen`, `next`, `whats_next`, `read_back`, `how_many_left`, `whats_tight`, `which_shim`, `same_again`, `back`, `hold`, `whats_open`, `where_am_i`, `how_many_pins`, `where_to_turn`, `full_read_back`, `short_read_back`, `give_me_time`, `normal_pace`, `slower`, `faster`, `louder`, `quieter`, `stop_talking`, `whats_loose`, `whats_out`, `is_it_in`, `plan`, `to_buy`, `in_the_box`, `shim_in`, `target`, `band`, `limit`, `what_torque`, `next_bolt`, `how_much_cut`, `disregard_two`, `disregard_if_meant`, `second_round`, `help`, `read_again`, `changed`, `part_of_note`, `a_question`, `swapped`, `moved`, `tightest`, `loosest`, `read_all`, `fitted`, `compression_ratio`, `choice`",
        ),
    ] {
        let error =
            Grammar::from_files(&[("bad.toml", text), ("readback.toml", good)]).unwrap_err();
        assert_eq!(error.to_string(), expected);
    }
}

#[test]
fn the_fingerprint_knows_which_file_a_line_stands_in() {
    let readback = include_str!("../../../grammars/en/readback.toml");
    let hash = |files: &[(&str, &str)]| Grammar::from_files(files).unwrap().hash;
    let (one, other) = ("# One.\n", "# Other.\n");
    let both = format!("{one}{other}");
    let of = |a, b| hash(&[("a.toml", a), ("b.toml", b), ("readback.toml", readback)]);
    assert_eq!(of(one, other), of(one, other));
    assert_ne!(of(one, other), of(&both, ""));
    assert_ne!(of(one, other), of("", &both));
    assert_ne!(
        of(one, other),
        hash(&[
            ("a.toml", one),
            ("c.toml", other),
            ("readback.toml", readback)
        ])
    );
    // The same files are the same language in whatever folder they lie.
    assert_eq!(
        of(one, other),
        hash(&[
            ("mine/a.toml", one),
            ("mine/b.toml", other),
            ("mine/readback.toml", readback),
        ])
    );
}

/// The shipped English with a person's own file beside it.
fn with_own(own: &str, names: &[Addition]) -> Result<Grammar, GrammarError> {
    let mut files = ENGLISH_FILES.to_vec();
    files.push(("own.toml", own));
    Grammar::with_additions(&files, names)
}

#[test]
fn own_words_are_understood_and_lead_the_recogniser() {
    let own = "[synonym]\ngoes = [\"slips home\"]\nexhaust = [\"zorst\"]\n\
        [[phrase]]\nmeans = \"next\"\nexamples = [\"onwards\"]\nsay = [\"onwards\"]";
    let grammar = with_own(own, &[]).unwrap();
    let scope = triple(LengthUnit::Millimetre);
    let understood = |text: &str| show(&grammar.parse(text, &scope));
    assert_eq!(
        understood("three zorst left fifteen slips home eighteen doesn't"),
        "3 ex left 150..180"
    );
    assert_eq!(understood("onwards"), "next");
    let mut stand = grammar.net.stand_at_start();
    for word in ["three", "zorst", "left", "fifteen"] {
        assert!(grammar.net.next_words(&stand).contains(&word), "{word}");
        stand = grammar.net.step(&stand, word);
    }
    assert!(grammar.net.next_words(&stand).contains(&"slips"));
    assert_ne!(grammar.hash, english().hash);
}

#[test]
fn a_wrong_own_word_names_file_line_and_column() {
    for (own, expected) in [
        (
            "[synonym]\nvanish = [\"away\"]",
            "own.toml:2:1: no phrase uses the word `vanish`",
        ),
        (
            "[synonym]\ngoes = [\"Slips\"]",
            "own.toml:2:9: found `Slips`: expected lower-case words without figures or punctuation",
        ),
        (
            "[synonym]\ngoes = [\"goes\"]",
            "own.toml:2:9: `goes` is already said so: expected another word",
        ),
        (
            "[synonym]\nleft = [\"right\"]",
            "own.toml:2:9: `right` is a figure, a place or a unit already: expected a word that is none",
        ),
        (
            "[[phrase]]\nmeans = \"next\"\nexamples = [\"onwards\"]\nsay = [\"onward\"]",
            "own.toml:3:13: the example \"onwards\" matches no phrase",
        ),
    ] {
        let error = with_own(own, &[]).err().map(|e| e.to_string());
        assert_eq!(error.as_deref(), Some(expected));
    }
}

#[test]
fn names_of_the_job_s_own_are_places() {
    let name = |rule, name: &str, out: &str| Addition {
        rule,
        name: name.to_owned(),
        out: out.to_owned(),
    };
    let names = [
        name("cylinder_number", "front", "1"),
        name("cylinder_number", "front cylinder", "1"),
        name("cylinder_number", "rear", "2"),
        name("cylinder_number", "left bank two", "3"),
        name("valve_word", "nearside", "left"),
    ];
    let grammar = with_own("", &names).unwrap();
    let scope = triple(LengthUnit::Millimetre);
    for (text, expected) in [
        (
            "front inlet left, twelve goes, fifteen won't",
            "1 in left 120..150",
        ),
        ("left inlet front cylinder fifteen goes", "1 in left >=150"),
        ("rear exhaust right twenty five", "2 ex right =250"),
        ("left bank two exhaust nearside twenty", "3 ex left =200"),
        ("rear inlet right", "2 in right open"),
    ] {
        assert_eq!(show(&grammar.parse(text, &scope)), expected, "{text}");
    }
}

#[test]
fn what_is_repeated_has_a_word() {
    let readback = include_str!("../../../grammars/en/readback.toml");
    let wrong = "[[phrase]]\nmeans = \"next\"\nexamples = [\"on\"]\nsay = [\"on ([and])+\"]";
    let error = Grammar::from_files(&[("bad.toml", wrong), ("readback.toml", readback)]);
    assert_eq!(
        error.unwrap_err().to_string(),
        "bad.toml:4:8: what stands before `+` can be said without a word: expected at least one"
    );
}

/// Of a number no part is passed over.
#[test]
fn a_gist_has_the_whole_number() {
    let units = "one two three four five six seven eight nine";
    let (grammar, scope) = (english(), triple(LengthUnit::Millimetre));
    for (tens, ten) in [(20, "twenty"), (30, "thirty")] {
        for (unit, word) in (1..).zip(units.split(' ')) {
            let text =
                format!("well lads {ten} {word} goes on the exhaust on the left of number two");
            let heard = grammar.gist(&text, &scope).map(|heard| show(&heard));
            let expected = format!("2 ex left >={}", (tens + unit) * 10);
            assert_eq!(heard.as_deref(), Some(expected.as_str()), "{text}");
        }
    }
}
