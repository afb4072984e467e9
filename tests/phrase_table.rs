//! Thousands of typed readings with what must come of them, and the same with one word wrong.
//!
//! The expectation is made from the tables below, never by the grammar.

use benchcall::app::assets;
use benchcall::app::job::Job;
use benchcall::event::{Event, Fact, Gap, Outcome, Position, Reading, Side, Value, Valve};
use benchcall::grammar::Heard;
use benchcall::measure::{Length, LengthUnit, Quantity};
use benchcall::session::step;
use std::collections::BTreeSet;

const ONES: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: [&str; 10] = [
    "", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
];
/// Words that carry a digit, a position or a unit: changing one may change the reading.
const VALUE_WORDS: &str = "zero oh nought one two three four five six seven eight nine ten eleven twelve thirteen \
    fourteen fifteen sixteen seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred \
    double triple half quarter point decimal comma plus \
    inlet intake in exhaust ex left right middle centre front rear back inner inside outer outside \
    millimetres millimetre mil thou thousandths inch inches hundredths hundredth tenths tenth microns micron";

/// A whole number below 100 in words.
fn words(n: i64) -> String {
    let (ten, one) = (n / 10, n % 10);
    let at = |table: &[&str], i: i64| table[usize::try_from(i).unwrap()].to_owned();
    match (n, one) {
        (0..=19, _) => at(&ONES, n),
        (_, 0) => at(&TENS, ten),
        _ => format!("{} {}", at(&TENS, ten), at(&ONES, one)),
    }
}

/// Figures one by one; `zero` is how a nought is called.
fn digits(figures: &str, zero: &str) -> String {
    let word = |c: char| match c.to_digit(10) {
        Some(0) => zero,
        Some(d) => ONES[d as usize],
        None => "point",
    };
    figures.chars().map(word).collect::<Vec<_>>().join(" ")
}

/// Ways to call a clearance of `n` hundredths of a millimetre.
fn clearances(n: i64) -> Vec<String> {
    let two = format!("{n:02}");
    let mut all = vec![
        digits(&two, "oh"),
        format!("point {}", digits(&two, "oh")),
        format!("zero point {}", digits(&two, "zero")),
        format!("nought point {}", digits(&two, "nought")),
        format!("0.{two}"),
        words(n),
        format!("{} hundredths", words(n)),
    ];
    if n >= 10 {
        all.push(format!("point {}", words(n)));
        all.push(format!("{} microns", {
            if n % 10 == 0 {
                digits(&(n * 10).to_string(), "zero")
            } else {
                digits(&format!("{n}0"), "oh")
            }
        }));
    }
    all
}

/// Ways to call a shim of `um` micrometres.
fn shims(um: i64) -> Vec<String> {
    let (whole, rest) = (um / 1_000, um % 1_000);
    if rest % 10 != 0 {
        let three = format!("{rest:03}");
        return vec![
            format!("{} {}", words(whole), digits(&three, "oh")),
            format!("{} point {}", words(whole), digits(&three, "zero")),
            format!("{} {} and a half", words(whole), words(rest / 10)),
        ]
        .into_iter()
        .filter(|text| rest >= 100 || !text.ends_with("half"))
        .collect();
    }
    let hundredths = rest / 10;
    let two = format!("{hundredths:02}");
    let mut all = vec![
        format!("{} {}", words(whole), digits(&two, "oh")),
        format!("{} point {}", words(whole), digits(&two, "zero")),
        format!("{whole}.{two}"),
    ];
    match hundredths {
        0 => all.push(format!("{} hundred", words(whole))),
        1..=9 => all.push(format!(
            "{} hundred and {}",
            words(whole),
            words(hundredths)
        )),
        _ => {
            all.push(format!("{} {}", words(whole), words(hundredths)));
            all.push(format!(
                "{} hundred and {}",
                words(whole),
                words(hundredths)
            ));
            all.push(format!("{} hundred {}", words(whole), words(hundredths)));
        }
    }
    all
}

/// Every valve of the triple, and ways to call it.
fn places() -> Vec<(Position, Vec<String>)> {
    let mut all = Vec::new();
    for cylinder in 1..=3_u8 {
        for (side, sides) in [
            (Side::Inlet, ["inlet", "intake"]),
            (Side::Exhaust, ["exhaust", "ex"]),
        ] {
            for (valve, name) in [(Valve::Left, "left"), (Valve::Right, "right")] {
                let number = words(i64::from(cylinder));
                let mut ways = Vec::new();
                for side in sides {
                    ways.extend([
                        format!("{number} {side} {name}"),
                        format!("cylinder {number} {side} {name}"),
                        format!("cylinder {number}, {side}, {name} hand"),
                        format!("pot {number} {side} {name}"),
                        format!("number {number} {side} {name}"),
                        format!("{side} {number} {name}"),
                        format!("{side} {name} cylinder {number}"),
                        format!("{name} {side} cylinder {number}"),
                        format!("{number} {name} {side}"),
                    ]);
                }
                let position = Position {
                    cylinder,
                    side,
                    valve: Some(valve),
                };
                all.push((position, ways));
            }
        }
    }
    all
}

