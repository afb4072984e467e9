//! Where to stop the crank so that every valve is seen on its base circle.
//!
//! Angles are crank degrees in thousandths, counted forwards from the firing dead centre of
//! cylinder 1. A cylinder's own angle is `x = crank - its firing position`. Its inlet cannot be
//! measured for `360 - IO - m < x < 540 + IC + m`, its exhaust for
//! `180 - EO - m < x < 360 + EC + m` (arithmetic; m is the margin for the ramps). The lobe must be
//! seen to point away all the same: the picture beats the formula.

use crate::engine::profile::Profile;
use crate::engine::sums::cover::fewest;
use crate::event::{Position, Side};
use serde::Serialize;

/// One working cycle, two turns of the crank, in milli-degrees.
pub(crate) const CYCLE_MDEG: i64 = 720_000;

/// Opening and closing angles in milli-degrees of the crank, and the margin for the ramps.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct Timing {
    /// Inlet opens, before top dead centre.
    pub inlet_opens_btdc_mdeg: i64,
    /// Inlet closes, after bottom dead centre.
    pub inlet_closes_abdc_mdeg: i64,
    /// Exhaust opens, before bottom dead centre.
    pub exhaust_opens_bbdc_mdeg: i64,
    /// Exhaust closes, after top dead centre.
    pub exhaust_closes_atdc_mdeg: i64,
    /// Kept clear on both sides of each lobe.
    pub margin_mdeg: i64,
}

impl Timing {
    /// For unknown cams: 40/70/70/40 with 25° of margin, wider than road cams usually are
    /// (common practice, no source; typical road maxima are 40/60/60/40 in a public vehicle-
    /// technology teaching page, 2008).
    pub(crate) const WIDE: Self = Self {
        inlet_opens_btdc_mdeg: 40_000,
        inlet_closes_abdc_mdeg: 70_000,
        exhaust_opens_bbdc_mdeg: 70_000,
        exhaust_closes_atdc_mdeg: 40_000,
        margin_mdeg: 25_000,
    };

    /// Known angles, with 20° of margin (common practice, no source: 10 to 30°).
    #[must_use]
    pub(crate) const fn known(io_mdeg: i64, ic_mdeg: i64, eo_mdeg: i64, ec_mdeg: i64) -> Self {
        Self {
            inlet_opens_btdc_mdeg: io_mdeg,
            inlet_closes_abdc_mdeg: ic_mdeg,
            exhaust_opens_bbdc_mdeg: eo_mdeg,
            exhaust_closes_atdc_mdeg: ec_mdeg,
            margin_mdeg: 20_000,
        }
    }

    /// Where the lobe of `side` begins to be in the way, and for how long.
    const fn lobe(&self, side: Side) -> (i64, i64) {
        let (bottom_or_top, opens, closes) = match side {
            Side::Inlet => (
                360_000,
                self.inlet_opens_btdc_mdeg,
                self.inlet_closes_abdc_mdeg,
            ),
            Side::Exhaust => (
                180_000,
                self.exhaust_opens_bbdc_mdeg,
                self.exhaust_closes_atdc_mdeg,
            ),
        };
        let start = bottom_or_top - opens - self.margin_mdeg;
        (start, 180_000 + opens + closes + 2 * self.margin_mdeg)
    }
}

/// A cylinder and where in the cycle it fires.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Cylinder {
    /// Its number, from 1.
    pub number: u8,
    /// Milli-degrees of the crank after the firing dead centre of cylinder 1, below 720 000.
    pub fires_mdeg: i64,
}

/// Where the crank may be stopped.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Places {
    /// Every multiple of this many milli-degrees; it must divide 720 000 and be 1° or more.
    Grid(i64),
    /// Only where some piston stands at top dead centre: the marks on the rotor.
    DeadCentres,
    /// Those, and where some lobe points straight away from its bucket: places that the eye finds
    /// without a degree wheel.
    ForTheEye,
}

impl Default for Places {
    /// A 15° grid.
    fn default() -> Self {
        Self::Grid(15_000)
    }
}

/// One stop of the crank.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Stop {
    /// Milli-degrees after the firing dead centre of cylinder 1.
    pub crank_mdeg: i64,
    /// How far to turn forwards from the stop before, or from where the crank stands.
    pub turn_forward_mdeg: i64,
    /// The cylinder whose piston stands at top dead centre, if one does.
    pub mark: Option<u8>,
    /// What to measure here, in the order asked for; each valve stands at one stop only.
    pub valves: Vec<Position>,
    /// How far the lobe of each of them stands off from straight away from its bucket, in
    /// milli-degrees of the cam.
    pub off_mdeg: Vec<i64>,
}

