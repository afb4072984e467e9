//! A job at work: its store, its state, and one utterance after another through the conversation.

use super::evidence::Meanings;
use super::{assets, now_ms, record};
use crate::event::{Event, Fact, Outcome};
use crate::grammar::Scope;
use crate::measure::{Length, LengthUnit, Unit};
use crate::session::{Certainty, Desk, Hearing, State, step};
use crate::store::{JobFolder, Store};
use crate::{engine::Profile, grammar::Grammar};
use anyhow::{Result, bail};
use std::path::Path;

/// A job that is open.
pub struct Job {
    /// What stays the same.
    pub desk: Desk,
    /// The fold of its events.
    pub state: State,
    /// The language that is spoken, by its folder in `grammars`.
    pub language: String,
    pub(super) store: Box<dyn Store>,
}

/// What came of one utterance; already on disk.
#[derive(Clone, Debug)]
pub struct Reply {
    /// The event.
    pub event: Event,
    /// What to say aloud; empty for nothing.
    pub spoken: String,
}

/// The units that bare numbers are said in; fixed before the first reading.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Units {
    /// Clearances and other lengths.
    pub length: LengthUnit,
    /// Compression.
    pub gauge: Unit,
    /// Torque.
    pub wrench: Unit,
}

impl From<LengthUnit> for Units {
    /// Metric gauges in a millimetre job, pounds in a thou job.
    fn from(length: LengthUnit) -> Self {
        let pounds = matches!(length, LengthUnit::Thou | LengthUnit::Inch);
        let (gauge, wrench) = if pounds {
            (Unit::Psi, Unit::PoundFoot)
        } else {
            (Unit::Bar, Unit::NewtonMetre)
        };
        Self {
            length,
            gauge,
            wrench,
        }
    }
}

/// The first event of a job.
fn begun(
    engine: &str,
    language: &str,
    units: Units,
    profile: String,
    blades_nm: Vec<Length>,
    grammar: &Grammar,
) -> Event {
    Event {
        id: 1,
        at_ms: now_ms(),
        said: String::new(),
        outcome: Outcome::Stored,
        why: "the job was begun".to_owned(),
        spoken: String::new(),
        command: None,
        subject: None,
        confidence: 1.0,
        rival: None,
        sound: None,
        grammar: grammar.hash.clone(),
        facts: vec![Fact::Begun {
            engine: engine.to_owned(),
            unit: units.length,
            profile,
            blades_nm,
            gauge: units.gauge,
            wrench: units.wrench,
            language: language.to_owned(),
        }],
    }
}

impl Job {
    /// Makes the folder of a new job, spoken in English.
    ///
    /// # Errors
    /// As [`Job::create_in`].
    pub fn create(
        folder: &Path,
        engine: &str,
        units: impl Into<Units>,
        blades: Vec<Length>,
    ) -> Result<Self> {
        Self::create_in("en", folder, engine, units, blades)
    }

    /// Makes the folder of a new job, spoken in a language.
    ///
    /// # Errors
    /// An unknown language or engine, a wrong profile, a folder that exists or cannot be written.
    pub fn create_in(
        language: &str,
        folder: &Path,
        engine: &str,
        units: impl Into<Units>,
        blades: Vec<Length>,
    ) -> Result<Self> {
        let grammar = assets::grammar(language)?;
        let (profile, text) = assets::engine(engine)?;
        let blades = if blades.is_empty() {
            profile.blades.clone()
        } else {
            blades
        };
        let first = begun(engine, language, units.into(), text, blades, &grammar);
        let store = JobFolder::create(folder, &first)?;
        Self::of(Box::new(store), Some(grammar))
    }

    /// Opens a job to add to it.
    ///
    /// # Errors
    /// No job there, another program has it open, a newer version, a damaged file.
    pub fn open(folder: &Path) -> Result<Self> {
        Self::of(Box::new(JobFolder::open(folder)?), None)
    }

