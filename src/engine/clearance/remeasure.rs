//! After fitting: each new reading against what was predicted, and what a difference points to.

use crate::engine::clearance::bench::Bench;
use crate::engine::clearance::interval::Interval;
use crate::engine::clearance::shim::{nearest, shown};
use crate::engine::clearance::uncertainty::difference_limit;
use crate::engine::clearance::valve_state::ValveState;
use crate::engine::profile::{FollowerRatio, Profile};
use crate::event::{Gap, Position};
use crate::measure::{Length, LengthUnit};
use serde::Serialize;

/// One valve that was measured again.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Comparison {
    /// Which valve.
    pub position: Position,
    /// What was predicted.
    pub predicted: Interval,
    /// What was measured.
    pub measured: Interval,
    /// Middle measured less middle predicted.
    pub difference_nm: Length,
    /// How much of it the uncertainty explains.
    pub limit_nm: Length,
    /// Whether the two agree.
    pub agrees: bool,
    /// What a disagreement can come from, likeliest first, in words.
    pub causes: Vec<String>,
}

/// What one swap of two would explain.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Swapped {
    /// The two shims went into each other's place.
    Shims,
    /// The two readings were called for each other's valve.
    Readings,
}

/// One swap that explains both differences at once.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Swap {
    /// What was swapped.
    pub what: Swapped,
    /// Between this valve
    pub first: Position,
    /// and this one.
    pub second: Position,
    /// In a sentence.
    pub words: String,
}

/// The comparison of a whole job.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Remeasure {
    /// Every valve that was measured again after the first shim was fitted.
    pub comparisons: Vec<Comparison>,
    /// Swaps that explain differences; none where nothing differs.
    pub swaps: Vec<Swap>,
    /// Whether the swaps explain every difference.
    pub explained: bool,
}

/// What a shim that was just measured with was expected to give, if the reading disagrees.
#[must_use]
pub(crate) fn disagrees_with(bench: &Bench, position: Position, gap: Gap) -> Option<Interval> {
    let valve = bench.valves.get(&position)?;
    let before = valve.before?;
    let predicted = before.with(valve.size()?);
    let measured = Interval::of(gap, &bench.blades).ok()?;
    (!agree(predicted, measured, before.ratio)).then_some(predicted)
}

struct Again<'a> {
    position: Position,
    state: &'a ValveState,
    shim: Length,
    predicted: Interval,
    measured: Interval,
}

impl Remeasure {
    /// What does not agree, in sentences.
    #[must_use]
    pub fn words(&self, unit: LengthUnit) -> Vec<String> {
        let mut words = Vec::new();
        for one in self.comparisons.iter().filter(|c| !c.agrees) {
            words.push(format!(
                "{}: {} was predicted, {} measured. {}",
                one.position,
                one.predicted.show(unit),
                one.measured.show(unit),
                one.causes.join(" ")
            ));
        }
        words
    }

    /// Compares what was measured since the first shim was fitted.
    #[must_use]
    pub fn of(profile: &Profile, bench: &Bench) -> Self {
        let again = again(bench);
        let differing: Vec<&Again<'_>> = again
            .iter()
            .filter(|a| !agree(a.predicted, a.measured, profile.shims.ratio))
            .collect();
        let swaps = swaps(&differing, profile.shims.ratio, bench.unit);
        let explains = |p: Position| swaps.iter().any(|s| s.first == p || s.second == p);
        Self {
            explained: differing.iter().all(|a| explains(a.position)),
            comparisons: again
                .iter()
                .map(|a| compare(a, &swaps, profile, bench))
                .collect(),
            swaps,
        }
    }
}

/// Valves with a reading since the first fitting, and a prediction for it: from the shim before,
/// or the earlier reading where the shim stayed.
fn again(bench: &Bench) -> Vec<Again<'_>> {
    let fitted = |v: &ValveState| v.before.and(v.shim).map(|s| s.event);
    let Some(first) = bench.valves.values().filter_map(fitted).min() else {
        return Vec::new();
    };
    bench
        .valves
        .iter()
        .filter_map(|(position, state)| {
            let reading = state.clearance.filter(|r| r.event > first)?;
            let predicted = match state.before {
                Some(_) => state.predicted()?,
                None => state
                    .earlier
                    .iter()
                    .rfind(|r| state.moved < r.event && r.event < first)?
                    .interval
                    .ok()?,
            };
            let (shim, measured) = (state.size()?, reading.interval.ok()?);
            Some(Again {
                position: *position,
                state,
                shim,
                predicted,
                measured,
            })
        })
        .collect()
}

/// Twice the distance of the middles in nanometres, signed; `None` where an end is missing.
fn twice_difference_nm(predicted: Interval, measured: Interval) -> Option<i64> {
    Some(measured.twice_middle_nm()? - predicted.twice_middle_nm()?)
}

fn agree(predicted: Interval, measured: Interval, ratio: FollowerRatio) -> bool {
    let apart = |low: Option<Length>, high: Option<Length>| matches!((low, high), (Some(l), Some(h)) if l >= h);
    match twice_difference_nm(predicted, measured) {
        Some(twice) => twice.abs() <= 2 * difference_limit(predicted, measured, ratio).nm(),
        None => !apart(predicted.low, measured.high) && !apart(measured.low, predicted.high),
    }
}

