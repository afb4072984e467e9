//! Intervals, verdicts and the shim formula against published and derived values.

use super::*;

fn spec(check: [i64; 2], set: [i64; 2], target: i64) -> SideSpec {
    let band = |b: [i64; 2]| Band {
        low: um(b[0]),
        high: um(b[1]),
    };
    SideSpec {
        valves: vec![],
        check: band(check),
        set: band(set),
        target: um(target),
        opens_deg: None,
        closes_deg: None,
    }
}

fn series(from: i64, to: i64, step: i64) -> Vec<Length> {
    (0..=(to - from) / step)
        .map(|k| um(from + k * step))
        .collect()
}

fn interval(low: i64, high: i64) -> Interval {
    Interval::between(um(low), um(high))
}

/// Old shim, clearance, target -> ideal, in micrometres.
#[test]
fn new_is_old_plus_measured_minus_target() {
    for (old, clearance, target, expected, source) in [
        (
            2_425,
            250,
            150,
            2_525,
            "a maker's workshop manual, worked example",
        ),
        (2_650, 90, 165, 2_575, "derived"),
        (2_000, 500, 100, 2_400, "common practice, no source"),
        (2_500, 180, 250, 2_430, "derived"),
    ] {
        assert_eq!(
            ideal(
                um(old),
                Interval::exact(um(clearance)),
                um(target),
                FollowerRatio::BUCKET
            ),
            Interval::exact(um(expected)),
            "{source}"
        );
    }
    // The first example is published with its shim: 2.50 fitted, 0.175 results.
    assert_eq!(
        nearest(um(2_525), &series(2_000, 3_500, 50)),
        Some(um(2_500))
    );
    assert_eq!(
        predict(
            um(2_425),
            Interval::exact(um(250)),
            um(2_500),
            FollowerRatio::BUCKET
        ),
        Interval::exact(um(175))
    );
}

/// Published rule (a maker's workshop manual): in a series of even hundredths an answer that ends
/// in an odd hundredth takes the shim 0.01 thinner.
#[test]
fn an_odd_hundredth_takes_the_thinner() {
    let sizes = series(2_180, 3_000, 20);
    assert_eq!(nearest(um(2_250), &sizes), Some(um(2_240)));
    assert_eq!(nearest(um(2_260), &sizes), Some(um(2_260)));
}

/// Derived: 0.08 goes, 0.10 does not; shim 2.65; set band 0.13-0.20; target 0.165. In steps of 0.05
/// two sizes are equally near: 2.55 gives 0.18 to 0.20, 2.60 gives 0.13 to 0.15.
#[test]
fn a_tie_takes_the_thinner() {
    let band = [130, 200, 130, 200, 165];
    let mut profile = four(band, band);
    let valve = at(1, Side::Inlet);
    let clearance = interval(80, 100);
    assert_eq!(
        ideal(
            um(2_650),
            clearance,
            profile.inlet.target,
            FollowerRatio::BUCKET
        ),
        interval(2_565, 2_585)
    );
    let bench = allocation::bench_of(&profile, &[(valve, 2_650, clearance)], &[]);
    let fitted = |profile: &Profile| {
        let plan = ShimPlan::of(profile, &bench, &Options::default());
        let fitting = &plan.fittings[0];
        (fitting.new_nm, fitting.fit, fitting.expected)
    };
    assert_eq!(fitted(&profile), (um(2_550), Fit::Sure, interval(180, 200)));
    profile.shims.series = series(2_000, 3_500, 25);
    assert_eq!(fitted(&profile), (um(2_575), Fit::Sure, interval(155, 175)));
}

/// Derived: 0.18 goes, 0.20 does not; shim 2.425; set band 0.22-0.30; target 0.26.
#[test]
fn sure_and_possible_sizes() {
    let spec = spec([220, 300], [220, 300], 260);
    let of = |size: i64| {
        let judged = judge(
            um(2_425),
            interval(180, 200),
            &spec,
            um(size),
            FollowerRatio::BUCKET,
        )
        .unwrap();
        (judged.fit, judged.result)
    };
    assert_eq!(of(2_350), (Fit::Sure, interval(255, 275)));
    assert_eq!(of(2_375), (Fit::Sure, interval(230, 250)));
    assert_eq!(of(2_400), (Fit::Possible, interval(205, 225)));
    assert_eq!(of(2_425), (Fit::Impossible, interval(180, 200)));
}

