//! A job at work: its store, its state, and one utterance after another through the conversation.

use super::disk_space::room_for;
use super::{assets, now_ms, own_words};
use crate::event::{Event, Fact, Outcome};
use crate::grammar::{Command, Heard, Meaning, Said, Whereabouts};
use crate::measure::{Length, LengthUnit, Unit};
use crate::record::Counting;
use crate::session::{
    Hearing, Interpretations, Interpreter, JobSetup, LazyGrammar, Review, ReviewError, State,
    one_by_one, review, step,
};
use crate::store::{Damage, Error, JobFolder, Saved, Store, was_damaged};
use crate::understand::Conversation;
use crate::{engine::Profile, grammar::Grammar};
use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};

/// A job that is open.
pub struct Job {
    /// What stays the same.
    pub setup: JobSetup,
    /// The fold of its events.
    pub state: State,
    /// The language that is spoken, by its folder in `grammars`.
    pub language: String,
    /// What is wrong with it, if not all of it is here: then it can only be looked at.
    pub(crate) damage: Option<Damage>,
    pub(super) store: Box<dyn Store>,
    known: Interpretations,
    /// Where it lies, for words of its own.
    folder: Option<PathBuf>,
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
pub(super) fn begun(
    engine: &str,
    language: &str,
    units: Units,
    profile: String,
    blades_nm: Vec<Length>,
    grammar: &Grammar,
) -> Event {
    Event {
        confidence: 1.0,
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
        ..Event::unspoken(1, now_ms(), Outcome::Stored, "the job was begun")
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
    /// An unknown language or engine, a wrong profile, a folder that exists or cannot be written, a full
    /// disk.
    pub fn create_in(
        language: &str,
        folder: &Path,
        engine: &str,
        units: impl Into<Units>,
        blades: Vec<Length>,
    ) -> Result<Self> {
        let (profile, text) = assets::engine(engine)?;
        let grammar = own_words::grammar(language, &profile, None)?;
        let blades = if blades.is_empty() {
            profile.blades.clone()
        } else {
            blades
        };
        let first = begun(engine, language, units.into(), text, blades, &grammar);
        room_for(folder, 0)?;
        let store = JobFolder::create(folder, &first)?;
        Self::of(Box::new(store), Some(grammar.into()), None)
    }

    /// Opens a job to add to it.
    ///
    /// # Errors
    /// No job there, another program has it open, a newer version, a damaged file.
    pub fn open(folder: &Path) -> Result<Self> {
        Self::of(Box::new(JobFolder::open(folder)?), None, Some(folder))
    }

    /// Opens a job to look at it.
    ///
    /// # Errors
    /// As [`Job::open`], except that it may be open elsewhere; of a damaged one there is what checks out.
    pub fn look(folder: &Path) -> Result<Self> {
        match JobFolder::open_read_only(folder) {
            Err(Error::Damaged { damage }) => {
                let damage = *damage;
                let saved = Self::of(Box::new(Saved::open(folder)?), None, Some(folder));
                let job = saved.with_context(|| damage.to_string())?;
                let damage = Some(damage);
                Ok(Self { damage, ..job })
            }
            other => Self::of(Box::new(other?), None, Some(folder)),
        }
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
        Self::of(Box::new(store), Some(grammar.into()), None)
    }

    /// A job on its store; its grammar is the one of its language, with the words of the person and
    /// the job, if none is given.
    fn of(
        store: Box<dyn Store>,
        grammar: Option<LazyGrammar>,
        folder: Option<&Path>,
    ) -> Result<Self> {
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
            bail!("its first event is missing or damaged, which says what the engine is");
        };
        let profile = profile_now(&events).unwrap_or(profile);
        let profile = Profile::parse_kept(
            &profile,
            &format!("the profile of {engine} kept in the job"),
        )?;
        let own = || own_words::lazy_grammar(&language, &profile, folder);
        let grammar = grammar.map_or_else(own, Ok)?;
        let setup = JobSetup {
            grammar,
            profile,
            unit,
            gauge,
            wrench,
            blades: blades_nm,
        };
        let state = State::fold(&setup, &events);
        Ok(Self {
            setup,
            state,
            language,
            damage: None,
            store,
            known: Interpretations::default(),
            folder: folder.map(Path::to_path_buf),
        })
    }

    /// One utterance through the conversation and on to the disk.
    ///
    /// # Errors
    /// The disk; then nothing was acknowledged and the state is as before.
    pub fn take(&mut self, hearing: Hearing, clip: Option<&[u8]>) -> Result<Event> {
        let event = step(&self.setup, &self.state, hearing);
        self.store.append(&event, clip)?;
        self.state.apply(&event);
        self.known.forget();
        Ok(event)
    }

    /// What was said in one breath: each of its readings is an event of its own, in order.
    ///
    /// # Errors
    /// As [`Job::take`]; those before were stored.
    pub fn take_breath(&mut self, hearing: Hearing, clip: Option<&[u8]>) -> Result<Vec<Event>> {
        let readings = one_by_one(&self.setup, &self.state, hearing);
        let taken = readings.into_iter().map(|one| self.take(one, clip));
        taken.collect()
    }

    /// What texts mean in its present state.
    #[must_use]
    pub fn interpreter(&self) -> Interpreter<'_> {
        Interpreter::new(&self.setup, &self.state, &self.known)
    }

    /// Adds an event that needs no conversation, such as a review.
    ///
    /// # Errors
    /// The disk; then the state is as before.
    pub fn add(&mut self, event: &Event) -> Result<()> {
        self.store.append(event, None)?;
        self.state.apply(event);
        self.known.forget();
        Ok(())
    }

