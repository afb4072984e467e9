//! Cuts utterances out of a stream: with silence before the first word, an end
//! that the caller can hurry, and none that never ends.

use super::detect::{Detector, FRAME, FrameInfo};
use super::pcm::{is_clipped, power_dbfs};
use super::samples_in;

/// How utterances are cut. The defaults were fitted on recorded single words,
/// talk and workshop-like noise; see models/FIGURES.md.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SegmenterConfig {
    /// Sound kept ahead of the first voiced frame, in ms; at least
    /// [`SegmenterConfig::MIN_PRE_ROLL_MS`], less loses first words.
    pub pre_roll_ms: u32,
    /// Voiced sound that starts an utterance, in ms.
    pub start_ms: u32,
    /// Silence that ends an utterance, in ms; see [`Segmenter::set_hang_ms`].
    pub hang_ms: u32,
    /// An utterance with less voiced sound than this is dropped, in ms.
    pub min_speech_ms: u32,
    /// The longest utterance, in ms of speech; it is cut there and marked.
    pub max_ms: u32,
    /// Detector score from which a frame is voiced, 0 to 1.
    pub threshold: f32,
    /// Score from which a frame keeps an utterance going that has started.
    pub keep_threshold: f32,
    /// A voiced frame must be this far above the noise, in dB.
    pub above_noise_db: f32,
    /// A frame that keeps an utterance going must also rise above the noise by
    /// this share (0 to 1) of what the utterance rises above it, in dB. So the
    /// noise that returns after loud speech ends it even where it sounds like a voice.
    pub keep_rise: f32,
    /// A voiced frame must score this much above what the noise itself scores
    /// (at most 0.9 is asked for).
    pub above_noise_score: f32,
}

impl SegmenterConfig {
    /// The least pre-roll, in ms (measured with the recogniser: below it first
    /// words are lost).
    pub(crate) const MIN_PRE_ROLL_MS: u32 = 200;
    /// What is kept of the silence behind the last voiced frame at most, in ms: a weak last word
    /// may drown in noise.
    pub(crate) const TAIL_MS: u32 = 400;
}

impl Default for SegmenterConfig {
    fn default() -> Self {
        Self {
            pre_roll_ms: 400,
            start_ms: 64,
            hang_ms: 450,
            min_speech_ms: 96,
            max_ms: 15_000,
            threshold: 0.5,
            keep_threshold: 0.5,
            above_noise_db: 3.0,
            keep_rise: 0.5,
            above_noise_score: 0.2,
        }
    }
}

/// What happened in the stream.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Cut {
    /// Somebody has begun to speak.
    Started {
        /// The first voiced sample, counted from the start of the stream.
        at_sample: u64,
    },
    /// What was announced was too short to be a word; nothing follows.
    Dropped {
        /// As in the [`Cut::Started`] before.
        at_sample: u64,
    },
    /// An utterance is complete.
    Ended(Utterance),
}

impl Cut {
    /// The utterance, if one is complete.
    pub(crate) fn ended(self) -> Option<Utterance> {
        match self {
            Self::Ended(utterance) => Some(utterance),
            _ => None,
        }
    }
}

/// All utterances of a sound at 16 kHz that is there as a whole.
pub(crate) fn utterances(config: SegmenterConfig, sound: &[f32]) -> Vec<Utterance> {
    let mut segmenter = Segmenter::new(config);
    let cuts = segmenter.push(sound).into_iter();
    let mut all: Vec<Utterance> = cuts.filter_map(Cut::ended).collect();
    all.extend(segmenter.finish());
    all
}

/// One utterance, cut out of the stream.
#[derive(Debug, Clone, PartialEq)]
pub struct Utterance {
    /// Place of the first sample in the stream; zero also if silence stands before it because the
    /// stream had not yet begun.
    pub start_sample: u64,
    /// The sound at 16 kHz: pre-roll, speech, and at most [`SegmenterConfig::TAIL_MS`] after it.
    pub samples: Vec<f32>,
    /// Where speech begins in the stream: start of the first voiced frame.
    pub speech_start_sample: u64,
    /// Where speech ends in the stream: end of the last voiced frame.
    pub speech_end_sample: u64,
    /// Mean detector score of the voiced frames, 0 to 1.
    pub score: f32,
    /// Mean level of the voiced frames above 120 Hz, dBFS.
    pub level_dbfs: f32,
    /// Level of the noise when speech began, dBFS.
    pub noise_dbfs: f32,
    /// The microphone was overdriven.
    pub clipped: bool,
    /// Cut at the longest length; speech may go on in the next utterance.
    pub truncated: bool,
}

