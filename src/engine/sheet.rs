//! The sheet: one row a valve, with its verdict and what to fit.

use crate::engine::clearance::bench::Bench;
use crate::engine::clearance::interval::{Fit, Interval, Verdict};
use crate::engine::clearance::remeasure::Remeasure;
use crate::engine::clearance::rounds::{InRound, Round};
use crate::engine::clearance::shim::ideal;
use crate::engine::clearance::uncertainty::{in_band_permille, near_limit, room_note};
use crate::engine::plan::ShimPlan;
use crate::engine::profile::Profile;
use crate::event::{Gap, Position};
use crate::measure::{Length, LengthUnit};
use serde::Serialize;

/// One valve.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Row {
    /// Which valve.
    pub position: Position,
    /// Largest blade that goes.
    pub goes_nm: Option<Length>,
    /// Smallest that does not, or the next owned one above a single value.
    pub stops_nm: Option<Length>,
    /// The reading was one value alone.
    pub single: bool,
    /// The event of the reading.
    pub clearance_event: Option<u64>,
    /// Events of earlier readings of this valve.
    pub earlier_events: Vec<u64>,
    /// What it showed in each round, oldest first.
    pub rounds: Vec<InRound>,
    /// Thickness of the shim that is in.
    pub shim_nm: Option<Length>,
    /// What is marked on it.
    pub shim_marked_nm: Option<Length>,
    /// Whether the thickness is by micrometer.
    pub shim_by_micrometer: bool,
    /// Verdict against the check band.
    pub verdict: Verdict,
    /// Why, in a sentence.
    pub reason: String,
    /// Probability that the clearance lies in the check band, in thousandths.
    pub in_band_permille: Option<u16>,
    /// On the limit: within the guard band of an end of the check band.
    pub near_limit: bool,
    /// What to do next, where the reading does not decide.
    pub next: Option<String>,
    /// The shim that would hit the target: at least this.
    pub ideal_low_nm: Option<Length>,
    /// The shim that would hit the target: less than this.
    pub ideal_high_nm: Option<Length>,
    /// The shim that the plan fits; none where it leaves the valve alone or cannot help it yet.
    pub fit_nm: Option<Length>,
    /// Whether it surely lands in the set band.
    pub fit_sure: Option<bool>,
    /// The blade to try before it is fitted, if it does not surely land there.
    pub fit_finer_nm: Option<Length>,
    /// Why that size.
    pub fit_reason: Option<String>,
    /// The clearance to expect with it.
    pub expected: Option<Interval>,
}

/// The whole sheet.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Sheet {
    /// Key of the engine's profile.
    pub engine: String,
    /// The job's unit.
    pub unit: LengthUnit,
    /// The round that is being measured.
    pub round: Round,
    /// A row for each valve, in the order of the engine.
    pub rows: Vec<Row>,
    /// Valves with a reading that counts.
    pub measured: usize,
    /// Valves still to measure.
    pub remaining: usize,
    /// Valves in band.
    pub in_band: usize,
    /// What the room's temperature does to the readings, where it matters.
    pub room: Option<String>,
    /// Readings that overturn others or were left out, in words.
    pub conflicts: Vec<String>,
    /// What was measured after fitting, against what was predicted.
    pub remeasure: Remeasure,
}

impl Sheet {
    /// The sheet of a bench; what to fit is the plan's answer.
    #[must_use]
    pub fn of(profile: &Profile, bench: &Bench, plan: &ShimPlan) -> Self {
        let rows: Vec<Row> = profile
            .valves()
            .into_iter()
            .map(|p| row(profile, bench, plan, p))
            .collect();
        let left = rows.iter().filter(|r| r.verdict.is_to_measure()).count();
        Self {
            engine: profile.key.clone(),
            unit: bench.unit,
            round: bench.round(),
            measured: rows.len() - left,
            remaining: left,
            in_band: rows.iter().filter(|r| r.verdict == Verdict::InBand).count(),
            room: bench
                .room_milli_celsius
                .and_then(|t| room_note(t, bench.unit)),
            conflicts: bench
                .conflicts
                .iter()
                .map(|c| c.words(bench.unit))
                .collect(),
            remeasure: Remeasure::of(profile, bench),
            rows,
        }
    }
}

