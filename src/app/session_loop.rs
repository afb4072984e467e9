//! The session loop: sound, keys and typed words in; stored, shown, printed, spoken and muted out, in
//! that order. Nothing else performs what an utterance causes.

use super::bench_state::{Arrival, BenchNow, BenchState};
use super::disk_space::{DiskSpace, Left};
use super::forget::Whose;
use super::in_words::in_words;
use super::job::Job;
use crate::event::Event;
use crate::grammar::Command;
use crate::report::{Line, Timing};
use crate::session::{Manner, Review, ReviewError};
use crate::understand::{Listener, Recognised};
use anyhow::{Result, bail};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// After the loudspeaker has sounded, the room still does for this long.
const TAIL: Duration = Duration::from_millis(200);

/// What happens at the bench.
pub enum Input<'a> {
    /// Sound came: mono, 16 kHz; and how often some of it was lost before it.
    Audio {
        /// The samples.
        samples: &'a [f32],
        /// Losses.
        lost: u32,
    },
    /// A key, a pedal or a button that means a command.
    Key(Command),
    /// The key that must be pressed before anything is heard: pressed once more it ends that.
    Talk,
    /// Typed words.
    Typed(&'a str),
    /// Who was speaking was sent away: what is being said is not heard.
    SentAway,
    /// The stream of sound ends; more sound begins a new one.
    Stop,
}

/// One utterance that is done: stored, and about to be shown.
pub struct Done {
    /// What came of it.
    pub event: Event,
    /// How it was recognised; `None` if it was typed or a key's.
    pub recognised: Option<Recognised>,
}

/// Where the person sees and hears what happened.
pub trait Faces {
    /// Shows the job as it is now.
    ///
    /// # Errors
    /// When the board cannot be made.
    fn board(&mut self, _job: &Job) -> Result<()> {
        Ok(())
    }

    /// Shows what the bench does from now on.
    fn state(&mut self, _now: &BenchNow) {}

    /// Prints one utterance.
    ///
    /// # Errors
    /// When nobody can read it any more.
    fn print(&mut self, done: Done) -> Result<()>;

    /// Says it aloud and returns when it has sounded.
    fn speak(&mut self, _words: &str) {}

    /// Speaks as the person has asked for from now on.
    fn manner(&mut self, _manner: &Manner) {}

    /// Tells of trouble that the person must know of.
    fn notice(&mut self, _words: &str) {}
}

/// The loop on one job.
pub struct SessionLoop<F> {
    /// Where it shows.
    pub faces: F,
    job: Arc<Mutex<Job>>,
    listener: Option<Listener>,
    /// Sound is not an utterance while the tool speaks; false with a headset.
    half_duplex: bool,
    /// How far the loudspeaker is behind what it says of itself.
    behind: Duration,
    muted_until: Option<Instant>,
    /// A key must be pressed before each utterance.
    push_to_talk: bool,
    shut: bool,
    disk: Option<DiskSpace>,
    arrival: Arrival,
    speaking: bool,
    /// Why listening has ended.
    over: Option<BenchState>,
    trouble: String,
    /// What the faces show as the state.
    shown: BenchNow,
    /// The last event of the job that was shown and said, or was there before.
    performed: usize,
}

impl<F: Faces> SessionLoop<F> {
    /// On a job; without a listener only typed words and keys come.
    pub fn new(job: Job, listener: Option<Listener>, faces: F) -> Self {
        Self {
            faces,
            performed: job.state.events().len(),
            job: Arc::new(Mutex::new(job)),
            listener,
            half_duplex: false,
            behind: Duration::ZERO,
            muted_until: None,
            push_to_talk: false,
            shut: false,
            disk: None,
            arrival: Arrival::new(),
            speaking: false,
            over: None,
            trouble: String::new(),
            shown: BenchNow::STARTING,
        }
    }

    /// What the microphone catches of the tool's own voice is not heard.
    #[must_use]
    pub const fn half_duplex(mut self, on: bool) -> Self {
        self.half_duplex = on;
        self
    }

    /// The loudspeaker sounds so much longer than it says.
    #[must_use]
    pub const fn behind(mut self, by: Duration) -> Self {
        self.behind = by;
        self
    }

    /// Nothing is heard until [`Input::Talk`], and then one utterance.
    #[must_use]
    pub const fn push_to_talk(mut self, on: bool) -> Self {
        (self.push_to_talk, self.shut) = (on, on);
        self
    }

    /// Warns when the disk of this folder fills up, and ends before it is full.
    #[must_use]
    pub fn watching(mut self, folder: &Path) -> Self {
        self.disk = Some(DiskSpace::new(folder));
        self
    }

