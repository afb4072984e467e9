//! A clearance as an interval, and what it is against the check band.

use crate::engine::profile::Band;
use crate::event::Gap;
use crate::measure::{Length, LengthUnit};
use serde::Serialize;

/// From the largest blade that goes (in it) to the smallest that does not (not in it). An end
/// that nobody measured is `None`. Equal ends stand for one exact value.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
pub struct Interval {
    /// The clearance is at least this.
    #[serde(rename = "low_nm")]
    pub low: Option<Length>,
    /// The clearance is less than this.
    #[serde(rename = "high_nm")]
    pub high: Option<Length>,
}

/// Why a feeler reading is not an interval.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum GapError {
    /// Zero or less; "no gap" is what is meant where no blade goes.
    #[error("a clearance is more than zero; if no blade goes, say \"no gap\"")]
    NotPositive,
    /// A blade goes that is not smaller than the one that does not.
    #[error("the blade that goes must be smaller than the one that does not")]
    Contradiction,
}

/// How an interval lies in a band.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Fit {
    /// Wholly inside.
    Sure,
    /// Partly inside, or not known.
    Possible,
    /// Wholly outside.
    Impossible,
}

/// A valve's clearance against its check band.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Wholly inside: leave it alone.
    InBand,
    /// Wholly below.
    Tight,
    /// Wholly above.
    Loose,
    /// The interval crosses an end of the band.
    OnTheLimit,
    /// Not even the smallest blade goes.
    NoGap,
    /// One end is missing and the rest does not decide.
    Open,
    /// The reading contradicts itself.
    Contradictory,
    /// Another shim was fitted since; not measured with it yet.
    Refitted,
    /// No reading.
    Unmeasured,
}

impl Interval {
    /// One exact value.
    #[must_use]
    pub const fn exact(value: Length) -> Self {
        Self {
            low: Some(value),
            high: Some(value),
        }
    }

    /// From the blade that goes to the one that does not.
    #[must_use]
    pub const fn between(goes: Length, stops: Length) -> Self {
        Self {
            low: Some(goes),
            high: Some(stops),
        }
    }

    /// What a feeler reading says, with the blades owned (thinnest first). A single value reaches
    /// to the next owned blade.
    ///
    /// # Errors
    /// A reading that is not above zero or contradicts itself.
    pub fn of(gap: Gap, blades: &[Length]) -> Result<Self, GapError> {
        let positive = |l: Length| {
            if l > Length::ZERO {
                Ok(l)
            } else {
                Err(GapError::NotPositive)
            }
        };
        match gap {
            Gap::Between { goes_nm, stops_nm } => {
                if goes_nm < Length::ZERO {
                    return Err(GapError::NotPositive);
                }
                if goes_nm >= stops_nm {
                    return Err(GapError::Contradiction);
                }
                Ok(Self::between(goes_nm, stops_nm))
            }
            Gap::Single(value) => Ok(Self {
                low: Some(positive(value)?),
                high: blades.iter().copied().filter(|b| *b > value).min(),
            }),
            Gap::AtLeast(value) => Ok(Self {
                low: Some(positive(value)?),
                high: None,
            }),
            Gap::Below(value) => Ok(Self {
                low: None,
                high: Some(positive(value)?),
            }),
            Gap::None => Ok(Self {
                low: None,
                high: blades.iter().copied().min(),
            }),
        }
    }

    /// Both ends moved by `by`.
    #[must_use]
    pub fn shifted(self, by: Length) -> Self {
        Self {
            low: self.low.map(|l| l + by),
            high: self.high.map(|h| h + by),
        }
    }

    /// Twice its middle, in nanometres, so that it is whole; `None` where an end is missing.
    #[must_use]
    pub fn twice_middle_nm(self) -> Option<i64> {
        Some((self.low? + self.high?).nm())
    }

    /// How it lies in a band, both ends of the band being inside.
    #[must_use]
    pub fn fit(self, band: Band) -> Fit {
        if self.is_below(band) || self.is_above(band) {
            return Fit::Impossible;
        }
        match (self.low, self.high) {
            (Some(low), Some(high)) if low >= band.low && high <= band.high => Fit::Sure,
            _ => Fit::Possible,
        }
    }

    /// Wholly below a band.
    #[must_use]
    pub fn is_below(self, band: Band) -> bool {
        self.high
            .is_some_and(|h| h < band.low || (h == band.low && self.low != self.high))
    }