/// 0.011 in goes, 0.013 in does not: [0.2794, 0.3302) mm; 0.008 and 0.010 in: [0.2032, 0.2540) mm
/// (TM 5-3820-233-12-1).
#[test]
fn published_go_no_go_pairs_in_inches() {
    for (goes, stops, low, high) in [(11, 13, 279_400, 330_200), (8, 10, 203_200, 254_000)] {
        let gap = Gap::Between {
            goes_nm: Length::from_thou(goes),
            stops_nm: Length::from_thou(stops),
        };
        let expected = Interval::between(Length::from_nm(low), Length::from_nm(high));
        assert_eq!(Interval::of(gap, &[]).unwrap(), expected);
    }
}

#[test]
fn readings_become_intervals() {
    let blades = [50, 100, 150, 200].map(um);
    let of = |gap| Interval::of(gap, &blades);
    assert_eq!(of(Gap::Single(um(150))), Ok(interval(150, 200)));
    assert_eq!(
        of(Gap::Single(um(200))),
        Ok(Interval {
            low: Some(um(200)),
            high: None
        })
    );
    assert_eq!(
        of(Gap::None),
        Ok(Interval {
            low: None,
            high: Some(um(50))
        })
    );
    assert_eq!(of(Gap::Single(um(0))), Err(GapError::NotPositive));
    assert_eq!(of(Gap::AtLeast(um(-50))), Err(GapError::NotPositive));
    assert_eq!(
        of(Gap::Between {
            goes_nm: um(150),
            stops_nm: um(150)
        }),
        Err(GapError::Contradiction)
    );
    assert_eq!(
        of(Gap::Between {
            goes_nm: um(180),
            stops_nm: um(150)
        }),
        Err(GapError::Contradiction)
    );
}

#[test]
fn verdicts() {
    let check = Band {
        low: um(130),
        high: um(200),
    };
    let blades = [50, 100, 130, 150, 180, 200, 400].map(um);
    let next = |gap| {
        let i = Interval::of(gap, &blades).unwrap();
        let verdict = Verdict::of(gap, i, check, &blades);
        let words = verdict.next(i, check, um(165), &blades, LengthUnit::Millimetre);
        (verdict, words.unwrap_or_default())
    };
    let pair = |goes, stops| Gap::Between {
        goes_nm: um(goes),
        stops_nm: um(stops),
    };
    for (gap, verdict, says) in [
        (pair(150, 180), Verdict::InBand, ""),
        (pair(130, 150), Verdict::InBand, ""),
        (pair(180, 200), Verdict::InBand, ""),
        (pair(100, 130), Verdict::Tight, ""),
        (pair(220, 250), Verdict::Loose, ""),
        (pair(100, 150), Verdict::OnTheLimit, "Try the 0.13 mm blade"),
        (pair(180, 220), Verdict::OnTheLimit, "Try the 0.20 mm blade"),
        (Gap::None, Verdict::NoGap, "thinner"),
        (Gap::Below(um(50)), Verdict::Tight, "no gap"),
        (
            Gap::Below(um(150)),
            Verdict::Open,
            "largest blade that goes",
        ),
        (Gap::AtLeast(um(400)), Verdict::Loose, "stack blades"),
        (
            Gap::AtLeast(um(150)),
            Verdict::Open,
            "Try the 0.18 mm blade",
        ),
    ] {
        let (got, words) = next(gap);
        assert_eq!(got, verdict, "{gap:?}");
        assert!(
            words.contains(says) && words.is_empty() == says.is_empty(),
            "{gap:?}: {words}"
        );
    }
}

