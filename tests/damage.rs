//! A job that was damaged from outside the program: what is noticed, what is kept, what it says.

use super::support::{benchcall, err, out, program};
use benchcall::app::job::Job;
use benchcall::event::{Event, Sound};
use benchcall::grammar::Dice;
use benchcall::measure::LengthUnit;
use benchcall::session::Hearing;
use benchcall::store::{JobFolder, Saved, Store, sha256_hex};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

const PHRASES: [&str; 8] = [
    "three exhaust left fifteen goes eighteen wont",
    "one inlet right",
    "thirteen goes fifteen wont",
    "two exhaust left twenty goes twenty three wont",
    "correction eighteen goes twenty wont",
    "one inlet left shim two sixty",
    "disregard",
    "note the bucket is scuffed",
];

fn say(job: &mut Job, phrase: &str) -> Event {
    let id = job.state.next_id();
    let clip = format!("the sound of {id}");
    let sound = (!id.is_multiple_of(3)).then(|| Sound {
        sha256: sha256_hex(clip.as_bytes()),
        length_ms: 10,
        overruns: 0,
        model: String::new(),
    });
    let clip = sound.is_some().then_some(clip.as_bytes());
    let hearing = Hearing {
        sound: sound.clone(),
        ..job.typed(phrase)
    };
    job.take(hearing, clip).unwrap()
}

struct Made {
    dir: tempfile::TempDir,
    job: PathBuf,
    events: Vec<Event>,
}

impl Made {
    fn path(&self) -> &str {
        self.job.to_str().unwrap()
    }

    fn at(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    fn file(&self, name: &str) -> PathBuf {
        self.job.join(name)
    }

    /// The record as JSON, with its sounds.
    fn write_record(&self, json: &str) -> Output {
        benchcall(&[
            "report",
            "--job",
            self.path(),
            "--json",
            json,
            "--with-sound",
        ])
    }
}

fn folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() {
        tempfile::TempDir::new_in(memory).unwrap()
    } else {
        tempfile::TempDir::new().unwrap()
    }
}

/// A job of so many events. If `killed`, its log was not folded in, as after a kill.
fn made(events: usize, killed: bool) -> Made {
    let dir = folder();
    let (work, job) = (dir.path().join("work"), dir.path().join("job"));
    let mut at_work = Job::create(&work, "triple", LengthUnit::Millimetre, Vec::new()).unwrap();
    while at_work.state.events().len() < events {
        let phrase = PHRASES[at_work.state.events().len() % PHRASES.len()];
        say(&mut at_work, phrase);
    }
    let events = at_work.state.events().to_vec();
    if killed {
        copy(&work, &job);
    }
    drop(at_work);
    if !killed {
        fs::rename(&work, &job).unwrap();
    }
    Made { dir, job, events }
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy(&path, &target);
        } else {
            fs::copy(&path, target).unwrap();
        }
    }
}

#[derive(Default, Debug)]
struct Flips {
    found: u32,
    /// Nothing that was stored is different.
    harmless: u32,
    kept: usize,
    events: usize,
}

