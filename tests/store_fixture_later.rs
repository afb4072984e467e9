//! Small jobs with what a version of the event after the second adds: `fixtures/stores/v3` and `v4`
//! are made once, by `make` below, and opened ever after.

use super::store_fixture::{clip, events as events_of_v1, opens_reads_and_goes_on};
use benchcall::event::{Event, Fact, Rival, Value};
use benchcall::measure::{Amount, Length, Quantity};
use benchcall::store::{JobFolder, Store};
use std::path::{Path, PathBuf};

fn fixture(version: u8) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("fixtures/stores/v{version}"))
}

/// The first three of version 1, the third with what `version` adds.
fn events(version: u8) -> Vec<Event> {
    let mut events = events_of_v1();
    events.truncate(3);
    let third = &mut events[2];
    match version {
        // It was heard, with a rival.
        3 => {
            third.rival = Some(Rival {
                said: "sixteen goes eighteen wont".to_owned(),
                margin_nats: 3.25,
            });
        }
        // It reads the clearance of a stem in its guide.
        _ => {
            for fact in &mut third.facts {
                if let Fact::Read(reading) = fact {
                    reading.quantity = Quantity::StemClearance;
                    reading.value = Value::Amount(Amount::LengthNm(Length::from_um(40)));
                }
            }
        }
    }
    events
}

#[test]
fn jobs_of_versions_3_and_4_open_read_and_go_on() {
    for version in [3, 4] {
        opens_reads_and_goes_on(&fixture(version), &events(version));
    }
}

/// Makes the newest fixture, once: an existing one is refused by `create`.
#[test]
#[ignore = "makes a fixture"]
fn make() {
    let (path, events) = (fixture(4), events(4));
    let mut job = JobFolder::create(&path, &events[0]).unwrap();
    for event in &events[1..] {
        job.append(event, event.sound.is_some().then(clip).as_deref())
            .unwrap();
    }
    drop(job);
    std::fs::write(path.join("job.lock"), "0\n").unwrap();
}
