//! Prices that are no sum over valves: packs, and the fewest different sizes. Both are a charge
//! for opening a size, searched by branch and bound over the assignment problem.
//!
//! The bound shares the price of a size out among the valves that it fits (Lagrangian relaxation,
//! Geoffrion, *Mathematical Programming Study* 2 (1974) 82-114). It holds for any shares of which no
//! group of valves pays more than its shims cost; some rounds move the shares to those that buy.

use crate::engine::plan::supply::{Aim, Choice, Offer, Problem, Shop, Total};
use crate::engine::plan::tariff::{PARTS, Tariff};
use crate::event::Source;
use crate::measure::Length;

/// Work before the search gives up its proof and returns the best so far, in rows squared times
/// columns of each assignment that is solved: about half a second.
const PATIENCE: usize = 150_000_000;
/// How often the shares are moved at a node, and before the first branch.
const ROUNDS: i64 = 3;
const FIRST_ROUNDS: i64 = 30;

/// The best choices under a tariff, what they cost, and whether that is proven to be the least.
pub(super) fn search(problem: &Problem<'_>, tariff: Tariff) -> (Vec<Choice>, Total, bool) {
    let mut search = Search {
        problem,
        tariff,
        level: problem.options.aim.price_level(),
        best: None,
        work: 0,
    };
    let root = search.root();
    let mut stack = search.look(root, FIRST_ROUNDS);
    while let Some(node) = stack.pop() {
        if search.work > PATIENCE {
            stack.push(node);
            break;
        }
        stack.extend(search.look(node, ROUNDS));
    }
    let (mut total, choices) = search.best.unwrap_or((Total::default(), Vec::new()));
    total.0[search.level] /= PARTS;
    (choices, total, stack.is_empty())
}

struct Search<'a, 'b> {
    problem: &'a Problem<'b>,
    tariff: Tariff,
    /// Where the price stands among the levels of a total.
    level: usize,
    best: Option<(Total, Vec<Choice>)>,
    work: usize,
}

/// What is decided of one size, and how the price of its further shims is shared out.
#[derive(Clone)]
struct Size {
    size: Length,
    /// Packs paid for.
    packs: u16,
    /// No further pack is bought.
    closed: bool,
    /// The valves that it fits, and what each pays for a further shim, in parts.
    shares: Vec<(usize, i64)>,
}

impl Size {
    fn paid(&self, tariff: &Tariff) -> usize {
        usize::from(self.packs) * usize::from(tariff.pieces)
    }

    /// Whether nothing is left to decide: paid for as many as there are valves to take them.
    fn is_settled(&self, tariff: &Tariff) -> bool {
        self.closed || self.paid(tariff) >= self.shares.len()
    }

    /// Scales the shares down so that no group of valves pays more than its shims cost.
    fn scale(&mut self, tariff: &Tariff) {
        let mut sorted: Vec<i64> = self.shares.iter().map(|(_, share)| *share).collect();
        sorted.sort_unstable_by(|a, b| b.cmp(a));
        let (mut sum, mut most, mut over) = (0_i64, 1_i64, 1_i64);
        for (share, count) in sorted.into_iter().zip(1..) {
            sum += share;
            let price = price(tariff, count);
            if i128::from(sum) * i128::from(most) > i128::from(price) * i128::from(over) {
                (over, most) = (sum, price);
            }
        }
        if over > most {
            for (_, share) in &mut self.shares {
                let less = i128::from(*share) * i128::from(most) / i128::from(over);
                *share = i64::try_from(less).unwrap_or(0);
            }
        }
    }
}

/// What so many shims of a size cost at least, in parts.
fn price(tariff: &Tariff, count: usize) -> i64 {
    let count = u16::try_from(count).unwrap_or(u16::MAX);
    tariff.cheapest(count).2.saturating_mul(PARTS)
}

/// The sizes that fit somewhere.
type Node = Vec<Size>;

impl Search<'_, '_> {
    fn root(&self) -> Node {
        let mut node: Node = Vec::new();
        for size in self.problem.series {
            let fits = self.problem.valves_for(*size);
            // The least that one of a group can come to.
            let each = (1_i64..).zip(&fits).map(|(n, _)| {
                let count = usize::try_from(n).unwrap_or(usize::MAX);
                price(&self.tariff, count) / n
            });
            let Some(share) = each.min() else { continue };
            node.push(Size {
                size: *size,
                packs: 0,
                closed: false,
                shares: fits.into_iter().map(|valve| (valve, share)).collect(),
            });
        }
        node
    }

    /// What is on sale at a node; without `priced` as if all that may be bought were free.
    fn shop(&self, node: &Node, priced: bool) -> Shop {
        let mut shop = Shop::default();
        for one in node {
            let paid = one.paid(&self.tariff);
            let single = self.tariff.single();
            let free = paid >= one.shares.len() || (!priced && (!one.closed || single.is_some()));
            let share = |share: i64| match (free, one.closed) {
                (true, _) => Some(0),
                (false, true) => single,
                (false, false) => Some(share),
            };
            if !free && paid > 0 {
                let count = u16::try_from(paid).unwrap_or(u16::MAX);
                shop.paid.push((one.size, count));
            }
            let prices = one.shares.iter();
            let prices = prices.filter_map(|(valve, s)| Some((*valve, share(*s)?)));
            shop.offers.push(Offer {
                size: one.size,
                prices: prices.collect(),
            });
        }
        shop
    }