/// Changes one bit or one byte of the job's files, so many times, each in a whole job.
fn flips(made: &Made, times: usize, dice: &mut Dice) -> Flips {
    let names = ["job.sqlite", "job.sqlite-wal", "job.last"];
    let files: Vec<(PathBuf, Vec<u8>)> = names
        .iter()
        .filter_map(|n| Some((made.file(n), fs::read(made.file(n)).ok()?)))
        .filter(|(_, bytes)| !bytes.is_empty())
        .collect();
    let all: usize = files.iter().map(|(_, bytes)| bytes.len()).sum();
    let mut flips = Flips::default();
    for _ in 0..times {
        let mut at = dice.below(all);
        let (path, whole) = files
            .iter()
            .find(|(_, bytes)| {
                let here = at < bytes.len();
                at -= if here { 0 } else { bytes.len() };
                here
            })
            .unwrap();
        let mut bytes = whole.clone();
        let before = bytes[at];
        if dice.below(2) == 0 {
            bytes[at] ^= 1 << dice.below(8);
        } else {
            bytes[at] = u8::try_from(dice.below(256)).unwrap();
        }
        fs::write(path, &bytes).unwrap();
        let what = format!("{}: byte {at}, {before} -> {}", path.display(), bytes[at]);
        match JobFolder::open_read_only(&made.job).and_then(|job| job.events()) {
            Ok(events) => {
                assert_eq!(events, made.events, "{what}: silently different");
                flips.harmless += 1;
            }
            Err(_) => flips.found += 1,
        }
        if let Ok(saved) = Saved::open(&made.job) {
            for event in saved.events().unwrap() {
                let damaged = event.command.as_deref() == Some("damaged");
                let as_stored = made.events.get(usize::try_from(event.id).unwrap() - 1);
                assert!(damaged || Some(&event) == as_stored, "{what}: {event:?}");
                flips.kept += usize::from(!damaged);
            }
        }
        flips.events += made.events.len();
        for (path, whole) in &files {
            fs::write(path, whole).unwrap();
        }
        let _ = fs::remove_file(made.file("job.sqlite-shm"));
    }
    flips
}

/// The long form: `BENCHCALL_DAMAGE_FLIPS=20000`.
#[test]
fn no_flipped_bit_changes_a_reading_in_silence() {
    let wanted = std::env::var("BENCHCALL_DAMAGE_FLIPS").ok();
    let times = wanted.map_or(2_000, |n| n.parse().unwrap());
    let now = std::time::SystemTime::UNIX_EPOCH.elapsed().unwrap();
    let seed = u64::from(now.subsec_nanos());
    let mut dice = Dice::new(seed);
    for killed in [false, true] {
        let flips = flips(&made(40, killed), times / 2, &mut dice);
        println!(
            "{} flips (log folded in: {}): {} found, {} changed nothing that was stored, 0 silent; \
             {} of {} events could be saved (seed {seed})",
            times / 2,
            !killed,
            flips.found,
            flips.harmless,
            flips.kept,
            flips.events
        );
        assert!(
            flips.found > 0 && flips.kept * 10 > flips.events * 9,
            "{flips:?}"
        );
    }
}

/// A digit of a reading is changed in the file: the reading is left out, the others stay, nothing is
/// added, and all that checks out can be saved.
#[test]
fn a_changed_digit_is_named_and_the_rest_is_kept() {
    let made = made(12, false);
    let file = made.file("job.sqlite");
    let mut bytes = fs::read(&file).unwrap();
    let (from, to) = (b"\"goes_nm\":150000,", b"\"goes_nm\":950000,");
    let at = bytes.windows(from.len()).position(|w| w == from).unwrap();
    bytes[at..at + to.len()].copy_from_slice(to);
    fs::write(&file, &bytes).unwrap();

    let refused = benchcall(&["say", "--job", made.path(), "left"]);
    assert!(!refused.status.success());
    let says = err(&refused);
    assert!(says.contains("11 events check out, event 9 not"), "{says}");
    assert!(says.contains("benchcall recover --job"), "{says}");
    assert_eq!(fs::read(&file).unwrap(), bytes, "nothing was changed");

    let sheet = benchcall(&["sheet", "--job", made.path()]);
    assert!(err(&sheet).contains("event 9"), "{}", err(&sheet));
    assert!(out(&sheet).contains("exhaust"), "the rest is readable");
    assert!(!out(&sheet).contains("0.95"), "{}", out(&sheet));
    assert!(!sheet.status.success(), "a script notices too");
    every_face_says(made.path(), "event 9 not");

    let state = benchcall(&["check", "--job", made.path()]);
    assert!(!state.status.success());
    assert!(out(&state).contains("event 9"), "{}", out(&state));

    let into = made.at("saved");
    let into = into.to_str().unwrap();
    let saved = benchcall(&["recover", "--job", made.path(), "--into", into, "--json"]);
    assert!(saved.status.success(), "{}", err(&saved));
    let saved: serde_json::Value = serde_json::from_str(&out(&saved)).unwrap();
    assert_eq!(saved["events"], 11);
    assert_eq!(saved["damaged"], serde_json::json!([9]));
    assert!(benchcall(&["say", "--job", into, "left"]).status.success());
    let events = JobFolder::open(Path::new(into)).unwrap().events().unwrap();
    assert_eq!(events.len(), 13);
    assert_eq!(events[7], made.events[7]);
    assert!(events[8].facts.is_empty() && events[8].why.contains("damaged"));
    assert!(benchcall(&["check", "--job", into]).status.success());
    every_face_says(into, "1 of its events was damaged");
}