    /// Adds facts that nobody said.
    ///
    /// # Errors
    /// As [`Job::add`].
    pub(crate) fn tell(&mut self, why: &str, facts: Vec<Fact>) -> Result<()> {
        let id = self.state.next_id();
        let event = Event::unspoken(id, now_ms(), Outcome::Stored, why);
        self.add(&Event { facts, ..event })
    }

    /// Stores a fact that was entered by hand, read back as if it had been said; the event.
    ///
    /// # Errors
    /// As [`Job::add`].
    pub(crate) fn by_hand(&mut self, fact: Fact) -> Result<Event> {
        let spoken = self.setup.grammar.full_wording.fact(&fact);
        let id = self.state.next_id();
        let event = Event {
            spoken,
            facts: vec![fact],
            ..Event::unspoken(id, now_ms(), Outcome::Stored, "entered by hand")
        };
        self.add(&event)?;
        Ok(event)
    }

    /// Puts another profile in the place of the job's, which is judged by it from now on; the event
    /// that says so. Whether it may take its place, [`super::engine_change::Change`] tells.
    ///
    /// # Errors
    /// The profile has a fault; as [`Job::add`].
    pub(crate) fn change_profile(&mut self, text: &str) -> Result<Event> {
        let profile = Profile::parse(text, "the changed profile")?;
        let renamed = profile.names != self.setup.profile.names;
        let grammar = renamed
            .then(|| own_words::lazy_grammar(&self.language, &profile, self.folder.as_deref()))
            .transpose()?;
        let id = self.state.next_id();
        let why = "the engine's profile was changed";
        let event = Event::unspoken(id, now_ms(), Outcome::Stored, why);
        let facts = vec![Fact::ProfileChanged {
            profile: text.to_owned(),
        }];
        let event = Event { facts, ..event };
        self.add(&event)?;
        self.setup.profile = profile;
        if let Some(grammar) = grammar {
            self.setup.grammar = grammar;
        }
        self.state = State::fold(&self.setup, self.state.events());
        self.known.forget();
        Ok(event)
    }

    /// Looks at an earlier utterance again, as a page says; the event that says so.
    ///
    /// # Errors
    /// As [`Job::add`]; a review that cannot be is told inside.
    pub(crate) fn review(
        &mut self,
        id: u64,
        what: &Review,
    ) -> Result<std::result::Result<Event, ReviewError>> {
        let event = match review(&self.setup, &self.state, id, what, now_ms()) {
            Ok(event) => event,
            Err(refused) => return Ok(Err(refused)),
        };
        self.add(&event)?;
        Ok(Ok(event))
    }

    /// Its folder, if it lies in one.
    pub(crate) fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }

    /// A folder beside its own that is not there yet, named after it and `what`.
    pub(crate) fn beside(&self, what: &str) -> Option<PathBuf> {
        let own = self.folder.as_ref()?;
        let name = own.file_name()?.to_string_lossy().into_owned();
        let first = std::iter::once(format!("{name}-{what}"));
        let mut names = first.chain((2..).map(|n| format!("{name}-{what}-{n}")));
        names.find_map(|n| Some(own.with_file_name(n)).filter(|p| !p.exists()))
    }

    /// What every face shows of a damaged job beside all else.
    pub(crate) fn damage_line(&self) -> Option<String> {
        if let Some(damage) = &self.damage {
            return Some(damage.line());
        }
        let events = self.state.events().iter();
        let lost = events.filter(|e| was_damaged(e)).count();
        let was = if lost == 1 { "was" } else { "were" };
        (lost > 0).then(|| {
            format!(
                "This job was saved from a damaged one: {lost} of its events {was} damaged, and nothing of it \
                 is here. What it corrected or took back may count again."
            )
        })
    }

    /// The sound of that hash, a WAV file.
    ///
    /// # Errors
    /// No such sound, or a damaged one.
    pub fn clip(&self, sha256: &str) -> Result<Vec<u8>> {
        Ok(self.store.clip(sha256)?)
    }

    /// Typed text, as if it had been heard with a margin.
    ///
    /// # Errors
    /// As [`Job::take`].
    pub fn say(&mut self, text: &str) -> Result<Event> {
        self.take(self.typed(text), None)
    }

    /// Typed text as a hearing.
    #[must_use]
    pub fn typed(&self, text: &str) -> Hearing {
        let interpretation = self.interpreter().of(text);
        Hearing::typed(text.to_owned(), interpretation, now_ms())
    }

    /// A command that a key or a button gives, without words.
    ///
    /// # Errors
    /// As [`Job::take`].
    pub fn command(&mut self, command: Command) -> Result<Event> {
        let said = command.key().replace('_', " ");
        let interpretation = Heard::Accepted(Said {
            place: Whereabouts::default(),
            meaning: Meaning::Command(command),
        });
        self.take(Hearing::typed(said, interpretation, now_ms()), None)
    }
}

/// The profile that a later event put in the place of the first, if any did.
fn profile_now(events: &[Event]) -> Option<String> {
    let changes = |f: &Fact| matches!(f, Fact::ProfileChanged { .. });
    if !events.iter().flat_map(|e| &e.facts).any(changes) {
        return None;
    }
    let mut counting = Counting::default();
    for event in events {
        counting.apply(event);
    }
    counting.profile().map(str::to_owned)
}

impl Conversation for Job {
    fn interpreter(&self) -> Interpreter<'_> {
        Self::interpreter(self)
    }

    fn patience_percent(&self) -> u32 {
        self.state.manner.patience_percent()
    }

    fn take(&mut self, hearing: Hearing, clip: Option<&[u8]>) -> Result<Vec<Event>> {
        let at_ms = now_ms();
        self.take_breath(Hearing { at_ms, ..hearing }, clip)
    }
}