impl Stop {
    /// Where to turn, in words.
    #[must_use]
    pub(crate) fn words(&self) -> String {
        let to = self.crank_mdeg / 1_000;
        let turn = match self.turn_forward_mdeg / 1_000 {
            0 => format!("at {to}° after cylinder 1 fires"),
            by => format!("turn {by}° forwards, to {to}° after cylinder 1 fires"),
        };
        let mark = self
            .mark
            .map(|c| format!(", cylinder {c} at top dead centre"));
        turn + &mark.unwrap_or_default()
    }

    /// What to measure here and how its lobe stands, in words.
    pub(crate) fn lobes(&self) -> impl Iterator<Item = String> {
        self.valves.iter().zip(&self.off_mdeg).map(|(valve, off)| {
            let lobe = match off / 1_000 {
                0 => "its lobe points straight away".to_owned(),
                off => format!("its lobe stands {off}° of the cam off from straight away"),
            };
            format!("{valve}: {lobe}")
        })
    }
}

/// The stops in the order they are made.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct TurnPlan {
    /// The stops.
    pub stops: Vec<Stop>,
    /// Whether the cams were unknown and the wide timing was taken: look that each lobe points
    /// away.
    pub assumed_timing: bool,
}

/// Why there is no plan.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum TurnError {
    /// The number of cylinders.
    #[error("the engine has {0} cylinders: expected 1 to 16")]
    Count(usize),
    /// A cylinder twice.
    #[error("cylinder {0} stands twice in the firing positions")]
    Twice(u8),
    /// A firing position out of range.
    #[error(
        "cylinder {number} fires at {fires_mdeg} milli-degrees: expected 0 to below 720000, and 0 for cylinder 1"
    )]
    Fires {
        /// Which.
        number: u8,
        /// As given.
        fires_mdeg: i64,
    },
    /// Cam angles that cannot be.
    #[error(
        "cam timing: {0} milli-degrees is not an opening or closing angle (-60000 to 120000) or margin (0 to 60000)"
    )]
    Angle(i64),
    /// A grid that does not close.
    #[error(
        "a grid of {0} milli-degrees does not close: expected 1000 or more that divides 720000"
    )]
    Grid(i64),
    /// A valve of a cylinder that is not there.
    #[error("{0}: the engine has no such cylinder")]
    NoCylinder(Position),
    /// A valve that no allowed place shows.
    #[error("{0}: no allowed crank position shows it on its base circle; use a finer grid")]
    Hidden(Position),
}

/// The engine as the plan needs it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Stops {
    cylinders: Vec<Cylinder>,
    timing: Timing,
    assumed: bool,
}

impl Stops {
    /// An engine of 1 to 16 cylinders; `timing` is `None` where the cams are not known.
    ///
    /// # Errors
    /// Any [`TurnError`] about the engine itself.
    pub(crate) fn new(cylinders: Vec<Cylinder>, timing: Option<Timing>) -> Result<Self, TurnError> {
        if !(1..=16).contains(&cylinders.len()) {
            return Err(TurnError::Count(cylinders.len()));
        }
        for (at, cylinder) in cylinders.iter().enumerate() {
            let Cylinder { number, fires_mdeg } = *cylinder;
            if cylinders[..at].iter().any(|c| c.number == number) {
                return Err(TurnError::Twice(number));
            }
            let most = if number == 1 { 1 } else { CYCLE_MDEG };
            if !(0..most).contains(&fires_mdeg) {
                return Err(TurnError::Fires { number, fires_mdeg });
            }
        }
        let assumed = timing.is_none();
        let timing = timing.unwrap_or(Timing::WIDE);
        let angles = [
            timing.inlet_opens_btdc_mdeg,
            timing.inlet_closes_abdc_mdeg,
            timing.exhaust_opens_bbdc_mdeg,
            timing.exhaust_closes_atdc_mdeg,
        ];
        let wrong = angles
            .into_iter()
            .find(|a| !(-60_000..=120_000).contains(a));
        let margin = timing.margin_mdeg;
        if let Some(angle) = wrong.or((!(0..=60_000).contains(&margin)).then_some(margin)) {
            return Err(TurnError::Angle(angle));
        }
        Ok(Self {
            cylinders,
            timing,
            assumed,
        })
    }

