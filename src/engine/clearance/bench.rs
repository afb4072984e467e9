//! What lies on the bench: the fold of the facts that count into each valve's reading and shim, and
//! the box of spares.
//!
//! A fact that comes last is taken in at once. Where an earlier one comes or goes, only the log that
//! it belongs to is folded again: that of its valve, or the box.

use crate::engine::clearance::conflict::{Clash, Conflict};
use crate::engine::clearance::interval::Interval;
use crate::engine::clearance::valve_state::{ANOTHER_SHIM, Clearance, Pair, Shim, ValveState};
use crate::engine::profile::{FollowerRatio, Profile, ShimKind};
use crate::event::{Fact, Gap, NewRound, Position, Reading, Repair, Source, Value, Wish};
use crate::measure::{Amount, Length, LengthUnit, Quantity, Unit};
use std::collections::BTreeMap;

/// Where a fact stands in a job: its event, and its place among the facts of that event.
pub(crate) type At = (u64, usize);

/// The facts that are folded together: what happens in one log changes no other, but that the
/// shims of a valve come from the box and go into it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Log {
    /// The job's unit.
    Unit,
    /// The rounds of measuring: they change every valve.
    Rounds,
    /// The room.
    Room,
    /// The box of spares.
    Box,
    /// One valve.
    Valve(Position),
}

impl Log {
    /// The log that a fact belongs to; `None` where the bench has no use for it.
    #[must_use]
    pub fn of(fact: &Fact) -> Option<Self> {
        if NewRound::of(fact).is_some() {
            return Some(Self::Rounds);
        }
        if let Some((position, work)) = Repair::of(fact) {
            let closes = work.closes().contains(&Quantity::Clearance);
            return closes.then_some(Self::Valve(position));
        }
        match fact {
            Fact::Begun { .. } => Some(Self::Unit),
            Fact::Spare { .. } => Some(Self::Box),
            Fact::ShimFrom { position, .. } => Some(Self::Valve(*position)),
            Fact::Checked {
                item,
                position: Some(position),
                ..
            } => Wish::from_key(item).map(|_| Self::Valve(*position)),
            Fact::Read(reading) => match reading.quantity {
                Quantity::RoomTemperature => Some(Self::Room),
                Quantity::ShimSpare => Some(Self::Box),
                Quantity::Clearance | Quantity::ShimFitted => reading.position.map(Self::Valve),
                _ => None,
            },
            _ => None,
        }
    }
}

/// What one fact does to the box of spares.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Stock {
    /// So many of a size lie in it.
    Counted(Length, i32),
    /// One more of a size.
    OneMore(Length),
    /// A valve got another shim.
    Moved {
        position: Position,
        old: Length,
        new: Length,
        /// Where the new one comes from, if it was noted.
        source: Option<Source>,
    },
}

/// The bench as the events leave it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Bench {
    /// The job's unit.
    pub unit: LengthUnit,
    /// The unit of bare pressures.
    pub gauge: Unit,
    /// The unit of bare torques.
    pub wrench: Unit,
    /// Feeler blades owned, thinnest first.
    pub blades: Vec<Length>,
    /// What a shim does to a clearance.
    ratio: FollowerRatio,
    /// How clearance is set.
    pub(super) kind: ShimKind,
    /// Every valve of the engine.
    pub valves: BTreeMap<Position, ValveState>,
    /// Loose shims by size. Below zero: fitted before it was ever called, and not known to be
    /// bought: most likely from a valve that is still to be called.
    pub loose: BTreeMap<Length, i32>,
    /// Shims that are known to be bought, and are fitted, by size.
    bought: BTreeMap<Length, u32>,
    /// Valves whose shim, as far as it was called, another valve has got already.
    lent: BTreeMap<Position, Length>,
    /// Room temperature in thousandths of a degree Celsius, the last that was said.
    pub room_milli_celsius: Option<i64>,
    /// Conflicts, in order.
    pub conflicts: Vec<Conflict>,
    /// What happened to the box, in order.
    stock: BTreeMap<At, Stock>,
    /// Why each round after the first began.
    pub(super) rounds: Vec<(At, NewRound)>,
}