/// Pairs whose swap makes both agree; each valve in one pair at most, shims before readings.
fn swaps(differing: &[&Again<'_>], ratio: FollowerRatio, unit: LengthUnit) -> Vec<Swap> {
    let mut found: Vec<Swap> = Vec::new();
    for what in [Swapped::Shims, Swapped::Readings] {
        for (i, a) in differing.iter().enumerate() {
            for b in differing.iter().skip(i + 1) {
                let used = |p: Position| found.iter().any(|s| s.first == p || s.second == p);
                if used(a.position) || used(b.position) || !explains(what, a, b, ratio) {
                    continue;
                }
                found.push(Swap {
                    what,
                    first: a.position,
                    second: b.position,
                    words: words(what, a, b, unit),
                });
            }
        }
    }
    found
}

fn explains(what: Swapped, a: &Again<'_>, b: &Again<'_>, ratio: FollowerRatio) -> bool {
    let agree = |predicted, measured| agree(predicted, measured, ratio);
    match what {
        Swapped::Shims => {
            // A valve whose shim stayed was never opened.
            let opened = a.state.before.is_some() && b.state.before.is_some();
            opened
                && a.shim != b.shim
                && agree(
                    a.predicted.shifted(ratio.at_lobe(a.shim - b.shim)),
                    a.measured,
                )
                && agree(
                    b.predicted.shifted(ratio.at_lobe(b.shim - a.shim)),
                    b.measured,
                )
        }
        Swapped::Readings => agree(a.predicted, b.measured) && agree(b.predicted, a.measured),
    }
}

fn words(what: Swapped, a: &Again<'_>, b: &Again<'_>, unit: LengthUnit) -> String {
    let (first, second) = (a.position, b.position);
    match what {
        Swapped::Shims => format!(
            "The shims of {first} and {second} may be in each other's place: {} and {} swapped explain both readings.",
            a.shim.show(unit),
            b.shim.show(unit)
        ),
        Swapped::Readings => format!(
            "The readings of {first} and {second} may be for each other's valve: swapped, both are as predicted."
        ),
    }
}

fn compare(again: &Again<'_>, swaps: &[Swap], profile: &Profile, bench: &Bench) -> Comparison {
    let Again {
        position,
        predicted,
        measured,
        ..
    } = *again;
    let ratio = profile.shims.ratio;
    let agrees = agree(predicted, measured, ratio);
    let twice = twice_difference_nm(predicted, measured);
    let mut causes = Vec::new();
    if !agrees {
        causes.extend(
            swaps
                .iter()
                .filter(|s| s.first == position || s.second == position)
                .map(|s| s.words.clone()),
        );
        causes.extend(others(again, twice, profile, bench));
    }
    Comparison {
        position,
        predicted,
        measured,
        difference_nm: Length::from_nm(twice.unwrap_or(0) / 2),
        limit_nm: difference_limit(predicted, measured, ratio),
        agrees,
        causes,
    }
}

/// Causes that lie in one valve. A wrong shim is the first only if one of that size was at hand.
fn others(again: &Again<'_>, twice: Option<i64>, profile: &Profile, bench: &Bench) -> Vec<String> {
    let unit = bench.unit;
    let mut causes = Vec::new();
    let tighter = match twice {
        Some(twice) => twice < 0,
        None => again.measured.low.is_none(),
    };
    if let Some(before) = again.state.before {
        let wrong = match twice {
            Some(twice) => {
                let as_if = again.shim - before.ratio.at_valve(Length::from_nm(twice / 2));
                let size = nearest(as_if, &profile.shims.series).filter(|s| {
                    *s != again.shim && agree(before.with(*s), again.measured, before.ratio)
                });
                size.map(|size| {
                    let words = format!(
                        "Wrong shim in: it reads as if a {} were there instead of the {}.",
                        shown(size, unit),
                        shown(again.shim, unit)
                    );
                    (words, at_hand(size, bench))
                })
            }
            None => no_gap_with(again, &profile.shims.series).map(|size| {
                let words = format!(
                    "Wrong shim in: a {} or thicker leaves no gap.",
                    shown(size, unit)
                );
                (words, false)
            }),
        };
        let seat = tighter
            .then(|| "Shim not seated, or dirt under it: turn twice and measure again.".to_owned());
        match wrong {
            Some((wrong, true)) => causes.extend([Some(wrong), seat].into_iter().flatten()),
            Some((wrong, false)) => causes.extend([seat, Some(wrong)].into_iter().flatten()),
            None => causes.extend(seat),
        }
    }
    causes.push(
        "Another valve was measured, or the lobe did not point away: measure it again.".to_owned(),
    );
    causes
}

/// Whether a shim of that size lay on the bench, or came out of a valve.
fn at_hand(size: Length, bench: &Bench) -> bool {
    let mut valves = bench.valves.values();
    bench.loose.get(&size).is_some_and(|n| *n > 0)
        || valves.any(|v| v.before.is_some_and(|b| b.shim == size))
}

/// The thinnest size on sale with which not even the smallest blade would go.
fn no_gap_with(again: &Again<'_>, series: &[Length]) -> Option<Length> {
    let smallest = again
        .measured
        .high
        .filter(|_| again.measured.low.is_none())?;
    let before = again.state.before?;
    let closes = |size: &&Length| before.with(**size).low.is_some_and(|low| low < smallest);
    series.iter().find(closes).copied()
}
