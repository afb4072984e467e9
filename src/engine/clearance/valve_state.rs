//! What is known of one valve: its readings, round by round, and the shims that it had.

use crate::engine::clearance::interval::{GapError, Interval};
use crate::engine::profile::FollowerRatio;
use crate::event::{Gap, Source};
use crate::measure::Length;

/// Two shim readings of one valve that differ by more than this are two shims, once the valve's
/// clearance was measured. Common practice, no source: the smallest usual step is 0.02 mm and a
/// worn mark is seldom that far off.
pub(crate) const ANOTHER_SHIM: Length = Length::from_um(15);

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
    /// What another shim does to the clearance.
    pub ratio: FollowerRatio,
}

/// What is known of one valve.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct ValveState {
    /// The reading that counts: the last with the shim that is in.
    pub clearance: Option<Clearance>,
    /// Earlier readings, oldest first.
    pub earlier: Vec<Clearance>,
    /// The last reading of each earlier round, and of this one with the shim before, oldest first.
    pub past: Vec<Past>,
    /// The shim that is in.
    pub shim: Option<Shim>,
    /// The last clearance and shim before the present shim went in.
    pub before: Option<Pair>,
    /// The person said to leave it: no plan changes or lends its shim.
    pub left: bool,
    /// Where the shim comes from that an event reads.
    pub(super) source: Option<(u64, Source)>,
    /// The rounds in which it got another shim, or its screw was set.
    pub(super) fitted: Vec<usize>,
    /// The event since which earlier clearances tell nothing: the valve sits otherwise.
    pub(super) moved: u64,
}

/// A reading that no longer counts, because another round began or another shim was fitted.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Past {
    /// Of which round, counted from the first.
    pub round: usize,
    /// It was taken after another shim was fitted in that round.
    pub shimmed: bool,
    /// Its event.
    pub event: u64,
    /// The clearance.
    pub interval: Interval,
    /// The shim that was in.
    pub shim: Option<Length>,
}

impl Shim {
    /// A shim as it was read; `None` where no size above zero was said.
    #[must_use]
    pub fn read(event: u64, marked: Option<Length>, measured: Option<Length>) -> Option<Self> {
        let size = measured.or(marked).filter(|s| *s > Length::ZERO)?;
        Some(Self {
            event,
            marked,
            measured,
            size,
        })
    }
}

impl ValveState {
    /// Thickness of the shim that is in.
    #[must_use]
    pub fn size(&self) -> Option<Length> {
        self.shim.map(|s| s.size)
    }

    /// Thickness of the shim that went out for the one that is in; `None` if none was changed.
    #[must_use]
    pub fn shim_before(&self) -> Option<Length> {
        self.fitted.first()?;
        let other = |past: &Past| past.shim.filter(|s| Some(*s) != self.size());
        let before = self.before.map(|b| b.shim);
        before.or_else(|| self.past.iter().rev().find_map(other))
    }

    /// The clearance that counts, or the one to expect with a shim that was not measured with yet.
    #[must_use]
    pub fn interval(&self) -> Option<Interval> {
        match &self.clearance {
            Some(reading) => reading.interval.ok(),
            None => self.predicted(),
        }
    }

    /// Whether a shim of that size would be another than the one that is in, and not the same read
    /// again: then the old one comes out.
    #[must_use]
    pub fn would_change(&self, size: Length) -> bool {
        let known = self.shim.filter(|_| self.was_measured());
        known.is_some_and(|old| (size - old.size).abs() > ANOTHER_SHIM)
    }

    /// Whether it was ever measured: the shim that was read before is then the one that was in, and
    /// another size is another shim.
    pub(super) fn was_measured(&self) -> bool {
        let now = self.clearance.is_some_and(|c| c.interval.is_ok());
        now || self.before.is_some() || !self.past.is_empty()
    }

    /// Its reading no longer counts: it is one of the past.
    pub(super) fn retire(&mut self, round: usize) {
        let Some(reading) = self.clearance.take() else {
            return;
        };
        self.earlier.push(reading);
        if let Ok(interval) = reading.interval {
            self.past.push(Past {
                round,
                shimmed: self.fitted.contains(&round),
                event: reading.event,
                interval,
                shim: self.size(),
            });
        }
    }

    /// It sits otherwise than before: no earlier clearance tells what a shim will give.
    pub(super) fn sits_otherwise(&mut self, event: u64) {
        self.before = None;
        self.moved = event;
    }

    /// What the present shim should give, by what was measured with the one before it.
    #[must_use]
    pub fn predicted(&self) -> Option<Interval> {
        Some(self.before?.with(self.size()?))
    }

    /// The clearance with `shim`, as measured or as expected.
    pub(super) fn known_with(&self, shim: Shim) -> Option<Interval> {
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
        self.interval.shifted(self.ratio.at_lobe(self.shim - shim))
    }
}
