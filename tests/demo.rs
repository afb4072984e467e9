//! The recorded session through the real recogniser, the conversation, the store and the engine.

use benchcall::app::job::Job;
use benchcall::app::recogniser;
use benchcall::audio::read_clip;
use benchcall::evaluate::Script;
use benchcall::event::{Fact, Outcome};
use benchcall::measure::LengthUnit;
use benchcall::understand::Listener;
use std::path::Path;

/// None stored as something else; nearly all understood. The truth beside the recording was
/// written with its script, not by this program.
#[test]
fn the_recorded_session_stores_nothing_wrong() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/session");
    let script = Script::read(&folder).unwrap();
    assert!(script.len() >= 60);
    let temporary = tempfile::tempdir().unwrap();
    let place = temporary.path().join("job");
    let mut job = Job::create(&place, "triple", LengthUnit::Millimetre, Vec::new()).unwrap();
    let mut listener = Listener::new(recogniser::load("en", None).unwrap());
    let clip = read_clip(&folder.join("session.flac")).unwrap();
    let mut heard = listener.feed(&clip.samples, &mut job).unwrap();
    heard.extend(listener.finish(&mut job).unwrap());
    let result = script.compare(&heard);
    println!("{result}");
    assert_eq!(result.stored_wrong, 0, "{result}");
    assert!(result.exact * 100 >= result.lines * 90, "{result}");

    // What was read back is on the disk, with its clip, and the state there is the same.
    let events = job.state.events().to_vec();
    drop(job);
    let again = Job::look(&place).unwrap();
    assert_eq!(again.state.events(), events);
    for event in events
        .iter()
        .filter(|e| e.outcome == Outcome::Stored && e.id > 1)
    {
        let sound = event.sound.as_ref().unwrap();
        assert!(
            place.join(format!("clips/{}.wav", sound.sha256)).is_file(),
            "event {}",
            event.id
        );
    }
    let readings = events
        .iter()
        .flat_map(|e| &e.facts)
        .filter(|f| matches!(f, Fact::Read(_)))
        .count();
    assert!(readings >= 24, "{readings} readings");
    assert_eq!(again.state.view.remaining(), []);
}
