//! The listener: a stream of sound in, hearings out. It owns no job: what was heard is given to the
//! conversation, which says what words mean in its present state.

use super::acceptance;
use super::continuation::Previous;
use super::decoding::{Recognition, pass, weigh};
use super::endpointing::{Timeouts, in_noise, is_noisy};
use super::hypothesis::Pass;
use crate::audio::{
    Clip, Cut, RATE_HZ, Segmenter, SegmenterConfig, Utterance, encode_wav, sha256_hex,
};
use crate::event::{Event, Sound};
use crate::grammar::Heard;
use crate::recognise::Recogniser;
use crate::report::Timing;
use crate::session::{Acceptance, Hearing, Interpreter};
use anyhow::Result;
use std::time::Instant;

/// Samples taken at a time: 20 ms.
const CHUNK: usize = RATE_HZ as usize / 50;
/// With more samples than this still to take (160 ms), the recogniser is behind and makes no pass.
const BEHIND: usize = RATE_HZ as usize * 160 / 1_000;
/// Samples between two partial passes: 160 ms.
const PARTIAL: u64 = RATE_HZ as u64 * 160 / 1_000;
/// Silence after which a first pass is made, in milliseconds.
const FIRST_MS: u32 = 96;
/// Silence after which a second one is, if the first left a doubt, in milliseconds.
const SECOND_MS: u32 = 160;
/// In noise the sound is decoded once more so long before a silence of `LAST_LOOK_FROM_MS` or more
/// ends, in milliseconds: a weak word may have drowned in it. Chosen by us; its effect stands in
/// models/FIGURES.md.
const LAST_LOOK_MS: u32 = 40;
const LAST_LOOK_FROM_MS: u32 = 400;
/// Somebody who was silent for less than this when the voice ended was still speaking, in
/// milliseconds: a pause inside a word is shorter.
const STILL_SPEAKING_MS: u32 = 96;

/// Utterances in a row that are asked again since they were begun while the voice spoke; more may be an
/// echo. Chosen by us.
const MOST_ASKED: u32 = 3;

/// An echo of the voice may begin so long after it was taken to be over: 1 s in samples. Chosen by us,
/// no source: more than the half second by which a phone or a wireless loudspeaker may lag.
const LATE_ECHO: u64 = RATE_HZ as u64;

/// Sound that was lost so shortly before an utterance may have been its beginning: half a second in
/// samples, more than a read brings at once. Chosen by us, no source.
const LOST_NEAR: u64 = RATE_HZ as u64 / 2;

/// A stream that ends sooner after the last voice may have ended inside a word ("eight" of
/// "eighteen") or between two, in milliseconds: more than a stop between words. Chosen by us, no source.
const LAST_SILENCE_MS: u32 = 200;

/// What the listener talks to.
pub trait Conversation {
    /// What texts mean in its present state.
    fn interpreter(&self) -> Interpreter<'_>;

    /// How long a silence is waited for, in percent of the usual wait: more for who speaks slowly.
    fn patience_percent(&self) -> u32 {
        100
    }

    /// Takes one utterance, with its clip as a WAV file, and stores what comes of it: one event, or
    /// one for each of several readings.
    ///
    /// # Errors
    /// What kept it from being stored; then the state is as before.
    fn take(&mut self, hearing: Hearing, clip: Option<&[u8]>) -> Result<Vec<Event>>;

    /// Takes typed words.
    ///
    /// # Errors
    /// As [`Conversation::take`].
    fn say(&mut self, text: &str) -> Result<Vec<Event>> {
        let interpretation = self.interpreter().of(text);
        self.take(Hearing::typed(text.to_owned(), interpretation, 0), None)
    }
}

/// One utterance that went the whole way.
pub struct Recognised {
    /// What came of it.
    pub event: Event,
    /// When.
    pub timing: Timing,
    /// What it was recognised as.
    pub recognition: Recognition,
    /// Mean level of its voice, dBFS.
    pub level_dbfs: f32,
    /// Level of the noise around it, dBFS.
    pub noise_dbfs: f32,
    /// The microphone was overdriven.
    pub clipped: bool,
}

