//! What outlives the server: certificate, pairings and port, in files of this person alone.

use std::collections::BTreeMap;
use std::io;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Tells one content of a file from the next.
pub type Version = (u128, u64);

/// Where they are kept. Other servers of the same person, and the command line, read and change them
/// too.
pub trait Kept: Send + Sync {
    /// The text of a file; `None` if it is not there.
    ///
    /// # Errors
    /// As the system says.
    fn read(&self, name: &str) -> io::Result<Option<String>>;

    /// Which content the file has now; `None` if it is not there.
    fn version(&self, name: &str) -> Option<Version>;

    /// Puts what `change` makes of the text in its place. Nobody else changes it meanwhile.
    ///
    /// # Errors
    /// As the system or `change` says; then the file is as before.
    fn change(
        &self,
        name: &str,
        change: &mut dyn FnMut(Option<String>) -> io::Result<String>,
    ) -> io::Result<()>;

    /// Removes a file; whether it was there. Nobody else changes it meanwhile.
    ///
    /// # Errors
    /// As the system says; then the file is as before.
    fn remove(&self, name: &str) -> io::Result<bool>;
}

/// Keeps them as long as the program runs.
#[derive(Default)]
pub(crate) struct Memory(Mutex<BTreeMap<String, (String, u64)>>);

impl Memory {
    fn files(&self) -> MutexGuard<'_, BTreeMap<String, (String, u64)>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Kept for Memory {
    fn read(&self, name: &str) -> io::Result<Option<String>> {
        Ok(self.files().get(name).map(|(text, _)| text.clone()))
    }

    fn version(&self, name: &str) -> Option<Version> {
        self.files().get(name).map(|(_, changes)| (0, *changes))
    }

    fn change(
        &self,
        name: &str,
        change: &mut dyn FnMut(Option<String>) -> io::Result<String>,
    ) -> io::Result<()> {
        let mut files = self.files();
        let (text, changes) = files.get(name).cloned().unzip();
        let text = change(text)?;
        files.insert(name.to_owned(), (text, changes.unwrap_or(0) + 1));
        Ok(())
    }
    fn remove(&self, name: &str) -> io::Result<bool> {
        Ok(self.files().remove(name).is_some())
    }
}
