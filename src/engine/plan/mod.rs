//! Which shims go where, or which screws are set: the plan and its reasons.

pub(crate) mod best;
pub(crate) mod cams;
pub(crate) mod moves;
mod packs;
pub(crate) mod supply;
pub(crate) mod tariff;
pub(crate) mod whatif;

use crate::engine::clearance::bench::Bench;
use crate::engine::clearance::interval::{Fit, Interval, Verdict};
use crate::engine::clearance::shim::{ideal, nearest, predict, shown};
use crate::engine::clearance::uncertainty::{Known, in_band_permille};
use crate::engine::crank::turns::{Stops, stops_of};
use crate::engine::plan::cams::{Cam, fewer};
use crate::engine::plan::moves::{Action, Change, Move, order, settings};
use crate::engine::plan::supply::{Aim, Choice, Options, Problem, Score, Valve};
use crate::engine::profile::{Profile, SideSpec};
use crate::event::{Position, Source};
use crate::measure::{Decimal, Length, LengthUnit};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// A valve that gets another shim.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Fitting {
    /// Which valve.
    pub position: Position,
    /// The shim that comes out.
    pub old_nm: Length,
    /// The shim that goes in.
    pub new_nm: Length,
    /// Where it comes from.
    pub source: Source,
    /// Whether it surely lands in the set band.
    pub fit: Fit,
    /// The clearance to expect.
    pub expected: Interval,
    /// Probability that it lands in the check band, in thousandths.
    pub in_band_permille: Option<u16>,
    /// The valve was in its check band all the same.
    pub was_in_band: bool,
    /// If it does not surely land there: the blade owned after which some size surely does,
    /// whether the blade goes or not.
    pub finer_nm: Option<Length>,
}

/// A valve that is left alone.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Untouched {
    /// Which valve.
    pub position: Position,
    /// Because the person said so.
    pub as_said: bool,
    /// Its verdict.
    pub verdict: Verdict,
    /// Why.
    pub reason: String,
    /// What would make it surer.
    pub next: Option<String>,
}

/// A valve that the plan cannot help yet.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Stuck {
    /// Which valve.
    pub position: Position,
    /// Why.
    pub reason: String,
    /// What to do next.
    pub next: String,
}

/// Shims to buy.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
pub struct Purchase {
    /// Thickness.
    pub size_nm: Length,
    /// How many are used.
    pub count: u16,
    /// Packs to buy for them, where there are packs.
    pub packs: u16,
    /// Single ones to buy for them.
    pub singles: u16,
    /// What they cost together, in the smallest coin; `None` if no price was given.
    pub price: Option<i64>,
}

impl Purchase {
    /// As it can be read out at the counter, with its price if that is known.
    #[must_use]
    pub(crate) fn words(&self, unit: LengthUnit) -> String {
        let size = shown(self.size_nm, unit);
        let plural = if self.packs == 1 { "" } else { "s" };
        let packs = match (self.packs, self.singles) {
            (0, _) => String::new(),
            (packs, 0) => format!(", as {packs} pack{plural}"),
            (packs, singles) => format!(", as {packs} pack{plural} and {singles} single"),
        };
        let price = self.price.map(|p| format!(": {}", money(p)));
        let price = price.unwrap_or_default();
        format!("Buy {} of {size}{packs}{price}.", self.count)
    }
}

/// A price in whole coins and hundredths of them.
const fn money(hundredths: i64) -> Decimal {
    Decimal::new(hundredths, 2)
}

/// What to do with the shims.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct ShimPlan {
    /// Valves that get another shim, in the order of the engine.
    pub fittings: Vec<Fitting>,
    /// The same as moves of the hand, in an order that can be done.
    pub moves: Vec<Move>,
    /// What to buy, thinnest first.
    pub purchases: Vec<Purchase>,
    /// Valves that are left alone.
    pub untouched: Vec<Untouched>,
    /// Valves that need something else first.
    pub stuck: Vec<Stuck>,
    /// Valves that the plan touches although they are in band.
    pub disturbed: Vec<Position>,
    /// Camshafts that must come out for it.
    pub cams_out: Vec<Cam>,
    /// Clearance is set by screws: the moves set them, and there is nothing to buy.
    pub screws: bool,
    /// What it costs.
    pub score: Score,
    /// Whether it is proven that nothing costs less.
    pub proven: bool,
}

