//! The word bank, listened to with the project's own recogniser.

use benchcall::app::job::Job;
use benchcall::app::{assets, recogniser, speech};
use benchcall::audio::{RATE_HZ, resample};
use benchcall::event::{Fact, Gap, Outcome, Position, Reading, Side, Value, Valve};
use benchcall::measure::{Length, LengthUnit, Quantity};
use benchcall::understand::Listener;
use benchcall::voice::Voice;

#[test]
fn the_bank_has_every_word_that_can_be_read_back() {
    let bank = speech::bank().unwrap();
    let words = assets::english().unwrap().wording.pieces();
    let missing: Vec<String> = words
        .iter()
        .filter(|w| !bank.missing(w).is_empty())
        .cloned()
        .collect();
    assert!(missing.is_empty(), "not in the bank: {missing:?}");
}

/// A reading of two blades is read back in two seconds, whichever valve and blades of the triple it
/// is; its verdict comes after it, and takes no more than half a second.
#[test]
fn a_reading_of_two_blades_is_read_back_in_two_seconds() {
    let mut bank = speech::bank().unwrap();
    let job = Job::unkept(assets::english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
    let (profile, wording) = (&job.setup.profile, &job.setup.grammar.wording);
    let (mut longest, mut all) = ((0, String::new()), Vec::new());
    for position in profile.valves() {
        for (at, goes_nm) in profile.blades.iter().enumerate() {
            for stops_nm in &profile.blades[at + 1..] {
                let text = wording.reading(&Reading {
                    position: Some(position),
                    part: None,
                    head: None,
                    quantity: Quantity::Clearance,
                    value: Value::Gap(Gap::Between {
                        goes_nm: *goes_nm,
                        stops_nm: *stops_nm,
                    }),
                    unit: LengthUnit::Millimetre,
                });
                let ms = bank.render(&text).unwrap().length_ms();
                all.push(ms);
                longest = longest.max((ms, text));
            }
        }
    }
    all.sort_unstable();
    println!(
        "{} readings: half take {} ms or less, the longest {longest:?}",
        all.len(),
        all[all.len() / 2]
    );
    assert_eq!(all.len(), 12 * 210);
    assert!(longest.0 <= 2_000, "{longest:?}");
    let with_verdict = bank
        .render(&format!("{}, on the limit", longest.1))
        .unwrap();
    assert!(
        with_verdict.length_ms() <= 2_500,
        "{}",
        with_verdict.length_ms()
    );
}

fn um(um: i64) -> Length {
    Length::from_um(um)
}

/// One of each kind of reading that is spoken, over the cylinders, sides and digits.
fn readings() -> Vec<Fact> {
    let gaps = [
        Gap::Between {
            goes_nm: um(150),
            stops_nm: um(180),
        },
        Gap::Between {
            goes_nm: um(220),
            stops_nm: um(250),
        },
        Gap::Single(um(130)),
        Gap::Single(um(300)),
        Gap::AtLeast(um(200)),
        Gap::Below(um(100)),
        Gap::None,
    ];
    let shims = [
        (Some(um(2_650)), None),
        (None, Some(um(2_648))),
        (Some(um(2_700)), Some(um(2_690))),
    ];
    let values = gaps
        .map(|g| (Quantity::Clearance, Value::Gap(g)))
        .into_iter();
    let values = values.chain(shims.map(|(marked_nm, measured_nm)| {
        (
            Quantity::ShimFitted,
            Value::Shim {
                marked_nm,
                measured_nm,
            },
        )
    }));
    let places = [
        (Side::Inlet, Valve::Left),
        (Side::Exhaust, Valve::Right),
        (Side::Inlet, Valve::Right),
        (Side::Exhaust, Valve::Left),
    ];
    let mut facts: Vec<Fact> = values
        .enumerate()
        .map(|(i, (quantity, value))| {
            let (side, valve) = places[i % places.len()];
            let cylinder = u8::try_from(i % 3 + 1).unwrap();
            let position = Some(Position {
                cylinder,
                side,
                valve: Some(valve),
            });
            Fact::Read(Reading {
                position,
                part: None,
                head: None,
                quantity,
                value,
                unit: LengthUnit::Millimetre,
            })
        })
        .collect();
    facts.push(Fact::Spare {
        size_nm: um(2_750),
        count: 1,
    });
    facts.push(Fact::Opened(Position {
        cylinder: 3,
        side: Side::Exhaust,
        valve: Some(Valve::Right),
    }));
    facts
}

/// Every kind of read-back, played to the recogniser, comes back as the same event, or is asked; never
/// as another one.
#[test]
fn what_is_read_back_is_heard_as_the_same_event() {
    let mut bank = speech::bank().unwrap();
    let mut listener = Listener::new(recogniser::load("en", None).unwrap());
    let (mut same, facts) = (0, readings());
    let mut others = Vec::new();
    for fact in &facts {
        let mut job =
            Job::unkept(assets::english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
        let text = job.setup.grammar.wording.fact(fact);
        let sound = bank.render(&text).unwrap();
        let pcm: Vec<f32> = sound
            .samples
            .iter()
            .map(|s| f32::from(*s) / 32_768.0)
            .collect();
        let mut pcm = resample(&pcm, sound.rate_hz, RATE_HZ, 1).unwrap();
        pcm.extend(vec![0.0; 16_000]);
        let mut heard = listener.feed(&pcm, &mut job).unwrap();
        heard.extend(listener.finish(&mut job).unwrap());
        let events: Vec<_> = heard.into_iter().map(|h| h.event).collect();
        let stored = events.iter().filter(|e| e.outcome == Outcome::Stored);
        let wrong = stored.clone().any(|e| {
            e.facts
                .iter()
                .any(|f| matches!(f, Fact::Read(_) | Fact::Spare { .. }) && f != fact)
        });
        assert!(!wrong, "\"{text}\" came back as {events:?}");
        if stored.clone().any(|e| e.facts.contains(fact)) {
            same += 1;
        } else {
            others.push(format!(
                "\"{text}\" was heard as {:?}",
                events.iter().map(|e| &e.said).collect::<Vec<_>>()
            ));
        }
    }
    println!(
        "{same} of {} read-backs came back as the same event",
        facts.len()
    );
    assert!(
        same * 10 >= facts.len() * 8,
        "{same} of {}: {others:#?}",
        facts.len()
    );
}
