//! One line a valve, as CSV.

use super::{Measured, Report};
use crate::measure::Length;

const HEADING: &str = "cylinder,side,valve,check_low_nm,check_high_nm,target_nm,\
before_goes_nm,before_stops_nm,before_shim_nm,after_goes_nm,after_stops_nm,after_shim_nm,verdict";

pub(super) fn csv(report: &Report) -> String {
    let mut out = format!("{HEADING}\r\n");
    for valve in &report.valves {
        let length = |l: Option<Length>| l.map(|l| l.nm().to_string()).unwrap_or_default();
        let three = |m: Option<Measured>| {
            [
                length(m.and_then(|m| m.clearance.low)),
                length(m.and_then(|m| m.clearance.high)),
                length(m.and_then(|m| m.shim_nm)),
            ]
        };
        let p = valve.position;
        let mut cells = vec![
            p.cylinder.to_string(),
            p.side.key().to_owned(),
            p.valve.map(|v| v.key().to_owned()).unwrap_or_default(),
            length(Some(valve.check_nm.low)),
            length(Some(valve.check_nm.high)),
            length(Some(valve.target_nm)),
        ];
        cells.extend(three(valve.before));
        cells.extend(three(valve.after));
        cells.push(valve.verdict.key().to_owned());
        out.push_str(&cells.join(","));
        out.push_str("\r\n");
    }
    out
}
