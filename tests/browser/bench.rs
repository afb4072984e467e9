//! A running `benchcall` that serves pages, and jobs to serve.

use super::driver::Browser;
use super::{PATIENCE, browser};
use crate::support::{self, fixtures};
use benchcall::audio::{Clip, encode_wav};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Output, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use tempfile::TempDir;

pub(super) struct Bench {
    child: Child,
    /// Where its pages lie, up to the slash.
    pub(super) url: String,
    /// As printed: it lets in the first browser that opens it. The same as `url` with `--lan`.
    entry: String,
    errors: Receiver<String>,
    /// What goes with it.
    folder: Option<TempDir>,
}

/// What the program does with these arguments, which is done.
pub(super) fn benchcall(args: &[&str]) -> Output {
    let output = support::benchcall(args);
    assert!(
        output.status.success(),
        "{args:?}: {}",
        support::err(&output)
    );
    output
}

/// A job of the demo engine in which these phrases were typed.
pub(super) fn job(folder: &Path, phrases: &[String]) -> String {
    let job = folder.join("head").to_str().unwrap().to_owned();
    benchcall(&["new", &job, "--engine", "triple"]);
    let mut args = vec!["say", "--job", &job];
    args.extend(phrases.iter().map(String::as_str));
    if !phrases.is_empty() {
        benchcall(&args);
    }
    job
}

/// A browser that shows the board of a bench in a quiet room, the job in which these were typed, and the
/// bench; none without a browser. The job is gone with the bench.
pub(super) fn board_of(phrases: &[&str]) -> Option<(Browser, String, Bench)> {
    let folder = tempfile::tempdir().unwrap();
    let browser = browser(None)?;
    let phrases: Vec<String> = phrases.iter().map(|&p| p.to_owned()).collect();
    let job = job(folder.path(), &phrases);
    let mut bench = Bench::listening(folder.path(), &job, &[]);
    bench.folder = Some(folder);
    bench.enter(&browser);
    let shown = "['listening', 'asking'].includes(document.body.dataset.state) && document.querySelector('.valve')";
    browser.until(shown, PATIENCE);
    Some((browser, job, bench))
}

/// The lines of the demo's session up to the one that holds `last`.
pub(super) fn script(last: &str) -> Vec<String> {
    let path = fixtures().join("session/script.tsv");
    let text = std::fs::read_to_string(path).unwrap();
    let said = |line: &str| line.rsplit('\t').next().unwrap().to_owned();
    let mut lines: Vec<String> = text.lines().skip(1).map(said).collect();
    let end = lines.iter().position(|l| l.contains(last)).unwrap();
    lines.truncate(end + 1);
    lines
}

/// The sound of a quiet room, as long as a test may last: a microphone that is there.
pub(super) fn quiet_room(folder: &Path) -> String {
    room_for(3, folder)
}

fn room_for(minutes: u32, folder: &Path) -> String {
    let path = folder.join("quiet.wav");
    let noise = support::hiss(minutes as usize * 60, 1e-4);
    std::fs::write(&path, encode_wav(&Clip::new(noise)).unwrap()).unwrap();
    path.to_str().unwrap().to_owned()
}

impl Bench {
    /// Listens to a quiet room, with the board.
    pub(super) fn listening(folder: &Path, job: &str, more: &[&str]) -> Self {
        Self::listening_for(3, folder, job, more)
    }

    /// The same, for so many minutes.
    pub(super) fn listening_for(minutes: u32, folder: &Path, job: &str, more: &[&str]) -> Self {
        let room = room_for(minutes, folder);
        let listen = ["listen", "--job", job, "--board", "--silent", "--recording"];
        Self::start(&[&listen[..], &[&room], more].concat())
    }

    /// The bench of the jobs in `jobs` of this folder, with the settings in `settings` of it.
    pub(super) fn of_jobs(folder: &Path, more: &[&str]) -> Self {
        let (place, settings) = (folder.join("jobs"), folder.join("settings"));
        let bench = ["bench", place.to_str().unwrap(), "--port", "0"];
        Self::start_with(Some(&settings), &[&bench[..], more].concat())
    }

    /// The same in a quiet room, with its first page in this browser.
    pub(super) fn at_home(browser: &Browser, folder: &Path) -> Self {
        let room = quiet_room(folder);
        let bench = Self::of_jobs(folder, &["--silent", "--recording", &room]);
        bench.enter(browser);
        browser.ready();
        bench
    }

    /// Starts a command that prints its address first.
    pub(super) fn start(args: &[&str]) -> Self {
        Self::start_with(None, args)
    }

    /// With a settings folder of its own; else with that of this run, never the person's.
    pub(super) fn start_with(settings: Option<&Path>, args: &[&str]) -> Self {
        let of_run = Path::new(env!("CARGO_TARGET_TMPDIR"));
        let of_run = of_run.join(format!("settings-{}", std::process::id()));
        let settings = settings.unwrap_or(&of_run);
        let mut child = support::program()
            .args(args)
            .env("BENCHCALL_SETTINGS", settings)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let (tell, errors) = channel();
        let said = BufReader::new(child.stderr.take().unwrap());
        std::thread::spawn(move || {
            for line in said.lines().map_while(Result::ok) {
                let _ = tell.send(line);
            }
        });
        let mut entry = String::new();
        out.read_line(&mut entry).unwrap();
        let entry = entry.trim().to_owned();
        let said = || errors.try_iter().collect::<Vec<_>>();
        assert!(entry.starts_with("http"), "{entry:?}: {:?}", said());
        let url = entry.split("pair#").next().unwrap().to_owned();
        std::thread::spawn(move || out.lines().map_while(Result::ok).for_each(drop));
        Self {
            child,
            url,
            entry,
            errors,
            folder: None,
        }
    }

    /// Opens its first page as the person does: by the printed address.
    pub(super) fn enter(&self, browser: &Browser) {
        browser.open(&self.entry);
        browser.until("location.pathname === '/'", PATIENCE);
    }

    /// Opens another of its pages.
    pub(super) fn open(&self, browser: &Browser, page: &str) {
        browser.open(&format!("{}{page}", self.url));
        browser.ready();
    }

    /// The address that lets in one browser more.
    pub(super) fn another_way_in(&self) -> String {
        loop {
            let line = self.errors.recv_timeout(Duration::from_secs(30)).unwrap();
            if let Some((_, link)) = line.split_once("Another browser: open ") {
                return link.trim().to_owned();
            }
        }
    }

    /// The bytes of memory that it holds now.
    pub(super) fn memory(&self) -> f64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap();
        let line = status.lines().find(|l| l.starts_with("VmRSS:")).unwrap();
        let kb: f64 = line.split_whitespace().nth(1).unwrap().parse().unwrap();
        kb * 1024.0
    }

    /// It ends by itself, and says that all went well.
    pub(super) fn ends(&mut self) {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if let Some(status) = self.child.try_wait().unwrap() {
                assert!(status.success(), "{status}");
                return;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        panic!("it goes on");
    }

    /// The line that it prints after one with these words.
    pub(super) fn line_after(&self, words: &str) -> String {
        let next = || self.errors.recv_timeout(Duration::from_secs(30)).unwrap();
        while !next().contains(words) {}
        next()
    }

    /// The next pairing code that it shows.
    pub(super) fn code(&self) -> String {
        let begun = Instant::now();
        loop {
            let line = self.errors.recv_timeout(Duration::from_secs(30)).unwrap();
            if let Some((_, rest)) = line.split_once("and type ") {
                return rest.chars().filter(char::is_ascii_digit).collect();
            }
            assert!(begun.elapsed() < Duration::from_secs(30));
        }
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