    /// Whether `valve` is on its base circle with the crank at `crank_mdeg`.
    ///
    /// # Errors
    /// [`TurnError::NoCylinder`].
    pub(crate) fn shows(&self, valve: Position, crank_mdeg: i64) -> Result<bool, TurnError> {
        let cylinder = self.cylinders.iter().find(|c| c.number == valve.cylinder);
        let fires = cylinder.ok_or(TurnError::NoCylinder(valve))?.fires_mdeg;
        let (start, length) = self.timing.lobe(valve.side);
        let into = (crank_mdeg.rem_euclid(CYCLE_MDEG) - fires - start).rem_euclid(CYCLE_MDEG);
        Ok(into == 0 || into >= length)
    }

    /// The first place of the grid, forwards from `now_mdeg`, at which all of `valves` are on their
    /// base circles.
    #[must_use]
    pub(crate) fn common(&self, valves: &[Position], now_mdeg: i64) -> Option<i64> {
        let offsets = self.offsets(now_mdeg, Places::default()).ok()?;
        let places = [0].into_iter().chain(offsets);
        let mut cranks = places.map(|o| (now_mdeg + o).rem_euclid(CYCLE_MDEG));
        cranks.find(|crank| {
            let mut all = valves.iter();
            all.all(|v| self.shows(*v, *crank) == Ok(true))
        })
    }

    /// The cylinder whose piston stands at top dead centre.
    fn mark(&self, crank_mdeg: i64) -> Option<u8> {
        let at_top = |c: &&Cylinder| (crank_mdeg - c.fires_mdeg).rem_euclid(360_000) == 0;
        self.cylinders.iter().find(at_top).map(|c| c.number)
    }

    /// How far a lobe stands off from straight away from its bucket, in milli-degrees of the cam.
    fn off_mdeg(&self, valve: Position, crank_mdeg: i64) -> i64 {
        let cylinder = self.cylinders.iter().find(|c| c.number == valve.cylinder);
        let fires = cylinder.map_or(0, |c| c.fires_mdeg);
        let (start, length) = self.timing.lobe(valve.side);
        let past = (crank_mdeg - fires - start - length / 2).rem_euclid(CYCLE_MDEG);
        // A half-turn of the cam, one turn of the crank, after its nose the lobe points away.
        (past - 360_000).abs() / 2
    }

    /// The allowed places, sorted by how far forwards they lie from `now_mdeg`.
    fn offsets(&self, now_mdeg: i64, places: Places) -> Result<Vec<i64>, TurnError> {
        let cranks: Vec<i64> = match places {
            Places::Grid(step) if step >= 1_000 && CYCLE_MDEG % step == 0 => {
                (0..CYCLE_MDEG / step).map(|at| at * step).collect()
            }
            Places::Grid(step) => return Err(TurnError::Grid(step)),
            Places::DeadCentres => {
                let fire = self.cylinders.iter().map(|c| c.fires_mdeg);
                fire.flat_map(|at| [at, at + 360_000]).collect()
            }
            Places::ForTheEye => {
                let away = |side: Side| {
                    let (start, length) = self.timing.lobe(side);
                    start + length / 2 + 360_000
                };
                let seen = |at: i64| {
                    let lobes = [Side::Inlet, Side::Exhaust].map(|side| at + away(side));
                    [at, at + 360_000].into_iter().chain(lobes)
                };
                let fire = self.cylinders.iter().map(|c| c.fires_mdeg);
                fire.flat_map(seen).collect()
            }
        };
        let mut offsets: Vec<i64> = cranks
            .into_iter()
            .map(|crank| (crank - now_mdeg).rem_euclid(CYCLE_MDEG))
            .collect();
        offsets.sort_unstable();
        offsets.dedup();
        Ok(offsets)
    }

