//! What shims cost.

/// Prices inside the search are kept in this many parts of the smallest coin, so that the share
/// of a pack is a whole number; rounding it down keeps the bound a bound.
pub(super) const PARTS: i64 = 10_000;

/// What shims cost: packs of one size, and single ones where they are sold.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Tariff {
    /// Shims in a pack.
    pub pieces: u16,
    /// Price of a pack, in the smallest coin.
    pub pack_cents: u32,
    /// Price of one shim, in the smallest coin; `None` where only packs are sold.
    pub single_cents: Option<u32>,
}

impl Tariff {
    /// A size costs one, however many pieces: the price counts the sizes.
    pub(super) fn per_size(valves: usize) -> Self {
        let pieces = u16::try_from(valves.max(1)).unwrap_or(u16::MAX);
        Self {
            pieces,
            pack_cents: 1,
            single_cents: None,
        }
    }

    /// Packs and singles that give `count` pieces at the least price, and that price.
    #[must_use]
    pub fn cheapest(&self, count: u16) -> (u16, u16, i64) {
        let pieces = self.pieces.max(1);
        let price = |packs: u16, singles: u16| {
            i64::from(packs) * i64::from(self.pack_cents)
                + i64::from(singles) * i64::from(self.single_cents.unwrap_or(0))
        };
        let full = count.div_ceil(pieces);
        let only_packs = (full, 0, price(full, 0));
        if self.single_cents.is_none() {
            return only_packs;
        }
        (0..full)
            .map(|packs| {
                let singles = count - packs * pieces;
                (packs, singles, price(packs, singles))
            })
            .chain([only_packs])
            .min_by_key(|(_, _, price)| *price)
            .unwrap_or(only_packs)
    }

    pub(super) fn single(&self) -> Option<i64> {
        self.single_cents.map(|cents| i64::from(cents) * PARTS)
    }
}