impl Fitting {
    /// Why that shim, in a sentence.
    #[must_use]
    pub fn reason(&self, spec: &SideSpec, unit: LengthUnit) -> String {
        let (size, expected) = (shown(self.new_nm, unit), self.expected.show(unit));
        let (low, high) = (spec.set.low.show(unit), spec.set.high.show(unit));
        match self.fit {
            Fit::Sure => format!("{size} should give {expected}, inside {low} to {high}."),
            _ => format!(
                "{size} should give {expected}, which need not lie inside {low} to {high}. {}",
                self.before_fitting(unit)
            ),
        }
    }

    /// What to do first with a shim that does not surely land in the set band.
    #[must_use]
    pub fn before_fitting(&self, unit: LengthUnit) -> String {
        self.finer_nm.map_or_else(
            || "No blade of the set would tell: fit it and measure again.".to_owned(),
            |blade| format!("Try the {} blade before you fit it.", blade.show(unit)),
        )
    }
}

impl Stuck {
    /// Which valve, why, and what to do next, in a sentence.
    #[must_use]
    pub fn words(&self) -> String {
        format!("{}: {} {}", self.position, self.reason, self.next)
    }
}

impl ShimPlan {
    /// What all purchases cost, if there are any and each has a price.
    #[must_use]
    pub(crate) fn together(&self) -> Option<Decimal> {
        let priced = self.purchases.iter().all(|p| p.price.is_some());
        (priced && !self.purchases.is_empty()).then(|| money(self.score.price))
    }

    /// The move that sets the screw of a valve.
    pub(crate) fn setting_of(&self, position: Position) -> Option<&Move> {
        let mut moves = self.moves.iter();
        moves.find(|m| m.position == position && matches!(m.action, Action::Set { .. }))
    }

    /// The camshafts that come out, in a sentence; empty if all stay in.
    #[must_use]
    pub(crate) fn cams_words(&self) -> Option<String> {
        let cams: Vec<String> = self.cams_out.iter().map(ToString::to_string).collect();
        match cams.len() {
            0 => None,
            1 => Some(format!("The {} camshaft comes out.", cams[0])),
            _ => Some(format!("The {} camshafts come out.", cams.join(" and "))),
        }
    }