    fn solve(&mut self, shop: &Shop) -> (Vec<Choice>, Total) {
        let (rows, columns) = self.problem.cells(shop);
        self.work += rows * rows * columns;
        self.problem.solve(shop, None)
    }

    /// Looks at a node; gives its branches, if something better may be below it.
    fn look(&mut self, mut node: Node, rounds: i64) -> Vec<Node> {
        let packs: i64 = node.iter().map(|s| i64::from(s.packs)).sum();
        let paid = packs * i64::from(self.tariff.pack_cents) * PARTS;
        let mut used = Vec::new();
        let mut least = i64::MIN;
        for round in 0..rounds {
            let (choices, relaxed) = self.solve(&self.shop(&node, true));
            let mut bound = relaxed;
            bound.0[self.level] = self.round_up(relaxed.0[self.level] + paid);
            if bound.0[self.level] > relaxed.0[self.level] + paid {
                for later in &mut bound.0[self.level + 1..] {
                    *later = 0;
                }
            }
            least = least.max(bound.0[self.level]);
            used = users(&node, &choices);
            self.keep(choices, relaxed);
            if self.best.as_ref().is_some_and(|(best, _)| bound >= *best) {
                return Vec::new();
            }
            if !self.move_shares(&mut node, &used, round) {
                break;
            }
        }
        // It cannot cost less; even if the price did not matter, can it be better otherwise?
        let (choices, free) = self.solve(&self.shop(&node, false));
        self.keep(choices, free);
        if let Some((best, _)) = &self.best {
            let (before, after) = (..self.level, self.level + 1..);
            if free.0[before] == best.0[before]
                && least >= best.0[self.level]
                && free.0[after.clone()] >= best.0[after]
            {
                return Vec::new();
            }
        }
        self.branch(&node, &used)
    }

    /// To the next price that there can be.
    fn round_up(&self, parts: i64) -> i64 {
        let (mut a, mut b) = (
            i64::from(self.tariff.pack_cents),
            i64::from(self.tariff.single_cents.unwrap_or(0)),
        );
        while b != 0 {
            (a, b) = (b, a % b);
        }
        let grain = a.max(1) * PARTS;
        parts + (-parts).rem_euclid(grain)
    }

    /// Keeps choices if they are the best so far, at what they really cost.
    fn keep(&mut self, choices: Vec<Choice>, relaxed: Total) {
        let mut sizes: Vec<Length> = choices
            .iter()
            .filter(|c| c.source == Source::Bought)
            .map(|c| c.size)
            .collect();
        sizes.sort_unstable();
        let of_one = sizes.chunk_by(|a, b| a == b);
        let mut real = relaxed;
        real.0[self.level] = of_one.map(|all| price(&self.tariff, all.len())).sum();
        if self.best.as_ref().is_none_or(|(least, _)| real < *least) {
            self.best = Some((real, choices));
        }
    }

    /// Moves the shares of each size towards the valves that buy it; whether there was any to move.
    fn move_shares(&self, node: &mut Node, used: &[Vec<usize>], round: i64) -> bool {
        let mut moved = false;
        for (one, users) in node.iter_mut().zip(used) {
            if one.is_settled(&self.tariff) || users.is_empty() {
                continue;
            }
            let now: i64 = one
                .shares
                .iter()
                .filter(|(valve, _)| users.contains(valve))
                .map(|(_, share)| *share)
                .sum();
            let gap = price(&self.tariff, users.len()) - now;
            if gap <= 0 {
                continue;
            }
            moved = true;
            let count = i64::try_from(users.len()).unwrap_or(i64::MAX);
            let more = gap * 8 / (count * (8 + round));
            for (valve, share) in &mut one.shares {
                if users.contains(valve) {
                    *share += more;
                } else {
                    *share -= *share * 4 / (8 + round);
                }
            }
            one.scale(&self.tariff);
        }
        moved
    }

    /// One more pack of the most used undecided size, or no more of it.
    fn branch(&self, node: &Node, used: &[Vec<usize>]) -> Vec<Node> {
        let open = node.iter().zip(used).enumerate();
        let open =
            open.filter(|(_, (one, users))| !one.is_settled(&self.tariff) && !users.is_empty());
        let Some((at, _)) = open.max_by_key(|(at, (_, users))| (users.len(), *at)) else {
            return Vec::new();
        };
        let (mut more, mut none) = (node.clone(), node.clone());
        if let (Some(more), Some(none)) = (more.get_mut(at), none.get_mut(at)) {
            more.packs += 1;
            none.closed = true;
        }
        vec![none, more]
    }
}

/// The valves that buy a size for which they pay a share, for each size of a node.
fn users(node: &Node, choices: &[Choice]) -> Vec<Vec<usize>> {
    let buy = |size: Length| {
        let all = choices.iter().enumerate();
        let bought = all.filter(move |(_, c)| c.source == Source::Bought && c.size == size);
        bought
            .filter(|(_, c)| !c.paid)
            .map(|(valve, _)| valve)
            .collect()
    };
    node.iter().map(|one| buy(one.size)).collect()
}

impl Aim {
    /// Where the price stands among the levels of a total.
    pub(super) const fn price_level(self) -> usize {
        match self {
            Self::LowestPrice(_) => 2,
            _ => 3,
        }
    }
}
