//! Speed of the assignment solver and of a shim plan.
//!
//! `BENCHCALL_ASSIGNMENT` names a folder with the OR-Library files assign100.txt to
//! assign800.txt (Beasley 1990); their optima are checked before they are timed.
//! `BENCHCALL_PYTHON` names a Python with SciPy; then its `linear_sum_assignment` is timed in the
//! same run on the same machine, and the ratio is printed. Both are skipped where not set.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

use benchcall::engine::{
    Bench, Clearance, Interval, Options, Profile, SHIPPED, Shim, ShimPlan, assign,
};
use benchcall::event::Gap;
use benchcall::measure::Length;
use std::hint::black_box;
use std::path::PathBuf;
use std::process::Command;
use std::time::Instant;

/// OR-Library assignment instances: size and optimum (Beasley 1990, solved again with SciPy).
const OPTIMA: [(usize, i64); 8] = [
    (100, 305),
    (200, 475),
    (300, 626),
    (400, 804),
    (500, 991),
    (600, 1176),
    (700, 1362),
    (800, 1552),
];

/// 24 valves and 300 different spares, no two readings alike.
fn big_bench() -> (Profile, Bench) {
    let mut profile = Profile::parse(SHIPPED[0].1, "triple").unwrap();
    profile.cylinders = 6;
    let mut bench = Bench::new(&profile, &profile.blades);
    for (state, k) in bench.valves.values_mut().zip(0_i64..) {
        let low = 40 + (k * 37) % 330;
        state.shim = Shim::read(1, None, Some(Length::from_um(2_300 + (k * 53) % 500)));
        state.clearance = Some(Clearance {
            event: 1,
            gap: Gap::Single(Length::from_um(low)),
            interval: Ok(Interval::between(
                Length::from_um(low),
                Length::from_um(low + 20),
            )),
        });
    }
    for k in 0..300 {
        bench.loose.insert(Length::from_um(2_100 + 3 * k), 1);
    }
    (profile, bench)
}

fn main() {
    plans();
    assignments();
}

/// The median of eleven runs, in milliseconds.
fn median_ms<T>(run: impl Fn() -> T) -> f64 {
    let mut times: Vec<f64> = (0..11)
        .map(|_| {
            let start = Instant::now();
            black_box(run());
            start.elapsed().as_secs_f64() * 1_000.0
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[5]
}

fn plans() {
    let (profile, bench) = big_bench();
    let plan = || ShimPlan::of(black_box(&profile), black_box(&bench), &Options::default());
    println!("plan, 24 valves, 300 spares: {:.2} ms", median_ms(plan));
}

fn matrix(folder: &str, n: usize) -> Option<(PathBuf, Vec<i64>)> {
    let path = PathBuf::from(folder).join(format!("assign{n}.txt"));
    let text = std::fs::read_to_string(&path).ok()?;
    Some((
        path,
        text.split_ascii_whitespace()
            .skip(1)
            .map(|t| t.parse().unwrap())
            .collect(),
    ))
}

fn assignments() {
    let Ok(folder) = std::env::var("BENCHCALL_ASSIGNMENT") else {
        println!("OR-Library instances skipped: BENCHCALL_ASSIGNMENT is not set");
        return;
    };
    for (n, optimum) in OPTIMA {
        let Some((path, cost)) = matrix(&folder, n) else {
            println!("assign{n} skipped: no file in {folder}");
            continue;
        };
        let columns = assign(n, n, &cost).unwrap();
        let sum: i64 = columns
            .iter()
            .enumerate()
            .map(|(r, c)| cost[r * n + c])
            .sum();
        assert_eq!(sum, optimum, "assign{n}");
        println!("assign{n}: {sum}, as published; {}", ratio(&path, n, &cost));
    }
}

/// Median of eleven runs here, and of eleven of SciPy's, in milliseconds.
fn ratio(path: &std::path::Path, n: usize, cost: &[i64]) -> String {
    let ours = median_ms(|| assign(n, n, black_box(cost)));
    let script = "import sys,time,numpy as np\nfrom scipy.optimize import linear_sum_assignment as f\n\
        v=np.array(open(sys.argv[1]).read().split(),dtype=float);n=int(v[0]);a=v[1:].reshape(n,n)\nt=[]\n\
        for _ in range(11):\n s=time.perf_counter();f(a);t.append(time.perf_counter()-s)\n\
        print(sorted(t)[5]*1000)";
    let theirs = std::env::var("BENCHCALL_PYTHON").ok().and_then(|python| {
        let out = Command::new(python)
            .args(["-c", script])
            .arg(path)
            .output()
            .ok()?;
        String::from_utf8(out.stdout)
            .ok()?
            .trim()
            .parse::<f64>()
            .ok()
    });
    theirs.map_or_else(
        || format!("{ours:.2} ms (SciPy not timed)"),
        |t| format!("{ours:.2} ms, SciPy {t:.2} ms, ratio {:.2}", ours / t),
    )
}
