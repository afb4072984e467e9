//! The best choices for every valve, by the search that the aim asks for.

use crate::engine::clearance::interval::Fit;
use crate::engine::clearance::shim::judge;
use crate::engine::plan::packs;
use crate::engine::plan::supply::{Aim, Choice, Problem, Score, Shop, Total};
use crate::engine::plan::tariff::Tariff;

impl Problem<'_> {
    /// The best choice for each valve, and whether it is proven to be the best. The same problem
    /// always gives the same answer.
    pub(super) fn best(&self) -> (Vec<Choice>, Score, bool) {
        let free = self.everything_free();
        let (choices, total, proven) = match self.options.aim {
            Aim::FewestPurchases | Aim::FewestChanges => {
                let (choices, total) = self.solve(&free, None);
                (choices, total, true)
            }
            Aim::FewestSizes => packs::search(self, Tariff::per_size(self.valves.len())),
            Aim::LowestPrice(tariff) => packs::search(self, tariff),
            Aim::WorstValve => {
                let (choices, total) = self.least_worst(&free);
                (choices, total, true)
            }
        };
        (choices, self.score(total), proven)
    }

    /// The bottleneck problem: the smallest allowed distance that costs no further purchase.
    fn least_worst(&self, shop: &Shop) -> (Vec<Choice>, Total) {
        let mut best = self.solve(shop, None);
        let must = [best.1.0[0], best.1.0[1], best.1.0[2]];
        let mut limits: Vec<i64> = self
            .valves
            .iter()
            .flat_map(|v| {
                let sizes = self
                    .valves
                    .iter()
                    .map(|o| o.shim)
                    .chain(self.spares.iter().copied());
                sizes
                    .chain(self.series.iter().copied())
                    .filter_map(|size| judge(v.shim, v.clearance, v.spec, size, self.ratio))
                    .filter(|c| c.fit != Fit::Impossible)
                    .map(|c| c.twice_off_nm)
                    .collect::<Vec<_>>()
            })
            .collect();
        limits.sort_unstable();
        limits.dedup();
        let (mut low, mut high) = (0, limits.len());
        while low < high {
            let middle = usize::midpoint(low, high);
            let found = self.solve(shop, limits.get(middle).copied());
            if [found.1.0[0], found.1.0[1], found.1.0[2]] == must {
                best = found;
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        best
    }
}
