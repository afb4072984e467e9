//! Sixty steps of gradient descent on one voice's phrases, with others rehearsed beside them.

use super::LearnError;
use super::batch::{Example, Row, Rows};
use super::network::{Network, PREFIX};
use crate::grammar::Dice;
use crate::recognise::Weights;
use candle_core::{D, Device, Result, Tensor};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};

/// Rows of a step, and steps. Sixty were measured to be enough for 20 to 40 phrases.
const ROWS: usize = 8;
const STEPS: usize = 60;
/// The rate of the first full step, steps that lead up to it, and the longest gradient.
const RATE: f32 = 1e-3;
const WARM_UP: f32 = 5.0;
const LONGEST: f32 = 1.0;
/// Adam (Kingma, Ba 2015), with the numbers of that paper.
const MOMENTS: (f32, f32) = (0.9, 0.999);
const EPSILON: f32 = 1e-8;

/// What is learnt from.
#[derive(Default)]
pub struct Lesson {
    /// The voice's own phrases.
    pub own: Vec<Example>,
    /// Phrases of other voices, so that they are not forgotten.
    pub others: Vec<Example>,
    /// Noise of the shop.
    pub noises: Vec<Vec<f32>>,
}

/// New numbers for tensors of the weights, by their names.
pub type Learnt = BTreeMap<String, Vec<f32>>;

/// Sums over rows: the gradient, the loss in nats and the tokens.
#[derive(Default)]
struct Sums {
    gradient: BTreeMap<String, Vec<f32>>,
    loss: f32,
    tokens: usize,
}

/// One number of the optimiser's memory for each that is trained.
struct Moment {
    first: Vec<f32>,
    second: Vec<f32>,
}

/// Learns a voice; `each` is told how many of how many steps are done, and the loss in nats a token.
/// It can be stopped by `stop`.
///
/// # Errors
/// Weights of another kind, no phrases, or that it was stopped.
pub fn learn(
    weights: &[u8],
    lesson: &Lesson,
    stop: &AtomicBool,
    each: impl FnMut(usize, usize, f32),
) -> std::result::Result<Learnt, LearnError> {
    learn_in(STEPS, weights, lesson, stop, each)
}

/// Half way between the numbers of the weights and what was learnt.
///
/// # Errors
/// Weights of another kind.
pub fn half_way(weights: &[u8], learnt: &Learnt) -> std::result::Result<Learnt, LearnError> {
    let weights = Weights::parse(weights.to_vec()).map_err(LearnError::Weights)?;
    let half = |(name, learnt): (&String, &Vec<f32>)| {
        let (_, numbers) = weights.tensor(name)?;
        let middle = numbers
            .iter()
            .zip(learnt)
            .map(|(a, b)| f32::midpoint(*a, *b));
        Some((name.clone(), middle.collect()))
    };
    Ok(learnt.iter().filter_map(half).collect())
}

fn learn_in(
    steps: usize,
    weights: &[u8],
    lesson: &Lesson,
    stop: &AtomicBool,
    mut each: impl FnMut(usize, usize, f32),
) -> std::result::Result<Learnt, LearnError> {
    if lesson.own.is_empty() {
        return Err(LearnError::NoPhrases);
    }
    let weights = Weights::parse(weights.to_vec()).map_err(LearnError::Weights)?;
    let network = Network::new(&weights)?;
    let mut moments: BTreeMap<&str, Moment> = BTreeMap::new();
    let mut rows = Rows {
        weights: &weights,
        noises: &lesson.noises,
        dice: Dice::new(1),
    };
    let (mut own, mut others) = (Deck::default(), Deck::default());
    for step in 0..steps {
        if stop.load(Ordering::Relaxed) {
            return Err(LearnError::Stopped);
        }
        let batch: Vec<Row> = (0..ROWS)
            .map(|row| match row {
                0 | 1 if !lesson.others.is_empty() => rows.of(others.next(&lesson.others)),
                2 if step % 2 == 0 => rows.of_noise(),
                _ => rows.of(own.next(&lesson.own)),
            })
            .collect();
        let sums = both_halves(&network, &batch)?;
        let tokens = sums.tokens.max(1) as f32;
        let squares = sums.gradient.values().flatten().map(|g| g * g);
        let length = squares.sum::<f32>().sqrt() / tokens;
        let shrink = (LONGEST / (length + 1e-6)).min(1.0) / tokens;
        let done = step as f32;
        let rate = RATE * ((done + 1.0) / WARM_UP).min(1.0) * (1.0 - done / steps as f32);
        let fade = |base: f32| 1.0 - base.powf(done + 1.0);
        for (name, var) in network.light() {
            let Some(gradient) = sums.gradient.get(name) else {
                continue;
            };
            let mut numbers: Vec<f32> = var.as_tensor().to_vec1()?;
            let moment = moments.entry(name).or_insert_with(|| Moment {
                first: vec![0.0; numbers.len()],
                second: vec![0.0; numbers.len()],
            });
            let both = moment.first.iter_mut().zip(&mut moment.second);
            for ((number, gradient), (first, second)) in numbers.iter_mut().zip(gradient).zip(both)
            {
                let gradient = gradient * shrink;
                *first = MOMENTS.0 * *first + (1.0 - MOMENTS.0) * gradient;
                *second = MOMENTS.1 * *second + (1.0 - MOMENTS.1) * gradient * gradient;
                let size = (*second / fade(MOMENTS.1)).sqrt() + EPSILON;
                *number -= rate * (*first / fade(MOMENTS.0)) / size;
            }
            var.set(&Tensor::from_vec(numbers, var.dims(), &Device::Cpu)?)?;
        }
        each(step + 1, steps, sums.loss / tokens);
    }
    let mut learnt = Learnt::new();
    for (name, var) in network.light() {
        learnt.insert(name.clone(), var.as_tensor().to_vec1()?);
    }
    Ok(learnt)
}