    /// What is said of the valves that lose their shim although they need no other.
    pub fn disturbs(&self) -> impl Iterator<Item = String> + '_ {
        let words = |p| format!("This plan touches {p} although it is in band.");
        self.disturbed.iter().map(words)
    }

    /// Works out the plan. It never fails: what cannot be planned stands in `stuck`. Of plans that
    /// cost the same it is one for which the fewest camshafts come out.
    #[must_use]
    pub fn of(profile: &Profile, bench: &Bench, options: &Options) -> Self {
        let plan = Self::solved(profile, bench, options, None);
        // Whatever the plan, a valve that some shim on sale helps gets one.
        let needs = plan.fittings.iter().filter(|f| !f.was_in_band);
        let on_sale = needs.filter(|f| f.source == Source::Bought || helped(profile, bench, f));
        let must: BTreeSet<Cam> = on_sale.map(|f| Cam::over(profile, f.position)).collect();
        let out: BTreeSet<Cam> = plan.cams_out.iter().copied().collect();
        if must.len() >= out.len() {
            return plan;
        }
        let others = fewer(&Cam::all(profile), &must, &out);
        let others = others
            .iter()
            .map(|out| Self::solved(profile, bench, options, Some(out)));
        let thickness_nm = plan.score.thickness_nm;
        let costs_as_much = |other: &Self| {
            let score = Score {
                thickness_nm,
                ..other.score
            };
            score == plan.score && other.stuck.len() == plan.stuck.len()
        };
        let mut others = others;
        others.find(costs_as_much).unwrap_or_else(|| plan.clone())
    }

    fn solved(
        profile: &Profile,
        bench: &Bench,
        options: &Options,
        out: Option<&BTreeSet<Cam>>,
    ) -> Self {
        let mut plan = Self {
            fittings: Vec::new(),
            moves: Vec::new(),
            purchases: Vec::new(),
            untouched: Vec::new(),
            stuck: Vec::new(),
            disturbed: Vec::new(),
            cams_out: Vec::new(),
            screws: !profile.shims.kind.has_shims(),
            score: Score::default(),
            proven: true,
        };
        let mut problem = Problem {
            valves: Vec::new(),
            spares: bench.spares(),
            series: &profile.shims.series,
            ratio: profile.shims.ratio,
            options,
            out,
        };
        let mut to_set = Vec::new();
        for position in profile.valves() {
            match ready(profile, bench, position) {
                Ready::Takes(valve) => problem.valves.push(valve),
                Ready::Stays(untouched) => plan.untouched.push(untouched),
                Ready::Sets => to_set.push(position),
                Ready::Waits(stuck) => plan.stuck.push(stuck),
            }
        }
        let (choices, score, proven) = problem.best();
        (plan.score, plan.proven) = (score, proven);
        for (valve, choice) in problem.valves.iter().zip(&choices) {
            plan.place(valve, choice, &problem, profile, bench);
        }
        plan.finish(profile, bench, options);
        let stops = stops_with_cams_in(profile);
        let targets = to_set.iter().map(|p| (*p, profile.side(p.side).target));
        plan.moves
            .extend(settings(targets.collect(), stops.as_ref(), bench.unit));
        plan
    }

    /// Where a shim comes from that is fitted now: as planned, or as what lies on the bench leaves
    /// no other way. `None` if it may come from a valve, or is no other shim.
    #[must_use]
    pub fn source_of(&self, bench: &Bench, position: Position, size: Length) -> Option<Source> {
        let valve = bench.valves.get(&position)?;
        if !valve.would_change(size) {
            return None;
        }
        let planned = self.fittings.iter().find(|f| f.position == position);
        if let Some(fitting) = planned.filter(|f| f.new_nm == size) {
            return Some(fitting.source);
        }
        if bench.loose.get(&size).is_some_and(|n| *n > 0) {
            return Some(Source::Box);
        }
        let elsewhere = bench.valves.values().any(|v| v.size() == Some(size));
        (!elsewhere).then_some(Source::Bought)
    }

    fn place(
        &mut self,
        valve: &Valve<'_>,
        choice: &Choice,
        problem: &Problem<'_>,
        profile: &Profile,
        bench: &Bench,
    ) {
        let position = valve.position;
        if choice.stuck {
            let (reason, next) = stuck(valve, problem, bench.unit);
            self.stuck.push(Stuck {
                position,
                reason,
                next,
            });
        } else if choice.source == Source::Valve(position) {
            self.untouched.push(untouched(valve, profile, bench));
        } else {
            let was_in_band = valve.stays;
            if was_in_band {
                self.disturbed.push(position);
            }
            let expected = predict(valve.shim, valve.clearance, choice.size, problem.ratio);
            let known = bench.known(position);
            self.fittings.push(Fitting {
                position,
                old_nm: valve.shim,
                new_nm: choice.size,
                source: choice.source,
                fit: choice.fit,
                expected,
                in_band_permille: in_band_permille(
                    expected,
                    valve.spec.check,
                    &[known, Known::Marked],
                    problem.ratio,
                ),
                was_in_band,
                finer_nm: (choice.fit != Fit::Sure)
                    .then(|| finer(valve, problem, &bench.blades))
                    .flatten(),
            });
        }
    }

    fn finish(&mut self, profile: &Profile, bench: &Bench, options: &Options) {
        let changes: BTreeMap<Position, Change> = self
            .fittings
            .iter()
            .map(|f| {
                (
                    f.position,
                    Change {
                        old: f.old_nm,
                        new: f.new_nm,
                        source: f.source,
                    },
                )
            })
            .collect();
        let mut spares = bench.spares();
        for fitting in self.fittings.iter().filter(|f| f.source == Source::Box) {
            if let Some(at) = spares.iter().position(|s| *s == fitting.new_nm) {
                spares.swap_remove(at);
            }
        }
        let stops = stops_with_cams_in(profile);
        self.moves = order(&changes, &spares, stops.as_ref(), bench.unit);
        let mut bought: BTreeMap<Length, u16> = BTreeMap::new();
        for fitting in self.fittings.iter().filter(|f| f.source == Source::Bought) {
            *bought.entry(fitting.new_nm).or_insert(0) += 1;
        }
        self.purchases = bought
            .into_iter()
            .map(|(size_nm, count)| {
                let (packs, singles, price) = match options.aim {
                    Aim::LowestPrice(tariff) => {
                        let (packs, singles, price) = tariff.cheapest(count);
                        (packs, singles, Some(price))
                    }
                    _ => (0, count, None),
                };
                Purchase {
                    size_nm,
                    count,
                    packs,
                    singles,
                    price,
                }
            })
            .collect();
        if profile.shims.cams_out {
            let touched = self.fittings.iter();
            let cams: BTreeSet<Cam> = touched.map(|f| Cam::over(profile, f.position)).collect();
            self.cams_out = cams.into_iter().collect();
        }
        self.untouched.sort_by_key(|u| u.position);
        self.stuck.sort_by_key(|s| s.position);
    }
}

