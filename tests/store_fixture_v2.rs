//! A job of layout 1 with events of version 2, every kind of fact in it: `fixtures/stores/v2` is made
//! once, by `make` below, and opened ever after.

use super::store_fixture::{
    clip, events as events_of_v1, opens_reads_and_goes_on, position, reading,
};
use benchcall::event::{
    Coil, Event, Fact, Fastener, Line, Outcome, Part, Reading, Side, Sound, Value,
};
use benchcall::measure::{Amount, Length, Quantity, Unit};
use benchcall::store::{Error, JobFolder, Store, sha256_hex};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn fixture() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/stores/v2")
}

/// The sound of talk that was ignored, and is forgotten.
const TALK: &[u8] = b"RIFF of talk that was not for the tool";

/// A reading of a part, or of the engine.
fn of_part(part: Part, quantity: Quantity, value: Value) -> Fact {
    Fact::Read(Reading {
        position: None,
        part: Some(part),
        ..reading(quantity, value)
    })
}

/// What version 2 added.
fn added() -> Vec<Vec<Fact>> {
    let um = |um| Amount::LengthNm(Length::from_um(um));
    let milli = |milli, unit| Value::Amount(Amount::Milli(milli, unit));
    let cylinder = Part::Cylinder {
        number: 2,
        wet: true,
        heard: None,
    };
    let bolt = Part::Bolt {
        kind: Fastener::HeadBolt,
        cam: None,
        number: Some(7),
        stage: Some(2),
    };
    let journal = Part::Journal {
        thread: false,
        cam: Some(Side::Inlet),
        number: 3,
    };
    let load = Value::Pair(Amount::Milli(210_000, Unit::Newton), um(32_000));
    let line = Part::Line(Line::Diagonal);
    let camshaft = Part::Camshaft(Side::Exhaust);
    let item = "plugs_in".to_owned();
    vec![
        vec![of_part(
            cylinder,
            Quantity::Compression,
            milli(12_500, Unit::Bar),
        )],
        vec![of_part(bolt, Quantity::Torque, Value::Done)],
        vec![of_part(
            journal,
            Quantity::JournalClearance,
            Value::Amount(um(51)),
        )],
        vec![of_part(
            Part::Spring(Coil::Inner),
            Quantity::SpringLoad,
            load,
        )],
        vec![of_part(line, Quantity::Flatness, Value::Amount(um(30)))],
        vec![of_part(
            camshaft,
            Quantity::EndFloat,
            Value::Amount(um(120)),
        )],
        vec![Fact::Checked {
            head: None,
            item,
            count: Some(3),
            good: true,
            position: None,
        }],
        vec![Fact::Task {
            kind: "replace".to_owned(),
            text: "the seal".to_owned(),
            position: Some(position()),
        }],
        vec![Fact::Ticked(21)],
        vec![Fact::Stage {
            stage: "strip".to_owned(),
            done: false,
        }],
        vec![Fact::NoteBegun(Some(position()))],
        vec![Fact::NoteLine("the seat is narrow".to_owned())],
        vec![Fact::NoteEnded],
        vec![Fact::Reviewed {
            event: 3,
            truth: "fifteen goes eighteen wont".to_owned(),
            facts: events_of_v1()[2].facts.clone(),
        }],
    ]
}

/// All of them: those of version 1, what version 2 added, ignored talk, and its clip forgotten.
fn events() -> Vec<Event> {
    let mut all = events_of_v1();
    if let Fact::Begun {
        gauge,
        wrench,
        language,
        ..
    } = &mut all[0].facts[0]
    {
        (*gauge, *wrench) = (Unit::Psi, Unit::PoundFoot);
        *language = "de".to_owned();
    }
    let mut next = |outcome: Outcome, facts: Vec<Fact>, sound: Option<Sound>| {
        let id = all.len() as u64 + 1;
        all.push(Event {
            id,
            at_ms: 1_790_000_000_000 + i64::try_from(id).unwrap() * 5_000,
            said: format!("phrase {id}"),
            outcome,
            why: "made".to_owned(),
            spoken: String::new(),
            command: None,
            subject: None,
            confidence: 0.5,
            rival: None,
            sound,
            grammar: "89abcdef01234567".to_owned(),
            facts,
        });
        id
    };
    for facts in added() {
        next(Outcome::Stored, facts, None);
    }
    let talk = Sound {
        sha256: sha256_hex(TALK),
        length_ms: 10,
        overruns: 0,
        model: "0011223344556677".to_owned(),
    };
    let talk = next(Outcome::Ignored, Vec::new(), Some(talk));
    let events = vec![talk];
    next(Outcome::Stored, vec![Fact::Forgot { events }], None);
    all
}

