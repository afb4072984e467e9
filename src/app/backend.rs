//! What the pages show and change: a job that is reviewed, or one that is being listened to.

use super::hear_again::{Again, Progress};
use super::job::Job;
use super::session_view::session;
use super::{now_ms, report};
use crate::session::{Review, review};
use crate::web::{Backend, Edit, Fault};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// The pages of one open job; a session loop may be at work on the same job.
pub(crate) struct JobPages {
    job: Arc<Mutex<Job>>,
    again: Option<Again>,
    listening: bool,
}

impl JobPages {
    /// The pages of a job that is reviewed; `model` is another recogniser, to hear the session with
    /// again.
    #[must_use]
    pub(crate) fn reviewing(job: Job, folder: &Path, model: Option<&Path>) -> Self {
        Self {
            job: Arc::new(Mutex::new(job)),
            again: model.map(|m| Again::new(folder, m)),
            listening: false,
        }
    }

    /// The pages of a job that is being listened to: they read it, and change nothing.
    #[must_use]
    pub(crate) const fn listening(job: Arc<Mutex<Job>>) -> Self {
        Self {
            job,
            again: None,
            listening: true,
        }
    }

    fn job(&self) -> MutexGuard<'_, Job> {
        self.job.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn view(&self, job: &Job) -> Result<String, Fault> {
        let found = self.again.as_ref().map(Again::found).unwrap_or_default();
        let name = self.again.as_ref().map(Again::name);
        session(job, !self.listening, name, &found).map_err(broken)
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
        job.clip(sha256)
            .map_err(|e| Fault::NotFound(format!("{e:#}")))
    }

    fn edit(&self, edit: &Edit) -> Result<String, Fault> {
        if self.listening {
            let why =
                "end listening first, then open the review: nothing may change what is being said";
            return Err(Fault::Refused(why.to_owned()));
        }
        let mut job = self.job();
        let (id, what) = match edit {
            Edit::Confirm(id) => (*id, Review::Confirm),
            Edit::Reject(id) => (*id, Review::Reject),
            Edit::Correct(id, text) => (*id, Review::Correct(text.clone())),
        };
        let event = review(&job.setup, &job.state, id, &what, now_ms())
            .map_err(|e| Fault::Refused(e.to_string()))?;
        job.add(&event).map_err(broken)?;
        self.view(&job)
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
    Fault::Broken(format!("{:#}", error.into()))
}