/// What a text must come to.
struct Line {
    text: String,
    reading: Reading,
    /// Outside the usual range: asked.
    unusual: bool,
}

/// The usual clearances of the two sides in hundredths of a millimetre: 0.03 to 0.35 and 0.05 to
/// 0.45 mm (common practice, no source).
fn usual(side: Side, n: i64) -> bool {
    match side {
        Side::Inlet => (3..=35).contains(&n),
        Side::Exhaust => (5..=45).contains(&n),
    }
}

fn table() -> Vec<Line> {
    let places = places();
    let mut all: Vec<Line> = Vec::new();
    let mut turn = 0_usize;
    // One place after another, each time called another way.
    let mut add =
        |quantity, value, side_unusual: &dyn Fn(Side) -> bool, form: &dyn Fn(&str) -> String| {
            let (position, ways) = &places[turn % places.len()];
            let way = &ways[turn / places.len() % ways.len()];
            turn += 1;
            let text = form(way);
            let unit = if text.contains("microns") {
                LengthUnit::Micron
            } else {
                LengthUnit::Millimetre
            };
            all.push(Line {
                text,
                reading: Reading {
                    position: Some(*position),
                    part: None,
                    head: None,
                    quantity,
                    value,
                    unit,
                },
                unusual: side_unusual(position.side),
            });
        };
    let hundredths = |n: i64| Length::from_um(n * 10);
    for n in 3..=45_i64 {
        let larger = n + 3;
        let unusual = |side: Side| !usual(side, n);
        let either = |side: Side| !usual(side, n) || !usual(side, larger);
        let others = clearances(larger);
        for (i, value) in clearances(n).iter().enumerate() {
            // What stands between the two must not carry a unit for one of them only.
            let with_unit = |text: &String| text.contains("hundredths") || text.contains("microns");
            let next = if with_unit(value) {
                others
                    .iter()
                    .find(|o| o.ends_with(value.rsplit(' ').next().unwrap()))
                    .unwrap()
            } else {
                let plain: Vec<&String> = others.iter().filter(|o| !with_unit(o)).collect();
                plain[i % plain.len()]
            };
            let single = Value::Gap(Gap::Single(hundredths(n)));
            let goes = Value::Gap(Gap::AtLeast(hundredths(n)));
            let stops = Value::Gap(Gap::Below(hundredths(n)));
            let both = Value::Gap(Gap::Between {
                goes_nm: hundredths(n),
                stops_nm: hundredths(larger),
            });
            let clearance = Quantity::Clearance;
            add(clearance, single, &unusual, &|p| format!("{p}, {value}"));
            add(clearance, single, &unusual, &|p| {
                format!("{p} clearance {value}")
            });
            add(clearance, single, &unusual, &|p| {
                format!("{p} tight {value}")
            });
            add(clearance, goes, &unusual, &|p| format!("{p} {value} goes"));
            add(clearance, goes, &unusual, &|p| {
                format!("{p} takes the {value} easy")
            });
            add(clearance, stops, &unusual, &|p| {
                format!("{p} {value} won't go")
            });
            add(clearance, stops, &unusual, &|p| {
                format!("{p} won't take the {value}")
            });
            add(clearance, both, &either, &|p| {
                format!("{p}, {value} goes, {next} doesn't")
            });
            add(clearance, both, &either, &|p| {
                format!("{p} {value} in {next} no")
            });
            if !with_unit(value) {
                add(clearance, both, &either, &|p| {
                    format!("{p} between {value} and {next}")
                });
            }
        }
    }
    for um in (2_000..=3_500).step_by(25) {
        let value = Value::Shim {
            marked_nm: Some(Length::from_um(um)),
            measured_nm: None,
        };
        for called in shims(um) {
            let shim = Quantity::ShimFitted;
            add(shim, value, &|_| false, &|p| format!("{p}, shim {called}"));
            add(shim, value, &|_| false, &|p| format!("shim {p}, {called}"));
        }
    }
    all
}

/// What a fresh job makes of a text; nothing is kept.
fn taken(job: &Job, text: &str) -> Event {
    step(&job.setup, &job.state, job.typed(text))
}

