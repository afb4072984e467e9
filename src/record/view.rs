//! The job as every face sees it.

use super::counting::Counting;
use super::kind::Kind;
use crate::engine::crank::turns::{Places, Stop, TurnError, TurnPlan, turn_plan};
use crate::engine::{
    Bench, Findings, Interval, Log, Options, Profile, Sheet, ShimPlan, Verdict, disagrees_with,
};
use crate::event::{Event, Gap, Position, Source};
use crate::measure::Length;
use std::sync::{Arc, OnceLock};

/// What a job comes to: the fold of its events, and the answers that follow from it, each worked out
/// once after what it rests on has changed.
#[derive(Clone, Debug)]
pub struct JobView {
    profile: Arc<Profile>,
    counting: Counting,
    bench: Bench,
    /// Valves to measure, or to measure again, in the order of the engine.
    remaining: Vec<Position>,
    /// What remained when it last grew: the turning plan is made for it, and stays while one
    /// measures.
    planned_for: Vec<Position>,
    turns: OnceLock<Result<TurnPlan, TurnError>>,
    plan: OnceLock<ShimPlan>,
    sheet: OnceLock<Sheet>,
}

impl JobView {
    /// A job in which nothing happened yet.
    #[must_use]
    pub fn new(profile: &Profile, blades: &[Length]) -> Self {
        let bench = Bench::new(profile, blades);
        let remaining = bench.to_measure(profile);
        Self {
            profile: Arc::new(profile.clone()),
            counting: Counting::default(),
            bench,
            planned_for: remaining.clone(),
            remaining,
            turns: OnceLock::new(),
            plan: OnceLock::new(),
            sheet: OnceLock::new(),
        }
    }

    /// A job after its events.
    #[must_use]
    pub fn of<'a>(
        profile: &Profile,
        blades: &[Length],
        events: impl IntoIterator<Item = &'a Event>,
    ) -> Self {
        let mut view = Self::new(profile, blades);
        for event in events {
            view.apply(event);
        }
        view
    }

    /// Takes in the next event.
    pub fn apply(&mut self, event: &Event) {
        let again = self.counting.apply(event);
        let mut changed = !again.is_empty();
        // A round changes every valve.
        if again.contains(&Log::Rounds) {
            self.bench = Bench::new(&self.profile, &self.bench.blades);
            for (event, facts) in self.counting.all() {
                for (fact, at) in facts.iter().zip(0..) {
                    self.bench.apply((event.id, at), fact);
                }
            }
        } else {
            for (fact, at) in self.counting.facts_of(event.id).iter().zip(0..) {
                if let Some(log) = Log::of(fact) {
                    changed = true;
                    if !again.contains(&log) {
                        self.bench.apply((event.id, at), fact);
                    }
                }
            }
            for log in again {
                let facts = self.counting.of(&Kind::Bench(log));
                self.bench.fold_again(log, facts);
            }
        }
        if changed {
            self.settle();
        }
    }

    /// What was worked out of the bench as it was no longer holds.
    fn settle(&mut self) {
        (self.plan, self.sheet) = (OnceLock::new(), OnceLock::new());
        let remaining = self.bench.to_measure(&self.profile);
        if remaining.iter().any(|p| !self.remaining.contains(p)) {
            self.planned_for.clone_from(&remaining);
            self.turns = OnceLock::new();
        }
        self.remaining = remaining;
    }

    /// The engine.
    #[must_use]
    pub(crate) fn profile(&self) -> &Profile {
        &self.profile
    }

    /// The facts that count.
    #[must_use]
    pub const fn counting(&self) -> &Counting {
        &self.counting
    }

    /// What lies on the bench.
    #[must_use]
    pub const fn bench(&self) -> &Bench {
        &self.bench
    }

    /// Valves to measure, or to measure again, in the order of the engine.
    #[must_use]
    pub fn remaining(&self) -> &[Position] {
        &self.remaining
    }

    /// Whether anything was measured in this round.
    #[must_use]
    pub fn has_measured(&self) -> bool {
        self.bench.valves.values().any(|v| v.clearance.is_some())
    }

    /// A valve's verdict.
    #[must_use]
    pub fn verdict(&self, valve: Position) -> Verdict {
        self.bench.verdict(&self.profile, valve).0
    }

    /// Whether a valve is in band by less than the uncertainty of its reading: it is to be measured
    /// once more.
    #[must_use]
    pub fn is_near_limit(&self, valve: Position) -> bool {
        self.verdict(valve) == Verdict::InBand && self.bench.is_near_limit(&self.profile, valve)
    }

    fn planned(&self) -> Result<&TurnPlan, &TurnError> {
        let plan = || turn_plan(&self.profile, &self.planned_for, Places::default());
        self.turns.get_or_init(plan).as_ref()
    }

    /// Where to turn the crank for the valves that remain. While one measures, its stops stay.
    ///
    /// # Errors
    /// A valve that no stop shows.
    pub fn turns(&self) -> Result<TurnPlan, TurnError> {
        let planned = self.planned().map_err(Clone::clone)?;
        Ok(planned.left(&self.remaining))
    }

    /// The next valve to measure, by the turning plan: another than the open one, as long as any
    /// other remains.
    #[must_use]
    pub fn next(&self, open: Option<Position>) -> Option<Position> {
        let waits = |p: &Position| self.remaining.contains(p) && Some(*p) != open;
        let planned = self.planned().ok();
        let by_plan = planned.and_then(|plan| plan.valves().find(waits));
        by_plan
            .or_else(|| self.remaining.iter().copied().find(waits))
            .or_else(|| open.filter(|p| self.remaining.contains(p)))
    }

    /// The stop of the turning plan at which a valve that remains is measured, and what else of
    /// what remains is measured there.
    #[must_use]
    pub fn stop_of(&self, valve: Position) -> Option<Stop> {
        let turns = self.turns().ok()?;
        turns.stops.into_iter().find(|s| s.valves.contains(&valve))
    }

    /// Whether the turning plan rests on a wide timing, because the cams are not known.
    #[must_use]
    pub fn assumes_timing(&self) -> bool {
        self.planned().is_ok_and(|plan| plan.assumed_timing)
    }

    /// Which shims go where.
    #[must_use]
    pub fn plan(&self) -> &ShimPlan {
        let plan = || ShimPlan::of(&self.profile, &self.bench, &Options::default());
        self.plan.get_or_init(plan)
    }

    /// Where a shim comes from that is fitted to a valve now, as far as it is known.
    #[must_use]
    pub fn source_of(&self, valve: Position, size: Length) -> Option<Source> {
        self.plan().source_of(&self.bench, valve, size)
    }

    /// The sheet; the shims it names are the plan's.
    #[must_use]
    pub fn sheet(&self) -> &Sheet {
        let sheet = || Sheet::of(&self.profile, &self.bench, self.plan());
        self.sheet.get_or_init(sheet)
    }

    /// What the readings of an inspection come to, with compression tested at that height above the
    /// sea in metres. Asked once for a report or a list, so it is not kept.
    #[must_use]
    pub fn findings(&self, height_m: i64) -> Findings {
        Findings::of(
            &self.profile,
            &self.bench,
            self.counting.readings(),
            self.counting.closed_readings(),
            height_m,
        )
    }

    /// What a valve with another shim was expected to show, if a reading of it disagrees.
    #[must_use]
    pub fn disagrees_with(&self, valve: Position, gap: Gap) -> Option<Interval> {
        disagrees_with(&self.bench, valve, gap)
    }
}
