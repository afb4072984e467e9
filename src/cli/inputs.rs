//! What reaches a session while it listens: sound, keys, and what the pages ask for.

use super::faces::Terminal;
use super::keys::{Keys, Press};
use crate::app::session_loop::{Input, SessionLoop};
use crate::app::sound::Sound;
use crate::grammar::Command;
use anyhow::Result;

/// Takes what comes, until it is over or the sound ends. A recording is heard from its start; of a
/// microphone, what came while the recogniser was loaded is not.
pub(super) fn until(
    mut over: impl FnMut() -> bool,
    from_start: bool,
    session: &mut SessionLoop<Terminal>,
    sound: &mut Sound,
    keys: &mut Option<Keys>,
) -> Result<()> {
    session.look_at_the_disk()?;
    let mut samples = Vec::new();
    // None of what was not listened to marks a clip.
    let mut overruns = if from_start {
        0
    } else {
        sound.microphone.read(&mut samples)?.overruns_total
    };
    loop {
        samples.clear();
        let read = sound.microphone.read(&mut samples)?;
        if read.sent_away {
            session.take(Input::SentAway)?;
        }
        let lost = read.overruns_total.saturating_sub(overruns);
        overruns = overruns.max(read.overruns_total);
        let mut ends = over() || read.ended;
        for press in keys.iter_mut().flat_map(Keys::pressed) {
            match press {
                Press::Talk => session.take(Input::Talk)?,
                Press::Affirm => session.take(Input::Key(Command::Affirm))?,
                Press::Disregard => session.take(Input::Key(Command::Disregard))?,
                Press::End => ends = true,
            }
        }
        while let Some(request) = session.faces.request() {
            request.done_by(session)?;
        }
        if session.hears()
            && let Some(pages) = session.faces.pages()
        {
            pages.level(&samples);
        }
        let lost = u32::try_from(lost).unwrap_or(u32::MAX);
        let samples = &samples;
        session.take(Input::Audio { samples, lost })?;
        if ends {
            return session.take(Input::Stop);
        }
    }
}
