//! Which shim could go where, and at what cost: the assignment problem behind a plan.

use crate::engine::clearance::interval::{Fit, Interval};
use crate::engine::clearance::shim::judge;
use crate::engine::plan::cams::Cam;
use crate::engine::plan::tariff::Tariff;
use crate::engine::profile::{FollowerRatio, SideSpec};
use crate::engine::sums::assign::{Cost, Levels, assign};
use crate::event::{Position, Side, Source};
use crate::measure::Length;
use serde::Serialize;
use std::collections::BTreeSet;

/// What a plan keeps smallest first.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Aim {
    /// Shims bought, then shims changed, then distance from the target.
    #[default]
    FewestPurchases,
    /// Shims changed, then shims bought: no good valve is disturbed to save a purchase.
    FewestChanges,
    /// Shims bought, then different sizes bought, then shims changed.
    FewestSizes,
    /// Money, then shims bought, then shims changed.
    LowestPrice(Tariff),
    /// Shims bought, then the largest distance from the target of a fitted shim, then shims
    /// changed.
    WorstValve,
}

/// What the person wants of a plan.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Options {
    /// What is kept smallest first.
    pub aim: Aim,
    /// Camshafts that may come out; valves of the others keep their shims.
    pub cams_out: Vec<Side>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            aim: Aim::default(),
            cams_out: vec![Side::Inlet, Side::Exhaust],
        }
    }
}

impl Options {
    /// Whether a camshaft may come out; one that is over both sides only if both may.
    pub(super) fn lets_out(&self, cam: Cam) -> bool {
        let may =
            |side: &Side| cam.side.is_some_and(|s| s != *side) || self.cams_out.contains(side);
        [Side::Inlet, Side::Exhaust].iter().all(may)
    }
}

/// What a plan costs, in the order of [`Aim::FewestPurchases`].
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize)]
pub struct Score {
    /// Valves out of band that no shim helps.
    pub stuck: i64,
    /// Shims that may, but need not, land in the set band.
    pub unsure: i64,
    /// Shims to buy.
    pub purchases: i64,
    /// Valves that get another shim.
    pub changes: i64,
    /// What the purchases cost, in the smallest coin, under [`Aim::LowestPrice`]; the number of
    /// sizes to buy under [`Aim::FewestSizes`]; otherwise zero.
    pub price: i64,
    /// Twice the sum of distances from the targets.
    pub twice_off_nm: i64,
    /// Sum of thicknesses: the tie is for the thinner.
    pub thickness_nm: i64,
}

/// A valve that takes part: measured, and its shim known.
#[derive(Clone, Debug)]
pub(super) struct Valve<'a> {
    pub(super) position: Position,
    /// The camshaft over it.
    pub(super) cam: Cam,
    pub(super) clearance: Interval,
    pub(super) shim: Length,
    pub(super) spec: &'a SideSpec,
    /// Its own shim may stay.
    pub(super) stays: bool,
}

/// A shim that a valve can get.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Choice {
    pub(super) size: Length,
    pub(super) source: Source,
    pub(super) fit: Fit,
    pub(super) twice_off_nm: i64,
    pub(super) stuck: bool,
    /// Of a purchase, in parts of the smallest coin.
    pub(super) price: i64,
    /// It is one of a pack that is paid for already.
    pub(super) paid: bool,
}

/// A size on sale.
#[derive(Clone, Debug)]
pub(super) struct Offer {
    pub(super) size: Length,
    /// The valves that it is offered to, and the price for each.
    pub(super) prices: Vec<(usize, i64)>,
}

/// What is on sale.
#[derive(Clone, Debug, Default)]
pub(super) struct Shop {
    /// Shims paid for already.
    pub(super) paid: Vec<(Length, u16)>,
    /// Further ones, as many as are wanted.
    pub(super) offers: Vec<Offer>,
}

