//! What lies on the bench: the fold of a job's events into each valve's reading and shim, and the
//! box of spares.

use super::clearance::{GapError, Interval};
use super::profile::Profile;
use crate::event::review::counting;
use crate::event::{Event, Fact, Gap, Position, Reading, Value, Wish};
use crate::measure::{Amount, Length, LengthUnit, Quantity, Unit};
use std::collections::BTreeMap;

/// Two shim readings of one valve that differ by more than this are two shims, once the valve's
/// clearance was measured. Common practice, no source: the smallest usual step is 0.02 mm and a
/// worn mark is seldom that far off.
const ANOTHER_SHIM: Length = Length::from_um(15);

/// One clearance reading.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Clearance {
    /// Its event.
    pub event: u64,
    /// As called.
    pub gap: Gap,
    /// As an interval.
    pub interval: Result<Interval, GapError>,
}

/// The shim of one valve.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Shim {
    /// The event that named it last.
    pub event: u64,
    /// As marked.
    pub marked: Option<Length>,
    /// By micrometer.
    pub measured: Option<Length>,
    /// Its thickness: measured beats marked.
    pub size: Length,
}

/// A clearance with the shim that it was measured with.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Pair {
    /// Clearance.
    pub interval: Interval,
    /// Shim thickness.
    pub shim: Length,
}

/// What is known of one valve.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct ValveState {
    /// The reading that counts: the last with the shim that is in.
    pub clearance: Option<Clearance>,
    /// Earlier readings, oldest first.
    pub earlier: Vec<Clearance>,
    /// The shim that is in.
    pub shim: Option<Shim>,
    /// The last clearance and shim before the present shim went in.
    pub before: Option<Pair>,
    /// The person said to leave it: no plan changes or lends its shim.
    pub left: bool,
}

/// Something in the readings that the person should know of.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Conflict {
    /// At which valve.
    pub position: Option<Position>,
    /// The event that counts, or that was left out.
    pub event: u64,
    /// The earlier event that it overturns.
    pub earlier: Option<u64>,
    /// In a sentence.
    pub words: String,
}

/// The bench as the events leave it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Bench {
    /// The job's unit.
    pub unit: LengthUnit,
    /// Feeler blades owned, thinnest first.
    pub blades: Vec<Length>,
    /// Every valve of the engine.
    pub valves: BTreeMap<Position, ValveState>,
    /// Loose shims by size. Below zero: fitted before it was ever called, so bought or from a
    /// valve that is still to be called.
    pub loose: BTreeMap<Length, i32>,
    /// Room temperature in thousandths of a degree Celsius, the last that was said.
    pub room_milli_celsius: Option<i64>,
    /// Conflicts, in order.
    pub conflicts: Vec<Conflict>,
}

impl Shim {
    /// A shim as it was read; `None` where no size above zero was said.
    #[must_use]
    pub fn read(event: u64, marked: Option<Length>, measured: Option<Length>) -> Option<Self> {
        let size = first(measured, marked).filter(|s| *s > Length::ZERO)?;
        Some(Self {
            event,
            marked,
            measured,
            size,
        })
    }
}

/// The first length that is there.
///
/// Not inlined: rustc 1.95 (LLVM 22.1) at `opt-level` 1 and above can turn the choice into one
/// load at a computed address and move it ahead of the test that a shim is there at all, which
/// crashed an earlier form of this fold.
#[inline(never)]
fn first(one: Option<Length>, other: Option<Length>) -> Option<Length> {
    one.or(other)
}

impl ValveState {
    /// Thickness of the shim that is in.
    #[must_use]
    pub fn size(&self) -> Option<Length> {
        self.shim.map(|s| s.size)
    }

    /// The clearance that counts, or the one to expect with a shim that was not measured with yet.
    #[must_use]
    pub fn interval(&self) -> Option<Interval> {
        match &self.clearance {
            Some(reading) => reading.interval.ok(),
            None => self.predicted(),
        }
    }

    /// What the present shim should give, by what was measured with the one before it.
    #[must_use]
    pub fn predicted(&self) -> Option<Interval> {
        Some(self.before?.with(self.size()?))
    }

    /// The clearance with `shim`, as measured or as expected.
    fn known_with(&self, shim: Shim) -> Option<Interval> {
        match (&self.clearance, self.before) {
            (Some(reading), _) => reading.interval.ok(),
            (None, before) => Some(before?.with(shim.size)),
        }
    }
}

impl Pair {
    /// What the same valve gives with another shim.
    #[must_use]
    pub fn with(&self, shim: Length) -> Interval {
        self.interval.shifted(self.shim - shim)
    }
}

impl Bench {
    /// Folds a job's events, oldest first. Nothing fails: what cannot be used is left out and
    /// named in `conflicts`.
    #[must_use]
    pub fn fold(profile: &Profile, blades: &[Length], events: &[Event]) -> Self {
        let mut blades = blades.to_vec();
        blades.sort_unstable();
        blades.dedup();
        let mut bench = Self {
            unit: LengthUnit::Millimetre,
            blades,
            valves: profile
                .valves()
                .into_iter()
                .map(|p| (p, ValveState::default()))
                .collect(),
            loose: BTreeMap::new(),
            room_milli_celsius: None,
            conflicts: Vec::new(),
        };
        for (event, facts) in counting(events) {
            for fact in facts {
                bench.take(event.id, fact);
            }
        }
        bench
    }