/// Takes the words heard so far, while the person still speaks.
pub(crate) type OnPartial = Box<dyn FnMut(&str) + Send>;

/// A recogniser on a stream of sound.
pub struct Listener {
    recogniser: Box<dyn Recogniser>,
    timeouts: Timeouts,
    segmenter: Segmenter,
    current: Current,
    on_partial: Option<OnPartial>,
    fed: u64,
    overruns: u32,
    /// Where the sound was that was lost last, in samples of the stream.
    lost_at: Option<u64>,
    previous: Option<Previous>,
    muted: bool,
    /// Words that the voice said last, while or before it was heard.
    own_words: Vec<String>,
    /// When it was heard no more, in samples of the stream.
    voice_ended: Option<u64>,
    /// The utterance in progress was begun while the voice spoke.
    overlaps: bool,
    /// How many utterances in a row were asked again for that reason.
    asked_again: u32,
}

/// The utterance in progress.
#[derive(Default)]
struct Current {
    /// Passes over all that was voiced so far, made in the silence after it.
    passes: Vec<Pass>,
    /// Whether the silence itself was decoded.
    looked: bool,
    /// Silence of the frame before, in milliseconds.
    silent_ms: u32,
    /// When the next partial pass is due, in samples of the stream.
    partial_at: u64,
    /// Computing that the passes took, in milliseconds.
    compute_ms: f64,
    /// When the recogniser was free again, in milliseconds of the stream.
    busy_until_ms: f64,
}

impl Listener {
    /// A listener at the start of a stream.
    #[must_use]
    pub fn new(recogniser: Box<dyn Recogniser>) -> Self {
        Self {
            recogniser,
            timeouts: Timeouts::default(),
            segmenter: Segmenter::new(SegmenterConfig::default()),
            current: Current::default(),
            on_partial: None,
            fed: 0,
            overruns: 0,
            lost_at: None,
            previous: None,
            muted: false,
            own_words: Vec::new(),
            voice_ended: None,
            overlaps: false,
            asked_again: 0,
        }
    }

    /// Every silence that ends an utterance, in percent of the usual one.
    #[must_use]
    pub const fn with_patience(mut self, percent: u32) -> Self {
        self.timeouts = self.timeouts.scaled(percent);
        self
    }

    /// Other silences than the usual ones end an utterance.
    #[must_use]
    pub const fn with_timeouts(mut self, timeouts: Timeouts) -> Self {
        self.timeouts = timeouts;
        self
    }

    /// Gives the words heard so far to `each`, several times a second while somebody speaks.
    pub fn on_partial(&mut self, each: OnPartial) {
        self.on_partial = Some(each);
    }

    /// Takes samples, mono 16 kHz; gives the utterances that ended in them. If they are many, the
    /// recogniser was behind: then only the newest sound is decoded in between, nothing is queued.
    ///
    /// # Errors
    /// The recogniser or the disk; what was stored stays stored.
    pub fn feed(
        &mut self,
        samples: &[f32],
        conversation: &mut dyn Conversation,
    ) -> Result<Vec<Recognised>> {
        let mut all = Vec::new();
        let mut left = samples.len();
        for chunk in samples.chunks(CHUNK) {
            self.fed += chunk.len() as u64;
            left -= chunk.len();
            for cut in self.segmenter.push(chunk) {
                match cut {
                    _ if self.muted => {}
                    Cut::Ended(utterance) => all.extend(self.utterance(&utterance, conversation)?),
                    Cut::Dropped { .. } => self.dropped(),
                    Cut::Started { .. } => {}
                }
            }
            if left <= BEHIND && !self.muted {
                self.meanwhile(conversation)?;
            }
        }
        Ok(all)
    }

    /// Takes a whole recording as if it were spoken now: the same every time.
    ///
    /// # Errors
    /// As [`Listener::feed`].
    pub fn play(
        &mut self,
        samples: &[f32],
        conversation: &mut dyn Conversation,
    ) -> Result<Vec<Recognised>> {
        let mut all = Vec::new();
        for chunk in samples.chunks(CHUNK) {
            all.extend(self.feed(chunk, conversation)?);
        }
        all.extend(self.finish(conversation)?);
        Ok(all)
    }