/// Goes through examples in another order each time.
#[derive(Default)]
struct Deck {
    left: Vec<usize>,
    rounds: u64,
}

impl Deck {
    fn next<'a>(&mut self, all: &'a [Example]) -> &'a Example {
        if self.left.is_empty() {
            self.left = (0..all.len()).collect();
            let mut dice = Dice::new(self.rounds);
            for i in (1..all.len()).rev() {
                self.left.swap(i, dice.below(i + 1));
            }
            self.rounds += 1;
        }
        &all[self.left.pop().unwrap_or(0)]
    }
}

/// The gradient of a batch, half of the rows on each of two threads: many small operations of one row
/// use only one.
fn both_halves(network: &Network, batch: &[Row]) -> std::result::Result<Sums, LearnError> {
    let (one, other) = batch.split_at(batch.len() / 2);
    let (one, other) = std::thread::scope(|threads| {
        let other = threads.spawn(|| sums(network, other));
        let one = sums(network, one);
        let lost = |_| Err(candle_core::Error::Msg("a thread was lost".to_owned()));
        (one, other.join().unwrap_or_else(lost))
    });
    let (mut all, other) = (one?, other?);
    all.loss += other.loss;
    all.tokens += other.tokens;
    for (name, gradient) in other.gradient {
        add(&mut all.gradient, &name, &gradient);
    }
    Ok(all)
}

fn add(all: &mut BTreeMap<String, Vec<f32>>, name: &str, gradient: &[f32]) {
    match all.get_mut(name) {
        Some(sum) => sum.iter_mut().zip(gradient).for_each(|(s, g)| *s += g),
        None => drop(all.insert(name.to_owned(), gradient.to_vec())),
    }
}

/// Row by row, so that only the workings of one are in memory.
fn sums(network: &Network, rows: &[Row]) -> Result<Sums> {
    let mut all = Sums::default();
    for row in rows {
        let loss = loss(network, row)?;
        all.loss += loss.to_scalar::<f32>()?;
        all.tokens += row.tokens.len() - PREFIX.len();
        let grads = loss.backward()?;
        for (name, var) in network.light() {
            if let Some(gradient) = grads.get(var) {
                add(
                    &mut all.gradient,
                    name,
                    &gradient.flatten_all()?.to_vec1::<f32>()?,
                );
            }
        }
    }
    Ok(all)
}

/// Cross entropy of a row's words, in nats.
fn loss(network: &Network, row: &Row) -> Result<Tensor> {
    let features = network.hear(&row.sound, row.frames)?;
    let (last, before) = (row.tokens.len() - 1, PREFIX.len() - 1);
    let scores = network.spell(&row.tokens[..last], &features)?;
    let scores = scores.narrow(0, before, last - before)?;
    let wanted = Tensor::new(&row.tokens[PREFIX.len()..], &Device::Cpu)?;
    let of_wanted = scores
        .gather(&wanted.unsqueeze(1)?, D::Minus1)?
        .squeeze(1)?;
    (scores.log_sum_exp(D::Minus1)? - of_wanted)?.sum_all()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::audio::read_clip;
    use std::path::Path;

    /// One clip, said wrong on purpose: the network learns to write that, step by step.
    #[test]
    fn steps_bring_the_loss_down_and_change_only_what_is_light() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let weights = std::fs::read(root.join("models/ggml-tiny.en-bench-q8_0.bin")).unwrap();
        let clip = read_clip(&root.join("fixtures/recogniser/yes.wav")).unwrap();
        let lesson = Lesson {
            own: vec![Example {
                samples: clip.samples,
                words: "eleven".to_owned(),
            }],
            ..Lesson::default()
        };
        let go = AtomicBool::new(false);
        let mut losses = Vec::new();
        let learnt = learn_in(10, &weights, &lesson, &go, |_, _, loss| losses.push(loss)).unwrap();
        let (first, last) = (losses[0], losses[9]);
        assert!(last < 0.6 * first, "{losses:?}");
        let light = Weights::parse(weights.clone()).unwrap();
        let light = light.light();
        assert_eq!(learnt.len(), light.len());
        assert!(
            learnt
                .iter()
                .all(|(name, n)| light[name.as_str()] == n.len())
        );
        let stop = AtomicBool::new(true);
        let stopped = learn_in(10, &weights, &lesson, &stop, |_, _, _| {});
        assert!(matches!(stopped, Err(LearnError::Stopped)));
        let nothing = learn(&weights, &Lesson::default(), &go, |_, _, _| {});
        assert!(matches!(nothing, Err(LearnError::NoPhrases)));
    }
}
