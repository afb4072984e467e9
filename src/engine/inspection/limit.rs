//! A figure with its unit, and the limit that a job has for it.

use super::error::InspectError;
use crate::measure::{Amount, Decimal, Length, LengthUnit};
use serde::Serialize;

/// What was worked out.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Figure {
    /// A length, or thousandths of a unit.
    Amount(Amount),
    /// A spring rate in micronewtons per millimetre.
    RateUnPerMm(i64),
}

impl Figure {
    /// A length.
    #[must_use]
    pub const fn length(length: Length) -> Self {
        Self::Amount(Amount::LengthNm(length))
    }

    /// The plain integer it is compared by.
    #[must_use]
    pub fn base(self) -> i64 {
        match self {
            Self::Amount(amount) => amount.base(),
            Self::RateUnPerMm(rate) => rate,
        }
    }

    /// Written with its unit.
    #[must_use]
    pub fn show(self, unit: LengthUnit) -> String {
        match self {
            Self::Amount(amount) => amount.show(unit),
            Self::RateUnPerMm(rate) => {
                // A spring tester shows three digits.
                let tenths = rate.saturating_add(50_000).div_euclid(100_000);
                format!("{} N/mm", Decimal::new(tenths, 1))
            }
        }
    }

    fn same_kind(self, other: Self) -> bool {
        match (self, other) {
            (Self::Amount(Amount::LengthNm(_)), Self::Amount(Amount::LengthNm(_)))
            | (Self::RateUnPerMm(_), Self::RateUnPerMm(_)) => true,
            (Self::Amount(Amount::Milli(_, a)), Self::Amount(Amount::Milli(_, b))) => {
                a.base() == b.base()
            }
            _ => false,
        }
    }
}

/// A limit that the job has, with the text of its source.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Limit {
    /// As new, from and to.
    pub new: Option<(Figure, Figure)>,
    /// Not less than this.
    pub least: Option<Figure>,
    /// Not more than this.
    pub most: Option<Figure>,
    /// Where it comes from, as the job's profile says.
    pub source: String,
}

impl Limit {
    /// Not more than `most`.
    #[must_use]
    pub fn at_most(most: Figure, source: &str) -> Self {
        Self {
            new: None,
            least: None,
            most: Some(most),
            source: source.to_owned(),
        }
    }

    /// Not less than `least`.
    #[must_use]
    pub fn at_least(least: Figure, source: &str) -> Self {
        Self {
            least: Some(least),
            most: None,
            new: None,
            source: source.to_owned(),
        }
    }

    /// From `least` to `most`.
    #[must_use]
    pub fn between(least: Figure, most: Figure, source: &str) -> Self {
        Self {
            least: Some(least),
            ..Self::at_most(most, source)
        }
    }

    pub(super) fn check(&self, value: Figure) -> Result<(), InspectError> {
        let source = self.source.clone();
        let ends = self.new.map(|n| [n.0, n.1]);
        let figures: Vec<Figure> = [self.least, self.most]
            .into_iter()
            .flatten()
            .chain(ends.into_iter().flatten())
            .collect();
        if figures.is_empty() {
            return Err(InspectError::EmptyLimit(source));
        }
        if figures.iter().any(|f| !f.same_kind(value)) {
            return Err(InspectError::OtherUnit(source));
        }
        let falls = |from: Option<Figure>, to: Option<Figure>| matches!((from, to), (Some(a), Some(b)) if a.base() > b.base());
        if falls(self.least, self.most) || falls(self.new.map(|n| n.0), self.new.map(|n| n.1)) {
            return Err(InspectError::EmptyLimit(source));
        }
        Ok(())
    }

    pub(super) fn words(&self, unit: LengthUnit) -> String {
        let show = |f: Figure| f.show(unit);
        match (self.least, self.most, self.new) {
            (Some(a), Some(b), _) => format!("the limit of {} to {}", show(a), show(b)),
            (Some(a), None, _) => format!("the limit of at least {}", show(a)),
            (None, Some(b), _) => format!("the limit of at most {}", show(b)),
            (None, None, Some((a, b))) => format!("the range when new, {} to {}", show(a), show(b)),
            (None, None, None) => "no limit".to_owned(),
        }
    }
}
