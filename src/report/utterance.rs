//! The JSON of one utterance, as other programs read it.

use crate::event::{Event, Fact, Gap, Head, Outcome, Part, Position, Reading, Side, Value, Valve};
use crate::measure::{Amount, Length, Unit};
use serde::Serialize;

/// One line of `hear --json` and `say --json`. Keys that do not apply are null.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Line {
    /// The words as heard or typed.
    pub said: String,
    /// What became of them.
    pub outcome: Outcome,
    /// The quantity that was read.
    pub quantity: Option<&'static str>,
    /// Cylinder.
    pub cylinder: Option<u8>,
    /// Side.
    pub side: Option<Side>,
    /// Valve of that side.
    pub valve: Option<Valve>,
    /// The value in nanometres; of a clearance the largest blade that goes, of a shim its
    /// measured thickness, or else its mark.
    pub value_nm: Option<Length>,
    /// Largest blade that goes.
    pub goes_nm: Option<Length>,
    /// Smallest blade that does not.
    pub stops_nm: Option<Length>,
    /// What is marked on a shim.
    pub marked_nm: Option<Length>,
    /// "No gap": the smallest blade does not go.
    pub no_gap: Option<bool>,
    /// How many shims of that size.
    pub count: Option<u16>,
    /// The value of a quantity that is not a length.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: Option<Unit>,
    /// The second figure of a pair, in `second_unit`: the pressure in the cylinder, the far flank
    /// of a lobe.
    pub second: Option<f64>,
    /// Unit of `second`.
    pub second_unit: Option<Unit>,
    /// The second figure of a pair where it is a length: the height under a load.
    pub second_nm: Option<Length>,
    /// The part, where it is not a valve or a part of one: "head bolt 7 stage 2".
    pub part: Option<String>,
    /// The head of it, where the engine has several.
    pub head: Option<Head>,
    /// What was looked at, by its key.
    pub check: Option<String>,
    /// Whether that was as it should be.
    pub good: Option<bool>,
    /// What is to be done later.
    pub task: Option<String>,
    /// The stage of the job that was begun or finished.
    pub stage: Option<String>,
    /// The command's name.
    pub command: Option<String>,
    /// What was replaced or worked on.
    pub repaired: Option<&'static str>,
    /// The note's text.
    pub note: Option<String>,
    /// Why it came out so.
    pub why: String,
    /// What was read back.
    pub read_back: String,
    /// How certain the recogniser was, 0–1.
    pub confidence: f32,
    /// Number of the event in the job.
    pub event: u64,
    /// The valve was corrected from this event.
    pub replaces: Option<u64>,
    /// End of speech in the sound, in milliseconds from its start.
    pub speech_end_ms: Option<u64>,
    /// When it was stored, on the same clock.
    pub done_ms: Option<u64>,
    /// Computing, in milliseconds: hearing, understanding and storing.
    pub compute_ms: Option<u64>,
    /// The file it was heard in.
    pub file: Option<String>,
}

/// When an utterance ended and when it was stored, in milliseconds of its sound.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize)]
pub struct Timing {
    /// End of speech.
    pub speech_end_ms: u64,
    /// Stored.
    pub done_ms: u64,
    /// Computing alone.
    pub compute_ms: u64,
    /// File.
    pub file: Option<String>,
}

impl Line {
    /// The line of an event.
    #[must_use]
    pub fn of(event: &Event, timing: Option<&Timing>) -> Self {
        let mut line = Self {
            said: event.said.clone(),
            outcome: event.outcome,
            quantity: None,
            cylinder: None,
            side: None,
            valve: None,
            value_nm: None,
            goes_nm: None,
            stops_nm: None,
            marked_nm: None,
            no_gap: None,
            count: None,
            value: None,
            unit: None,
            second: None,
            second_unit: None,
            second_nm: None,
            part: None,
            head: None,
            check: None,
            good: None,
            task: None,
            stage: None,
            command: event.command.clone(),
            repaired: None,
            note: None,
            why: event.why.clone(),
            read_back: event.spoken.clone(),
            confidence: event.confidence,
            event: event.id,
            replaces: None,
            speech_end_ms: timing.map(|t| t.speech_end_ms),
            done_ms: timing.map(|t| t.done_ms),
            compute_ms: timing.map(|t| t.compute_ms),
            file: timing.and_then(|t| t.file.clone()),
        };
        line.place(event.subject);
        event.facts.iter().for_each(|fact| line.fact(fact));
        line
    }

