//! Two reports of one engine side by side: how each clearance moved since last time.

use super::{Error, Measured, Report};
use crate::event::Position;
use crate::measure::Length;
use serde::Serialize;

/// One valve, then and now.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Moved {
    /// Which valve.
    pub position: Position,
    /// As it was left last time.
    pub then: Option<Measured>,
    /// As it was found this time.
    pub now: Option<Measured>,
    /// It moved by at least this (less than zero: closed up).
    pub from_nm: Option<Length>,
    /// It moved by less than this.
    pub to_nm: Option<Length>,
    /// The shim then and the shim now differ: the difference is not wear.
    pub other_shim: bool,
}

/// All valves, then and now.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Compared {
    /// End of the earlier job, in milliseconds since 1970 UTC.
    pub then_ms: i64,
    /// Start of the later one.
    pub now_ms: i64,
    /// Every valve.
    pub valves: Vec<Moved>,
}

impl Compared {
    /// Sets `now` beside `before`.
    ///
    /// # Errors
    /// [`Error::Engines`] where the two are not of one engine.
    pub fn of(before: &Report, now: &Report) -> Result<Self, Error> {
        if before.engine.key != now.engine.key {
            return Err(Error::Engines {
                before: before.engine.key.clone(),
                now: now.engine.key.clone(),
            });
        }
        let moved = |valve: &super::Valve| {
            let same = |v: &&super::Valve| v.position == valve.position;
            let then = before.valves.iter().find(same).and_then(super::Valve::last);
            moved(valve.position, then, valve.before)
        };
        Ok(Self {
            then_ms: before.worked_ms[1],
            now_ms: now.worked_ms[0],
            valves: now.valves.iter().map(moved).collect(),
        })
    }
}

fn moved(position: Position, then: Option<Measured>, now: Option<Measured>) -> Moved {
    let ends = then.zip(now).map(|(t, n)| (t.clearance, n.clearance));
    let minus = |a: Option<Length>, b: Option<Length>| Some(a? - b?);
    let shims = then.zip(now).map(|(t, n)| (t.shim_nm, n.shim_nm));
    Moved {
        position,
        then,
        now,
        from_nm: ends.and_then(|(t, n)| minus(n.low, t.high)),
        to_nm: ends.and_then(|(t, n)| minus(n.high, t.low)),
        other_shim: shims.is_some_and(|(t, n)| t.is_some() && n.is_some() && t != n),
    }
}
