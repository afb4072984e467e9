//! A backend for tests: a session that is given, and edits that are remembered.

use super::{Backend, Edit, Fault, ReportForm, Touch};
use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

/// Answers from what it was given.
#[derive(Default, Debug)]
pub(super) struct ScriptedBackend {
    /// The session's JSON.
    pub session: String,
    /// WAV files by SHA-256.
    pub clips: BTreeMap<String, Vec<u8>>,
    /// The edits that came.
    pub edits: Mutex<Vec<Edit>>,
    /// What hands did.
    pub touches: Mutex<Vec<Touch>>,
}

impl Backend for ScriptedBackend {
    fn session(&self, _: u64) -> Result<String, Fault> {
        Ok(self.session.clone())
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Fault> {
        let missing = || Fault::NotFound("there is no such clip".to_owned());
        self.clips.get(sha256).cloned().ok_or_else(missing)
    }

    fn edit(&self, edit: &Edit) -> Result<(), Fault> {
        let mut edits = self.edits.lock().unwrap_or_else(PoisonError::into_inner);
        edits.push(edit.clone());
        Ok(())
    }

    fn touch(&self, touch: &Touch) -> Result<String, Fault> {
        let mut touches = self.touches.lock().unwrap_or_else(PoisonError::into_inner);
        touches.push(touch.clone());
        Ok("{}".to_owned())
    }

    fn results(&self) -> Result<String, Fault> {
        Ok("{}".to_owned())
    }

    fn hear_again(&self) -> Result<String, Fault> {
        Err(Fault::Refused("there is no other recogniser".to_owned()))
    }

    fn report(&self, _: ReportForm, _: Option<&str>) -> Result<String, Fault> {
        Ok("<!doctype html><head><title>report</title></head><body></body>".to_owned())
    }
}
