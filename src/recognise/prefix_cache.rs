//! The decoder's opinion at one place of a text, and the cache of those already asked for.

use std::collections::HashMap;
use std::sync::Arc;

/// Log-probabilities of every next token at one place of a text.
pub(super) struct Step {
    logits: Vec<f32>,
    log_sum: f32,
}

impl Step {
    /// From the decoder's logits. Only text tokens and the end (`eot`, the last of them) count:
    /// nothing else is ever written.
    pub(super) fn new(logits: &[f32], eot: i32) -> Self {
        let kept = usize::try_from(eot)
            .map_or(0, |eot| eot + 1)
            .min(logits.len());
        let logits = logits[..kept].to_vec();
        let most = logits.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let sum: f32 = logits.iter().map(|l| (l - most).exp()).sum();
        Self {
            logits,
            log_sum: most + sum.ln(),
        }
    }

    /// Natural logarithm of the probability of `id`.
    pub(super) fn logp(&self, id: i32) -> f32 {
        let logit = usize::try_from(id).ok().and_then(|i| self.logits.get(i));
        logit.map_or(f32::NEG_INFINITY, |logit| logit - self.log_sum)
    }

    /// How much less likely `id` is than the likeliest token, in nats.
    pub(super) fn shortfall(&self, id: i32) -> f32 {
        self.logp(self.best()) - self.logp(id)
    }

    /// The likeliest token.
    pub(super) fn best(&self) -> i32 {
        let best = self
            .logits
            .iter()
            .zip(0..)
            .max_by(|a, b| a.0.total_cmp(b.0));
        best.map_or(0, |(_, id)| id)
    }
}

/// The steps after texts of the utterance heard last, each computed once.
#[derive(Default)]
pub(super) struct PrefixCache {
    steps: HashMap<Vec<i32>, Arc<Step>>,
    /// The text whose keys and values the decoder holds.
    fed: Vec<i32>,
}

impl PrefixCache {
    /// Of a new utterance, of which only the step before the first word is known.
    pub(super) fn new(root: Step) -> Self {
        Self {
            steps: HashMap::from([(Vec::new(), Arc::new(root))]),
            fed: Vec::new(),
        }
    }

    /// The step after `text`. `feed(token, place)` computes one step; places count from 0, and
    /// those from the place on are forgotten by it.
    pub(super) fn step<E>(
        &mut self,
        text: &[i32],
        feed: &mut dyn FnMut(i32, usize) -> Result<Step, E>,
    ) -> Result<Arc<Step>, E> {
        if let Some(known) = self.steps.get(text) {
            return Ok(known.clone());
        }
        let same = self.fed.iter().zip(text).take_while(|(a, b)| a == b);
        let from = same.count().min(text.len().saturating_sub(1));
        self.fed.truncate(from);
        let mut last = None;
        for (place, &token) in text.iter().enumerate().skip(from) {
            let step = Arc::new(feed(token, place)?);
            self.fed.push(token);
            self.steps.insert(text[..=place].to_vec(), step.clone());
            last = Some(step);
        }
        Ok(last.unwrap_or_else(|| Arc::new(Step::new(&[], 0))))
    }

    /// Whether the step after `text` is known.
    pub(super) fn knows(&self, text: &[i32]) -> bool {
        self.steps.contains_key(text)
    }

    /// How many steps are known.
    pub(super) fn len(&self) -> usize {
        self.steps.len()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    #[test]
    fn probabilities_add_up() {
        let step = Step::new(&[1.0, -2.0, 0.5, 7.0], 2);
        let sum: f32 = (0..4).map(|id| step.logp(id).exp()).sum();
        assert!((sum - 1.0).abs() < 1e-6);
        assert_eq!(step.best(), 0);
        assert_eq!(step.logp(3), f32::NEG_INFINITY);
    }

    #[test]
    fn steps_are_computed_once_and_shared_beginnings_are_not_fed_again() {
        let mut cache = PrefixCache::new(Step::new(&[0.0, 1.0], 1));
        let mut fed = Vec::new();
        for text in [&[0, 0][..], &[0], &[0, 1], &[1], &[0, 0, 1], &[]] {
            let mut feed = |token: i32, place: usize| -> Result<Step, ()> {
                fed.push((token, place));
                Ok(Step::new(&[token as f32, place as f32], 1))
            };
            cache.step(text, &mut feed).unwrap();
        }
        let wanted = [(0, 0), (0, 1), (1, 1), (1, 0), (0, 0), (0, 1), (1, 2)];
        assert_eq!(fed, wanted);
        assert_eq!(cache.len(), 6);
    }
}