/// The name of a fact's kind. A new one must be named here, and brings the next fixture.
const fn kind(fact: &Fact) -> &'static str {
    match fact {
        Fact::Begun { .. } => "begun",
        Fact::Opened(_) => "opened",
        Fact::Read(_) => "read",
        Fact::Spare { .. } => "spare",
        Fact::Checked { .. } => "checked",
        Fact::Task { .. } => "task",
        Fact::Ticked(_) => "ticked",
        Fact::Stage { .. } => "stage",
        Fact::Cancelled(_) => "cancelled",
        Fact::Note { .. } => "note",
        Fact::NoteBegun(_) => "note_begun",
        Fact::NoteLine(_) => "note_line",
        Fact::NoteEnded => "note_ended",
        Fact::Asked(_) => "asked",
        Fact::Closed => "closed",
        Fact::StandBy => "stand_by",
        Fact::Listening => "listening",
        Fact::Reviewed { .. } => "reviewed",
        Fact::Forgot { .. } => "forgot",
        // Since version 5: it is in that fixture.
        Fact::ShimFrom { .. } => "shim_from",
        // Since version 6.
        Fact::Repaired { .. } => "repaired",
        Fact::RoundBegun => "round_begun",
        Fact::About { .. } => "about",
        Fact::ProfileChanged { .. } => "profile_changed",
        // Since version 7: it is in `v8`.
        Fact::OpenedHead(_) => "opened_head",
    }
}

#[test]
fn every_kind_of_fact_is_in_it() {
    let events = events();
    let facts = events.iter().flat_map(|e| &e.facts);
    let kinds: BTreeSet<&str> = facts.map(kind).collect();
    assert_eq!(kinds.len(), 19, "{kinds:?}");
    assert_eq!(events[20].facts.len(), 1);
    assert!(
        matches!(events[20].facts[0], Fact::Task { .. }),
        "ticked is 21"
    );
}

#[test]
fn a_job_of_version_2_opens_reads_and_goes_on() {
    let (_dir, job) = opens_reads_and_goes_on(&fixture(), &events());
    assert!(matches!(
        job.clip(&sha256_hex(TALK)),
        Err(Error::ClipForgotten { .. })
    ));
}

/// A later layout is refused in words and left as it was, byte for byte.
#[test]
fn a_newer_job_is_refused_and_untouched() {
    let dir = tempfile::TempDir::new().unwrap();
    let path = dir.path().join("job");
    drop(JobFolder::create(&path, &events()[0]).unwrap());
    let file = path.join("job.sqlite");
    let mut bytes = fs::read(&file).unwrap();
    bytes[60..64].copy_from_slice(&7_u32.to_be_bytes()); // user version, SQLite file format 1.3
    fs::write(&file, &bytes).unwrap();
    for open in [JobFolder::open, JobFolder::open_read_only] {
        let error = open(&path).err().unwrap().to_string();
        assert!(error.contains("newer benchcall (job format 7"), "{error}");
        assert!(error.contains("update benchcall"), "{error}");
    }
    assert_eq!(fs::read(&file).unwrap(), bytes);
}

/// Makes the fixture, once: an existing one is refused by `create`.
#[test]
#[ignore = "makes a fixture"]
fn make() {
    let events = events();
    let mut job = JobFolder::create(&fixture(), &events[0]).unwrap();
    for event in &events[1..] {
        if matches!(event.facts[..], [Fact::Forgot { .. }]) {
            assert_eq!(job.forget(event).unwrap(), 1);
            continue;
        }
        let sound = event.sound.as_ref();
        let talk = sound.is_some_and(|s| s.sha256 == sha256_hex(TALK));
        let bytes = if talk { TALK.to_vec() } else { clip() };
        job.append(event, sound.map(|_| bytes.as_slice())).unwrap();
    }
    drop(job);
    fs::write(fixture().join("job.lock"), "0\n").unwrap();
}
