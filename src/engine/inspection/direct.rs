//! Readings that are judged as they are called: runout, end float, strip gauge, valve margin,
//! free length and the like.

use super::error::InspectError;
use super::finding::{Against, Finding, judge};
use super::limit::Figure;
use crate::measure::Amount;

/// Which of several readings counts.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Extreme {
    /// The largest: a gap, a runout, a float.
    Largest,
    /// The smallest: a margin, a free length, a lobe.
    Smallest,
}

/// Judges the worst of the readings of one thing, in any unit. Plastic strip readings of a
/// journal are such readings; so are end float, runout and free length.
///
/// # Errors
/// No readings, readings in different units, one below zero, or a limit that cannot be.
pub(crate) fn direct(
    what: &str,
    readings: &[Amount],
    counts: Extreme,
    against: Against,
) -> Result<Finding, InspectError> {
    let worst = match counts {
        Extreme::Largest => readings.iter().max_by_key(|a| a.base()),
        Extreme::Smallest => readings.iter().min_by_key(|a| a.base()),
    };
    let worst = *worst.ok_or_else(|| InspectError::NoReading {
        what: what.to_owned(),
    })?;
    let kind = |a: &Amount| match a {
        Amount::LengthNm(_) => None,
        Amount::Milli(_, unit) => Some(*unit),
    };
    let odd = readings.iter().find(|a| kind(a) != kind(&worst));
    if let Some(wrong) = odd.or_else(|| readings.iter().find(|a| a.base() < 0)) {
        return Err(InspectError::Impossible {
            what: what.to_owned(),
            value: wrong.show(against.unit),
            expected: "expected zero or more, all in one unit",
        });
    }
    judge(what, Figure::Amount(worst), against)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::engine::inspection::{Limit, Verdict};
    use crate::measure::{Length, LengthUnit, Unit};

    fn um(um: i64) -> Amount {
        Amount::LengthNm(Length::from_um(um))
    }

    fn judged(readings: &[Amount], counts: Extreme, limit: Option<&Limit>) -> Finding {
        let against = Against {
            limit,
            unit: LengthUnit::Millimetre,
        };
        direct("it", readings, counts, against).unwrap()
    }

    /// End float 0.05-0.20, limit 0.40 mm; journals 0.030-0.069, limit 0.15 mm; free length 36.83
    /// new, 35.83 limit; load 107-125 N at 31.50 mm, limit 102 N: makers' workshop manuals.
    #[test]
    fn published_limits() {
        let figure = Figure::Amount;
        let when_new = |limit, from, to| Limit {
            new: Some((from, to)),
            ..limit
        };
        let float = Limit::at_most(figure(um(400)), "manual");
        let float = when_new(float, figure(um(50)), figure(um(200)));
        let verdict = |um_read, limit: &Limit, counts| {
            judged(&[um(um_read), um(um_read)], counts, Some(limit)).verdict
        };
        assert_eq!(verdict(120, &float, Extreme::Largest), Verdict::Good);
        assert_eq!(verdict(300, &float, Extreme::Largest), Verdict::Worn);
        assert_eq!(verdict(410, &float, Extreme::Largest), Verdict::OutOfLimit);
        let journal = Limit::at_most(figure(um(150)), "manual");
        let journal = when_new(journal, figure(um(30)), figure(um(69)));
        assert_eq!(verdict(45, &journal, Extreme::Largest), Verdict::Good);
        let free = Limit::at_least(figure(um(35_830)), "manual");
        assert_eq!(verdict(36_830, &free, Extreme::Smallest), Verdict::Good);
        assert_eq!(
            verdict(35_820, &free, Extreme::Smallest),
            Verdict::OutOfLimit
        );
        let newton = |n: i64| Amount::Milli(n * 1_000, Unit::Newton);
        let load = Limit::at_least(figure(newton(102)), "manual");
        let load = when_new(load, figure(newton(107)), figure(newton(125)));
        let loads = |n| judged(&[newton(n)], Extreme::Smallest, Some(&load));
        assert_eq!(loads(115).verdict, Verdict::Good);
        assert_eq!(loads(104).verdict, Verdict::Worn);
        assert_eq!(loads(101).verdict, Verdict::OutOfLimit);
        assert!(loads(101).reason.contains("101 N"), "{}", loads(101).reason);
    }

    #[test]
    fn the_worst_counts_and_nonsense_is_named() {
        let value = |counts| judged(&[um(20), um(50), um(30)], counts, None).value;
        assert_eq!(value(Extreme::Largest), Figure::Amount(um(50)));
        assert_eq!(value(Extreme::Smallest), Figure::Amount(um(20)));
        let against = Against {
            limit: None,
            unit: LengthUnit::Millimetre,
        };
        let wrong = |readings: &[Amount]| direct("runout", readings, Extreme::Largest, against);
        assert!(wrong(&[]).is_err());
        assert!(wrong(&[um(-1), um(2)]).is_err());
        assert!(wrong(&[um(1), Amount::Milli(1, Unit::Bar)]).is_err());
    }
}