impl Bench {
    /// How the shim of a valve is known.
    fn known(&self, position: Position) -> Known {
        let shim = self.valves.get(&position).and_then(|v| v.shim);
        match shim.and_then(|s| s.measured) {
            Some(_) => Known::Measured,
            None => Known::Marked,
        }
    }
}

/// Where the crank may stand for work at a valve; `None` where it does not matter, because the
/// camshafts are out.
fn stops_with_cams_in(profile: &Profile) -> Option<Stops> {
    let whole = profile.crank_deg.len() == usize::from(profile.cylinders);
    let cams_in = !profile.shims.cams_out;
    stops_of(profile).ok().filter(|_| cams_in && whole)
}

/// Whether a size on sale would do as well as the shim that a valve gets.
fn helped(profile: &Profile, bench: &Bench, fitting: &Fitting) -> bool {
    let interval = bench.verdict(profile, fitting.position).1;
    let spec = profile.side(fitting.position.side);
    interval.is_some_and(|clearance| {
        let mut sizes = profile.shims.series.iter();
        sizes.any(|size| {
            let gives = predict(fitting.old_nm, clearance, *size, profile.shims.ratio);
            gives.fit(spec.set) != Fit::Impossible
        })
    })
}

enum Ready<'a> {
    /// Its screw is to be set.
    Sets,
    Takes(Valve<'a>),
    Stays(Untouched),
    Waits(Stuck),
}

/// Whether a valve is known well enough to take part.
fn ready<'a>(profile: &'a Profile, bench: &Bench, position: Position) -> Ready<'a> {
    let spec = profile.side(position.side);
    let (verdict, interval) = bench.verdict(profile, position);
    let shim = bench.valves.get(&position).and_then(|v| v.size());
    let reason = interval.map_or_else(
        || {
            bench
                .fault(position)
                .unwrap_or_else(|| "Not measured yet.".to_owned())
        },
        |i| verdict.reason(i, spec.check, bench.unit),
    );
    let thinner = profile.shims.ratio.at_valve(spec.target);
    let next =
        interval.and_then(|i| verdict.next(i, spec.check, thinner, &bench.blades, bench.unit));
    let waits = |reason: String, next: Option<String>| {
        Ready::Waits(Stuck {
            position,
            reason,
            next: next.unwrap_or_else(|| "Measure it.".to_owned()),
        })
    };
    let stays = |as_said: bool, reason: String, next: Option<String>| {
        Ready::Stays(Untouched {
            position,
            as_said,
            verdict,
            reason,
            next,
        })
    };
    if bench.valves.get(&position).is_some_and(|v| v.left) {
        return stays(true, format!("You said to leave it. {reason}"), next);
    }
    match (interval, shim) {
        (Some(clearance), _) if !profile.shims.kind.has_shims() => {
            if clearance.is_accepted(spec.check, &bench.blades) {
                stays(false, reason, next)
            } else if verdict == Verdict::Open {
                waits(reason, next)
            } else {
                Ready::Sets
            }
        }
        (Some(clearance), Some(shim)) if clearance.twice_middle_nm().is_some() => {
            Ready::Takes(Valve {
                position,
                cam: Cam::over(profile, position),
                clearance,
                shim,
                spec,
                stays: clearance.is_accepted(spec.check, &bench.blades),
            })
        }
        (Some(clearance), None) if clearance.is_accepted(spec.check, &bench.blades) => {
            stays(false, reason, next)
        }
        (Some(clearance), None) if clearance.twice_middle_nm().is_some() => waits(
            format!("{reason} Its shim is not known."),
            Some("Read its shim.".to_owned()),
        ),
        _ => waits(reason, next),
    }
}