/// Cuts a 16 kHz mono stream into utterances.
pub(crate) struct Segmenter {
    config: SegmenterConfig,
    detector: Detector,
    /// Samples that wait for a full frame.
    partial: Vec<f32>,
    /// Sound of the pre-roll and of the utterance; its first sample is at
    /// `kept_from` of the stream, where zero is the pre-roll put before it.
    kept: Vec<f32>,
    kept_from: u64,
    /// Where the last utterance's voice ended: none of it is in the next one.
    last_end: u64,
    run: Option<Run>,
    started: bool,
}

/// A run of speech, from the first voiced frame on. Places count the padding.
struct Run {
    first: u64,
    voiced_end: u64,
    voiced: u32,
    /// Voiced frames less unvoiced ones, while it is not yet an utterance.
    evidence: i32,
    score_sum: f32,
    power_sum: f32,
    noise_dbfs: f32,
}

impl Segmenter {
    /// A segmenter at the start of a stream. A pre-roll below the least is raised to it.
    pub(crate) fn new(config: SegmenterConfig) -> Self {
        let pre_roll_ms = config.pre_roll_ms.max(SegmenterConfig::MIN_PRE_ROLL_MS);
        let config = SegmenterConfig {
            pre_roll_ms,
            ..config
        };
        Self {
            config,
            detector: Detector::default(),
            partial: Vec::with_capacity(FRAME),
            kept: vec![0.0; samples_in(pre_roll_ms)],
            kept_from: 0,
            last_end: 0,
            run: None,
            started: false,
        }
    }

    /// Changes the silence that ends an utterance, in ms; holds at once, for the
    /// utterance in progress too.
    pub(crate) fn set_hang_ms(&mut self, hang_ms: u32) {
        self.config.hang_ms = hang_ms;
    }

    /// The silence that ends an utterance, in ms.
    pub(crate) fn hang_ms(&self) -> u32 {
        self.config.hang_ms
    }

    /// The utterance so far, with its pre-roll, while somebody speaks.
    pub(crate) fn speaking(&self) -> Option<&[f32]> {
        let run = self.run.as_ref().filter(|_| self.started)?;
        Some(&self.kept[self.utterance_from(run)..])
    }

    /// Silence since the last voiced frame, in ms, while an utterance is in progress.
    pub(crate) fn silent_for_ms(&self) -> Option<u32> {
        let run = self.run.as_ref().filter(|_| self.started)?;
        Some(((self.end() - run.voiced_end) / samples_in(1) as u64) as u32)
    }

    /// The utterance in progress is none: its sound was the tool's own voice. The level of the noise
    /// stays known, and nothing of it is in the next utterance.
    pub(crate) fn abandon(&mut self) {
        self.run = None;
        self.started = false;
        self.last_end = self.end();
    }

    /// Words were heard in the silence: what was said until now is voice.
    pub(crate) fn goes_on(&mut self) {
        let end = self.end();
        if let Some(run) = self.run.as_mut().filter(|_| self.started) {
            run.voiced_end = end;
        }
    }

    /// How far the utterance in progress rises above the noise, in dB.
    pub(crate) fn rise_db(&self) -> Option<f32> {
        let run = self.run.as_ref().filter(|_| self.started)?;
        Some(run.level_dbfs() - run.noise_dbfs)
    }

    /// Takes 16 kHz mono samples, any number at a time.
    pub(crate) fn push(&mut self, samples: &[f32]) -> Vec<Cut> {
        let mut cuts = Vec::new();
        let mut rest = samples;
        while !rest.is_empty() {
            let take = rest.len().min(FRAME - self.partial.len());
            self.partial.extend_from_slice(&rest[..take]);
            rest = &rest[take..];
            if let Ok(frame) = <[f32; FRAME]>::try_from(self.partial.as_slice()) {
                self.partial.clear();
                self.frame(&frame, &mut cuts);
            }
        }
        cuts
    }

    /// Ends the stream and gives the utterance in progress, if there is one.
    pub(crate) fn finish(mut self) -> Option<Utterance> {
        if !self.partial.is_empty() {
            let mut last = std::mem::take(&mut self.partial);
            last.resize(FRAME, 0.0);
            for cut in self.push(&last) {
                if let Cut::Ended(utterance) = cut {
                    return Some(utterance);
                }
            }
        }
        let run = self.run.take().filter(|_| self.started)?;
        self.is_word(&run).then(|| self.cut(&run, false))
    }