/// On paper too, where nobody sees what the terminal said.
fn every_face_says(job: &str, damage: &str) {
    let formats = ["--html", "--csv", "--json"].map(|f| ["report", "--job", job, f, "-"]);
    for args in formats {
        let shown = out(&benchcall(&args));
        assert!(shown.contains(damage), "{args:?}: {shown}");
    }
    for face in ["sheet", "shims", "turns", "progress", "findings"] {
        let shown = out(&benchcall(&[face, "--job", job]));
        assert!(shown.contains(damage), "{face}: {shown}");
        let shown = out(&benchcall(&[face, "--job", job, "--json"]));
        let shown: serde_json::Value = serde_json::from_str(&shown).unwrap();
        let line = shown["damage"].as_str().unwrap_or_default();
        assert!(line.contains(damage), "{face} --json: {shown}");
    }
}

/// Loses the end of a job; the second is an older one.
type Lose = fn(&Made, &Made);

/// The log with the newest readings is removed or cut, or an older database is put back.
#[test]
fn a_job_that_lost_its_end_is_noticed() {
    let whole = made(12, true);
    let older = made(6, false);
    let lose: [(&str, Lose); 4] = [
        ("removed", |m, _| {
            fs::remove_file(m.file("job.sqlite-wal")).unwrap();
        }),
        ("cut", |m, _| {
            let log = fs::read(m.file("job.sqlite-wal")).unwrap();
            fs::write(m.file("job.sqlite-wal"), &log[..log.len() / 2]).unwrap();
        }),
        ("older", |m, older| {
            fs::copy(older.file("job.sqlite"), m.file("job.sqlite")).unwrap();
        }),
        ("older, no log", |m, older| {
            fs::remove_file(m.file("job.sqlite-wal")).unwrap();
            fs::copy(older.file("job.sqlite"), m.file("job.sqlite")).unwrap();
        }),
    ];
    for (name, lose) in lose {
        let job = whole.at(name);
        copy(&whole.job, &job);
        let _ = fs::remove_file(job.join("job.sqlite-shm"));
        let lost = Made {
            dir: folder(),
            job,
            events: whole.events.clone(),
        };
        lose(&lost, &older);
        // A log that covers all of an older database brings everything back.
        let kept = JobFolder::open_read_only(&lost.job).and_then(|job| job.events());
        if kept.is_ok_and(|events| events == lost.events) {
            assert_eq!(name, "older");
            continue;
        }
        let says = err(&benchcall(&["say", "--job", lost.path(), "left"]));
        assert!(says.contains("damaged"), "{name}: {says}");
        let shown = benchcall(&["sheet", "--job", lost.path()]);
        assert!(!shown.status.success(), "{name}: {}", err(&shown));
    }
}

