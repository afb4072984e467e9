//! What happens around the program while it works: output that nobody reads, files that never end, a
//! folder that goes away, a voice that was tampered with.

use super::support::{err, hiss, program};
use benchcall::app::job::Job;
use benchcall::audio::{Clip, encode_wav};
use benchcall::event::{Event, Outcome, Sound};
use benchcall::measure::LengthUnit;
use benchcall::session::Hearing;
use benchcall::store::sha256_hex;
use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

fn benchcall(args: &[&str]) -> Command {
    let mut command = program();
    command.args(args);
    command
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn job() -> (tempfile::TempDir, PathBuf, Job) {
    let dir = tempfile::TempDir::new().unwrap();
    let path = dir.path().join("job");
    let job = Job::create(&path, "triple", LengthUnit::Millimetre, Vec::new()).unwrap();
    (dir, path, job)
}

fn events(path: &Path) -> Vec<Event> {
    Job::look(path).unwrap().state.events().to_vec()
}

#[test]
fn what_nobody_can_read_is_stored_and_ends_with_a_sentence() {
    let (_dir, path, open) = job();
    drop(open);
    let texts = ["one inlet left fifteen"; 40];
    let args = [&["say", "--job", path.to_str().unwrap()][..], &texts].concat();
    let mut child = benchcall(&args)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take()); // whoever read it is gone
    let ended = child.wait_with_output().unwrap();
    assert!(!ended.status.success());
    let says = err(&ended);
    assert!(says.contains("standard output is closed"), "{says}");
    assert!(says.contains("is stored but cannot be printed"), "{says}");
    let stored = events(&path).len();
    assert!((2..10).contains(&stored), "{stored}: no more is taken");
}

