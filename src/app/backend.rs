//! What the pages show and change: a job that is reviewed, or one that is being listened to.

use super::hear_again::{Again, Progress};
use super::job::Job;
use super::report;
use super::session_loop::{Faces, SessionLoop};
use super::session_view::session;
use crate::app::in_words::in_words;
use crate::session::{Review, ReviewError};
use crate::web::{Backend, Edit, Fault};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, SyncSender, channel, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How long an edit waits for the session loop, which may be speaking; the page waits 10 s.
const PATIENCE: Duration = Duration::from_secs(8);

/// The pages of one open job; a session loop may be at work on the same job.
pub(crate) struct JobPages {
    job: Arc<Mutex<Job>>,
    again: Option<Again>,
    /// The session loop that makes the edits, if there is one.
    bench: Option<Sender<PageEdit>>,
}

/// An edit on its way from a page to the session loop.
pub(crate) struct PageEdit {
    event: u64,
    what: Review,
    /// By the loop, which makes it, or by the page, which no longer waits for it.
    claimed: Arc<AtomicBool>,
    answer: SyncSender<Result<(), ReviewError>>,
}

impl PageEdit {
    /// Makes it, and tells the page. One for which the page no longer waits is left.
    ///
    /// # Errors
    /// As [`SessionLoop::review`].
    pub(crate) fn made_by<F: Faces>(self, session: &mut SessionLoop<F>) -> anyhow::Result<()> {
        if self.claimed.swap(true, Ordering::SeqCst) {
            return Ok(());
        }
        let made = session.review(self.event, &self.what)?;
        let _ = self.answer.send(made); // it is stored, whoever still looks
        Ok(())
    }
}

impl JobPages {
    /// The pages of a job that is reviewed; `model` is another recogniser, to hear the session with
    /// again.
    #[must_use]
    pub(crate) fn reviewing(job: Job, folder: &Path, model: Option<&Path>) -> Self {
        Self {
            job: Arc::new(Mutex::new(job)),
            again: model.map(|m| Again::new(folder, m)),
            bench: None,
        }
    }

    /// The pages of a job that is being listened to, and the edits that they ask of its session
    /// loop.
    #[must_use]
    pub(crate) fn listening(job: Arc<Mutex<Job>>) -> (Self, Receiver<PageEdit>) {
        let (bench, edits) = channel();
        let pages = Self {
            job,
            again: None,
            bench: Some(bench),
        };
        (pages, edits)
    }

    fn job(&self) -> MutexGuard<'_, Job> {
        self.job.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn view(&self, job: &Job) -> Result<String, Fault> {
        let found = self.again.as_ref().map(Again::found).unwrap_or_default();
        let name = self.again.as_ref().map(Again::name);
        session(job, name, &found).map_err(broken)
    }

    /// Asks the session loop for an edit, and waits until it is stored.
    fn ask(
        bench: &Sender<PageEdit>,
        event: u64,
        what: Review,
    ) -> Result<Result<(), ReviewError>, Fault> {
        let ended = || {
            Fault::Broken(
                "the bench has stopped listening: open the review again to see what is stored"
                    .to_owned(),
            )
        };
        let (answer, answers) = sync_channel(1);
        let claimed = Arc::new(AtomicBool::new(false));
        let edit = PageEdit {
            event,
            what,
            claimed: claimed.clone(),
            answer,
        };
        bench.send(edit).map_err(|_| ended())?;
        match answers.recv_timeout(PATIENCE) {
            Ok(made) => Ok(made),
            Err(RecvTimeoutError::Timeout) if !claimed.swap(true, Ordering::SeqCst) => {
                let why = "the bench is busy; nothing was stored, try again";
                Err(Fault::Refused(why.to_owned()))
            }
            // It is being made now, or the loop has ended.
            Err(_) => answers.recv().map_err(|_| ended()),
        }
    }
}

impl Backend for JobPages {
    fn session(&self) -> Result<String, Fault> {
        self.view(&self.job())
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Fault> {
        let job = self.job();
        // Only clips of this job, by the names that its events give.
        let mut sounds = job.state.events().iter().filter_map(|e| e.sound.as_ref());
        if !sounds.any(|s| s.sha256 == sha256) {
            return Err(Fault::NotFound("there is no such clip".to_owned()));
        }
        let read = job.store.clip_later(sha256);
        drop(job); // the bench goes on listening meanwhile
        let why = |e| Fault::NotFound(in_words(&e));
        read().or_else(|_| self.job().clip(sha256)).map_err(why)
    }

    fn edit(&self, edit: &Edit) -> Result<String, Fault> {
        let (id, what) = match edit {
            Edit::Confirm(id) => (*id, Review::Confirm),
            Edit::Reject(id) => (*id, Review::Reject),
            Edit::Correct(id, text) => (*id, Review::Correct(text.clone())),
        };
        let made = match &self.bench {
            Some(bench) => Self::ask(bench, id, what)?,
            None => self.job().review(id, &what).map_err(broken)?.map(|_| ()),
        };
        made.map_err(|refused| Fault::Refused(refused.to_string()))?;
        self.session()
    }

    fn hear_again(&self) -> Result<String, Fault> {
        let again = self.again.as_ref().ok_or_else(|| {
            Fault::Refused(
                "give another recogniser when you start the review: --model FILE".to_owned(),
            )
        })?;
        let Progress { done, total, fault } = again.go();
        match fault {
            Some(fault) => Err(Fault::Broken(fault)),
            None => Ok(serde_json::json!({ "done": done, "total": total }).to_string()),
        }
    }

    fn report(&self) -> Result<String, Fault> {
        let record = report::of(&self.job());
        Ok(report::html(&record, None))
    }
}

fn broken(error: impl Into<anyhow::Error>) -> Fault {
    Fault::Broken(in_words(&error.into()))
}