    /// Wholly above a band.
    #[must_use]
    pub fn is_above(self, band: Band) -> bool {
        self.low.is_some_and(|l| l > band.high)
    }

    /// What it is against a check band, however it was measured, with the blades owned.
    #[must_use]
    pub fn verdict(self, check: Band, blades: &[Length]) -> Verdict {
        if self.is_below(check) {
            Verdict::Tight
        } else if self.is_above(check) {
            Verdict::Loose
        } else if self.fit(check) == Fit::Sure || self.is_on_upper_limit(check, blades) {
            Verdict::InBand
        } else if self.low.is_some() && self.high.is_some() {
            Verdict::OnTheLimit
        } else {
            Verdict::Open
        }
    }

    /// Whether its middle lies in a band (simple acceptance, as the trade does it).
    #[must_use]
    pub fn middle_in(self, band: Band) -> bool {
        self.twice_middle_nm()
            .is_some_and(|twice| 2 * band.low.nm() <= twice && twice <= 2 * band.high.nm())
    }

    /// Whether a value lies between the ends, and is neither of them.
    fn is_between(self, value: Length) -> bool {
        self.low.is_some_and(|low| value > low) && self.high.is_some_and(|high| value < high)
    }

    /// Whether the largest blade that goes is the upper limit itself, and the next of the set does
    /// not. Common practice, no source: the clearance is then called by the blade that goes, and on
    /// the limit is good.
    #[must_use]
    pub fn is_on_upper_limit(self, band: Band, blades: &[Length]) -> bool {
        let next = blades.iter().copied().filter(|b| *b > band.high).min();
        self.low == Some(band.high) && next.zip(self.high).is_some_and(|(next, high)| high <= next)
    }

    /// Whether a valve is left alone with it: its middle lies in the check band, as the trade
    /// accepts it, or the blade on the upper limit goes.
    #[must_use]
    pub fn is_accepted(self, check: Band, blades: &[Length]) -> bool {
        self.middle_in(check) || self.is_on_upper_limit(check, blades)
    }

    /// Written in the job's unit.
    #[must_use]
    pub fn show(self, unit: LengthUnit) -> String {
        match (self.low, self.high) {
            (Some(low), Some(high)) if low == high => low.show(unit),
            (Some(low), Some(high)) => format!("{} to {}", low.show(unit), high.show(unit)),
            (Some(low), None) => format!("{} or more", low.show(unit)),
            (None, Some(high)) => format!("less than {}", high.show(unit)),
            (None, None) => "not known".to_owned(),
        }
    }
}

impl Verdict {
    /// Whether the valve is still to be measured, or to be measured again.
    #[must_use]
    pub const fn is_to_measure(self) -> bool {
        matches!(
            self,
            Self::Unmeasured | Self::Refitted | Self::Contradictory
        )
    }