    /// Ends the stream; the next feed begins a new one at zero.
    ///
    /// # Errors
    /// As [`Listener::feed`].
    pub fn finish(&mut self, conversation: &mut dyn Conversation) -> Result<Vec<Recognised>> {
        let silent_ms = self.segmenter.silent_for_ms();
        if silent_ms.is_some_and(|ms| ms < LAST_SILENCE_MS) {
            self.lost_at = Some(self.fed); // the rest of it
        }
        let segmenter = std::mem::replace(
            &mut self.segmenter,
            Segmenter::new(SegmenterConfig::default()),
        );
        let last = segmenter.finish().filter(|_| !self.muted);
        let last = last.map_or(Ok(Vec::new()), |u| self.utterance(&u, conversation));
        self.fed = 0;
        self.voice_ended = None;
        self.lost_at = None;
        self.previous = None;
        self.current = Current::default();
        (self.overlaps, self.asked_again) = (false, 0);
        last
    }

    /// From now on the sound holds the tool's own voice saying `words`: until [`Listener::unmute`] it
    /// is not an utterance, though the level of the noise is still followed.
    pub fn mute(&mut self, words: Vec<String>) {
        self.muted = true;
        self.own_words = words;
        self.previous = None;
        self.current.forget();
    }

    /// The voice has ended. Speech that goes on was begun during it: it has lost its beginning, so it
    /// is not taken as it stands, and not dropped in silence either.
    pub fn unmute(&mut self) {
        self.muted = false;
        self.voice_ended = Some(self.fed);
        match self.segmenter.silent_for_ms() {
            Some(silent_ms) if silent_ms < STILL_SPEAKING_MS => self.overlaps = true,
            _ => {
                self.segmenter.abandon();
                self.overlaps = false;
            }
        }
    }

    /// Samples were lost in the utterance that is being heard; those of the tool's own voice do not
    /// matter.
    pub fn lost(&mut self, overruns: u32) {
        if !self.muted {
            self.overruns = self.overruns.saturating_add(overruns);
            self.lost_at = Some(self.fed);
        }
    }

    /// What is being said is not to be heard at all: who says it was sent away.
    pub fn abandon(&mut self) {
        self.segmenter.abandon();
        self.current.forget();
        self.previous = None;
        (self.overlaps, self.asked_again) = (false, 0);
        self.overruns = 0;
    }

    /// Whether words are the end of what the voice said last, and come soon after it: a phone or a
    /// wireless loudspeaker may sound that late.
    fn is_late_echo(&self, words: &[String], start: u64) -> bool {
        let soon = self
            .voice_ended
            .is_some_and(|end| start.saturating_sub(end) < LATE_ECHO);
        soon && !words.is_empty() && self.own_words.ends_with(words)
    }

    /// Whether words that were begun while the voice sounded are its own. One word of them is not if it
    /// may answer what the voice asked: "left" of "left or right". A rest of one or two words that mean
    /// nothing is more likely the voice than the person.
    fn is_own(&self, words: &[String], nothing: bool, answering: bool) -> bool {
        match words {
            [] => true,
            [_] | [_, _] if nothing => true,
            [_] if answering => false,
            _ => self.own_words.windows(words.len()).any(|w| w == words),
        }
    }

    fn dropped(&mut self) {
        self.current.forget();
        self.overlaps = false;
    }

