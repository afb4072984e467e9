//! The clearances as a drawing: one row a valve, its bands, and what was measured.

use super::words::{bare, verdict_words};
use super::{Measured, Report, Valve};
use crate::engine::Interval;
use crate::measure::Length;

const LEFT: i64 = 150;
const WIDTH: i64 = 440;
const RIGHT: i64 = 120;
const ROW: i64 = 30;
const TOP: i64 = 26;

/// What the template draws.
pub(super) struct Plot {
    pub(super) width: i64,
    pub(super) height: i64,
    pub(super) top: i64,
    pub(super) left: i64,
    /// Where the verdicts stand.
    pub(super) right: i64,
    pub(super) ticks: Vec<Tick>,
    pub(super) rows: Vec<Row>,
}

pub(super) struct Tick {
    pub(super) x: i64,
    pub(super) label: String,
}

pub(super) struct Row {
    pub(super) name: String,
    pub(super) verdict: &'static str,
    pub(super) top: i64,
    pub(super) bottom: i64,
    /// Of its text.
    pub(super) base: i64,
    pub(super) target: i64,
    pub(super) bars: Vec<Bar>,
    /// Ends that nobody measured, as open arrows.
    pub(super) arrows: Vec<Arrow>,
}

pub(super) struct Bar {
    pub(super) class: &'static str,
    pub(super) x: i64,
    pub(super) y: i64,
    pub(super) width: i64,
    pub(super) height: i64,
}

pub(super) struct Arrow {
    pub(super) x: i64,
    pub(super) y: i64,
    pub(super) tip: i64,
}

impl Plot {
    /// A drawing of all valves; none if nothing was measured.
    pub(super) fn of(report: &Report) -> Option<Self> {
        if !report.valves.iter().any(|v| v.last().is_some()) {
            return None;
        }
        let scale = Scale::of(report);
        let rows = i64::try_from(report.valves.len()).unwrap_or(0);
        let tick = |at: Length| Tick {
            x: scale.x(at),
            label: bare(at, report.unit),
        };
        Some(Self {
            width: LEFT + WIDTH + RIGHT,
            height: TOP + rows * ROW + 10,
            top: TOP,
            left: LEFT,
            right: LEFT + WIDTH,
            ticks: scale.ticks().map(tick).collect(),
            rows: (report.valves.iter().zip(0..))
                .map(|(valve, i)| row(&scale, valve, TOP + i * ROW))
                .collect(),
        })
    }
}

struct Scale {
    /// Right end.
    most: Length,
    step: Length,
}

impl Scale {
    fn of(report: &Report) -> Self {
        let ends = report.valves.iter().flat_map(|v| {
            let measured = [v.before, v.after].into_iter().flatten();
            let ends = measured.flat_map(|m| [m.clearance.low, m.clearance.high]);
            ends.flatten().chain([v.check_nm.high])
        });
        let most = ends.max().unwrap_or(Length::from_um(500));
        let step = if report.unit == crate::measure::LengthUnit::Thou {
            Length::from_thou(2)
        } else {
            Length::from_um(50)
        };
        let steps = most.nm() / step.nm() + 1;
        let most = Length::from_nm(steps * step.nm());
        let factor = steps.div_euclid(13) + 1;
        Self {
            most,
            step: Length::from_nm(step.nm() * factor),
        }
    }

    fn ticks(&self) -> impl Iterator<Item = Length> + use<> {
        let (step, most) = (self.step.nm(), self.most.nm());
        (0..=most / step).map(move |i| Length::from_nm(i * step))
    }

    fn x(&self, length: Length) -> i64 {
        LEFT + WIDTH * length.nm() / self.most.nm().max(1)
    }
}

fn row(scale: &Scale, valve: &Valve, top: i64) -> Row {
    let bar = |class: &'static str, low: Length, high: Length, y: i64, height: i64| {
        let (x, end) = (scale.x(low), scale.x(high));
        Bar {
            class,
            x,
            y,
            width: (end - x).max(3),
            height,
        }
    };
    let (check, set) = (valve.check_nm, valve.set_nm);
    let mut row = Row {
        name: valve.position.to_string(),
        verdict: verdict_words(valve.verdict),
        top: top + 3,
        bottom: top + ROW - 3,
        base: top + ROW / 2 + 4,
        target: scale.x(valve.target_nm),
        bars: vec![
            bar("check", check.low, check.high, top + 3, ROW - 6),
            bar("set", set.low, set.high, top + 3, ROW - 6),
        ],
        arrows: Vec::new(),
    };
    let mut draw = |measured: Option<Measured>, class: &'static str, y: i64| {
        let Some(Interval { low, high }) = measured.map(|m| m.clearance) else {
            return;
        };
        let (from, to) = (low.unwrap_or(Length::ZERO), high.unwrap_or(scale.most));
        row.bars.push(bar(class, from, to, y, 8));
        for (open, x, way) in [
            (low.is_none(), scale.x(from), -8),
            (high.is_none(), scale.x(to), 8),
        ] {
            if open {
                let tip = x + way;
                row.arrows.push(Arrow { x, y, tip });
            }
        }
    };
    // One reading stands in the middle of its row, two stand below each other.
    let before = if valve.after.is_some() {
        top + 6
    } else {
        top + ROW / 2 - 4
    };
    draw(valve.before, "before", before);
    draw(valve.after, "after", top + 16);
    row
}
