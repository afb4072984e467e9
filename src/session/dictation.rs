//! A long note: every sentence until "end of note" is a line of it.

use super::place::{self, Placed};
use super::{Decision, Hearing, JobSetup, State};
use crate::event::{Doubt, Fact, Outcome, Question};
use crate::grammar::{Command, Heard, Meaning, Whereabouts};

/// A long note that was left open this long ends by itself: what is said then is work again.
const LEFT_OPEN_MS: i64 = 120_000;

/// "Take a note": what follows is its text, whatever it says.
pub(super) fn begin(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let position = match place::complete(&setup.profile, said) {
        Placed::At(position) => Some(position),
        Placed::Missing(_) => None,
    };
    let place = position.map(|p| setup.wording(state).place(p));
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
    // A clock that was set back by hours says no more of it than one that ran on.
    if (hearing.at_ms - since).abs() > LEFT_OPEN_MS {
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
        Some(Command::PartOfNote | Command::Affirm) if asked(state).is_some() => {
            let line = asked(state).map(|text| Fact::NoteLine(text.to_owned()));
            Decision::new(Outcome::Stored, "a sentence of the long note")
                .say(setup.answer("noted", &[]))
                .command(Command::PartOfNote)
                .adds([Fact::Closed])
                .adds(line)
        }
        Some(Command::AQuestion | Command::Negative) if asked(state).is_some() => return None,
        // "How many left" may be meant for the tool.
        Some(command) if command.is_a_question() => ask(setup, hearing),
        _ => {
            let words = setup.grammar.words_of(&hearing.said);
            if words.is_empty() {
                return None;
            }
            let close = state.question.is_some().then_some(Fact::Closed);
            Decision::new(Outcome::Stored, "a sentence of the long note")
                .adds([Fact::NoteLine(words.join(" "))])
                .closing(close)
        }
    })
}

/// What was said in the long note and may be a question.
pub(super) fn asked(state: &State) -> Option<&str> {
    state.dictating_since_ms?;
    match state.question.as_ref()?.proposed.as_slice() {
        [Fact::NoteLine(text)] => Some(text),
        _ => None,
    }
}

/// Whether it is answered that it was one.
pub(super) fn is_a_question(heard: &Heard) -> bool {
    let answers = [Command::AQuestion, Command::Negative].map(Meaning::Command);
    matches!(heard, Heard::Accepted(said) if answers.contains(&said.meaning))
}

/// Part of the note, or a question?
fn ask(setup: &JobSetup, hearing: &Hearing) -> Decision {
    let text = setup.grammar.words_of(&hearing.said).join(" ");
    let question = Question::plain(
        Doubt::Dictation,
        vec![Fact::NoteLine(text)],
        setup.answer("note_or_question", &[]),
    );
    Decision::new(Outcome::Asked, "a question, said in a long note").asks(question)
}