    /// The job, for those who only look.
    #[must_use]
    pub fn job(&self) -> Arc<Mutex<Job>> {
        Arc::clone(&self.job)
    }

    /// Whether sound that comes now is heard: the talk key is pressed, and the tool is silent.
    #[must_use]
    pub const fn hears(&self) -> bool {
        !self.shut && self.muted_until.is_none()
    }

    /// Performs what one input causes.
    ///
    /// # Errors
    /// The recogniser, the disk, a face. What was printed or spoken is stored.
    pub fn take(&mut self, input: Input<'_>) -> Result<()> {
        if self
            .muted_until
            .is_some_and(|until| Instant::now() >= until)
        {
            self.muted_until = None;
            self.listener.iter_mut().for_each(Listener::unmute);
        }
        let done = match input {
            Input::Audio { samples, lost } => self.audio(samples, lost),
            Input::Key(command) => self.given(|job| Ok(vec![job.command(command)?])),
            Input::Typed(text) => self.given(|job| job.take_breath(job.typed(text), None)),
            Input::Stop => self.end_of_stream(),
            Input::SentAway => {
                self.listener.iter_mut().for_each(Listener::abandon);
                Ok(Vec::new())
            }
            Input::Talk => {
                self.shut = !self.shut;
                Ok(Vec::new())
            }
        };
        let done = self.stored(done)?;
        let any = !done.is_empty();
        for one in done {
            self.perform(one)?;
        }
        if any || self.disk.as_ref().is_some_and(DiskSpace::is_due) {
            self.look_at_the_disk()?;
        }
        self.show_state();
        Ok(())
    }

    /// What the bench does just now.
    fn now(&self) -> BenchNow {
        BenchNow {
            state: self.state(),
            trouble: self.trouble.clone(),
            push_to_talk: self.push_to_talk,
        }
    }

    fn state(&self) -> BenchState {
        if let Some(over) = self.over {
            return over;
        }
        if self.speaking || self.muted_until.is_some() {
            return BenchState::Speaking;
        }
        match self.arrival.is_there() {
            None => return BenchState::Starting,
            Some(false) => return BenchState::NoMicrophone,
            Some(true) => {}
        }
        let job = lock(&self.job);
        match (job.state.standing_by, job.state.question.is_some()) {
            (true, _) => BenchState::StandBy,
            _ if self.shut => BenchState::KeyNotPressed,
            (_, true) => BenchState::Asking,
            _ => BenchState::Listening,
        }
    }

    /// Shows the state if it is another than before.
    fn show_state(&mut self) {
        let now = self.now();
        if now != self.shown {
            self.faces.state(&now);
            self.shown = now;
        }
    }

    /// Shows that nobody listens any more, and why.
    pub(crate) fn end(&mut self, why: Option<&anyhow::Error>) {
        self.over.get_or_insert(BenchState::Ended);
        if let Some(why) = why {
            self.trouble = in_words(why);
        }
        self.show_state();
    }

    /// Performs what a page says of an earlier utterance. What it may not say is told inside, and
    /// ends nothing.
    ///
    /// # Errors
    /// As [`SessionLoop::take`].
    pub(crate) fn review(
        &mut self,
        id: u64,
        what: &Review,
    ) -> Result<std::result::Result<(), ReviewError>> {
        let reviewed = lock(&self.job).review(id, what);
        let event = match self.stored(reviewed)? {
            Ok(event) => event,
            Err(refused) => return Ok(Err(refused)),
        };
        let recognised = None;
        self.perform(Done { event, recognised })?;
        self.look_at_the_disk()?;
        Ok(Ok(()))
    }

    /// Stores what a hand did that needs no conversation; the event, if it made one.
    ///
    /// # Errors
    /// As [`SessionLoop::take`].
    pub(crate) fn by_hand(
        &mut self,
        enter: impl FnOnce(&mut Job) -> Result<Option<Event>>,
    ) -> Result<Option<Event>> {
        let entered = enter(&mut lock(&self.job));
        let Some(event) = self.stored(entered)? else {
            return Ok(None);
        };
        let done = Done {
            event: event.clone(),
            recognised: None,
        };
        self.perform(done)?;
        self.look_at_the_disk()?;
        Ok(Some(event))
    }

    /// After a failure: what was stored before it is shown and said all the same, and that the rest
    /// is not: the person looks elsewhere.
    fn stored<T>(&mut self, done: Result<T>) -> Result<T> {
        if done.is_err() {
            self.perform_what_is_stored();
            self.say("not stored, not listening");
        }
        done
    }