    /// What is done while somebody speaks: passes in the silences, partial text in between.
    fn meanwhile(&mut self, conversation: &dyn Conversation) -> Result<()> {
        let Some(silent_ms) = self.segmenter.silent_for_ms() else {
            self.current.silent_ms = 0;
            return Ok(());
        };
        if silent_ms < self.current.silent_ms {
            self.current.forget();
        }
        self.current.silent_ms = silent_ms;
        let rise_db = self.segmenter.rise_db();
        let doubt = |first: &Pass| is_noisy(rise_db) || !acceptance::is_clear(first);
        if self.current.passes.is_empty() {
            let timeouts = self.timeouts.scaled(conversation.patience_percent());
            self.segmenter.set_hang_ms(timeouts.begun_ms);
            if silent_ms >= in_noise(FIRST_MS, rise_db) {
                self.next_pass(conversation)?;
            } else if self.on_partial.is_some() && self.fed >= self.current.partial_at {
                self.partial()?;
            }
        } else if self.current.passes.len() == 1
            && silent_ms >= in_noise(SECOND_MS, rise_db)
            && self.current.passes.iter().any(doubt)
        {
            self.next_pass(conversation)?;
        }
        let hang_ms = self.segmenter.hang_ms();
        let due = hang_ms >= LAST_LOOK_FROM_MS && silent_ms + LAST_LOOK_MS >= hang_ms;
        if is_noisy(rise_db) && due && !self.current.looked && !self.current.passes.is_empty() {
            self.look_again(conversation)?;
        }
        Ok(())
    }

    /// Decodes the silence too. If words follow those that were heard, it was none: speech goes on.
    fn look_again(&mut self, conversation: &dyn Conversation) -> Result<()> {
        self.current.looked = true;
        let Some(sound) = self.segmenter.speaking() else {
            return Ok(());
        };
        let begun = Instant::now();
        let now = self.recogniser.hear(sound)?;
        let interpreter = conversation.interpreter();
        let words = |text: &str| interpreter.grammar.words_of(text);
        let now = words(&now.text);
        let goes_on = self.current.passes.iter().any(|p| {
            let before = words(&p.free.text);
            !before.is_empty() && now.len() > before.len() && now.starts_with(&before)
        });
        self.current.worked(self.fed, begun);
        if goes_on {
            self.segmenter.goes_on();
            self.current.forget();
        }
        Ok(())
    }

    /// Makes one more pass over the utterance so far, and waits as it says.
    fn next_pass(&mut self, conversation: &dyn Conversation) -> Result<()> {
        let Some(sound) = self.segmenter.speaking() else {
            return Ok(());
        };
        let begun = Instant::now();
        let interpreter = conversation.interpreter();
        let before = self.current.passes.first();
        let next = pass(self.recogniser.as_mut(), &interpreter, sound, before)?;
        if let Some(each) = &mut self.on_partial {
            each(&next.free.text);
        }
        self.current.passes.push(next);
        let best = acceptance::best(&self.current.passes);
        let free = &self.current.passes[0].free.text;
        let wait_ms = self.timeouts.scaled(conversation.patience_percent()).after(
            interpreter.grammar,
            best.as_ref(),
            free,
        );
        let wait_ms = in_noise(wait_ms, self.segmenter.rise_db());
        self.segmenter.set_hang_ms(wait_ms);
        self.current.worked(self.fed, begun);
        Ok(())
    }

    /// Shows what is heard so far.
    fn partial(&mut self) -> Result<()> {
        self.current.partial_at = self.fed + PARTIAL;
        let (Some(sound), Some(each)) = (self.segmenter.speaking(), &mut self.on_partial) else {
            return Ok(());
        };
        let heard = self.recogniser.hear(sound)?;
        each(&heard.text);
        Ok(())
    }

