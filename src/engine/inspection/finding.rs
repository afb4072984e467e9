//! A figure against a limit: verdict, reason, source.

use super::error::InspectError;
use super::limit::{Figure, Limit};
use crate::measure::LengthUnit;
use serde::Serialize;

/// What a figure is judged against, and the unit that the reason is written in.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Against<'a> {
    /// The job's limit; `None` where it has none.
    pub limit: Option<&'a Limit>,
    /// The job's unit of length.
    pub unit: LengthUnit,
}

/// The verdict.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Inside the limit, and as new where the job says what new is.
    Good,
    /// Inside the limit, but no longer as new.
    Worn,
    /// Outside the limit.
    OutOfLimit,
    /// The readings do not decide it: measure again, or closer.
    Doubtful,
    /// The job has no limit.
    NoLimit,
}

/// What an inspection found.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Finding {
    /// The verdict.
    pub verdict: Verdict,
    /// The figure it rests on.
    pub value: Figure,
    /// Why, in a sentence.
    pub reason: String,
    /// Where the limit comes from; `None` where there is none.
    pub limit_source: Option<String>,
}

/// Said wherever the job has no limit.
const NO_LIMIT: &str = "no limit given for this engine: see the maker's manual";

/// Judges one figure by simple acceptance: on the limit is inside it.
///
/// # Errors
/// An empty limit, or one in another unit.
pub(crate) fn judge(what: &str, value: Figure, against: Against) -> Result<Finding, InspectError> {
    judge_between(what, value, Some(value), against)
}

/// Judges a figure known only to lie from `low` to `high`; `high` is `None` where nothing bounds
/// it above. The finding carries `low`.
///
/// # Errors
/// As [`judge`].
pub(crate) fn judge_between(
    what: &str,
    low: Figure,
    high: Option<Figure>,
    against: Against,
) -> Result<Finding, InspectError> {
    let unit = against.unit;
    let shown = match high {
        Some(high) if high == low => low.show(unit),
        Some(high) => format!("{} to {}", low.show(unit), high.show(unit)),
        None => format!("{} or more", low.show(unit)),
    };
    let Some(limit) = against.limit else {
        return Ok(Finding {
            verdict: Verdict::NoLimit,
            value: low,
            reason: format!("{what} {shown}; {NO_LIMIT}"),
            limit_source: None,
        });
    };
    limit.check(low)?;
    let (bottom, top) = (low.base(), high.map_or(i64::MAX, Figure::base));
    let least = limit.least.map_or(i64::MIN, Figure::base);
    let most = limit.most.map_or(i64::MAX, Figure::base);
    let named = limit.words(unit);
    let (verdict, words) = if bottom > most || top < least {
        (Verdict::OutOfLimit, format!("outside {named}"))
    } else if bottom < least || top > most {
        let words = format!("the readings do not decide {named}");
        (Verdict::Doubtful, words)
    } else {
        inside(limit, bottom, top, &named)
    };
    Ok(Finding {
        verdict,
        value: low,
        reason: format!("{what} {shown}: {words}"),
        limit_source: Some(limit.source.clone()),
    })
}

/// Verdict and words for a figure inside its limit, against the range when new.
fn inside(limit: &Limit, bottom: i64, top: i64, named: &str) -> (Verdict, String) {
    let ends = [limit.least, limit.most].map(|e| e.map(Figure::base));
    let place = if bottom == top && ends.contains(&Some(bottom)) {
        "exactly on"
    } else {
        "inside"
    };
    let (below, above) = limit.new.map_or((false, false), |(from, to)| {
        (bottom < from.base(), top > to.base())
    });
    if !(below || above) {
        (Verdict::Good, format!("{place} {named}"))
    } else if ends == [None, None] {
        let words = format!("outside {named}, and the job has no wear limit");
        (Verdict::Doubtful, words)
    } else if (below && limit.least.is_none()) || (above && limit.most.is_none()) {
        let words = format!(
            "{place} {named}, but off the range when new on the side without a limit: measure again"
        );
        (Verdict::Doubtful, words)
    } else {
        (Verdict::Worn, format!("{place} {named}, no longer as new"))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::measure::{Amount, Length, Unit};

    fn um(um: i64) -> Figure {
        Figure::length(Length::from_um(um))
    }

    fn found(value: Figure, limit: &Limit) -> Result<Finding, InspectError> {
        let against = Against {
            limit: Some(limit),
            unit: LengthUnit::Millimetre,
        };
        judge("guide clearance", value, against)
    }

    #[test]
    fn every_verdict() {
        let limit = Limit {
            new: Some((um(10), um(40))),
            ..Limit::at_most(um(80), "profile, guides")
        };
        for (value, verdict) in [
            (9, Verdict::Doubtful),
            (10, Verdict::Good),
            (40, Verdict::Good),
            (41, Verdict::Worn),
            (80, Verdict::Worn),
            (81, Verdict::OutOfLimit),
        ] {
            let finding = found(um(value), &limit).unwrap();
            assert_eq!(finding.verdict, verdict, "{}", finding.reason);
            assert_eq!(finding.limit_source.as_deref(), Some("profile, guides"));
        }
        assert!(found(um(80), &limit).unwrap().reason.contains("exactly on"));
    }

    #[test]
    fn without_a_limit_none_is_invented() {
        let against = Against {
            limit: None,
            unit: LengthUnit::Thou,
        };
        let finding = judge("end float", um(254), against).unwrap();
        assert_eq!(finding.verdict, Verdict::NoLimit);
        assert_eq!(finding.limit_source, None);
        assert_eq!(
            finding.reason,
            "end float 10 thou; no limit given for this engine: see the maker's manual"
        );
    }

    #[test]
    fn intervals_that_do_not_decide() {
        let limit = Limit::at_most(um(45), "x");
        let against = Against {
            limit: Some(&limit),
            unit: LengthUnit::Millimetre,
        };
        let verdict = |low, high: Option<i64>| {
            judge_between("gap", um(low), high.map(um), against)
                .unwrap()
                .verdict
        };
        assert_eq!(verdict(40, Some(50)), Verdict::Doubtful);
        assert_eq!(verdict(40, Some(45)), Verdict::Good);
        assert_eq!(verdict(40, None), Verdict::Doubtful);
        assert_eq!(verdict(50, None), Verdict::OutOfLimit);
    }

    #[test]
    fn only_the_range_when_new_is_no_limit() {
        let limit = Limit {
            least: None,
            most: None,
            new: Some((um(10), um(40))),
            source: "x".to_owned(),
        };
        let finding = found(um(60), &limit).unwrap();
        assert_eq!(finding.verdict, Verdict::Doubtful);
        assert!(
            finding.reason.contains("no wear limit"),
            "{}",
            finding.reason
        );
    }

    #[test]
    fn limits_that_cannot_be() {
        let crossed = Limit::between(um(50), um(40), "page 3");
        assert!(
            found(um(45), &crossed)
                .unwrap_err()
                .to_string()
                .contains("page 3")
        );
        let other = Limit::at_most(Figure::Amount(Amount::Milli(5, Unit::Newton)), "page 4");
        assert!(matches!(
            found(um(45), &other),
            Err(InspectError::OtherUnit(_))
        ));
        let rate = Figure::RateUnPerMm(35_294_118);
        assert_eq!(rate.show(LengthUnit::Millimetre), "35.3 N/mm");
        assert!(found(rate, &Limit::at_least(rate, "x")).is_ok());
    }
}