#[test]
fn what_was_done_to_the_database_is_said_and_what_is_left_is_saved() {
    let whole = made(60, false);
    let file = |job: &Path| job.join("job.sqlite");
    let bytes = fs::read(file(&whole.job)).unwrap();
    let mut zeroed = bytes.clone();
    zeroed[..4096].fill(0);
    let mut hole = bytes.clone();
    let middle = bytes.len() / 2 / 4096 * 4096;
    hole[middle..middle + 4096].fill(0);
    let cases: [(&str, Option<&[u8]>, bool); 6] = [
        ("cut", Some(&bytes[..bytes.len() * 2 / 3 + 100]), true),
        ("beginning zeroed", Some(&zeroed), true),
        ("a page zeroed", Some(&hole), true),
        ("all zeroed", Some(&vec![0; bytes.len()]), false),
        (
            "another program's",
            Some(b"a letter, not a database"),
            false,
        ),
        ("gone", None, false),
    ];
    for (name, bytes, left) in cases {
        let job = whole.at(name);
        copy(&whole.job, &job);
        match bytes {
            Some(bytes) => fs::write(file(&job), bytes).unwrap(),
            None => fs::remove_file(file(&job)).unwrap(),
        }
        let path = job.to_str().unwrap();
        let refused = benchcall(&["say", "--job", path, "left"]);
        let says = err(&refused);
        assert!(!refused.status.success(), "{name}");
        assert!(!says.contains("remove the folder"), "{name}: {says}");
        assert_eq!(says.contains("benchcall recover"), left, "{name}: {says}");
        println!("{name}: {says}");
        assert_eq!(
            fs::read(file(&job)).ok().as_deref(),
            bytes,
            "left as it was"
        );
        let into = whole.at(&format!("{name}, saved"));
        let into = into.to_str().unwrap();
        let args = [
            "recover", "--job", path, "--into", into, "--engine", "triple",
        ];
        let saved = benchcall(&args);
        assert_eq!(saved.status.success(), left, "{name}: {}", err(&saved));
        println!("{name}: {}{}", out(&saved), err(&saved));
        if left {
            let sheet = benchcall(&["sheet", "--job", into]);
            assert!(sheet.status.success(), "{name}: {}", err(&sheet));
        } else {
            assert!(says.contains("39 sounds"), "{name}: {says}");
            assert!(!Path::new(into).exists());
        }
    }
}