impl Stock {
    /// What a fact of the box's log does to it.
    fn of(fact: &Fact) -> Option<Self> {
        match fact {
            Fact::Spare { size_nm, count } => Some(Self::Counted(*size_nm, i32::from(*count))),
            Fact::Read(Reading {
                quantity: Quantity::ShimSpare,
                value,
                ..
            }) => value.shim_size().map(Self::OneMore),
            _ => None,
        }
    }
}

impl Bench {
    /// A bench on which nothing was measured yet.
    #[must_use]
    pub fn new(profile: &Profile, blades: &[Length]) -> Self {
        let mut blades = blades.to_vec();
        blades.sort_unstable();
        blades.dedup();
        let untouched = |p: Position| (p, ValveState::default());
        Self {
            unit: LengthUnit::Millimetre,
            gauge: Unit::Bar,
            wrench: Unit::NewtonMetre,
            blades,
            ratio: profile.shims.ratio,
            kind: profile.shims.kind,
            valves: profile.valves().into_iter().map(untouched).collect(),
            loose: BTreeMap::new(),
            bought: BTreeMap::new(),
            lent: BTreeMap::new(),
            room_milli_celsius: None,
            conflicts: Vec::new(),
            stock: BTreeMap::new(),
            rounds: Vec::new(),
        }
    }

    /// The bench that a job's events leave: what [`Bench::apply`] and [`Bench::fold_again`] must
    /// come to.
    #[cfg(test)]
    pub(crate) fn fold(
        profile: &Profile,
        blades: &[Length],
        events: &[crate::event::Event],
    ) -> Self {
        let mut bench = Self::new(profile, blades);
        for (event, facts) in crate::event::review::counting(events) {
            for (fact, at) in facts.iter().zip(0..) {
                bench.apply((event.id, at), fact);
            }
        }
        bench
    }

    /// Takes in a fact that is later than all before it. Nothing fails: what cannot be used is left
    /// out and named in `conflicts`.
    pub fn apply(&mut self, at: At, fact: &Fact) {
        if let Some(stock) = Stock::of(fact) {
            self.stock.insert(at, stock);
            self.happen(at, stock);
        }
        if let Some(why) = NewRound::of(fact) {
            return self.begin_round(at, why);
        }
        if let Some((position, work)) = Repair::of(fact) {
            return self.repair(at, position, work);
        }
        match fact {
            Fact::Begun {
                unit,
                gauge,
                wrench,
                ..
            } => (self.unit, self.gauge, self.wrench) = (*unit, *gauge, *wrench),
            Fact::Read(reading) => self.read(at, reading),
            Fact::Checked {
                item,
                position: Some(position),
                ..
            } => self.wish(*position, item),
            Fact::ShimFrom { position, source } => {
                if let Some(valve) = self.valves.get_mut(position) {
                    valve.source = Some((at.0, *source));
                }
            }
            _ => {}
        }
    }