    fn frame(&mut self, frame: &[f32; FRAME], cuts: &mut Vec<Cut>) {
        let info = self.detector.frame(frame);
        let from = self.end();
        self.kept.extend_from_slice(frame);
        let (voiced, keeps) = self.judge(&info);
        if voiced {
            let run = self.run.get_or_insert_with(|| Run::new(from, &info));
            run.add(&info);
            if keeps {
                run.voiced_end = from + FRAME as u64;
            }
        }
        let Some(mut run) = self.run.take() else {
            self.forget();
            return;
        };
        run.evidence += if voiced { 1 } else { -1 };
        let at_sample = self.in_stream(run.first);
        if !self.started && run.evidence >= frames_in(self.config.start_ms) {
            self.started = true;
            cuts.push(Cut::Started { at_sample });
        }
        let silence = self.end() - run.voiced_end;
        let truncated = self.end() - run.first >= samples_in(self.config.max_ms) as u64;
        if self.started && (truncated || silence >= samples_in(self.config.hang_ms) as u64) {
            self.started = false;
            let voiced_end = run.voiced_end;
            cuts.push(match self.is_word(&run) {
                true => Cut::Ended(self.cut(&run, truncated)),
                false => Cut::Dropped { at_sample },
            });
            self.last_end = voiced_end;
        } else if self.started || run.evidence > 0 {
            self.run = Some(run);
        }
        self.forget();
    }

    /// Whether a frame is speech, and whether it is strong enough to keep an
    /// utterance going.
    fn judge(&self, info: &FrameInfo) -> (bool, bool) {
        let rise_db = info.level_dbfs - info.noise_dbfs;
        let least = (info.noise_score + self.config.above_noise_score).min(0.9);
        let heard = rise_db >= self.config.above_noise_db && info.score >= least;
        let Some(run) = self.run.as_ref().filter(|_| self.started) else {
            let voiced = heard && info.score >= self.config.threshold;
            return (voiced, voiced);
        };
        let voiced = heard && info.score >= self.config.keep_threshold;
        let run_rise_db = run.level_dbfs() - run.noise_dbfs.max(info.noise_dbfs);
        (
            voiced,
            voiced && rise_db >= run_rise_db * self.config.keep_rise,
        )
    }

    fn is_word(&self, run: &Run) -> bool {
        run.voiced as usize * FRAME >= samples_in(self.config.min_speech_ms)
    }

    fn cut(&self, run: &Run, truncated: bool) -> Utterance {
        let from = self.utterance_from(run);
        let tail = run.voiced_end + samples_in(SegmenterConfig::TAIL_MS) as u64;
        let to = (tail.min(self.end()) - self.kept_from) as usize;
        let samples = self.kept[from..to].to_vec();
        let start = self.kept_from + from as u64;
        Utterance {
            start_sample: self.in_stream(start),
            speech_start_sample: self.in_stream(run.first),
            speech_end_sample: self.in_stream(run.voiced_end),
            score: run.score_sum / run.voiced as f32,
            level_dbfs: run.level_dbfs(),
            noise_dbfs: run.noise_dbfs,
            clipped: is_clipped(&samples),
            truncated,
            samples,
        }
    }

    /// Where the utterance of a run begins in `kept`.
    fn utterance_from(&self, run: &Run) -> usize {
        let pre_roll = run.first - samples_in(self.config.pre_roll_ms) as u64;
        (pre_roll.max(self.last_end) - self.kept_from) as usize
    }

    /// Lets go of sound that no utterance can need any more.
    fn forget(&mut self) {
        let needed = self.run.as_ref().map_or(self.end(), |run| run.first);
        let from = needed - samples_in(self.config.pre_roll_ms) as u64;
        self.kept.drain(..(from - self.kept_from) as usize);
        self.kept_from = from;
    }

    fn end(&self) -> u64 {
        self.kept_from + self.kept.len() as u64
    }

    fn padding(&self) -> u64 {
        samples_in(self.config.pre_roll_ms) as u64
    }

    fn in_stream(&self, place: u64) -> u64 {
        place.saturating_sub(self.padding())
    }
}

impl Run {
    fn new(first: u64, info: &FrameInfo) -> Self {
        Self {
            first,
            voiced_end: first,
            voiced: 0,
            evidence: 0,
            score_sum: 0.0,
            power_sum: 0.0,
            noise_dbfs: info.noise_dbfs,
        }
    }

    fn level_dbfs(&self) -> f32 {
        power_dbfs(self.power_sum / self.voiced as f32)
    }

    fn add(&mut self, info: &FrameInfo) {
        self.voiced += 1;
        self.score_sum += info.score;
        self.power_sum += 10f32.powf(info.level_dbfs / 10.0);
    }
}

fn frames_in(ms: u32) -> i32 {
    samples_in(ms).div_ceil(FRAME) as i32
}

#[cfg(test)]
#[path = "utterance_tests.rs"]
mod tests;