/// What is said to decide does: after it, whether it goes or not, the valve is judged. And common
/// practice, no source: a blade on the upper limit that goes is good if the next one does not.
#[test]
fn a_blade_that_is_said_to_decide_decides() {
    let unit = LengthUnit::Millimetre;
    let words = |profile: &Profile, side: Side, goes, stops| {
        let check = profile.side(side).check;
        let i = interval(goes, stops);
        let verdict = Verdict::of(Gap::Single(um(1)), i, check, &profile.blades);
        let next = verdict.next(i, check, profile.side(side).target, &profile.blades, unit);
        (verdict, next.unwrap_or_default())
    };
    let (triple, twin) = (triple(), Profile::parse(SHIPPED[1].1, "twin270").unwrap());
    for (profile, side, goes, stops, says) in [
        (
            &triple,
            Side::Inlet,
            180,
            220,
            "Try the 0.20 mm blade: it decides.",
        ),
        (
            &triple,
            Side::Exhaust,
            180,
            220,
            "Try the 0.20 mm blade: it decides.",
        ),
        (
            &triple,
            Side::Exhaust,
            280,
            330,
            "Try the 0.30 mm blade: it decides.",
        ),
        (
            &twin,
            Side::Inlet,
            180,
            220,
            "Try the 0.20 mm blade: it decides.",
        ),
        (
            &twin,
            Side::Inlet,
            100,
            120,
            "Try 0.08 mm and 0.03 mm together, 0.11 mm: they decide.",
        ),
        (
            &twin,
            Side::Exhaust,
            180,
            200,
            "Try 0.15 mm and 0.04 mm together, 0.19 mm: they decide.",
        ),
        (
            &triple,
            Side::Inlet,
            180,
            250,
            "Try the 0.20 mm blade: if it does not go, it decides; if it does, try a thicker one.",
        ),
    ] {
        assert_eq!(
            words(profile, side, goes, stops),
            (Verdict::OnTheLimit, says.to_owned())
        );
    }
    // Every blade named as deciding leaves nothing open on either side.
    for profile in [&triple, &twin] {
        for side in [Side::Inlet, Side::Exhaust] {
            for (i, goes) in profile.blades.iter().enumerate() {
                for stops in &profile.blades[i + 1..] {
                    let (goes, stops) = (goes.nm() / 1_000, stops.nm() / 1_000);
                    let (_, says) = words(profile, side, goes, stops);
                    let Some(blade) = says.strip_suffix(" blade: it decides.") else {
                        continue;
                    };
                    let blade = blade
                        .trim_start_matches("Try the 0.")
                        .trim_end_matches(" mm");
                    let blade = format!("{blade:0<3}").parse::<i64>().unwrap();
                    for (a, b) in [(goes, blade), (blade, stops)] {
                        let (verdict, next) = words(profile, side, a, b);
                        assert_ne!(
                            verdict,
                            Verdict::OnTheLimit,
                            "{goes} {stops}: {a} {b} {next}"
                        );
                    }
                }
            }
        }
    }
}

/// Common practice, no source: 0.20 goes and the next blade of the set, 0.22, does not: the upper
/// limit of 0.20 is kept, and no shim is bought.
#[test]
fn on_the_upper_limit_is_good_when_the_next_blade_stops() {
    let profile = triple();
    let valve = profile.valves()[0];
    let fitted = |reading: Fact| {
        let facts = vec![reading, marked(valve, 2_650)];
        let bench = Bench::fold(&profile, &profile.blades, &events(facts));
        let plan = ShimPlan::of(&profile, &bench, &Options::default());
        (bench.verdict(&profile, valve).0, plan.fittings.len())
    };
    assert_eq!(
        fitted(gap(valve, Gap::Single(um(200)))),
        (Verdict::InBand, 0)
    );
    assert_eq!(fitted(between(valve, 200, 220)), (Verdict::InBand, 0));
    // A blade lies between that was not tried, or it is above the limit: not so.
    assert_eq!(fitted(between(valve, 200, 250)), (Verdict::OnTheLimit, 1));
    assert_eq!(
        fitted(gap(valve, Gap::Single(um(220)))),
        (Verdict::Loose, 1)
    );
}
