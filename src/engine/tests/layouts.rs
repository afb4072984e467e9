//! Whole engines of every layout against a constraint solver (data made at development time by
//! tests/reference/layouts.py): in-line, V and flat, two to twenty-four valves, buckets and followers.

use super::allocation::bench_of;
use super::*;
use crate::engine::plan::cams::Cam;
use crate::event::{Head, Valve};
use crate::measure::Decimal;
use serde::Deserialize;
use std::collections::BTreeSet;

#[derive(Deserialize)]
struct Data {
    by: String,
    jobs: Vec<Job>,
}

#[derive(Deserialize)]
struct Job {
    layout: String,
    cylinders: u8,
    heads: Vec<Vec<u8>>,
    per_side: u8,
    /// Of the follower, in thousandths; 1000 is a bucket.
    ratio: i64,
    step: i64,
    /// One camshaft over both sides of each head.
    #[serde(default)]
    one_camshaft: bool,
    /// Cylinder, side, which of the side, shim, clearance from and to; micrometres.
    valves: Vec<(u8, u8, u8, i64, i64, i64)>,
    #[serde(rename = "box")]
    spares: Vec<i64>,
    /// Stuck, unsure, purchases, changes, twice off in nanometres, camshafts out.
    least: [i64; 6],
    /// Every set of camshafts with which that is reached: head and side of each.
    cams: Vec<Vec<(usize, usize)>>,
}

const SIDES: [Side; 2] = [Side::Inlet, Side::Exhaust];

/// The profile of a job, written as a file, so that it goes through the reader.
fn profile(job: &Job) -> Profile {
    let side = |name: &str, band: [&str; 5]| {
        let valves = match job.per_side {
            1 => "[]",
            _ => "[\"left\", \"right\"]",
        };
        let [check_low, check_high, set_low, set_high, target] = band;
        format!(
            "[{name}]\nvalves = {valves}\ncheck_band_mm = [\"{check_low}\", \"{check_high}\"]\nset_band_mm = [\"{set_low}\", \"{set_high}\"]\ntarget_mm = \"{target}\"\n"
        )
    };
    let heads: String = match job.heads.as_slice() {
        [_] => String::new(),
        heads => (heads.iter().zip(names(job)))
            .map(|(of, head)| {
                let place = head.map_or("", |h| h.key());
                format!("[[head]]\nplace = \"{place}\"\ncylinders = {of:?}\n")
            })
            .collect(),
    };
    let order: Vec<u8> = (1..=job.cylinders).collect();
    let crank: Vec<u16> = (0..u16::from(job.cylinders))
        .map(|n| n * 720 / u16::from(job.cylinders))
        .collect();
    let kind = match job.ratio {
        1_000 => "kind = \"under_bucket\"".to_owned(),
        ratio => format!(
            "kind = \"under_follower\"\nfollower_ratio = \"{}\"\ncams_out = true",
            Decimal::new(ratio, 3)
        ),
    };
    let text = format!(
        "key = \"job\"\nname = \"{}\"\nsource = \"test\"\n[cylinders]\ncount = {}\nnumbering = \"left\"\nfiring_order = {order:?}\ncrank_deg = {crank:?}\n{heads}{}{}[shims]\n{kind}\none_camshaft = {}\nranges = [{{ from_mm = \"2.00\", to_mm = \"3.50\", step_mm = \"{}\" }}]\n[feeler]\nblades_mm = [\"0.05\", \"0.10\", \"0.50\"]\n",
        job.layout,
        job.cylinders,
        side("inlet", ["0.10", "0.20", "0.12", "0.19", "0.16"]),
        side("exhaust", ["0.20", "0.30", "0.22", "0.29", "0.26"]),
        job.one_camshaft,
        mm(job.step),
    );
    Profile::parse(&text, "job.toml").unwrap()
}

/// What the heads are called; an engine with one has no name for it.
fn names(job: &Job) -> Vec<Option<Head>> {
    match job.heads.len() {
        1 => vec![None],
        _ if job.layout == "flat" => vec![Some(Head::Left), Some(Head::Right)],
        _ => vec![Some(Head::Front), Some(Head::Rear)],
    }
}

#[test]
fn plans_and_camshafts_are_what_the_other_solver_says() {
    let text = include_str!("../../../tests/reference/layouts.json");
    let data: Data = serde_json::from_str(text).unwrap();
    assert!(data.by.contains("OR-Tools 9."), "{}", data.by);
    assert_eq!(data.jobs.len(), 143);
    let mut fewer = 0;
    for (number, job) in data.jobs.iter().enumerate() {
        let profile = profile(job);
        let place = |cylinder, side: u8, which: u8| Position {
            cylinder,
            side: SIDES[usize::from(side)],
            valve: (job.per_side == 2).then(|| [Valve::Left, Valve::Right][usize::from(which)]),
        };
        let valves: Vec<_> = (job.valves.iter())
            .map(|(cylinder, side, which, old, low, high)| {
                let interval = match low == high {
                    true => Interval::exact(um(*low)),
                    false => Interval::between(um(*low), um(*high)),
                };
                (place(*cylinder, *side, *which), *old, interval)
            })
            .collect();
        let bench = bench_of(&profile, &valves, &job.spares);
        let plan = ShimPlan::of(&profile, &bench, &Options::default());
        let s = plan.score;
        let out = i64::try_from(plan.cams_out.len()).unwrap();
        let got = [
            s.stuck,
            s.unsure,
            s.purchases,
            s.changes,
            s.twice_off_nm,
            out,
        ];
        assert_eq!(got, job.least, "job {number}, {}", job.layout);
        let heads = names(job);
        let sets = job.cams.iter().map(|set| {
            let one = |(head, side): &(usize, usize)| Cam {
                head: heads[*head],
                side: (!job.one_camshaft).then_some(SIDES[*side]),
            };
            set.iter().map(one).collect::<BTreeSet<_>>()
        });
        let chosen: BTreeSet<Cam> = plan.cams_out.iter().copied().collect();
        assert!(
            sets.into_iter().any(|set| set == chosen),
            "job {number}: {chosen:?}"
        );
        let all = if job.one_camshaft { 1 } else { 2 } * heads.len();
        fewer += usize::from(plan.cams_out.len() < all);
    }
    assert!(fewer > 20, "{fewer} jobs in which a camshaft stays in");
}