/// A recording is heard in one go; each line is there as soon as it is stored.
#[test]
fn what_is_stored_of_a_recording_is_shown_at_once() {
    let (_dir, path, open) = job();
    drop(open);
    let recording = root().join("fixtures/session/session.flac");
    let args = [
        "hear",
        "--json",
        "--job",
        path.to_str().unwrap(),
        recording.to_str().unwrap(),
    ];
    let mut child = benchcall(&args).stdout(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    for _ in 0..3 {
        lines.next().unwrap().unwrap();
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let shown = 3 + lines.map_while(Result::ok).count();
    let stored = events(&path).len() - 1;
    assert!(stored <= shown + 1, "{stored} stored, {shown} shown");
}

#[cfg(unix)]
#[test]
fn a_pipe_in_place_of_a_file_is_refused_at_once() {
    let (dir, path, open) = job();
    drop(open);
    let pipe = dir.path().join("pipe.toml");
    assert!(
        Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    let (job, pipe) = (path.to_str().unwrap(), pipe.to_str().unwrap());
    let new = dir.path().join("new");
    let new = new.to_str().unwrap();
    for args in [
        &["hear", "--job", job, pipe][..],
        &["report", "--job", new, "--import", pipe],
        &["new", new, "--engine", pipe],
        &["score", pipe],
        &["hear", "--job", job, "--model", pipe, pipe],
    ] {
        let mut child = benchcall(args)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let begun = Instant::now();
        while child.try_wait().unwrap().is_none() {
            if begun.elapsed() > Duration::from_secs(20) {
                child.kill().unwrap();
                panic!("{args:?} waits for ever");
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        let ended = child.wait_with_output().unwrap();
        assert!(!ended.status.success(), "{args:?}");
        let says = err(&ended);
        assert!(
            says.contains("a folder, a pipe or a device"),
            "{args:?}: {says}"
        );
    }
}

/// Two lines of the voice's table that changed places would speak one number for another.
#[cfg(unix)]
#[test]
fn a_voice_that_was_tampered_with_is_refused_and_the_current_folder_brings_none() {
    let (dir, path, open) = job();
    drop(open);
    let models = dir.path().join("models");
    fs::create_dir_all(models.join("voice")).unwrap();
    for name in [
        "manifest.toml",
        "ggml-tiny.en-bench-q8_0.bin",
        "voice/bank.flac",
    ] {
        let whole = root().join("models").join(name);
        std::os::unix::fs::symlink(whole, models.join(name)).unwrap();
    }
    let table = fs::read_to_string(root().join("models/voice/bank.tsv")).unwrap();
    let mut rows: Vec<&str> = table.lines().collect();
    rows.swap(0, 1);
    let (a, b) = (
        rows[0].split_once('\t').unwrap(),
        rows[1].split_once('\t').unwrap(),
    );
    let (first, second) = (format!("{}\t{}", a.0, b.1), format!("{}\t{}", b.0, a.1));
    (rows[0], rows[1]) = (&first, &second);
    fs::write(models.join("voice/bank.tsv"), rows.join("\n") + "\n").unwrap();
    let clip = root().join("fixtures/recogniser/yes.wav");
    let args = [
        "listen",
        "--silent",
        "--job",
        path.to_str().unwrap(),
        "--recording",
        clip.to_str().unwrap(),
    ];
    let listens = |models: Option<&Path>| {
        let mut command = benchcall(&args);
        command.current_dir(dir.path());
        command.env_remove("BENCHCALL_MODELS");
        command.envs(models.map(|m| ("BENCHCALL_MODELS", m)));
        command.output().unwrap()
    };
    let refused = listens(Some(&models));
    assert!(!refused.status.success());
    assert!(err(&refused).contains("bank.tsv"), "{}", err(&refused));
    let whole = listens(None);
    assert!(whole.status.success(), "{}", err(&whole));
}

/// Says a phrase with a sound; an error is as a person reads it.
fn say(job: &mut Job) -> Result<Event, String> {
    let clip = format!("sound {}", job.state.next_id());
    let sound = Some(Sound {
        sha256: sha256_hex(clip.as_bytes()),
        length_ms: 10,
        overruns: 0,
        model: String::new(),
    });
    let hearing = Hearing {
        sound,
        ..job.typed("note the bucket is scuffed")
    };
    job.take(hearing, Some(clip.as_bytes()))
        .map_err(|e| format!("{e:#}"))
}

#[test]
fn sounds_find_a_new_folder_and_a_job_that_went_away_says_so() {
    let (dir, path, mut job) = job();
    say(&mut job).unwrap();
    fs::remove_dir_all(path.join("clips")).unwrap();
    let event = say(&mut job).unwrap();
    let sound = event.sound.unwrap().sha256;
    assert!(job.clip(&sound).is_ok(), "listening goes on");
    let before = job.state.events().to_vec();
    let elsewhere = dir.path().join("elsewhere");
    fs::rename(&path, &elsewhere).unwrap();
    let says = say(&mut job).unwrap_err();
    assert!(says.contains("no longer there"), "{says}");
    assert!(!says.contains("os error"), "{says}");
    assert_eq!(job.state.events(), before);
    drop(job);
    assert_eq!(events(&elsewhere), before, "what was read back is stored");
}

/// A program that synchronises folders puts a copy in the place of the database: what would be added to
/// the file that it was is seen by nobody.
#[test]
#[cfg(unix)]
fn a_copy_in_the_place_of_the_database_is_noticed() {
    let (dir, path, mut job) = job();
    say(&mut job).unwrap();
    let (database, copy) = (path.join("job.sqlite"), dir.path().join("copy"));
    fs::copy(&database, &copy).unwrap();
    fs::rename(&copy, &database).unwrap();
    let says = say(&mut job).unwrap_err();
    assert!(says.contains("no longer there"), "{says}");
    let typed = job.say("two inlet left").unwrap_err();
    assert!(typed.to_string().contains("replaced"), "{typed}");
}

/// A disk of this test alone, so small that it is soon full; gone with it.
#[cfg(target_os = "linux")]
struct Disk(tempfile::TempDir);

#[cfg(target_os = "linux")]
impl Disk {
    /// `None`, with a word about it, for whoever may not mount one.
    fn of(megabytes: u32) -> Option<Self> {
        let disk = Self(tempfile::tempdir().unwrap());
        let size = format!("size={megabytes}m");
        if disk.mount(&["-t", "tmpfs", "-o", &size, "tmpfs"]) {
            return Some(disk);
        }
        println!("skipped: only root may mount a disk");
        None
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn mount(&self, args: &[&str]) -> bool {
        let mut mount = Command::new("mount");
        mount.args(args).arg(self.path()).stderr(Stdio::null());
        mount.status().is_ok_and(|s| s.success())
    }
}

#[cfg(target_os = "linux")]
impl Drop for Disk {
    fn drop(&mut self) {
        let mut unmount = Command::new("umount");
        let _ = unmount.arg("-l").arg(self.path()).status();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_disk_without_room_gets_no_job_and_no_half_of_one() {
    let (dir, path, open) = job();
    drop(open);
    let saved = dir.path().join("saved.json");
    let (path, saved) = (path.to_str().unwrap(), saved.to_str().unwrap());
    let kept = benchcall(&["report", "--job", path, "--json", saved]).output();
    assert!(kept.unwrap().status.success());
    let Some(disk) = Disk::of(12) else { return };
    let new = disk.path().join("job");
    let new = new.to_str().unwrap();
    for args in [
        &["new", new, "--engine", "triple"][..],
        &["report", "--job", new, "--import", saved],
    ] {
        let refused = benchcall(args).output().unwrap();
        let says = err(&refused);
        assert!(!refused.status.success(), "{args:?}");
        assert!(says.contains("MB are left"), "{args:?}: {says}");
        assert!(
            says.contains("Nothing was made; make room"),
            "{args:?}: {says}"
        );
        let left = fs::read_dir(disk.path()).unwrap().count();
        assert_eq!(left, 0, "{args:?} left something");
    }
}

/// Every time in a record so much later.
fn later(value: &mut Value, by_ms: i64) {
    match value {
        Value::Object(entries) => {
            for (key, value) in entries {
                match value.as_i64().filter(|_| key == "at_ms") {
                    Some(at_ms) => *value = (at_ms + by_ms).into(),
                    None => later(value, by_ms),
                }
            }
        }
        Value::Array(all) => all.iter_mut().for_each(|value| later(value, by_ms)),
        _ => {}
    }
}

/// What was said before a clock is set back has later times than what is said after it. The order is that
/// in which it was said.
#[test]
fn a_clock_that_is_set_back_changes_no_order() {
    const TEN_YEARS_MS: i64 = 10 * 365 * 24 * 3_600_000;
    let (dir, path, mut open) = job();
    let before = open.say("one inlet left fifteen").unwrap();
    assert_eq!(before.outcome, Outcome::Stored);
    drop(open);
    let at = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let (saved, set_back) = (at("saved.json"), at("set-back"));
    let does = |args: &[&str]| {
        let output = benchcall(args).output().unwrap();
        assert!(output.status.success(), "{args:?}: {}", err(&output));
        String::from_utf8(output.stdout).unwrap()
    };
    does(&["report", "--job", path.to_str().unwrap(), "--json", &saved]);
    let mut record: Value = serde_json::from_str(&fs::read_to_string(&saved).unwrap()).unwrap();
    later(&mut record, TEN_YEARS_MS);
    fs::write(&saved, record.to_string()).unwrap();
    does(&["report", "--job", &set_back, "--import", &saved]);
    let phrases = ["correction one inlet left sixteen", "two inlet left twenty"];
    does(&[&["say", "--job", &set_back][..], &phrases].concat());
    let told = events(Path::new(&set_back));
    let times: Vec<i64> = told.iter().map(|e| e.at_ms).collect();
    assert!(times[1] > times[2], "{times:?}");
    let ids: Vec<u64> = told.iter().map(|e| e.id).collect();
    assert_eq!(ids, [1, 2, 3, 4]);
    assert!(
        told.iter().all(|e| e.outcome == Outcome::Stored),
        "{told:?}"
    );
    let job = Job::look(Path::new(&set_back)).unwrap();
    let gap = |event: &Event| job.state.counting().counts(event.id);
    assert_eq!([1, 2, 3].map(|i| gap(&told[i])), [false, true, true]);
    for args in [
        &["report", "--job", &set_back, "--html", "-"][..],
        &["sheet", "--job", &set_back],
        &["check", "--job", &set_back],
    ] {
        does(args);
    }
}

/// The second is told, and the first goes on.
#[test]
fn two_programs_at_one_job_never_write_beside_each_other() {
    let (_dir, path, mut open) = job();
    let before = events(&path);
    let args = [
        "say",
        "--job",
        path.to_str().unwrap(),
        "one inlet left fifteen",
    ];
    let second = benchcall(&args).output().unwrap();
    let says = err(&second);
    assert!(!second.status.success());
    assert!(says.contains("open"), "{says}");
    assert_eq!(events(&path), before);
    assert_eq!(
        open.say("one inlet left fifteen").unwrap().outcome,
        Outcome::Stored
    );
    drop(open);
    assert!(benchcall(&args).output().unwrap().status.success());
    assert_eq!(events(&path).len(), before.len() + 2);
}

/// Nothing is written while nobody speaks, so the folder itself is looked at.
#[cfg(unix)]
#[test]
fn a_job_that_goes_away_while_nobody_speaks_ends_the_listening_in_words() {
    let (dir, path, open) = job();
    drop(open);
    let before = events(&path);
    let quiet = dir.path().join("quiet.wav");
    let noise = Clip::new(hiss(60, 1e-4));
    fs::write(&quiet, encode_wav(&noise).unwrap()).unwrap();
    let (job, quiet) = (path.to_str().unwrap(), quiet.to_str().unwrap());
    let args = [
        "listen",
        "--job",
        job,
        "--board",
        "--silent",
        "--recording",
        quiet,
    ];
    let mut child = benchcall(&args)
        .env("BENCHCALL_SETTINGS", dir.path().join("settings"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // The address is there once it listens.
    let mut line = String::new();
    let mut out = BufReader::new(child.stdout.take().unwrap());
    out.read_line(&mut line).unwrap();
    assert!(line.starts_with("http"), "{line}");
    let elsewhere = dir.path().join("elsewhere");
    fs::rename(&path, &elsewhere).unwrap();
    let begun = Instant::now();
    while child.try_wait().unwrap().is_none() {
        if begun.elapsed() > Duration::from_secs(30) {
            child.kill().unwrap();
            panic!("it listens to a job that is not there");
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    println!("told after {:?}", begun.elapsed());
    let says = err(&child.wait_with_output().unwrap());
    assert!(says.contains("is gone (removed, renamed"), "{says}");
    assert!(says.contains("start again"), "{says}");
    assert_eq!(events(&elsewhere), before);
}