/// An import that was cut off anywhere leaves no half job, and can be repeated.
#[test]
fn an_import_that_is_killed_can_be_repeated() {
    let made = made(60, false);
    let json = made.at("record.json");
    let json = json.to_str().unwrap();
    let written = made.write_record(json);
    assert!(written.status.success(), "{}", err(&written));
    let place = tempfile::TempDir::new().unwrap(); // on a disk that takes its time
    let into = place.path().join("again");
    let args = ["report", "--job", into.to_str().unwrap(), "--import", json];
    let (mut cut_off, mut whole) = (0, 0);
    for round in 0..12 {
        let mut child = program()
            .args(args)
            .stdout(std::process::Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(std::time::Duration::from_millis(10 + 15 * round));
        let _ = child.kill();
        child.wait().unwrap();
        if into.exists() {
            let events = JobFolder::open(&into).unwrap().events().unwrap();
            assert_eq!(events, made.events, "whole, or not there");
            whole += 1;
            fs::remove_dir_all(&into).unwrap();
        } else {
            cut_off += 1;
        }
    }
    println!("{cut_off} imports cut off, {whole} whole");
    assert!(cut_off > 0);
    let again = benchcall(&args);
    assert!(again.status.success(), "{}", err(&again));
    let job = JobFolder::open(&into).unwrap();
    assert_eq!(job.events().unwrap(), made.events);
    assert_eq!(
        fs::read_dir(place.path()).unwrap().count(),
        1,
        "nothing beside it"
    );
}

/// A foreign folder may hold links that lead elsewhere: none is followed, nothing there is changed.
#[cfg(unix)]
#[test]
fn links_in_a_job_are_not_followed() {
    use std::os::unix::fs::symlink;
    let whole = made(4, false);
    let files = [
        "job.lock",
        "job.last",
        "job.sqlite",
        "job.sqlite-wal",
        "job.sqlite-shm",
        "clips",
    ];
    for name in files {
        let job = whole.at(&format!("link {name}"));
        copy(&whole.job, &job);
        let target = whole.at(&format!("target of {name}"));
        let link = job.join(name);
        if name == "clips" {
            fs::rename(&link, &target).unwrap();
            fs::write(target.join("other.part"), "of another").unwrap();
        } else {
            let _ = fs::remove_file(&link);
            fs::write(&target, "of another").unwrap();
        }
        symlink(&target, &link).unwrap();
        for args in [&["say", "left"][..], &["sheet"], &["forget"]] {
            let mut args = args.to_vec();
            args.extend(["--job", job.to_str().unwrap()]);
            let refused = benchcall(&args);
            assert!(!refused.status.success(), "{name}: {args:?}");
            let says = err(&refused);
            assert!(says.contains("symbolic link"), "{name}: {says}");
        }
        let kept = if name == "clips" {
            target.join("other.part")
        } else {
            target
        };
        assert_eq!(fs::read(kept).unwrap(), b"of another", "{name}");
    }
}

/// A report that is to hold the sounds says which it does not.
#[test]
fn a_report_names_the_sounds_that_it_lacks() {
    let made = made(6, false);
    let sound = made.events.iter().find_map(|e| e.sound.as_ref()).unwrap();
    let clip = made.file("clips").join(format!("{}.wav", sound.sha256));
    fs::write(&clip, "another sound").unwrap();
    let json = made.at("record.json");
    let json = json.to_str().unwrap();
    let written = made.write_record(json);
    assert!(!written.status.success());
    assert!(err(&written).contains("damaged"), "{}", err(&written));
    let state = benchcall(&["check", "--job", made.path(), "--json"]);
    assert!(!state.status.success());
    let state: serde_json::Value = serde_json::from_str(&out(&state)).unwrap();
    assert_eq!(state[0]["good"], true, "{state}");
    assert_eq!(state[1]["good"], false, "{state}");
}

/// Time that this thread computed, in milliseconds, whatever else the machine does (proc(5), schedstat).
fn computed_ms() -> f64 {
    let text = fs::read_to_string("/proc/thread-self/schedstat").unwrap();
    text.split(' ').next().unwrap().parse::<f64>().unwrap() / 1e6
}

/// What opening costs: the walk along the chain alone, reading the events besides, and all that a face
/// needs. Of a session, and of one reading that is put right again and again.
#[test]
#[ignore = "a measurement"]
#[cfg(target_os = "linux")]
fn opening_as_a_job_grows() {
    let right = [
        "correction eighteen goes twenty wont",
        "correction fifteen goes eighteen wont",
    ];
    let kinds: [(&str, &[&str]); 2] = [("session", &PHRASES), ("corrections", &right)];
    println!(
        "milliseconds computed: {:>21} {:>8} {:>8}",
        "checked", "read", "looked at"
    );
    for (kind, phrases) in kinds {
        let dir = folder();
        let path = dir.path().join("job");
        let mut job = Job::create(&path, "triple", LengthUnit::Millimetre, Vec::new()).unwrap();
        job.say(PHRASES[0]).unwrap();
        for events in [100, 1_000, 5_000, 20_000] {
            while job.state.events().len() < events {
                job.say(phrases[job.state.events().len() % phrases.len()])
                    .unwrap();
            }
            let of = |what: &dyn Fn()| {
                let time = |_| {
                    let begun = computed_ms();
                    what();
                    computed_ms() - begun
                };
                (0..5).map(time).fold(f64::MAX, f64::min)
            };
            let checked = of(&|| drop(JobFolder::open_read_only(&path).unwrap()));
            let kept = JobFolder::open_read_only(&path).unwrap();
            let read = of(&|| drop(kept.events().unwrap()));
            let looked = of(&|| drop(Job::look(&path).unwrap()));
            println!("{kind:<12} {events:>8} events {checked:>16.1} {read:>8.1} {looked:>8.1}");
        }
    }
}