    fn place(&mut self, position: Option<Position>) {
        if let Some(position) = position {
            self.cylinder = Some(position.cylinder);
            self.side = Some(position.side);
            self.valve = position.valve;
        }
    }

    fn fact(&mut self, fact: &Fact) {
        match fact {
            Fact::Read(reading) => self.reading(reading),
            Fact::OpenedHead(head) => self.head = Some(*head),
            Fact::Spare { size_nm, count } => {
                self.quantity = Some("shim_spare");
                self.value_nm = Some(*size_nm);
                self.count = Some(*count);
            }
            Fact::Checked {
                item, count, good, ..
            } => {
                (self.check, self.count, self.good) = (Some(item.clone()), *count, Some(*good));
            }
            Fact::Task { kind, text, .. } => {
                self.task = Some(format!("{kind} {text}").trim_end().to_owned());
            }
            Fact::Stage { stage, .. } => self.stage = Some(stage.clone()),
            Fact::Repaired { position, work } => {
                self.place(Some(*position));
                self.repaired = Some(work.key());
            }
            Fact::About { what, text } => self.note = Some(format!("{}: {text}", what.key())),
            Fact::NoteLine(text) => self.note = Some(text.clone()),
            Fact::Note { text, .. } => self.note = Some(text.clone()),
            Fact::Cancelled(id) => self.replaces = Some(*id),
            Fact::Asked(question) => {
                question.proposed.iter().for_each(|f| self.fact(f));
                if let Some(reading) = question.unplaced.and_then(|u| u.reading) {
                    self.reading(&reading);
                }
            }
            Fact::Begun { .. }
            | Fact::Opened(_)
            | Fact::RoundBegun
            | Fact::ProfileChanged { .. }
            | Fact::ShimFrom { .. }
            | Fact::Closed
            | Fact::Ticked(_)
            | Fact::NoteBegun(_)
            | Fact::NoteEnded
            | Fact::StandBy
            | Fact::Listening
            | Fact::Forgot { .. } => {}
            Fact::Reviewed { event, facts, .. } => {
                self.replaces = Some(*event);
                facts.iter().for_each(|f| self.fact(f));
            }
        }
    }

    fn reading(&mut self, reading: &Reading) {
        self.quantity = Some(reading.quantity.key());
        self.place(reading.position);
        self.part = reading.part.map(|p| p.to_string());
        self.head = reading.head.or(self.head);
        if let Some(Part::Cylinder { number, .. }) = reading.part {
            self.cylinder = Some(number);
        }
        match reading.value {
            Value::Gap(Gap::Between { goes_nm, stops_nm }) => {
                (self.value_nm, self.goes_nm, self.stops_nm) =
                    (Some(goes_nm), Some(goes_nm), Some(stops_nm));
            }
            Value::Gap(Gap::Single(value)) => self.value_nm = Some(value),
            Value::Gap(Gap::AtLeast(goes)) => {
                (self.value_nm, self.goes_nm) = (Some(goes), Some(goes));
            }
            Value::Gap(Gap::Below(stops)) => self.stops_nm = Some(stops),
            Value::Gap(Gap::None) => self.no_gap = Some(true),
            Value::Shim { marked_nm, .. } => {
                (self.value_nm, self.marked_nm) = (reading.value.shim_size(), marked_nm);
            }
            Value::Amount(amount) => {
                self.value_nm = amount.length();
                (self.value, self.unit) = in_unit(amount).unzip();
            }
            Value::Pair(first, second) => {
                self.value_nm = first.length();
                (self.value, self.unit) = in_unit(first).unzip();
                self.second_nm = second.length();
                (self.second, self.second_unit) = in_unit(second).unzip();
            }
            Value::Done => {}
        }
    }
}

/// An amount that is not a length, in the unit it was said in.
fn in_unit(amount: Amount) -> Option<(f64, Unit)> {
    match amount {
        Amount::LengthNm(_) => None,
        Amount::Milli(milli, unit) => {
            let milli = i32::try_from(milli).unwrap_or(i32::MAX);
            Some((f64::from(milli) / 1_000.0, unit))
        }
    }
}
