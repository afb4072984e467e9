//! A job with an event of version 4, which adds a quantity, the clearance of a stem in its guide:
//! `fixtures/stores/v4` is made once, by `make` below, and opened ever after.

use super::store_fixture::{clip, events as events_of_v1, opens_reads_and_goes_on};
use benchcall::event::{Event, Fact, Value};
use benchcall::measure::{Amount, Length, Quantity};
use benchcall::store::{JobFolder, Store};
use std::path::{Path, PathBuf};

fn fixture() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/stores/v4")
}

/// The first three of version 1; the third reads the clearance of a stem.
fn events() -> Vec<Event> {
    let mut events = events_of_v1();
    events.truncate(3);
    for fact in &mut events[2].facts {
        if let Fact::Read(reading) = fact {
            reading.quantity = Quantity::StemClearance;
            reading.value = Value::Amount(Amount::LengthNm(Length::from_um(40)));
        }
    }
    events
}

#[test]
fn a_job_of_version_4_opens_reads_and_goes_on() {
    opens_reads_and_goes_on(&fixture(), &events());
}

/// Makes the fixture, once: an existing one is refused by `create`.
#[test]
#[ignore = "makes a fixture"]
fn make() {
    let events = events();
    let mut job = JobFolder::create(&fixture(), &events[0]).unwrap();
    for event in &events[1..] {
        job.append(event, event.sound.is_some().then(clip).as_deref())
            .unwrap();
    }
    drop(job);
    std::fs::write(fixture().join("job.lock"), "0\n").unwrap();
}