    fn perform_what_is_stored(&mut self) {
        let events = lock(&self.job).state.events().to_vec();
        for event in events.into_iter().skip(self.performed) {
            let recognised = None;
            let _ = self.perform(Done { event, recognised }); // the failure itself is told
        }
    }

    /// Looks whether the disk has space; says so if it has not.
    ///
    /// # Errors
    /// It is full, or the system does not say.
    pub fn look_at_the_disk(&mut self) -> Result<()> {
        let Some(disk) = &mut self.disk else {
            return Ok(());
        };
        let left = disk.look()?;
        if left == Left::Enough {
            if !disk.is_low() {
                self.trouble.clear();
            }
            return Ok(());
        }
        let notice = left.notice(disk.folder());
        self.trouble.clone_from(&notice);
        if matches!(left, Left::Full { .. }) {
            self.over = Some(BenchState::DiskFull);
        }
        self.say(left.words());
        if left.ends_it() {
            bail!("{notice}");
        }
        self.faces.notice(&notice);
        Ok(())
    }

    /// Ends the session; the clips of ignored talk go unless they are kept.
    ///
    /// # Errors
    /// The disk.
    pub fn close(self, keep_talk: bool) -> Result<F> {
        if !keep_talk {
            lock(&self.job).forget(&Whose::Ignored)?;
        }
        Ok(self.faces)
    }

    fn audio(&mut self, samples: &[f32], lost: u32) -> Result<Vec<Done>> {
        self.arrival.take(samples);
        let Some(listener) = &mut self.listener else {
            return Ok(Vec::new());
        };
        if lost > 0 && self.muted_until.is_none() {
            self.faces.notice(&format!(
                "sound was lost ({lost} times): the clip of this utterance is marked"
            ));
            listener.lost(lost);
        }
        let mut job = lock(&self.job);
        let recognised = if self.shut {
            listener.feed(&vec![0.0; samples.len()], &mut *job)?
        } else {
            listener.feed(samples, &mut *job)?
        };
        Ok(recognised.into_iter().map(Done::from).collect())
    }

    fn end_of_stream(&mut self) -> Result<Vec<Done>> {
        let mut job = lock(&self.job);
        let Some(listener) = &mut self.listener else {
            return Ok(Vec::new());
        };
        let last = listener.finish(&mut *job)?;
        Ok(last.into_iter().map(Done::from).collect())
    }

    fn given(&mut self, take: impl FnOnce(&mut Job) -> Result<Vec<Event>>) -> Result<Vec<Done>> {
        let events = take(&mut lock(&self.job))?;
        let typed = |event| Done {
            event,
            recognised: None,
        };
        Ok(events.into_iter().map(typed).collect())
    }

    /// It is stored; now the board, the paper, the voice.
    fn perform(&mut self, done: Done) -> Result<()> {
        if done.recognised.is_some() {
            self.shut = self.push_to_talk;
        }
        self.performed = usize::try_from(done.event.id).unwrap_or(self.performed);
        let spoken = done.event.spoken.clone();
        self.speaking = !spoken.is_empty();
        self.show_state();
        let shown = self.faces.board(&lock(&self.job));
        let printed = self.faces.print(done);
        self.faces.manner(&lock(&self.job).state.manner);
        // It is stored, so it is said, whoever can still read it.
        self.say(&spoken);
        shown.and(printed)
    }

    fn say(&mut self, words: &str) {
        if words.is_empty() {
            return;
        }
        if let Some(listener) = self.listener.as_mut().filter(|_| self.half_duplex) {
            listener.mute(lock(&self.job).setup.grammar.words_of(words));
        }
        self.speaking = true;
        self.show_state();
        let begun = Instant::now();
        self.faces.speak(words);
        self.speaking = false;
        self.arrival.pause(begun);
        if self.half_duplex {
            self.muted_until = Some(Instant::now() + self.behind + TAIL);
        }
    }
}

impl From<Recognised> for Done {
    fn from(recognised: Recognised) -> Self {
        Self {
            event: recognised.event.clone(),
            recognised: Some(recognised),
        }
    }
}

impl Done {
    /// When it ended and was stored, if it was heard.
    #[must_use]
    pub fn timing(&self) -> Option<&Timing> {
        self.recognised.as_ref().map(|r| &r.timing)
    }

    /// Its JSON line.
    #[must_use]
    pub fn line(&self) -> Line {
        Line::of(&self.event, self.timing())
    }
}

fn lock(job: &Mutex<Job>) -> MutexGuard<'_, Job> {
    job.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
#[path = "session_loop_tests.rs"]
mod tests;
