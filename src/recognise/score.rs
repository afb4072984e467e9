//! Forced decoding: the probability of whole phrases, shared beginnings computed once.

use std::collections::BTreeMap;

use super::Error;

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

/// A prefix tree of phrases.
#[derive(Default)]
struct Node {
    next: BTreeMap<i32, Node>,
    /// Which phrases end here.
    ends: Vec<usize>,
}

/// Scores `phrases` (tokens without the end). `root` is the step after the prompt;
/// `step(token, n)` feeds `token` as the `n`-th of the phrase (from 0) and gives the step after it.
/// Likelier beginnings go first; one more than `slack_nats` below the best finished phrase is not
/// followed, so its phrases stay at negative infinity.
pub(super) fn score(
    phrases: &[Vec<i32>],
    eot: i32,
    slack_nats: f32,
    root: &Step,
    step: &mut dyn FnMut(i32, usize) -> Result<Step, Error>,
) -> Result<Vec<f32>, Error> {
    let mut tree = Node::default();
    for (i, phrase) in phrases.iter().enumerate() {
        let mut node = &mut tree;
        for &token in phrase {
            node = node.next.entry(token).or_default();
        }
        node.ends.push(i);
    }
    let mut walk = Walk {
        eot,
        slack_nats,
        best: f32::NEG_INFINITY,
        scores: vec![f32::NEG_INFINITY; phrases.len()],
        step,
    };
    walk.visit(&tree, root, 0.0, 0)?;
    Ok(walk.scores)
}

struct Walk<'a> {
    eot: i32,
    slack_nats: f32,
    best: f32,
    scores: Vec<f32>,
    step: &'a mut dyn FnMut(i32, usize) -> Result<Step, Error>,
}

impl Walk<'_> {
    fn visit(&mut self, node: &Node, here: &Step, so_far: f32, depth: usize) -> Result<(), Error> {
        if !node.ends.is_empty() {
            let total = so_far + here.logp(self.eot);
            self.best = self.best.max(total);
            for &i in &node.ends {
                self.scores[i] = total;
            }
        }
        let mut next: Vec<(f32, i32, &Node)> = node
            .next
            .iter()
            .map(|(&token, child)| (so_far + here.logp(token), token, child))
            .collect();
        next.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (total, token, child) in next {
            if total < self.best - self.slack_nats {
                break;
            }
            let after = (self.step)(token, depth)?;
            self.visit(child, &after, total, depth + 1)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    /// Tokens 0, 1 and the end 2; after each token the same one is the likeliest next.
    fn after(token: i32) -> Step {
        Step::new(
            &if token == 0 {
                [2.0, 0.0, 1.0]
            } else {
                [0.0, 2.0, 1.0]
            },
            2,
        )
    }

    #[test]
    fn shared_beginnings_are_computed_once_and_bad_ones_left() {
        let phrases = [vec![0, 0], vec![0, 1], vec![1, 1], vec![]];
        let root = Step::new(&[1.0, 0.0, -1.0, 99.0], 2);
        let mut fed = Vec::new();
        let mut step = |token: i32, depth: usize| {
            fed.push((token, depth));
            Ok(after(token))
        };
        let all = score(&phrases, 2, f32::INFINITY, &root, &mut step).unwrap();
        assert_eq!(fed, [(0, 0), (0, 1), (1, 1), (1, 0), (1, 1)]);
        let by_hand = root.logp(0) + after(0).logp(1) + after(1).logp(2);
        assert!((all[1] - by_hand).abs() < 1e-6);
        assert!((all[3] - root.logp(2)).abs() < 1e-6);

        fed.clear();
        let mut step = |token: i32, depth: usize| {
            fed.push((token, depth));
            Ok(after(token))
        };
        let near = score(&phrases, 2, 0.5, &root, &mut step).unwrap();
        assert_eq!(fed, [(0, 0), (0, 1), (1, 0), (1, 1)]);
        assert_eq!((near[0], near[1]), (all[0], f32::NEG_INFINITY));
    }

    #[test]
    fn probabilities_add_up() {
        let step = Step::new(&[1.0, -2.0, 0.5, 7.0], 2);
        let sum: f32 = (0..4).map(|id| step.logp(id).exp()).sum();
        assert!((sum - 1.0).abs() < 1e-6);
        assert_eq!(step.best(), 0);
        assert_eq!(step.logp(3), f32::NEG_INFINITY);
    }
}