    /// Opens a job to look at it.
    ///
    /// # Errors
    /// As [`Job::open`], except that it may be open elsewhere.
    pub fn look(folder: &Path) -> Result<Self> {
        Self::of(Box::new(JobFolder::open_read_only(folder)?), None)
    }

    /// A job that is kept nowhere: for scoring and for samples.
    ///
    /// # Errors
    /// An unknown engine or a wrong profile.
    pub fn unkept(grammar: Grammar, engine: &str, unit: LengthUnit) -> Result<Self> {
        let (profile, text) = assets::engine(engine)?;
        let blades = profile.blades.clone();
        let mut store = crate::store::MemoryStore::new();
        let first = begun(engine, "en", unit.into(), text, blades, &grammar);
        store.append(&first, None)?;
        Self::of(Box::new(store), Some(grammar))
    }

    /// A job on its store; its grammar is the one of its language, where none is given.
    fn of(store: Box<dyn Store>, grammar: Option<Grammar>) -> Result<Self> {
        let events = store.events()?;
        let begun = events
            .iter()
            .flat_map(|e| &e.facts)
            .find(|f| matches!(f, Fact::Begun { .. }))
            .cloned();
        let Some(Fact::Begun {
            engine,
            unit,
            profile,
            blades_nm,
            gauge,
            wrench,
            language,
        }) = begun
        else {
            bail!("the job does not say which engine it is for: its first event is missing");
        };
        let profile = Profile::parse(
            &profile,
            &format!("the profile of {engine} kept in the job"),
        )?;
        let grammar = grammar.map_or_else(|| assets::grammar(&language), Ok)?;
        let desk = Desk {
            grammar,
            profile,
            unit,
            gauge,
            wrench,
            blades: blades_nm,
        };
        let state = State::fold(&desk, &events);
        Ok(Self {
            desk,
            state,
            language,
            store,
        })
    }

    /// One utterance through the conversation and on to the disk.
    ///
    /// # Errors
    /// The disk; then nothing was acknowledged and the state is as before.
    pub fn take(&mut self, hearing: Hearing, clip: Option<&[u8]>) -> Result<Reply> {
        let event = step(&self.desk, &self.state, hearing);
        self.store.append(&event, clip)?;
        self.state.apply(&event);
        let spoken = event.spoken.clone();
        Ok(Reply { event, spoken })
    }

    /// What it says that texts mean; `scope` is what its desk tells the grammar now.
    #[must_use]
    pub fn meanings<'a>(&'a self, scope: &'a Scope) -> Meanings<'a> {
        Meanings::new(&self.desk.grammar, scope, self.state.question.is_some())
            .dictating(self.state.dictating_since_ms.is_some())
            .after(self.state.begun())
    }

    /// Adds an event that needs no conversation, such as a review.
    ///
    /// # Errors
    /// The disk; then the state is as before.
    pub fn add(&mut self, event: &Event) -> Result<()> {
        self.store.append(event, None)?;
        self.state.apply(event);
        Ok(())
    }

    /// The sound of that hash, a WAV file.
    ///
    /// # Errors
    /// No such sound, or a damaged one.
    pub fn clip(&self, sha256: &str) -> Result<Vec<u8>> {
        Ok(self.store.clip(sha256)?)
    }

    /// Typed text, as if it had been heard with certainty.
    ///
    /// # Errors
    /// As [`Job::take`].
    pub fn say(&mut self, text: &str) -> Result<Reply> {
        self.take(Self::typed(text), None)
    }

    /// Typed text as a hearing.
    #[must_use]
    pub fn typed(text: &str) -> Hearing {
        let said = text.to_owned();
        Hearing {
            said,
            certainty: Certainty::Sure,
            confidence: 1.0,
            rival: None,
            doubted: None,
            sound: None,
            at_ms: now_ms(),
        }
    }
}

impl Reply {
    /// Its JSON line.
    #[must_use]
    pub fn line(&self, timing: Option<&record::Timing>) -> record::Line {
        record::Line::of(&self.event, timing)
    }
}
