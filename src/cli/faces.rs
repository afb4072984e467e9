//! The terminal, the board beside it and the voice: what the session loop shows and says.

use super::pages::Pages;
use super::printer::Printer;
use super::show;
use crate::app::backend::PageRequest;
use crate::app::bench_state::BenchNow;
use crate::app::in_words::in_words;
use crate::app::job::Job;
use crate::app::session_loop::{Done, Faces};
use crate::app::speech::TextToSpeech;
use crate::app::terminal;
use crate::device::Speaker;
use crate::report::Line;
use crate::session::Manner;
use anyhow::Result;
use std::path::Path;

/// Prints each utterance; speaks and shows a board if it has them.
pub(super) struct Terminal {
    json: bool,
    voice: Option<TextToSpeech>,
    pages: Option<Pages>,
    file: Option<String>,
    printed: usize,
    printer: Printer,
}

impl Terminal {
    /// Prints only; `json` is one object a line.
    pub(super) fn new(json: bool) -> Self {
        Self {
            json,
            voice: None,
            pages: None,
            file: None,
            printed: 0,
            printer: Printer::new(true),
        }
    }

    /// Says what is read back.
    pub(super) fn speaking(self, voice: TextToSpeech) -> Self {
        let (voice, printer) = (Some(voice), Printer::new(false));
        Self {
            voice,
            printer,
            ..self
        }
    }

    /// Shows a board.
    pub(super) fn showing(self, pages: Option<Pages>) -> Self {
        Self { pages, ..self }
    }

    /// What is heard from now on comes from this file; gives how many utterances were printed of the
    /// one before.
    pub(super) fn of_file(&mut self, file: Option<&Path>) -> usize {
        self.file = file.map(|f| f.display().to_string());
        std::mem::take(&mut self.printed)
    }

    /// The loudspeaker, for the next job.
    pub(super) fn into_speaker(self) -> Option<Box<dyn Speaker>> {
        self.voice.and_then(TextToSpeech::into_speaker)
    }

    /// What a page asks for next.
    pub(super) fn request(&self) -> Option<PageRequest> {
        self.pages.as_ref()?.request()
    }

    /// The board's pages, if there is a board.
    pub(super) const fn pages(&mut self) -> Option<&mut Pages> {
        self.pages.as_mut()
    }

    /// Gives the pages time to hear of the end.
    pub(super) fn end(&self) {
        if self.pages.is_some() {
            Pages::end();
        }
    }

    pub(super) fn line(&mut self, mut line: Line) -> Result<()> {
        self.printed += 1;
        if line.file.is_none() {
            line.file.clone_from(&self.file);
        }
        self.printer.print(show::utterance(&line, self.json)?)
    }
}

impl Faces for Terminal {
    fn board(&mut self, job: &Job) -> Result<()> {
        match &self.pages {
            Some(pages) => pages.show(job),
            None => Ok(()),
        }
    }

    fn state(&mut self, now: &BenchNow) {
        self.pages.iter().for_each(|pages| pages.state(now));
    }

    fn print(&mut self, done: Done) -> Result<()> {
        self.line(done.line())
    }

    fn speak(&mut self, words: &str) {
        if let Some(voice) = &mut self.voice
            && let Err(error) = voice.say(words)
        {
            terminal::tell(&format!(
                "\"{words}\" is on screen only: {}",
                in_words(&error)
            ));
        }
    }

    fn manner(&mut self, manner: &Manner) {
        if let Some(voice) = &mut self.voice {
            voice.set_manner(manner);
        }
    }

    fn notice(&mut self, words: &str) {
        terminal::tell(words);
    }
}