impl Bench {
    /// A valve's verdict and the interval that it rests on.
    #[must_use]
    pub fn verdict(&self, profile: &Profile, position: Position) -> (Verdict, Option<Interval>) {
        let Some(valve) = self.valves.get(&position) else {
            return (Verdict::Unmeasured, None);
        };
        let check = profile.side(position.side).check;
        match (&valve.clearance, valve.predicted()) {
            (Some(reading), _) => match reading.interval {
                Ok(interval) => (
                    Verdict::of(reading.gap, interval, check, &self.blades),
                    Some(interval),
                ),
                Err(_) => (Verdict::Contradictory, None),
            },
            (None, Some(predicted)) => (Verdict::Refitted, Some(predicted)),
            (None, None) => (Verdict::Unmeasured, None),
        }
    }

    /// Whether a valve is in its check band or out of it by less than the uncertainty of its reading.
    #[must_use]
    pub fn is_near_limit(&self, profile: &Profile, position: Position) -> bool {
        let check = profile.side(position.side).check;
        let (_, interval) = self.verdict(profile, position);
        interval.is_some_and(|i| near_limit(i, check))
    }

    /// Valves to measure, or to measure again, in the order of the engine.
    #[must_use]
    pub fn to_measure(&self, profile: &Profile) -> Vec<Position> {
        let mut valves = profile.valves();
        valves.retain(|p| self.verdict(profile, *p).0.is_to_measure());
        valves
    }

    /// What is wrong with a valve's reading, in words.
    pub(super) fn fault(&self, position: Position) -> Option<String> {
        let error = self.valves.get(&position)?.clearance?.interval.err()?;
        Some(format!("The reading is not a clearance: {error}."))
    }
}

fn row(profile: &Profile, bench: &Bench, plan: &ShimPlan, position: Position) -> Row {
    let spec = profile.side(position.side);
    let ratio = profile.shims.ratio;
    let (verdict, interval) = bench.verdict(profile, position);
    let valve = bench.valves.get(&position);
    let reading = valve.and_then(|v| v.clearance);
    let shim = valve.and_then(|v| v.shim);
    let size = shim.map(|s| s.size);
    let wanted = interval
        .zip(size)
        .map(|(c, old)| ideal(old, c, spec.target, ratio));
    let fitting = plan.fittings.iter().find(|f| f.position == position);
    let to_set = plan.setting_of(position).map(|m| m.what.clone());
    Row {
        position,
        goes_nm: reading.and_then(|r| r.interval.ok()?.low),
        stops_nm: reading.and_then(|r| r.interval.ok()?.high),
        single: matches!(reading.map(|r| r.gap), Some(Gap::Single(_))),
        clearance_event: reading.map(|r| r.event),
        earlier_events: valve
            .map(|v| v.earlier.iter().map(|r| r.event).collect())
            .unwrap_or_default(),
        rounds: bench.rounds_of(position),
        shim_nm: size,
        shim_marked_nm: shim.and_then(|s| s.marked),
        shim_by_micrometer: shim.is_some_and(|s| s.measured.is_some()),
        verdict,
        in_band_permille: interval.and_then(|i| in_band_permille(i, spec.check, &[], ratio)),
        near_limit: bench.is_near_limit(profile, position),
        reason: interval.map_or_else(
            || {
                bench
                    .fault(position)
                    .unwrap_or_else(|| "Not measured yet.".to_owned())
            },
            |i| verdict.reason(i, spec.check, bench.unit),
        ),
        next: interval.map_or_else(
            || {
                Some(
                    if verdict == Verdict::Contradictory {
                        "Measure it again."
                    } else {
                        "Measure it."
                    }
                    .to_owned(),
                )
            },
            |i| {
                let thinner = ratio.at_valve(spec.target);
                to_set.or_else(|| verdict.next(i, spec.check, thinner, &bench.blades, bench.unit))
            },
        ),
        ideal_low_nm: wanted.and_then(|w| w.low),
        ideal_high_nm: wanted.and_then(|w| w.high),
        fit_nm: fitting.map(|f| f.new_nm),
        fit_sure: fitting.map(|f| f.fit == Fit::Sure),
        fit_finer_nm: fitting.and_then(|f| f.finer_nm),
        fit_reason: fitting.map(|f| f.reason(spec, bench.unit)),
        expected: fitting.map(|f| f.expected),
    }
}