    /// The plan with the fewest stops, then the least turning, only forwards.
    ///
    /// `now_mdeg` is where the crank stands; `None` means that it is first brought to the firing
    /// mark of cylinder 1. Among equals the plan with the earliest first stop is taken, so that
    /// the same question always has the same answer. No valves, no stops.
    ///
    /// # Errors
    /// A valve that does not exist or that no place shows; a grid that does not close.
    pub(crate) fn plan(
        &self,
        to_measure: &[Position],
        now_mdeg: Option<i64>,
        places: Places,
    ) -> Result<TurnPlan, TurnError> {
        let now = now_mdeg.unwrap_or(0).rem_euclid(CYCLE_MDEG);
        let offsets = self.offsets(now, places)?;
        let mut seen: Vec<Vec<bool>> = Vec::with_capacity(to_measure.len());
        for &valve in to_measure {
            let row: Result<Vec<bool>, _> =
                offsets.iter().map(|o| self.shows(valve, now + o)).collect();
            let row = row?;
            if !row.contains(&true) {
                return Err(TurnError::Hidden(valve));
            }
            seen.push(row);
        }
        let chosen = fewest(&seen, &offsets);
        let mut stops: Vec<Stop> = Vec::with_capacity(chosen.len());
        let mut before = 0;
        let mut open: Vec<usize> = (0..to_measure.len()).collect();
        for at in chosen {
            let (here, later): (Vec<usize>, Vec<usize>) =
                open.into_iter().partition(|&valve| seen[valve][at]);
            open = later;
            let crank_mdeg = (now + offsets[at]).rem_euclid(CYCLE_MDEG);
            let valves: Vec<Position> = here.into_iter().map(|valve| to_measure[valve]).collect();
            let off = valves.iter().map(|v| self.off_mdeg(*v, crank_mdeg));
            stops.push(Stop {
                crank_mdeg,
                turn_forward_mdeg: offsets[at] - before,
                mark: self.mark(crank_mdeg),
                off_mdeg: off.collect(),
                valves,
            });
            before = offsets[at];
        }
        Ok(TurnPlan {
            stops,
            assumed_timing: self.assumed,
        })
    }
}

/// The turning plan of an engine for some of its valves. Of a grid, places that the eye finds are
/// taken instead wherever they need no more stops, though the crank may turn further.
///
/// # Errors
/// A valve that no stop shows.
pub(crate) fn turn_plan(
    profile: &Profile,
    valves: &[Position],
    places: Places,
) -> Result<TurnPlan, TurnError> {
    let stops = stops_of(profile)?;
    let plan = stops.plan(valves, None, places)?;
    if !matches!(places, Places::Grid(_)) {
        return Ok(plan);
    }
    let for_the_eye = stops.plan(valves, None, Places::ForTheEye);
    Ok(for_the_eye
        .ok()
        .filter(|eye| eye.stops.len() <= plan.stops.len())
        .unwrap_or(plan))
}

/// An engine as its profile describes it.
///
/// # Errors
/// As [`Stops::new`].
pub(crate) fn stops_of(profile: &Profile) -> Result<Stops, TurnError> {
    let mdeg = |deg: u16| i64::from(deg) * 1_000;
    let cylinders = profile
        .crank_deg
        .iter()
        .zip(1..)
        .map(|(deg, number)| Cylinder {
            number,
            fires_mdeg: mdeg(*deg),
        });
    let (inlet, exhaust) = (&profile.inlet, &profile.exhaust);
    let timing = match (
        inlet.opens_deg,
        inlet.closes_deg,
        exhaust.opens_deg,
        exhaust.closes_deg,
    ) {
        (Some(io), Some(ic), Some(eo), Some(ec)) => {
            Some(Timing::known(mdeg(io), mdeg(ic), mdeg(eo), mdeg(ec)))
        }
        _ => None,
    };
    Stops::new(cylinders.collect(), timing)
}

impl TurnPlan {
    /// The same plan for those of its valves that are still in `left`: a stop that shows none of
    /// them is left out, and the next one takes on its turning.
    #[must_use]
    pub fn left(&self, left: &[Position]) -> Self {
        let mut stops: Vec<Stop> = Vec::new();
        let mut passed = 0;
        for stop in &self.stops {
            let all = stop.valves.iter().zip(&stop.off_mdeg);
            let waits = all.filter(|(valve, _)| left.contains(valve));
            let (valves, off_mdeg): (Vec<Position>, Vec<i64>) = waits.unzip();
            passed += stop.turn_forward_mdeg;
            if !valves.is_empty() {
                stops.push(Stop {
                    crank_mdeg: stop.crank_mdeg,
                    turn_forward_mdeg: std::mem::take(&mut passed),
                    mark: stop.mark,
                    valves,
                    off_mdeg,
                });
            }
        }
        Self {
            stops,
            assumed_timing: self.assumed_timing,
        }
    }

    /// Every valve, in the order of the plan.
    pub fn valves(&self) -> impl Iterator<Item = Position> {
        self.stops.iter().flat_map(|s| s.valves.iter().copied())
    }

    /// All turning, in milli-degrees.
    #[must_use]
    pub fn turning_mdeg(&self) -> i64 {
        self.stops.iter().map(|stop| stop.turn_forward_mdeg).sum()
    }
}

#[cfg(test)]
#[path = "turns_tests.rs"]
mod tests;