/// The whole problem.
pub(super) struct Problem<'a> {
    pub(super) valves: Vec<Valve<'a>>,
    pub(super) spares: Vec<Length>,
    pub(super) series: &'a [Length],
    pub(super) ratio: FollowerRatio,
    pub(super) options: &'a Options,
    /// Camshafts that may come out, if fewer than the options say.
    pub(super) out: Option<&'a BTreeSet<Cam>>,
}

/// Stuck, unsure, three levels by the aim, twice the distance, thickness, and shims taken from
/// another valve: of equal plans the one with the fewest rings to break.
pub(super) type Total = Levels<8>;

/// More than all stuck valves together: a choice that is not allowed.
const FORBIDDEN: Total = Levels([1_000, 0, 0, 0, 0, 0, 0, 0]);

impl Problem<'_> {
    /// A choice for each valve at least cost; a fitted shim must come as near to the target as
    /// `worst` (twice the distance, in nanometres).
    pub(super) fn solve(&self, shop: &Shop, worst: Option<i64>) -> (Vec<Choice>, Total) {
        let rows = self.valves.len();
        let shared: Vec<(Length, Source)> = self
            .valves
            .iter()
            .map(|v| (v.shim, Source::Valve(v.position)))
            .chain(self.spares.iter().map(|size| (*size, Source::Box)))
            .chain(shop.paid.iter().flat_map(|(size, count)| {
                (0..usize::from(*count).min(rows)).map(|_| (*size, Source::Bought))
            }))
            .collect();
        let (_, columns) = self.cells(shop);
        let near = |choice: &Choice, valve: &Valve<'_>| {
            choice.source == Source::Valve(valve.position)
                || worst.is_none_or(|worst| choice.twice_off_nm <= worst)
        };
        let mut bought = self.bought(shop).into_iter();
        let mut choices: Vec<Option<Choice>> = Vec::with_capacity(rows * columns);
        for (row, valve) in self.valves.iter().enumerate() {
            for (size, source) in &shared {
                let choice = self.choice(valve, *size, *source, 0);
                choices.push(choice.filter(|c| near(c, valve)));
            }
            let bought = bought.next().flatten().filter(|c| near(c, valve));
            for private in 0..rows {
                choices.push(if private == row { bought } else { None });
            }
        }
        let costs: Vec<Total> = choices
            .iter()
            .enumerate()
            .map(|(at, choice)| match choice {
                Some(choice) => self.total(choice, &self.valves[at / columns]),
                None => FORBIDDEN,
            })
            .collect();
        let mut sum = Total::ZERO;
        let mut chosen = Vec::new();
        for (row, column) in assign(rows, columns, &costs)
            .unwrap_or_default()
            .into_iter()
            .enumerate()
        {
            sum = sum + costs[row * columns + column];
            chosen.extend(choices[row * columns + column]);
        }
        (chosen, sum)
    }

    /// Whether a valve may get another shim, and lend its own.
    fn open(&self, cam: Cam) -> bool {
        self.options.lets_out(cam) && self.out.is_none_or(|out| out.contains(&cam))
    }

    fn choice(
        &self,
        valve: &Valve<'_>,
        size: Length,
        source: Source,
        price: i64,
    ) -> Option<Choice> {
        if source == Source::Valve(valve.position) {
            return Some(keep(valve));
        }
        if !self.open(valve.cam) {
            return None;
        }
        if let Source::Valve(other) = source
            && let Some(lender) = self.valves.iter().find(|v| v.position == other)
            && !self.open(lender.cam)
        {
            return None;
        }
        let candidate = judge(valve.shim, valve.clearance, valve.spec, size, self.ratio)?;
        (candidate.fit != Fit::Impossible).then_some(Choice {
            size,
            source,
            fit: candidate.fit,
            twice_off_nm: candidate.twice_off_nm,
            stuck: false,
            price,
            paid: source == Source::Bought,
        })
    }

    /// Rows and columns of the cost matrix.
    pub(super) fn cells(&self, shop: &Shop) -> (usize, usize) {
        let rows = self.valves.len();
        let paid = shop.paid.iter().map(|(_, n)| usize::from(*n).min(rows));
        (rows, 2 * rows + self.spares.len() + paid.sum::<usize>())
    }

    /// The valves that a bought shim of a size may go to.
    pub(super) fn valves_for(&self, size: Length) -> Vec<usize> {
        let valves = self.valves.iter().enumerate();
        let fits = valves.filter(|(_, v)| self.choice(v, size, Source::Bought, 0).is_some());
        fits.map(|(at, _)| at).collect()
    }

    /// Every size on sale at no price, to every valve that it fits.
    pub(super) fn everything_free(&self) -> Shop {
        let offer = |size: &Length| Offer {
            size: *size,
            prices: self.valves_for(*size).into_iter().map(|v| (v, 0)).collect(),
        };
        Shop {
            paid: Vec::new(),
            offers: self.series.iter().map(offer).collect(),
        }
    }

    /// Purchases are unlimited, so only the best size on sale matters for each valve.
    fn bought(&self, shop: &Shop) -> Vec<Option<Choice>> {
        let mut best: Vec<Option<(Total, Choice)>> = vec![None; self.valves.len()];
        for offer in &shop.offers {
            for (at, price) in &offer.prices {
                let (Some(valve), Some(best)) = (self.valves.get(*at), best.get_mut(*at)) else {
                    continue;
                };
                let Some(choice) = self.choice(valve, offer.size, Source::Bought, *price) else {
                    continue;
                };
                let total = self.total(&choice, valve);
                if best.as_ref().is_none_or(|(least, _)| total < *least) {
                    let paid = false;
                    *best = Some((total, Choice { paid, ..choice }));
                }
            }
        }
        best.into_iter().map(|b| b.map(|(_, c)| c)).collect()
    }

    fn total(&self, choice: &Choice, valve: &Valve<'_>) -> Total {
        let kept = choice.source == Source::Valve(valve.position);
        let purchases = i64::from(choice.source == Source::Bought);
        let changes = i64::from(!kept);
        let [first, second, third] = match self.options.aim {
            Aim::FewestPurchases | Aim::FewestSizes | Aim::WorstValve => {
                [purchases, choice.price, changes]
            }
            Aim::FewestChanges => [changes, choice.price, purchases],
            Aim::LowestPrice(_) => [choice.price, purchases, changes],
        };
        Levels([
            i64::from(choice.stuck),
            i64::from(!kept && choice.fit != Fit::Sure),
            first,
            second,
            third,
            choice.twice_off_nm,
            choice.size.nm(),
            i64::from(!kept && matches!(choice.source, Source::Valve(_))),
        ])
    }

    pub(super) fn score(&self, total: Total) -> Score {
        let Levels(
            [
                stuck,
                unsure,
                first,
                second,
                third,
                twice_off_nm,
                thickness_nm,
                _,
            ],
        ) = total;
        let (purchases, price, changes) = match self.options.aim {
            Aim::FewestPurchases | Aim::FewestSizes | Aim::WorstValve => (first, second, third),
            Aim::FewestChanges => (third, second, first),
            Aim::LowestPrice(_) => (second, first, third),
        };
        Score {
            stuck,
            unsure,
            purchases,
            changes,
            price,
            twice_off_nm,
            thickness_nm,
        }
    }
}

/// The valve's own shim stays; if it may not, the valve is stuck.
fn keep(valve: &Valve<'_>) -> Choice {
    let stays = valve.stays;
    let off = valve
        .clearance
        .twice_middle_nm()
        .map_or(0, |m| (m - 2 * valve.spec.target.nm()).abs());
    Choice {
        size: valve.shim,
        source: Source::Valve(valve.position),
        fit: valve.clearance.fit(valve.spec.set),
        twice_off_nm: if stays { off } else { 0 },
        stuck: !stays,
        price: 0,
        paid: false,
    }
}
