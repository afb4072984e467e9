//! The rounds of measuring, by name, and what each valve showed in them.

use crate::engine::clearance::bench::Bench;
use crate::engine::clearance::interval::Interval;
use crate::event::{NewRound, Position};
use crate::measure::Length;
use serde::{Serialize, Serializer};

/// A round of measuring.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Round {
    /// Before anything was changed.
    AsFound,
    /// As found, and the seats were cut then.
    BeforeSeats,
    /// As found, and the valves were lapped then.
    BeforeLapping,
    /// After the seats were cut.
    AfterSeats,
    /// After lapping.
    AfterLapping,
    /// With another shim.
    AfterShims,
    /// After the screws were set.
    AfterSetting,
    /// Measured again, the first round being 1, before any shim was changed.
    Again(usize),
    /// Measured again after shims were changed.
    Final,
}

impl Round {
    /// The key written in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::AsFound => "as_found",
            Self::BeforeSeats => "before_seats",
            Self::BeforeLapping => "before_lapping",
            Self::AfterSeats => "after_seats",
            Self::AfterLapping => "after_lapping",
            Self::AfterShims => "after_shims",
            Self::AfterSetting => "after_setting",
            Self::Again(_) => "again",
            Self::Final => "final",
        }
    }

    /// Its name on a sheet or a report.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::AsFound => "as found".to_owned(),
            Self::BeforeSeats => "as found, before the seats were cut".to_owned(),
            Self::BeforeLapping => "as found, before lapping".to_owned(),
            Self::AfterSeats => "after the seats were cut".to_owned(),
            Self::AfterLapping => "after lapping".to_owned(),
            Self::AfterShims => "after the shims".to_owned(),
            Self::AfterSetting => "after the screws were set".to_owned(),
            Self::Again(number) => format!("round {number}"),
            Self::Final => "final".to_owned(),
        }
    }

    /// Whether nothing had been changed yet.
    #[must_use]
    pub const fn is_as_found(self) -> bool {
        matches!(
            self,
            Self::AsFound | Self::BeforeSeats | Self::BeforeLapping
        )
    }
}

impl Serialize for Round {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self.key())
    }
}

/// What a valve showed in one round.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
pub struct InRound {
    /// Which.
    pub round: Round,
    /// The event of the reading.
    pub event: u64,
    /// The clearance.
    pub clearance: Interval,
    /// The shim that was in.
    pub shim_nm: Option<Length>,
}

impl Bench {
    /// The round that is being measured. Once another shim is in, it is the round after the shims,
    /// of the valves that got one.
    #[must_use]
    pub fn round(&self) -> Round {
        let now = self.rounds.len();
        let fitted = self.valves.values().any(|v| v.fitted.contains(&now));
        self.named(now, fitted)
    }

    /// What a valve showed round by round, oldest first; the last reading of each.
    #[must_use]
    pub fn rounds_of(&self, position: Position) -> Vec<InRound> {
        let Some(valve) = self.valves.get(&position) else {
            return Vec::new();
        };
        let past = valve.past.iter().map(|past| InRound {
            round: self.named(past.round, past.shimmed),
            event: past.event,
            clearance: past.interval,
            shim_nm: past.shim,
        });
        let now = self.rounds.len();
        let last = valve.clearance.and_then(|reading| {
            Some(InRound {
                round: self.named(now, valve.fitted.contains(&now)),
                event: reading.event,
                clearance: reading.interval.ok()?,
                shim_nm: valve.size(),
            })
        });
        past.chain(last).collect()
    }

    fn named(&self, round: usize, with_another_shim: bool) -> Round {
        if with_another_shim {
            return match self.kind.has_shims() {
                true => Round::AfterShims,
                false => Round::AfterSetting,
            };
        }
        let begun = |round: usize| self.rounds.get(round).map(|(_, why)| *why);
        let Some(why) = round.checked_sub(1).and_then(begun) else {
            return match begun(0) {
                Some(NewRound::Seats) => Round::BeforeSeats,
                Some(NewRound::Lapping) => Round::BeforeLapping,
                Some(NewRound::Wanted) | None => Round::AsFound,
            };
        };
        let fitted_before = || {
            let mut fitted = self.valves.values().flat_map(|v| &v.fitted);
            fitted.any(|in_round| *in_round < round)
        };
        match why {
            NewRound::Seats => Round::AfterSeats,
            NewRound::Lapping => Round::AfterLapping,
            NewRound::Wanted if fitted_before() => Round::Final,
            NewRound::Wanted => Round::Again(round + 1),
        }
    }
}