    fn utterance(
        &mut self,
        utterance: &Utterance,
        conversation: &mut dyn Conversation,
    ) -> Result<Vec<Recognised>> {
        let begun = Instant::now();
        let interpreter = conversation.interpreter();
        // What was decoded in the silence is the whole utterance: it is not decoded again.
        let mut passes = std::mem::take(&mut self.current.passes);
        let recogniser = self.recogniser.as_mut();
        let noisy = is_noisy(Some(utterance.level_dbfs - utterance.noise_dbfs));
        while passes
            .first()
            .is_none_or(|first| passes.len() == 1 && (noisy || !acceptance::is_clear(first)))
        {
            let sound = &utterance.samples;
            let next = pass(recogniser, &interpreter, sound, passes.first())?;
            passes.push(next);
        }
        let mut recognition = weigh(&interpreter, passes, Some(utterance));
        let (mut doubted, mut samples) = (None, utterance.samples.clone());
        if let Some(previous) = self.previous.take() {
            let start = utterance.speech_start_sample;
            (recognition, doubted) = previous.with(&interpreter, start, recognition);
            if doubted.is_some()
                && let Some(whole) = previous.as_one(recogniser, &interpreter, utterance)?
            {
                (recognition, samples) = whole;
            }
        }
        let free = recognition.evidence.free.first();
        let free = interpreter
            .grammar
            .words_of(free.map_or("", String::as_str));
        let mut overlapped = std::mem::take(&mut self.overlaps);
        if overlapped {
            let nothing = recognition.interpretation == Heard::Nothing;
            let most = if nothing { 1 } else { MOST_ASKED };
            let own = self.is_own(&free, nothing, interpreter.answering);
            recognition.acceptance = if own || self.asked_again >= most {
                Acceptance::Reject
            } else {
                self.asked_again += 1;
                Acceptance::Confirm
            };
        } else if self.is_late_echo(&free, utterance.speech_start_sample) {
            // One word may as well be the answer to what was asked: it is asked in its turn.
            overlapped = free.len() > 1;
            recognition.acceptance = match (overlapped, recognition.acceptance) {
                (true, _) | (_, Acceptance::Reject) => Acceptance::Reject,
                (false, _) => Acceptance::Confirm,
            };
        }
        if !overlapped {
            self.asked_again = 0;
        }
        // A figure may have gone with the sound: "two four nine" of "two four nine six".
        let lost = self
            .lost_at
            .is_some_and(|at| at + LOST_NEAR >= utterance.speech_start_sample);
        if lost && recognition.acceptance == Acceptance::Accept {
            recognition.acceptance = Acceptance::Confirm;
        }
        let clip = Clip::new(samples);
        let wav = encode_wav(&clip)?;
        let sound = Sound {
            sha256: sha256_hex(&wav),
            length_ms: u32::try_from(clip.duration_ms()).unwrap_or(u32::MAX),
            overruns: std::mem::take(&mut self.overruns),
            model: self.recogniser.weights().to_owned(),
        };
        let hearing = Hearing {
            said: recognition.said.clone(),
            interpretation: recognition.interpretation.clone(),
            acceptance: recognition.acceptance,
            confidence: recognition.confidence,
            rival: recognition.rival(),
            doubted,
            overlapped,
            sound: Some(sound),
            at_ms: 0,
        };
        let events = conversation.take(hearing, Some(&wav))?;
        let end = utterance.speech_end_sample;
        let meant = recognition.interpretation.clone();
        // Of several readings the words may go on after the last, and that one is not decoded again
        // with the others.
        self.previous = match events.as_slice() {
            [event] => Previous::new(event, meant, end, clip.samples),
            _ => None,
        };
        self.current.worked(self.fed, begun);
        let ms = |samples: u64| samples * 1_000 / u64::from(RATE_HZ);
        let timing = Timing {
            speech_end_ms: ms(end),
            done_ms: self.current.busy_until_ms.round() as u64,
            compute_ms: self.current.compute_ms.round() as u64,
            file: None,
        };
        self.current.forget();
        let recognised = |event| Recognised {
            event,
            timing: timing.clone(),
            recognition: recognition.clone(),
            level_dbfs: utterance.level_dbfs,
            noise_dbfs: utterance.noise_dbfs,
            clipped: utterance.clipped,
        };
        Ok(events.into_iter().map(recognised).collect())
    }
}

impl Current {
    /// Speech has gone on, or has ended.
    fn forget(&mut self) {
        self.passes.clear();
        self.looked = false;
        self.silent_ms = 0;
        self.compute_ms = 0.0;
    }

    /// The recogniser was at work since `begun`, on sound up to `fed` samples: on a clock that runs
    /// with the sound, so that a recording gives the same delays as a microphone.
    fn worked(&mut self, fed: u64, begun: Instant) {
        let took_ms = begun.elapsed().as_secs_f64() * 1_000.0;
        let now_ms = fed as f64 * 1_000.0 / f64::from(RATE_HZ);
        self.compute_ms += took_ms;
        self.busy_until_ms = self.busy_until_ms.max(now_ms) + took_ms;
    }
}

#[cfg(test)]
#[path = "listener_tests.rs"]
mod tests;
