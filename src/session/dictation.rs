//! A long note: every sentence until "end of note" is a line of it.

use super::place::{self, Placed};
use super::{Decision, Hearing, JobSetup, State};
use crate::event::{Fact, Outcome};
use crate::grammar::{Command, Heard, Meaning, Whereabouts};

/// A long note that was left open this long ends by itself: what is said then is work again.
const LEFT_OPEN_MS: i64 = 120_000;

/// "Take a note": what follows is its text, whatever it says.
pub(super) fn begin(setup: &JobSetup, said: &Whereabouts) -> Decision {
    let position = match place::complete(&setup.profile, said) {
        Placed::At(position) => Some(position),
        Placed::Missing(_) => None,
    };
    let place = position.map(|p| setup.grammar.wording.place(p));
    let place = place.unwrap_or_default();
    Decision::new(Outcome::Stored, "a long note is open")
        .about(position)
        .say(setup.answer("note_open", &[("place", &place)]))
        .adds([Fact::NoteBegun(position)])
}

/// What an utterance does to the long note that is open; `None` where none is.
pub(super) fn line(
    setup: &JobSetup,
    state: &State,
    hearing: &Hearing,
    heard: &Heard,
) -> Option<Decision> {
    let since = state.dictating_since_ms?;
    if hearing.at_ms - since > LEFT_OPEN_MS {
        return None;
    }
    let command = match heard {
        Heard::Accepted(said) => match said.meaning {
            Meaning::Command(command) => Some(command),
            _ => None,
        },
        _ => None,
    };
    Some(match command {
        Some(Command::NoteEnded) => Decision::new(Outcome::Stored, "the long note is closed")
            .say(setup.answer("noted", &[]))
            .command(Command::NoteEnded)
            .adds([Fact::NoteEnded]),
        // "Strike that" takes back the last sentence.
        Some(Command::Disregard) => match state.counting().last_line() {
            Some(id) => Decision::new(Outcome::Stored, format!("sentence {id} no longer counts"))
                .say(setup.answer("note_struck", &[]))
                .command(Command::Disregard)
                .adds([Fact::Cancelled(id)]),
            None => Decision::new(Outcome::Refused, "the note has no sentence yet")
                .say(setup.answer("nothing_to_correct", &[])),
        },
        // The words that steer listening work inside a note too.
        Some(Command::StandBy | Command::Listen | Command::SayAgain) => return None,
        _ => {
            let words = setup.grammar.words_of(&hearing.said);
            if words.is_empty() {
                return None;
            }
            Decision::new(Outcome::Stored, "a sentence of the long note")
                .adds([Fact::NoteLine(words.join(" "))])
        }
    })
}
