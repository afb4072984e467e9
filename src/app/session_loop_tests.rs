//! The loop with faces that keep a log: what is done, and in which order.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::app::assets::english;
use crate::audio::{RATE_HZ, decode};
use crate::event::{Gap, Outcome, Value};
use crate::measure::LengthUnit;
use crate::recognise::Scripted;

#[derive(Default)]
struct Log {
    lines: Vec<String>,
    events: Vec<Event>,
}

impl Faces for Log {
    fn board(&mut self, job: &Job) -> Result<()> {
        let asking = job.state.question.is_some();
        let state = if asking { "asking" } else { "listening" };
        self.lines.push(format!("board: {state}"));
        Ok(())
    }

    fn print(&mut self, done: Done) -> Result<()> {
        self.lines.push(format!("print: {}", done.event.said));
        self.events.push(done.event);
        Ok(())
    }

    fn speak(&mut self, words: &str) {
        self.lines.push(format!("speak: {words}"));
    }

    fn notice(&mut self, words: &str) {
        self.lines.push(format!("notice: {words}"));
    }
}

/// A loop whose recogniser hears these texts.
fn session(texts: &[&'static str]) -> SessionLoop<Log> {
    let job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
    // Each utterance is decoded in two passes at most.
    let twice = texts.iter().flat_map(|t| [*t, *t]);
    let listener = Listener::new(Box::new(Scripted::of_texts(twice)));
    SessionLoop::new(job, Some(listener), Log::default()).half_duplex(true)
}

fn audio(session: &mut SessionLoop<Log>, samples: &[f32]) {
    for samples in samples.chunks(RATE_HZ as usize / 50) {
        session.take(Input::Audio { samples, lost: 0 }).unwrap();
    }
}

fn spoken() -> Vec<f32> {
    let all = decode(include_bytes!("../../fixtures/audio/spoken.flac"), "").unwrap();
    let silence = vec![0.0; 2 * RATE_HZ as usize];
    [&silence, &all.samples[17_280..34_240], &silence].concat()
}

#[test]
fn every_effect_comes_in_one_order() {
    let mut session = session(&[]);
    session
        .take(Input::Typed("two exhaust left fifty"))
        .unwrap();
    session.take(Input::Key(Command::Affirm)).unwrap();
    let words: Vec<&str> = session.faces.lines.iter().map(|l| &l[..5]).collect();
    assert_eq!(
        words,
        ["board", "print", "speak", "board", "print", "speak"]
    );
    assert_eq!(session.faces.lines[0], "board: asking");
    assert_eq!(session.faces.lines[3], "board: listening");
    assert_eq!(session.faces.lines[4], "print: affirm");
    let events = &session.faces.events;
    assert_eq!(events[1].outcome, Outcome::Stored);
    assert_eq!(events[1].command.as_deref(), Some("affirm"));
}

/// The voice that answers a key sounds in the room, and is not taken for the person.
#[test]
fn a_key_does_not_make_the_tool_hear_itself() {
    let mut session = session(&["no gap"]);
    session
        .take(Input::Typed("two exhaust left twenty five"))
        .unwrap();
    std::thread::sleep(2 * TAIL);
    session.take(Input::Key(Command::Disregard)).unwrap();
    let before = session.faces.events.len();
    audio(&mut session, &spoken());
    assert_eq!(session.faces.events.len(), before, "its own voice");
    // When the voice has ended, the person is heard again.
    std::thread::sleep(2 * TAIL);
    audio(&mut session, &spoken());
    let events = &session.faces.events;
    assert_eq!(events.len(), before + 1);
    let last = &events[before].facts;
    let no_gap = |f: &crate::event::Fact| matches!(f, crate::event::Fact::Read(r) if r.value == Value::Gap(Gap::None));
    assert!(last.iter().any(no_gap), "{last:?}");
}

#[test]
fn sound_that_was_lost_while_the_tool_spoke_marks_no_clip() {
    let mut session = session(&["two exhaust left fifteen"]);
    session
        .take(Input::Typed("one exhaust left twenty"))
        .unwrap();
    let samples = &[0.0; 320];
    session.take(Input::Audio { samples, lost: 3 }).unwrap();
    std::thread::sleep(2 * TAIL);
    audio(&mut session, &spoken());
    let sound = session.faces.events[1].sound.as_ref().unwrap();
    assert_eq!(sound.overruns, 0);
    let notices = session
        .faces
        .lines
        .iter()
        .filter(|l| l.starts_with("notice"));
    assert_eq!(notices.count(), 0);
    std::thread::sleep(2 * TAIL);
    session.take(Input::Audio { samples, lost: 2 }).unwrap();
    assert_eq!(
        session.faces.lines.last().unwrap(),
        "notice: sound was lost (2 times): the clip of this utterance is marked"
    );
}

#[test]
fn with_a_talk_key_one_utterance_is_heard_for_each_press() {
    let job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
    let texts = ["two exhaust left fifteen"; 2];
    let listener = Listener::new(Box::new(Scripted::of_texts(texts)));
    let mut session = SessionLoop::new(job, Some(listener), Log::default()).push_to_talk(true);
    audio(&mut session, &spoken());
    assert_eq!(session.faces.events.len(), 0, "not pressed");
    session.take(Input::Talk).unwrap();
    audio(&mut session, &spoken());
    audio(&mut session, &spoken());
    assert_eq!(session.faces.events.len(), 1);
}

/// An edit of a page comes in order with what is said: the question that waits goes on waiting, and
/// an edit that cannot be ends nothing.
#[test]
fn a_page_may_edit_while_one_works() {
    let mut session = session(&[]);
    session
        .take(Input::Typed("two exhaust left twenty five"))
        .unwrap();
    session
        .take(Input::Typed("three exhaust right forty eight"))
        .unwrap();
    let read = session.faces.events[0].id;
    session.faces.lines.clear();
    session.review(read, &Review::Reject).unwrap().unwrap();
    assert_eq!(session.faces.lines, ["board: asking", "print: "]);
    let refused = session.review(99, &Review::Confirm).unwrap();
    assert_eq!(refused.unwrap_err().to_string(), "the job has no event 99");
    session.take(Input::Key(Command::Affirm)).unwrap();
    let job = session.job();
    let job = lock(&job);
    let left = job.state.view.remaining().len();
    assert_eq!(left, 12 - 1, "the one was taken back, the other stored");
}

/// Half of a reading had arrived; the rest never comes, and what did is not taken for the whole.
#[test]
fn nothing_is_stored_of_somebody_who_was_sent_away() {
    let mut session = session(&["two exhaust left fifteen"; 2]);
    let whole = spoken();
    let middle = whole.len() - 2 * RATE_HZ as usize - 1_600;
    audio(&mut session, &whole[..middle]);
    session.take(Input::SentAway).unwrap();
    audio(&mut session, &vec![0.0; 3 * RATE_HZ as usize]);
    assert_eq!(session.faces.events.len(), 0, "{:?}", session.faces.lines);
    // Who is let in after that is heard.
    audio(&mut session, &whole);
    assert_eq!(session.faces.events.len(), 1);
}

#[test]
fn a_reading_in_which_sound_was_lost_is_asked() {
    let whole = spoken();
    let outcome = |lost_at: usize| {
        let mut session = session(&["two exhaust left fifteen"]);
        audio(&mut session, &whole[..lost_at]);
        session
            .take(Input::Audio {
                samples: &[],
                lost: 1,
            })
            .unwrap();
        audio(&mut session, &whole[lost_at..]);
        let events = &session.faces.events;
        assert_eq!(events.len(), 1);
        (
            events[0].outcome,
            events[0].facts.iter().any(|f| f.is_entry()),
        )
    };
    assert_eq!(
        outcome(2 * RATE_HZ as usize + 4_000),
        (Outcome::Asked, false)
    );
    // Two seconds before, nobody spoke.
    assert_eq!(outcome(0), (Outcome::Stored, true));
}

/// A loudspeaker over the air sounds late: what equals the end of what was said is not the person's.
#[test]
fn the_tools_own_words_are_never_the_persons_however_late() {
    for late_ms in [20, 100, 200, 300, 400, 500, 600] {
        let mut session = session(&["two five in band"]);
        session
            .take(Input::Typed("two exhaust left twenty five"))
            .unwrap();
        let said = session.faces.events[0].spoken.clone();
        assert_eq!(said, "two exhaust left, point two five, in band");
        std::thread::sleep(2 * TAIL);
        let silence = vec![0.0; late_ms * RATE_HZ as usize / 1_000];
        audio(&mut session, &silence);
        let lead = 2 * RATE_HZ as usize;
        audio(&mut session, &spoken()[lead..]);
        let after: Vec<Outcome> = session.faces.events[1..]
            .iter()
            .map(|e| e.outcome)
            .collect();
        assert!(
            after.iter().all(|o| *o == Outcome::Ignored),
            "{late_ms} ms: {after:?}"
        );
        assert_eq!(
            session.faces.events.len(),
            2,
            "{late_ms} ms: heard, and left alone"
        );
    }
}

/// Speech that was begun while the voice sounded has lost its beginning: it is asked for again, and
/// what is left of it is not stored.
#[test]
fn what_was_begun_during_the_voice_is_asked_again() {
    let mut session = session(&["one inlet right fifteen"]);
    session
        .take(Input::Typed("two exhaust left twenty five"))
        .unwrap();
    let lead = 2 * RATE_HZ as usize;
    let speech = spoken().split_off(lead);
    audio(&mut session, &speech[..4_800]);
    std::thread::sleep(2 * TAIL);
    audio(&mut session, &speech[4_800..]);
    let last = session.faces.events.last().unwrap();
    assert_eq!(
        (last.outcome, last.spoken.as_str()),
        (Outcome::Asked, "say again")
    );
    assert_eq!(session.faces.events.len(), 2);
}

/// Says what the recogniser hears next over the end of the voice: it goes on when that is over.
fn over_the_end_of_the_voice(session: &mut SessionLoop<Log>) {
    let lead = 2 * RATE_HZ as usize;
    let speech = spoken().split_off(lead);
    audio(session, &speech[..4_800]);
    std::thread::sleep(2 * TAIL);
    audio(session, &speech[4_800..]);
}

/// "Left or right": whoever answers with one of these words over the end of the question is not taken
/// for its echo.
#[test]
fn an_answer_in_a_word_of_the_question_is_not_lost_in_silence() {
    for answer in ["left", "right"] {
        let mut session = session(&[answer; 4]);
        session.take(Input::Typed("two exhaust fifteen")).unwrap();
        let asked = "two exhaust. which valve, left or right";
        assert_eq!(session.faces.events[0].spoken, asked);
        over_the_end_of_the_voice(&mut session);
        let last = session.faces.events.last().unwrap();
        assert_eq!(last.spoken, "say again", "{answer}");
        // The question is still open, and the answer after "say again" is taken.
        std::thread::sleep(2 * TAIL);
        audio(&mut session, &spoken());
        let last = session.faces.events.last().unwrap();
        assert_eq!(last.outcome, Outcome::Stored, "{answer}: {}", last.why);
    }
}

/// Somebody who always begins too early is asked so three times, and no more: it might be an echo.
#[test]
fn what_is_begun_too_early_again_is_asked_again() {
    let mut session = session(&["one inlet right fifteen"; 4]);
    session
        .take(Input::Typed("two exhaust left twenty five"))
        .unwrap();
    for _ in 0..4 {
        over_the_end_of_the_voice(&mut session);
    }
    let events = session.faces.events[1..].iter();
    let asked: Vec<bool> = events.map(|e| e.spoken.starts_with("say again")).collect();
    assert_eq!(asked, [true, true, true, false]);
}