    /// The key written in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::InBand => "in_band",
            Self::Tight => "tight",
            Self::Loose => "loose",
            Self::OnTheLimit => "on_the_limit",
            Self::NoGap => "no_gap",
            Self::Open => "open",
            Self::Contradictory => "contradictory",
            Self::Refitted => "refitted",
            Self::Unmeasured => "unmeasured",
        }
    }

    /// Judges one reading by its check band, with the blades owned.
    #[must_use]
    pub fn of(gap: Gap, interval: Interval, check: Band, blades: &[Length]) -> Self {
        if gap == Gap::None {
            Self::NoGap
        } else {
            interval.verdict(check, blades)
        }
    }

    /// Why, in one sentence.
    #[must_use]
    pub fn reason(self, interval: Interval, check: Band, unit: LengthUnit) -> String {
        let reading = interval.show(unit);
        let (low, high) = (check.low.show(unit), check.high.show(unit));
        match self {
            Self::InBand if interval.fit(check) != Fit::Sure => {
                format!(
                    "{high} goes and the next blade does not: on the upper limit, leave it alone."
                )
            }
            Self::InBand => format!("{reading} lies inside {low} to {high}: leave it alone."),
            Self::Tight => format!("{reading} is below {low}: the shim must be thinner."),
            Self::Loose => format!("{reading} is above {high}: the shim must be thicker."),
            Self::OnTheLimit if interval.low.is_some_and(|l| l < check.low) => {
                format!("{reading} crosses the lower limit {low}.")
            }
            Self::OnTheLimit => format!("{reading} crosses the upper limit {high}."),
            Self::NoGap => "No blade goes: the valve may be held open.".to_owned(),
            Self::Open => format!("{reading} does not say whether it lies inside {low} to {high}."),
            Self::Contradictory => "The reading contradicts itself.".to_owned(),
            Self::Refitted => format!("Another shim is in; {reading} is expected with it."),
            Self::Unmeasured => "Not measured yet.".to_owned(),
        }
    }

    /// What to do next, if the reading does not decide.
    #[must_use]
    pub fn next(
        self,
        interval: Interval,
        check: Band,
        thinner: Length,
        blades: &[Length],
        unit: LengthUnit,
    ) -> Option<String> {
        match self {
            Self::InBand | Self::Tight | Self::Loose
                if interval.low.is_some() && interval.high.is_some() =>
            {
                None
            }
            Self::InBand => None,
            Self::OnTheLimit => Some(finer(interval, check, blades, unit)),
            Self::NoGap => Some(format!(
                "Make sure that the lobe points away; fit a shim at least {} thinner and measure again.",
                thinner.show(unit)
            )),
            Self::Tight => {
                Some("Find the largest blade that goes; if none does, say \"no gap\".".to_owned())
            }
            Self::Loose | Self::Open if interval.low.is_some() => {
                Some(larger(interval, blades, unit))
            }
            Self::Loose | Self::Open => {
                Some("Find the largest blade that goes; if none does, say \"no gap\".".to_owned())
            }
            Self::Contradictory | Self::Refitted => Some("Measure it again.".to_owned()),
            Self::Unmeasured => Some("Measure it.".to_owned()),
        }
    }
}

/// Which blade would decide on which side of the limit the clearance lies.
fn finer(interval: Interval, check: Band, blades: &[Length], unit: LengthUnit) -> String {
    let limits = [check.low, check.high];
    let limit = limits.into_iter().find(|l| interval.is_between(*l));
    let limit = limit.unwrap_or(check.low);
    let inside = blades.iter().copied().filter(|b| interval.is_between(*b));
    let mut nearest: Vec<Length> = inside.collect();
    nearest.sort_unstable_by_key(|b| ((*b - limit).abs(), *b));
    // Whether the valve is judged for certain where a blade goes, and where it does not.
    let decides = |blade: Length| {
        let sure = |low, high| {
            let half = Interval { low, high };
            half.verdict(check, blades) != Verdict::OnTheLimit
        };
        [
            sure(Some(blade), interval.high),
            sure(interval.low, Some(blade)),
        ]
    };
    if let Some(blade) = nearest.iter().find(|b| decides(**b) == [true, true]) {
        return format!("Try the {} blade: it decides.", blade.show(unit));
    }
    let mut pairs = blades.iter().zip(1..).flat_map(|(thin, after)| {
        let thicker = blades.iter().skip(after);
        thicker.map(move |thick| (*thin, *thick))
    });
    if let Some((thin, thick)) = pairs.find(|(a, b)| *a + *b == limit)
        && interval.is_between(limit)
        && decides(limit) == [true, true]
    {
        return format!(
            "Try {} and {} together, {}: they decide.",
            thick.show(unit),
            thin.show(unit),
            limit.show(unit)
        );
    }
    for blade in nearest {
        let blade_shown = blade.show(unit);
        match decides(blade) {
            [true, false] => {
                return format!(
                    "Try the {blade_shown} blade: if it goes, it decides; if not, try a thinner one."
                );
            }
            [false, true] => {
                return format!(
                    "Try the {blade_shown} blade: if it does not go, it decides; if it does, try a thicker one."
                );
            }
            _ => {}
        }
    }
    "No blade of the set tells; it is left as the middle of the reading says.".to_owned()
}

/// Which blade to try after the one that goes.
fn larger(interval: Interval, blades: &[Length], unit: LengthUnit) -> String {
    blades
        .iter()
        .copied()
        .filter(|b| interval.low.is_some_and(|low| *b > low))
        .min()
        .map_or_else(
            || {
                "No larger blade in the set: stack blades, or fit a thicker shim and measure again."
                    .to_owned()
            },
            |blade| {
                format!(
                    "Try the {} blade and up until one does not go.",
                    blade.show(unit)
                )
            },
        )
}