    /// Folds one log again; `facts` are all of it that count now, oldest first. After the rounds all logs
    /// are to be folded again: these only ever begin with a new bench.
    pub fn fold_again<'a>(&mut self, log: Log, facts: impl Iterator<Item = (At, &'a Fact)>) {
        match log {
            Log::Unit => {
                let units = (LengthUnit::Millimetre, Unit::Bar, Unit::NewtonMetre);
                (self.unit, self.gauge, self.wrench) = units;
            }
            Log::Rounds => self.rounds.clear(),
            Log::Room => self.room_milli_celsius = None,
            Log::Box => {
                self.stock.retain(|_, s| matches!(s, Stock::Moved { .. }));
                for (at, fact) in facts {
                    self.stock.extend(Stock::of(fact).map(|stock| (at, stock)));
                }
                return self.count_again();
            }
            Log::Valve(position) => return self.valve_again(position, facts),
        }
        for (at, fact) in facts {
            self.apply(at, fact);
        }
    }

    fn valve_again<'a>(&mut self, position: Position, facts: impl Iterator<Item = (At, &'a Fact)>) {
        let here = |s: &Stock| matches!(s, Stock::Moved { position: p, .. } if *p == position);
        let moved = self.stock.values().any(here);
        self.stock.retain(|_, s| !here(s));
        self.conflicts.retain(|c| c.position != Some(position));
        if let Some(valve) = self.valves.get_mut(&position) {
            *valve = ValveState::default();
        }
        // The rounds that began between its facts are gone through again, for this valve alone.
        let mut rounds = std::mem::take(&mut self.rounds).into_iter().peekable();
        for (at, fact) in facts {
            while let Some((begun, why)) = rounds.next_if(|(begun, _)| *begun < at) {
                self.begin_round_at(position, begun, why);
                self.rounds.push((begun, why));
            }
            self.apply(at, fact);
        }
        for (begun, why) in rounds {
            self.begin_round_at(position, begun, why);
            self.rounds.push((begun, why));
        }
        if moved || self.stock.values().any(here) {
            return self.count_again();
        }
        self.conflicts.sort_by_key(|c| (c.event, c.fact));
    }

    /// Sizes of the spares in the box, one entry a shim, thinnest first.
    #[must_use]
    pub fn spares(&self) -> Vec<Length> {
        self.loose
            .iter()
            .flat_map(|(size, count)| (0..*count).map(|_| *size))
            .collect()
    }

    /// Shims that were fitted and must have been bought, by size.
    #[must_use]
    pub fn bought(&self) -> BTreeMap<Length, u32> {
        let mut all = self.bought.clone();
        for (size, count) in &self.loose {
            if *count < 0 {
                *all.entry(*size).or_insert(0) += count.unsigned_abs();
            }
        }
        all
    }

    /// All valves are to be measured again.
    fn begin_round(&mut self, at: At, why: NewRound) {
        let valves: Vec<Position> = self.valves.keys().copied().collect();
        for position in valves {
            self.begin_round_at(position, at, why);
        }
        self.rounds.push((at, why));
    }

    /// The same for one valve, before the round is noted.
    fn begin_round_at(&mut self, position: Position, at: At, why: NewRound) {
        let round = self.rounds.len();
        if let Some(valve) = self.valves.get_mut(&position) {
            valve.retire(round);
            if why.moved_valves() {
                valve.sits_otherwise(at.0);
            }
        }
    }

    /// A valve was repaired: where it sits otherwise than before, it is to be measured again.
    fn repair(&mut self, at: At, position: Position, work: Repair) {
        let round = self.rounds.len();
        if let Some(valve) = self.valves.get_mut(&position)
            && work.closes().contains(&Quantity::Clearance)
        {
            valve.retire(round);
            valve.sits_otherwise(at.0);
            if work == Repair::Adjusted {
                valve.fitted.push(round);
            }
        }
    }

    /// "Leave that one", until "that one comes out" or another shim is fitted.
    fn wish(&mut self, position: Position, item: &str) {
        if let Some(valve) = self.valves.get_mut(&position) {
            valve.left = match Wish::from_key(item) {
                Some(Wish::Leave) => true,
                Some(Wish::ComesOut) => false,
                None => valve.left,
            };
        }
    }

    fn note(&mut self, position: Option<Position>, at: At, what: Clash) {
        self.conflicts.push(Conflict {
            position,
            event: at.0,
            fact: at.1,
            what,
        });
    }

    /// The box from all that happened to it.
    fn count_again(&mut self) {
        self.loose.clear();
        self.bought.clear();
        self.lent.clear();
        self.conflicts.retain(|c| c.position.is_some());
        let stock = std::mem::take(&mut self.stock);
        for (at, one) in &stock {
            self.happen(*at, *one);
        }
        self.stock = stock;
        self.conflicts.sort_by_key(|c| (c.event, c.fact));
    }

    fn happen(&mut self, at: At, stock: Stock) {
        let (size, count) = match stock {
            Stock::Counted(size, count) => (size, count),
            Stock::OneMore(size) => {
                let had = self.loose.get(&size).copied().unwrap_or(0).max(0);
                (size, had + 1)
            }
            Stock::Moved {
                position,
                old,
                new,
                source,
            } => return self.moved(position, old, new, source),
        };
        if size <= Length::ZERO {
            return self.note(None, at, Clash::NoThickness);
        }
        if let Some(had) = self.loose.insert(size, count)
            && had > 0
            && had != count
        {
            let (before, now) = (had, count);
            self.note(None, at, Clash::Spares { size, before, now });
        }
    }

    /// One shim comes out of a valve and another goes in.
    fn moved(&mut self, position: Position, old: Length, new: Length, source: Option<Source>) {
        if self.lent.remove(&position) != Some(old) {
            *self.loose.entry(old).or_insert(0) += 1;
        }
        let lies_loose = self.loose.get(&new).is_some_and(|n| *n > 0);
        match source {
            Some(Source::Bought) => *self.bought.entry(new).or_insert(0) += 1,
            Some(Source::Valve(other)) if !lies_loose => {
                self.lent.insert(other, new);
            }
            _ => *self.loose.entry(new).or_insert(0) -= 1,
        }
    }

    fn read(&mut self, at: At, reading: &Reading) {
        match (reading.quantity, reading.value, reading.position) {
            (Quantity::Clearance, Value::Gap(gap), Some(position)) => {
                self.clearance(at, position, gap);
            }
            (
                Quantity::ShimFitted,
                Value::Shim {
                    marked_nm,
                    measured_nm,
                },
                Some(position),
            ) => {
                self.shim(position, at, Shim::read(at.0, marked_nm, measured_nm));
            }
            (Quantity::RoomTemperature, Value::Amount(Amount::Milli(milli, Unit::Celsius)), _) => {
                self.room_milli_celsius = Some(milli);
            }
            _ => {}
        }
    }

    fn clearance(&mut self, at: At, position: Position, gap: Gap) {
        let interval = Interval::of(gap, &self.blades);
        let reading = Clearance {
            event: at.0,
            gap,
            interval,
        };
        let Some(valve) = self.valves.get_mut(&position) else {
            return self.note(Some(position), at, Clash::NoSuchValve);
        };
        if let Some(old) = valve.clearance.replace(reading) {
            valve.earlier.push(old);
            if old.interval != interval {
                let (before, now) = (old.interval, interval);
                self.note(Some(position), at, Clash::Clearance { before, now });
            }
        }
        if let Err(error) = interval {
            self.note(Some(position), at, Clash::Impossible(error));
        }
    }

    fn shim(&mut self, position: Position, at: At, new: Option<Shim>) {
        let Some(new) = new else {
            return self.note(Some(position), at, Clash::NoThickness);
        };
        let Some(valve) = self.valves.get_mut(&position) else {
            return self.note(Some(position), at, Clash::NoSuchValve);
        };
        // Where a shim comes from is only told of one that is put in.
        let source = valve.source.take().filter(|(event, _)| *event == at.0);
        let was_measured = valve.was_measured();
        let ratio = self.ratio;
        let round = self.rounds.len();
        let old = valve.shim;
        let Some(old) = old else {
            valve.shim = Some(new);
            return;
        };
        valve.left &= (new.size - old.size).abs() <= ANOTHER_SHIM;
        if (new.size - old.size).abs() <= ANOTHER_SHIM {
            let (marked, measured) = (new.marked.or(old.marked), new.measured.or(old.measured));
            valve.shim = Shim::read(at.0, marked, measured);
        } else if was_measured || source.is_some() {
            valve.before = valve.known_with(old).map(|interval| Pair {
                interval,
                shim: old.size,
                ratio,
            });
            valve.retire(round);
            valve.shim = Some(new);
            valve.fitted.push(round);
            let (old, new) = (old.size, new.size);
            let source = source.map(|(_, s)| s);
            let stock = Stock::Moved {
                position,
                old,
                new,
                source,
            };
            self.stock.insert(at, stock);
            self.happen(at, stock);
        } else {
            valve.shim = Some(new);
            let (before, now) = (old.size, new.size);
            self.note(Some(position), at, Clash::Shim { before, now });
        }
    }
}
