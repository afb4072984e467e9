//! The clearances as a drawing: one row a valve, its bands, and what was measured.

use super::html::escape;
use super::words::{bare, verdict_words};
use super::{Measured, Report, Valve};
use crate::engine::Interval;
use crate::measure::Length;
use std::fmt::Write;

const LEFT: i64 = 150;
const WIDTH: i64 = 440;
const RIGHT: i64 = 120;
const ROW: i64 = 30;
const TOP: i64 = 26;

/// An SVG of all valves; empty where nothing was measured.
pub(super) fn plot(report: &Report) -> String {
    let scale = Scale::of(report);
    if !report.valves.iter().any(|v| v.last().is_some()) {
        return String::new();
    }
    let rows = i64::try_from(report.valves.len()).unwrap_or(0);
    let (width, height) = (LEFT + WIDTH + RIGHT, TOP + rows * ROW + 10);
    let mut out = format!(
        "<svg class=\"plot\" viewBox=\"0 0 {width} {height}\" role=\"img\" \
         aria-label=\"Clearance of every valve against its band; the table below has the numbers\">"
    );
    for tick in scale.ticks() {
        let x = scale.x(tick);
        let _ = write!(
            out,
            "<line class=\"grid\" x1=\"{x}\" x2=\"{x}\" y1=\"{TOP}\" y2=\"{}\"/>\
             <text class=\"tick\" x=\"{x}\" y=\"16\">{}</text>",
            height - 8,
            bare(tick, report.unit)
        );
    }
    for (valve, i) in report.valves.iter().zip(0..) {
        row(&mut out, &scale, valve, TOP + i * ROW);
    }
    out.push_str("</svg>");
    out
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

fn row(out: &mut String, scale: &Scale, valve: &Valve, top: i64) {
    let middle = top + ROW / 2;
    let name = escape(&valve.position.to_string());
    let bar = |class: &str, low: Length, high: Length, y: i64, height: i64| {
        let (x, end) = (scale.x(low), scale.x(high));
        format!(
            "<rect class=\"{class}\" x=\"{x}\" y=\"{y}\" width=\"{}\" height=\"{height}\"/>",
            (end - x).max(3)
        )
    };
    let _ = write!(
        out,
        "<text class=\"name\" x=\"{}\" y=\"{}\">{name}</text>",
        LEFT - 10,
        middle + 4
    );
    let (check, set) = (valve.check_nm, valve.set_nm);
    out.push_str(&bar("check", check.low, check.high, top + 3, ROW - 6));
    out.push_str(&bar("set", set.low, set.high, top + 3, ROW - 6));
    let target = scale.x(valve.target_nm);
    let _ = write!(
        out,
        "<line class=\"target\" x1=\"{target}\" x2=\"{target}\" y1=\"{}\" y2=\"{}\"/>",
        top + 3,
        top + ROW - 3
    );
    let two = valve.after.is_some();
    let lane = |upper: bool| if upper { top + 6 } else { top + 16 };
    let mut draw = |measured: Option<Measured>, class: &str, y: i64| {
        let Some(Interval { low, high }) = measured.map(|m| m.clearance) else {
            return;
        };
        let (from, to) = (low.unwrap_or(Length::ZERO), high.unwrap_or(scale.most));
        out.push_str(&bar(class, from, to, y, 8));
        // An end that nobody measured is drawn as an open arrow.
        for (open, x, way) in [
            (low.is_none(), scale.x(from), -8),
            (high.is_none(), scale.x(to), 8),
        ] {
            if open {
                let tip = x + way;
                let _ = write!(
                    out,
                    "<path class=\"open\" d=\"M{x} {y} L{tip} {} L{x} {}\"/>",
                    y + 4,
                    y + 8
                );
            }
        }
    };
    let before = if two { lane(true) } else { middle - 4 };
    draw(valve.before, "before", before);
    draw(valve.after, "after", lane(false));
    let _ = write!(
        out,
        "<text class=\"verdict\" x=\"{}\" y=\"{}\">{}</text>",
        LEFT + WIDTH + 14,
        middle + 4,
        escape(verdict_words(valve.verdict))
    );
}
