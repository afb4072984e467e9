//! What the readings of an inspection come to: each computed figure with its verdict, its reason
//! and the source of its limit.
//!
//! Limits are the profile's own `[[limit]]` tables; where it has none, the figure is given without
//! a verdict, because none may be invented.

mod assembly;
mod bolts;
mod cams;
mod cylinders;
mod valves;

pub(crate) use assembly::wheel_at_dead_centre_mdeg;

use crate::engine::clearance::bench::Bench;
use crate::engine::inspection::{Against, Figure, Finding, InspectError, Limit};
use crate::engine::profile::Profile;
use crate::event::{Head, Part, Position, Reading, Side, Value};
use crate::measure::{Amount, Length, LengthUnit, Quantity, Unit};
use serde::Serialize;

/// One computed figure.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Item {
    /// Of which valve, part or cylinder; empty for the whole engine.
    pub place: String,
    /// What was worked out.
    pub what: &'static str,
    /// What it came to; `None` where the readings give nothing.
    pub finding: Option<Finding>,
    /// Why they give nothing.
    pub error: Option<String>,
}

/// All that the inspection readings of a job come to.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Findings {
    /// In the order of the work: valves, camshafts, bolts, cylinders.
    pub items: Vec<Item>,
}

impl Findings {
    /// From the readings that count, oldest first, and those that work on the valve has closed since.
    /// `height_m` is the height above the sea at which compression was
    /// tested; an absolute minimum of the profile holds at sea level.
    #[must_use]
    pub fn of<'a>(
        profile: &Profile,
        bench: &Bench,
        readings: impl Iterator<Item = &'a Reading>,
        closed: impl Iterator<Item = &'a Reading>,
        height_m: i64,
    ) -> Self {
        let mut readings = Readings::of_job(profile, bench, readings);
        readings.closed = closed.copied().collect();
        let mut items = valves::items(&readings);
        items.extend(cams::items(&readings, &bench.blades));
        items.extend(assembly::items(&readings));
        items.extend(bolts::items(&readings));
        items.extend(cylinders::items(&readings, height_m));
        Self { items }
    }
}

/// The compression ratio of a cylinder in thousandths, as soon as all of it is known.
#[must_use]
pub(crate) fn compression_ratio<'a>(
    profile: &Profile,
    bench: &Bench,
    readings: impl Iterator<Item = &'a Reading>,
    cylinder: u8,
) -> Option<i64> {
    assembly::ratio_of(&Readings::of_job(profile, bench, readings), cylinder)
}

/// Piston to head of a cylinder by its gasket and its deck, if it was not measured itself.
#[must_use]
pub(crate) fn squish_by_parts<'a>(
    profile: &Profile,
    bench: &Bench,
    readings: impl Iterator<Item = &'a Reading>,
    cylinder: u8,
) -> Option<Length> {
    assembly::squish_of(&Readings::of_job(profile, bench, readings), cylinder)
}

/// The readings that count, oldest first, and what they are judged by.
struct Readings<'a> {
    profile: &'a Profile,
    unit: LengthUnit,
    gauge: Unit,
    wrench: Unit,
    all: Vec<Reading>,
    /// Those that a repair has closed, oldest first.
    closed: Vec<Reading>,
}

impl<'a> Readings<'a> {
    fn of_job<'b>(
        profile: &'a Profile,
        bench: &Bench,
        readings: impl Iterator<Item = &'b Reading>,
    ) -> Self {
        let mut all: Vec<Reading> = Vec::new();
        for reading in readings {
            // Of a quantity that does not gather, the last of a place holds.
            let mut earlier = all.iter_mut();
            match earlier.find(|r| !reading.quantity.gathers() && same_place(r, reading)) {
                Some(earlier) => *earlier = *reading,
                None => all.push(*reading),
            }
        }
        Self {
            profile,
            unit: bench.unit,
            gauge: bench.gauge,
            wrench: bench.wrench,
            all,
            closed: Vec::new(),
        }
    }

    /// A pressure or torque in the unit of the job, no finer than its tools show.
    fn in_job_unit(&self, figure: Figure) -> Figure {
        match figure {
            Figure::Amount(amount) => Figure::Amount(amount.in_job_unit(self.gauge, self.wrench)),
            other @ Figure::RateUnPerMm(_) => other,
        }
    }

    fn of(&self, quantity: Quantity) -> impl Iterator<Item = &Reading> {
        self.all.iter().filter(move |r| r.quantity == quantity)
    }

    fn at(&self, quantity: Quantity, position: Position) -> impl Iterator<Item = &Reading> {
        self.of(quantity)
            .filter(move |r| r.position == Some(position))
    }

    /// The limit of the profile; an unreadable one is an error of the item.
    fn limit(
        &self,
        quantity: &str,
        side: Option<Side>,
        head: Option<Head>,
    ) -> Result<Option<Limit>, String> {
        let limit = self.profile.limit_for(quantity, side, head);
        Ok(limit.map_err(|e| e.to_string())?.map(|limit| Limit {
            least: limit.least.map(|f| self.in_job_unit(f)),
            most: limit.most.map(|f| self.in_job_unit(f)),
            ..limit
        }))
    }

    /// Works out one item against the limit of that name.
    fn item(
        &self,
        place: impl ToString,
        what: &'static str,
        limit: (&str, Option<Side>),
        work: impl FnOnce(Against<'_>) -> Result<Finding, InspectError>,
    ) -> Item {
        self.item_on(None, place, what, limit, work)
    }

    /// The same of a head, where the engine has several.
    fn item_on(
        &self,
        head: Option<Head>,
        place: impl ToString,
        what: &'static str,
        limit: (&str, Option<Side>),
        work: impl FnOnce(Against<'_>) -> Result<Finding, InspectError>,
    ) -> Item {
        let found = self.limit(limit.0, limit.1, head).and_then(|limit| {
            let against = Against {
                limit: limit.as_ref(),
                unit: self.unit,
            };
            work(against).map_err(|e| e.to_string())
        });
        Item::of(place, what, found)
    }
}

impl Item {
    fn of(place: impl ToString, what: &'static str, found: Result<Finding, String>) -> Self {
        let (finding, error) = match found {
            Ok(finding) => (Some(finding), None),
            Err(error) => (None, Some(error)),
        };
        Self {
            place: place.to_string(),
            what,
            finding,
            error,
        }
    }
}

fn same_place(a: &Reading, b: &Reading) -> bool {
    let part = match (a.part, b.part) {
        // Each stage of a bolt is a step of its own.
        (Some(a @ Part::Bolt { .. }), Some(b)) => a == b,
        (Some(a), Some(b)) => a.same(b),
        (a, b) => a == b,
    };
    (a.quantity, a.position, a.head) == (b.quantity, b.position, b.head) && part
}

/// A place on a head: "rear head face", or the place alone where the engine has one head.
fn on_head(head: Option<Head>, place: &str) -> String {
    let head = head.map(|h| h.key());
    let words: Vec<&str> = head.into_iter().chain([place]).collect();
    words.join(" ").trim_end().to_owned()
}

/// The single amounts among some readings.
fn amounts<'a>(readings: impl Iterator<Item = &'a Reading>) -> Vec<Amount> {
    readings
        .filter_map(|r| match r.value {
            Value::Amount(amount) => Some(amount),
            _ => None,
        })
        .collect()
}

fn lengths<'a>(readings: impl Iterator<Item = &'a Reading>) -> Vec<Length> {
    amounts(readings)
        .into_iter()
        .filter_map(Amount::length)
        .collect()
}

#[cfg(test)]
mod tests;