fn fresh() -> Job {
    let mut job =
        Job::unkept(assets::english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
    // Every blade is owned: whether one is not, is tested elsewhere.
    job.setup.blades = (1..=100).map(|n| Length::from_um(n * 10)).collect();
    // With a valve open, so that a phrase that lost its place still is one.
    job.say("two inlet right").unwrap();
    job
}

fn readings(event: &Event) -> Vec<Reading> {
    let facts = event.facts.iter();
    facts
        .filter_map(|f| match f {
            Fact::Read(reading) => Some(*reading),
            _ => None,
        })
        .collect()
}

#[test]
fn the_phrase_table() {
    let (job, table) = (fresh(), table());
    let texts: BTreeSet<&str> = table.iter().map(|l| l.text.as_str()).collect();
    assert!(texts.len() >= 3_000, "{} different utterances", texts.len());
    let mut wrong = Vec::new();
    for line in &table {
        let event = taken(&job, &line.text);
        let as_expected = if line.unusual {
            let proposed = event.facts.iter().any(
                |f| matches!(f, Fact::Asked(q) if q.proposed.contains(&Fact::Read(line.reading))),
            );
            event.outcome == Outcome::Asked && proposed && readings(&event).is_empty()
        } else {
            event.outcome == Outcome::Stored && readings(&event) == [line.reading]
        };
        if !as_expected {
            let asked = if line.unusual { "asked " } else { "" };
            wrong.push(format!(
                "\"{}\": {:?} {} {:?}, expected {asked}{:?}",
                line.text,
                event.outcome,
                event.why,
                readings(&event),
                line.reading.value
            ));
        }
    }
    println!("{} utterances, {} different", table.len(), texts.len());
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        table.len(),
        wrong
            .iter()
            .take(40)
            .cloned()
            .collect::<Vec<_>>()
            .join("\n")
    );
}

/// One reading of each form, with the words that are not values in several ways.
const MUTATED: [&str; 10] = [
    "cylinder three exhaust left point one five",
    "three exhaust left clearance fifteen",
    "three exhaust left fifteen goes",
    "three exhaust left takes the fifteen easy",
    "three exhaust left fifteen won't go",
    "three exhaust left fifteen goes eighteen doesn't",
    "three exhaust left between fifteen and eighteen",
    "three exhaust left shim two sixty five",
    "three exhaust left marked two sixty five mikes two six four",
    "correction three exhaust left fifteen",
];

/// Whether two values have the same form: only then can one be taken for the other.
fn same_form(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Gap(a), Value::Gap(b)) => std::mem::discriminant(a) == std::mem::discriminant(b),
        // A mark and a micrometer reading are different forms.
        (
            Value::Shim {
                marked_nm: a,
                measured_nm: b,
            },
            Value::Shim {
                marked_nm: c,
                measured_nm: d,
            },
        ) => (a.is_some(), b.is_some()) == (c.is_some(), d.is_some()),
        _ => std::mem::discriminant(a) == std::mem::discriminant(b),
    }
}

/// One word dropped, added or replaced by any word of the language, or by one that is not of it,
/// never makes another stored reading of the same form, unless it carries a value itself.
#[test]
fn one_wrong_word_makes_no_other_reading() {
    let values: BTreeSet<&str> = VALUE_WORDS.split_whitespace().collect();
    let job = fresh();
    let mut pool = job.setup.grammar.words();
    pool.extend(["please", "hammer", "um"].map(str::to_owned));
    pool.retain(|w| !values.contains(w.as_str()));
    let halves = MUTATED.split_at(MUTATED.len() / 2);
    let mutate = |texts: &[&str]| -> (usize, Vec<String>) {
        let job = fresh();
        let (mut tried, mut wrong) = (0, Vec::new());
        for text in texts {
            let said: Vec<&str> = text.split(' ').collect();
            let event = taken(&job, text);
            let meant = readings(&event);
            let asked = event.facts.iter().find_map(|f| match f {
                Fact::Asked(q) => q.proposed.first(),
                _ => None,
            });
            let meant = match (meant.first(), asked) {
                (Some(reading), _) | (None, Some(Fact::Read(reading))) => *reading,
                _ => panic!("\"{text}\" is not a reading: {event:?}"),
            };
            let mut check = |mutated: &[&str]| {
                let mutated = mutated.join(" ");
                tried += 1;
                let hearing = job.typed(&mutated);
                // What is no phrase is searched for its reading, and that takes its time. It is only
                // ever asked, so a few of them show it.
                let phrase = matches!(hearing.interpretation, Heard::Accepted(_));
                if !phrase && !usize::is_multiple_of(tried, 100) {
                    return;
                }
                let event = step(&job.setup, &job.state, hearing);
                let other = readings(&event).into_iter().find(|r| {
                    *r != meant && r.quantity == meant.quantity && same_form(&r.value, &meant.value)
                });
                if let (Outcome::Stored, Some(other)) = (event.outcome, other) {
                    wrong.push(format!("\"{text}\" -> \"{mutated}\": {other:?}"));
                }
            };
            for at in 0..said.len() {
                let (before, after) = (&said[..at], &said[at + 1..]);
                if !values.contains(said[at]) {
                    check(&[before, after].concat());
                    for word in &pool {
                        check(&[before, &[word.as_str()], after].concat());
                    }
                }
            }
            for at in 0..=said.len() {
                for word in &pool {
                    check(&[&said[..at], &[word.as_str()], &said[at..]].concat());
                }
            }
        }
        (tried, wrong)
    };
    let ((a, mut wrong), (b, more)) = std::thread::scope(|scope| {
        let first = scope.spawn(|| mutate(halves.0));
        let second = mutate(halves.1);
        (first.join().unwrap(), second)
    });
    wrong.extend(more);
    println!("{} mutations", a + b);
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        a + b,
        wrong.join("\n")
    );
}
