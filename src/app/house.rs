//! What the pages show and change: a job that is reviewed, or one that is being listened to.

use super::hear_again::{Again, Progress};
use super::job::Job;
use super::session_view::session;
use super::{now_ms, report};
use crate::report::Compared;
use crate::session::{Review, review};
use crate::web::{Edit, Fault, House};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// A job that is reviewed: this program alone has it open.
pub struct ReviewHouse {
    job: Mutex<Job>,
    again: Option<Again>,
}

impl ReviewHouse {
    /// Opens the pages on a job; `model` is another ear, to hear the session with again.
    #[must_use]
    pub fn new(job: Job, folder: &Path, model: Option<&Path>) -> Self {
        Self {
            job: Mutex::new(job),
            again: model.map(|m| Again::new(folder, m)),
        }
    }

    fn job(&self) -> MutexGuard<'_, Job> {
        self.job.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn view(&self, job: &Job) -> Result<String, Fault> {
        let found = self.again.as_ref().map(Again::found).unwrap_or_default();
        let name = self.again.as_ref().map(Again::name);
        session(job, true, name, &found).map_err(broken)
    }
}

impl House for ReviewHouse {
    fn session(&self) -> Result<String, Fault> {
        self.view(&self.job())
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Fault> {
        clip(&self.job(), sha256)
    }

    fn edit(&self, edit: &Edit) -> Result<String, Fault> {
        let mut job = self.job();
        let (id, what) = match edit {
            Edit::Confirm(id) => (*id, Review::Confirm),
            Edit::Reject(id) => (*id, Review::Reject),
            Edit::Correct(id, text) => (*id, Review::Correct(text.clone())),
        };
        let event = review(&job.desk, &job.state, id, &what, now_ms())
            .map_err(|e| Fault::Refused(e.to_string()))?;
        job.add(&event).map_err(broken)?;
        self.view(&job)
    }

    fn hear_again(&self) -> Result<String, Fault> {
        let again = self.again.as_ref().ok_or_else(|| {
            Fault::Refused("give another ear when you start the review: --model FILE".to_owned())
        })?;
        let Progress { done, total, fault } = again.go();
        match fault {
            Some(fault) => Err(Fault::Broken(fault)),
            None => Ok(serde_json::json!({ "done": done, "total": total }).to_string()),
        }
    }

    fn report(&self) -> Result<String, Fault> {
        Ok(report::of(&self.job()).html(None::<&Compared>))
    }
}

/// A job that is being listened to: the pages read it beside the listener.
pub struct LiveHouse {
    folder: PathBuf,
}

impl LiveHouse {
    /// On the folder of a job.
    #[must_use]
    pub fn new(folder: &Path) -> Self {
        Self {
            folder: folder.to_owned(),
        }
    }

    fn job(&self) -> Result<Job, Fault> {
        Job::look(&self.folder).map_err(broken)
    }
}

impl House for LiveHouse {
    fn session(&self) -> Result<String, Fault> {
        session(&self.job()?, false, None, &Default::default()).map_err(broken)
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Fault> {
        clip(&self.job()?, sha256)
    }

    fn edit(&self, _: &Edit) -> Result<String, Fault> {
        Err(Fault::Refused(
            "end listening first, then `benchcall review`: one program writes at a time".to_owned(),
        ))
    }

    fn hear_again(&self) -> Result<String, Fault> {
        Err(Fault::Refused("end listening first".to_owned()))
    }

    fn report(&self) -> Result<String, Fault> {
        Ok(report::of(&self.job()?).html(None::<&Compared>))
    }
}

fn clip(job: &Job, sha256: &str) -> Result<Vec<u8>, Fault> {
    // Only clips of this job, by the names that its events give.
    let mut sounds = job.state.events().iter().filter_map(|e| e.sound.as_ref());
    if !sounds.any(|s| s.sha256 == sha256) {
        return Err(Fault::NotFound("there is no such clip".to_owned()));
    }
    job.clip(sha256)
        .map_err(|e| Fault::NotFound(format!("{e:#}")))
}

fn broken(error: impl Into<anyhow::Error>) -> Fault {
    Fault::Broken(format!("{:#}", error.into()))
}