    /// Sizes of the spares in the box, one entry a shim, thinnest first.
    #[must_use]
    pub fn spares(&self) -> Vec<Length> {
        self.loose
            .iter()
            .flat_map(|(size, count)| (0..*count).map(|_| *size))
            .collect()
    }

    fn take(&mut self, event: u64, fact: &Fact) {
        match fact {
            Fact::Begun { unit, .. } => self.unit = *unit,
            Fact::Read(reading) => self.read(event, reading),
            Fact::Spare { size_nm, count } => self.spare(event, *size_nm, i32::from(*count)),
            Fact::Checked {
                item,
                position: Some(position),
                ..
            } => self.wish(*position, item),
            _ => {}
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

    fn note(
        &mut self,
        position: Option<Position>,
        event: u64,
        earlier: Option<u64>,
        words: String,
    ) {
        self.conflicts.push(Conflict {
            position,
            event,
            earlier,
            words,
        });
    }

    fn spare(&mut self, event: u64, size: Length, count: i32) {
        if size <= Length::ZERO {
            return self.note(
                None,
                event,
                None,
                "A spare shim is thicker than zero; left out.".to_owned(),
            );
        }
        if let Some(had) = self.loose.insert(size, count)
            && had > 0
            && had != count
        {
            let words = format!(
                "{} shims: {had} before, {count} now; the last count holds.",
                size.show(self.unit)
            );
            self.note(None, event, None, words);
        }
    }

    fn read(&mut self, event: u64, reading: &Reading) {
        match (reading.quantity, reading.value, reading.position) {
            (Quantity::Clearance, Value::Gap(gap), Some(position)) => {
                self.clearance(event, position, gap);
            }
            (
                Quantity::ShimFitted,
                Value::Shim {
                    marked_nm,
                    measured_nm,
                },
                Some(position),
            ) => {
                self.shim(position, event, Shim::read(event, marked_nm, measured_nm));
            }
            (
                Quantity::ShimSpare,
                Value::Shim {
                    marked_nm,
                    measured_nm,
                },
                _,
            ) => {
                let size = first(measured_nm, marked_nm).unwrap_or_default();
                let count = self.loose.get(&size).copied().unwrap_or(0).max(0) + 1;
                self.spare(event, size, count);
            }
            (Quantity::RoomTemperature, Value::Amount(Amount::Milli(milli, Unit::Celsius)), _) => {
                self.room_milli_celsius = Some(milli);
            }
            _ => {}
        }
    }

    fn clearance(&mut self, event: u64, position: Position, gap: Gap) {
        let interval = Interval::of(gap, &self.blades);
        let reading = Clearance {
            event,
            gap,
            interval,
        };
        let Some(valve) = self.valves.get_mut(&position) else {
            return self.note(
                Some(position),
                event,
                None,
                format!("The engine has no {position}; left out."),
            );
        };
        if let Some(old) = valve.clearance.replace(reading) {
            valve.earlier.push(old);
            if old.interval != interval {
                let show = |r: Result<Interval, GapError>| {
                    r.map_or_else(|e| e.to_string(), |i| i.show(self.unit))
                };
                let words = format!(
                    "{position}: {} before, {} now; the last holds.",
                    show(old.interval),
                    show(interval)
                );
                self.note(Some(position), event, Some(old.event), words);
            }
        }
        if let Err(error) = interval {
            self.note(Some(position), event, None, format!("{position}: {error}."));
        }
    }

    fn shim(&mut self, position: Position, event: u64, new: Option<Shim>) {
        let Some(new) = new else {
            let words = format!("{position}: a shim is thicker than zero; left out.");
            return self.note(Some(position), event, None, words);
        };
        let Some(valve) = self.valves.get_mut(&position) else {
            let words = format!("The engine has no {position}; left out.");
            return self.note(Some(position), event, None, words);
        };
        let Some(old) = valve.shim.replace(new) else {
            return;
        };
        valve.left &= (new.size - old.size).abs() <= ANOTHER_SHIM;
        if (new.size - old.size).abs() <= ANOTHER_SHIM {
            let marked = first(new.marked, old.marked);
            valve.shim = Shim::read(event, marked, first(new.measured, old.measured));
        } else if let Some(interval) = valve.known_with(old) {
            valve.before = Some(Pair {
                interval,
                shim: old.size,
            });
            valve.earlier.extend(valve.clearance.take());
            *self.loose.entry(old.size).or_insert(0) += 1;
            *self.loose.entry(new.size).or_insert(0) -= 1;
        } else {
            let (was, is) = (old.size.show(self.unit), new.size.show(self.unit));
            let words = format!("{position}: shim {was} before, {is} now; the last holds.");
            self.note(Some(position), event, Some(old.event), words);
        }
    }
}
