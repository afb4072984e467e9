//! Why a phrase that was understood cannot be, with what would have been accepted.

use super::scope::Scope;
use crate::event::{Side, Valve};
use crate::measure::{Amount, Bounds, Length, LengthUnit, Unit};

/// Why a phrase that was understood cannot be.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Refusal {
    /// The engine has no such cylinder.
    Cylinder(u8),
    /// That side has no such valve.
    Valve(Side, Valve),
    /// Outside what the quantity can be.
    Range {
        /// The number as said.
        raw: String,
        /// The row it broke.
        words: &'static str,
        /// Hard range in base units.
        hard: (i64, i64),
        /// The unit of its thousandths; `None` where the row holds nanometres.
        unit: Option<Unit>,
    },
    /// The blade that goes is not the smaller one.
    Crossed(Length, Length),
    /// One phrase said two things.
    Contradiction,
}

/// A number outside the row's hard range.
pub(super) fn refuse(raw: &str, row: &Bounds) -> Refusal {
    Refusal::Range {
        raw: raw.to_owned(),
        words: row.words,
        hard: row.hard,
        unit: row.quantity.unit(),
    }
}

impl Refusal {
    /// In a sentence, with what would have been accepted.
    #[must_use]
    pub fn explain(&self, scope: &Scope) -> String {
        match self {
            Self::Cylinder(n) => {
                format!(
                    "this engine has no cylinder {n}: expected 1 to {}",
                    scope.cylinders
                )
            }
            Self::Valve(side, valve) => {
                let names: Vec<&str> = scope.valves(*side).iter().map(|v| v.key()).collect();
                let expected = if names.len() < 2 {
                    "no valve name".to_owned()
                } else {
                    names.join(" or ")
                };
                format!(
                    "there is no {} valve called {}: expected {expected}",
                    side.key(),
                    valve.key()
                )
            }
            Self::Range {
                raw,
                words,
                hard,
                unit,
            } => {
                let show = |base: i64| {
                    let amount = match unit {
                        None => Amount::LengthNm(Length::from_nm(base)),
                        Some(unit) => Amount::Milli(base, *unit),
                    };
                    amount.show(LengthUnit::Millimetre)
                };
                format!(
                    "\"{raw}\" is out of range for {words}: expected {} to {}",
                    show(hard.0),
                    show(hard.1)
                )
            }
            Self::Crossed(goes, stops) => {
                format!(
                    "{goes} goes and {stops} does not: the blade that goes must be the smaller one"
                )
            }
            Self::Contradiction => "one phrase named two places or units: expected one".to_owned(),
        }
    }
}
