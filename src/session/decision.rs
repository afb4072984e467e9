//! A decision being made, what the grammar is told, and the question for a missing place.

use super::place;
use super::{Decision, JobSetup, State};
use crate::engine::ShimKind;
use crate::event::{Doubt, Fact, Outcome, Position, Question, Reading, Side, Unplaced};
use crate::grammar::{Command, Scope, StageText, Whereabouts, Wording};
use crate::measure::{Amount, Place, Quantity};

impl Decision {
    pub(super) fn new(outcome: Outcome, why: impl Into<String>) -> Self {
        Self {
            outcome,
            why: why.into(),
            spoken: String::new(),
            command: None,
            subject: None,
            facts: Vec::new(),
        }
    }

    /// The question again, after what is not an answer to it.
    pub(super) fn unanswered(question: &Question) -> Self {
        Self::new(Outcome::Asked, "it neither confirms nor denies").say(&question.words)
    }

    pub(super) fn say(mut self, spoken: impl Into<String>) -> Self {
        self.spoken = spoken.into();
        self
    }

    pub(super) fn about(mut self, subject: Option<Position>) -> Self {
        self.subject = subject;
        self
    }

    pub(super) fn adds(mut self, facts: impl IntoIterator<Item = Fact>) -> Self {
        self.facts.extend(facts);
        self
    }

    pub(super) fn command(mut self, command: Command) -> Self {
        self.command = Some(command.key().to_owned());
        self
    }

    /// Asks `question`; its words are what is said.
    pub(super) fn asks(self, question: Question) -> Self {
        let words = question.words.clone();
        self.say(words).adds([Fact::Asked(Box::new(question))])
    }

    /// A new phrase closes the question that waited, before it asks one of its own.
    pub(super) fn closing(mut self, close: Option<Fact>) -> Self {
        if let Some(close) = close {
            self.facts.insert(0, close);
        }
        self
    }
}

impl JobSetup {
    /// The cautions of a stage that this engine needs.
    pub(crate) fn cautions<'a>(&self, stage: &'a StageText) -> impl Iterator<Item = &'a String> {
        let kind = self.profile.shims.kind.key();
        stage.cautions(kind, self.profile.has_decompressor())
    }

    /// The name of a stage, as this engine has it.
    pub(crate) fn name_of<'a>(&self, stage: &'a StageText) -> &'a str {
        stage.name(self.profile.shims.kind.key())
    }

    /// Where the shims of the engine lie.
    pub(super) const fn shim_place(&self) -> Place {
        match self.profile.shims.kind {
            ShimKind::OverBucket => Place::OverBucket,
            ShimKind::UnderBucket => Place::UnderBucket,
            ShimKind::UnderFollower | ShimKind::Screw => Place::Any,
        }
    }

    /// A figure of the profile's in words, in the job's units.
    pub(super) fn amount_words(&self, amount: Amount) -> String {
        let amount = amount.in_job_unit(self.gauge, self.wrench);
        self.grammar.wording.amount_words(amount, self.unit)
    }

    /// What the grammar is told of the job.
    #[must_use]
    pub fn scope(&self, state: &State) -> Scope {
        let named = |side| place::names(&self.profile, side).to_vec();
        Scope {
            unit: self.unit,
            cylinders: self.profile.cylinders,
            inlet: named(Side::Inlet),
            exhaust: named(Side::Exhaust),
            heads: self.profile.head_names(),
            shims: self.shim_place(),
            blades: self.blades.clone(),
            open: state.open,
            last: state.said_last().map(|r| r.quantity),
            last_part: state.said_last().and_then(|r| r.part),
            last_head: state.said_last().and_then(|r| r.head),
            shim_in_hand: state
                .said_last()
                .is_some_and(|r| r.quantity == Quantity::ShimFitted && r.position == state.open),
            fitting: state.is_fitting() && self.profile.shims.kind.has_shims(),
            gauge: self.gauge,
            wrench: self.wrench,
        }
    }

    /// How readings are worded: short, or in full if the person asked for that.
    pub(super) fn wording(&self, state: &State) -> &Wording {
        match state.manner.full_read_back {
            true => &self.grammar.full_wording,
            false => &self.grammar.wording,
        }
    }

    pub(super) fn answer(&self, key: &str, values: &[(&str, &str)]) -> String {
        self.grammar.wording.answer(key, values)
    }
}

/// Asks for what is missing of a place.
pub(super) fn ask_place(
    setup: &JobSetup,
    state: &State,
    doubt: Doubt,
    said: &Whereabouts,
    reading: Option<Reading>,
) -> Decision {
    let wording = setup.wording(state);
    let words = match (doubt, place::partial(said)) {
        (Doubt::Valve, Some(partial)) => {
            let names = place::names(&setup.profile, partial.side);
            let names: Vec<String> = names
                .iter()
                .map(|v| wording.places.get(v.key()).cloned().unwrap_or_default())
                .collect();
            setup.answer(
                "which_valve",
                &[
                    ("place", &wording.place(partial)),
                    ("choices", &names.join(&format!(" {} ", wording.or))),
                ],
            )
        }
        _ if said.cylinder.is_none() && said.side.is_some() && said.valve.is_some() => {
            setup.answer("which_cylinder", &[])
        }
        _ => setup.answer("which_position", &[]),
    };
    let why = if doubt == Doubt::Valve {
        "which of the valves was not said"
    } else {
        "no valve is open and none was named"
    };
    let unplaced = Unplaced {
        cylinder: said.cylinder,
        side: said.side,
        valve: said.valve,
        reading,
    };
    let question = Question::waiting(doubt, unplaced, words);
    Decision::new(Outcome::Asked, why)
        .about(place::partial(said))
        .asks(question)
}

/// A place was said and not understood: it is awaited again.
pub(super) fn place_awaited(words: String) -> Question {
    Question::waiting(Doubt::Position, Unplaced::default(), words)
}