fn untouched(valve: &Valve<'_>, profile: &Profile, bench: &Bench) -> Untouched {
    let (spec, unit) = (valve.spec, bench.unit);
    let (verdict, _) = bench.verdict(profile, valve.position);
    Untouched {
        position: valve.position,
        as_said: false,
        verdict,
        reason: verdict.reason(valve.clearance, spec.check, unit),
        next: verdict.next(
            valve.clearance,
            spec.check,
            profile.shims.ratio.at_valve(spec.target),
            &bench.blades,
            unit,
        ),
    }
}

/// The blade after which some size on sale surely lands in the set band, whether it goes or not;
/// of several the one that halves the reading.
fn finer(valve: &Valve<'_>, problem: &Problem<'_>, blades: &[Length]) -> Option<Length> {
    let sure = |half: Interval| {
        let gives = |size: &Length| predict(valve.shim, half, *size, problem.ratio);
        let mut sizes = problem.series.iter();
        sizes.any(|size| gives(size).fit(valve.spec.set) == Fit::Sure)
    };
    let (low, high) = (valve.clearance.low?, valve.clearance.high?);
    let inside = blades.iter().copied().filter(|b| low < *b && *b < high);
    inside
        .filter(|b| sure(Interval::between(low, *b)) && sure(Interval::between(*b, high)))
        .min_by_key(|b| ((*b - low - (high - *b)).abs(), *b))
}

/// Why no shim helps a valve, and the nearest thing that would.
fn stuck(valve: &Valve<'_>, problem: &Problem<'_>, unit: LengthUnit) -> (String, String) {
    let target = valve.spec.target;
    let wanted = ideal(valve.shim, valve.clearance, target, problem.ratio);
    let words = wanted.show(LengthUnit::Millimetre);
    if !problem.options.lets_out(valve.cam) {
        let cam = valve.cam;
        return (
            format!("It needs a shim of {words}, but the {cam} camshaft stays in."),
            format!("Take the {cam} camshaft out."),
        );
    }
    let middle = Length::from_nm(wanted.twice_middle_nm().unwrap_or(0).div_euclid(2));
    let Some(size) = nearest(middle, problem.series) else {
        return (
            "No shim is on sale.".to_owned(),
            "Name the shim series.".to_owned(),
        );
    };
    let would = predict(valve.shim, valve.clearance, size, problem.ratio).show(unit);
    let near = format!("The nearest, {}, gives {would}.", shown(size, unit));
    let (thinnest, thickest) = (problem.series.first(), problem.series.last());
    if thinnest.is_some_and(|t| middle < *t) {
        let reason = format!("It needs {words}, thinner than the thinnest shim. {near}");
        let next = "Stop: measure the valve's height in the head; the manual says whether the tip may be ground or the seat must be replaced.";
        (reason, next.to_owned())
    } else if thickest.is_some_and(|t| middle > *t) {
        let reason = format!("It needs {words}, thicker than the thickest shim. {near}");
        let next =
            "Read the shim and the clearance again; then look for a worn lobe, bucket or follower.";
        (reason, next.to_owned())
    } else {
        let (low, high) = (
            valve.spec.set.low.show(unit),
            valve.spec.set.high.show(unit),
        );
        let reason =
            format!("It needs {words}; no size on sale lands inside {low} to {high}. {near}");
        (
            reason,
            "Look for a size between, or fit the nearest and measure again.".to_owned(),
        )
    }
}
