//! A voice that says nothing and remembers what it was asked to say.

use super::{Error, Sound, Voice};
use std::sync::{Arc, Mutex, PoisonError};

/// Gives empty sound; its copies share one list of texts.
#[derive(Debug, Clone, Default)]
pub(crate) struct Silent {
    said: Arc<Mutex<Vec<String>>>,
}

impl Silent {
    /// The texts so far, oldest first.
    #[must_use]
    pub(crate) fn said(&self) -> Vec<String> {
        self.said
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}

impl Voice for Silent {
    fn render(&mut self, words: &str) -> Result<Sound, Error> {
        self.said
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .push(words.to_owned());
        Ok(Sound {
            rate_hz: 24_000,
            samples: Vec::new(),
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    #[test]
    fn it_is_silent_and_remembers() {
        let silent = Silent::default();
        let mut voice: Box<dyn Voice> = Box::new(silent.clone());
        assert!(voice.render("three, inlet").unwrap().samples.is_empty());
        voice.render("done").unwrap();
        assert_eq!(silent.said(), ["three, inlet", "done"]);
    }
}
