//! The limits that a profile has, as inspections take them.

use super::inspect::{Figure, Limit};
use super::profile::Profile;
use crate::event::Side;
use crate::measure::{Amount, Decimal, Length, LengthUnit, Unit};

/// Units that a limit in a profile may be written in.
pub const LIMIT_UNITS: &str = "mm, thou, in, N, N·m, bar, deg, percent, count or celsius";

/// A limit of a profile that cannot be used.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[error(
    "the limit for {quantity} is in \"{unit}\", or finer than a nanometre: expected {LIMIT_UNITS}"
)]
pub struct LimitError {
    /// What is limited.
    pub quantity: String,
    /// Its unit, as written.
    pub unit: String,
}

impl Profile {
    /// The limit of a quantity on a side; one without a side holds for both. `None` where the
    /// profile has none: then no verdict may be given.
    ///
    /// # Errors
    /// A unit that is not known.
    pub fn limit_for(
        &self,
        quantity: &str,
        side: Option<Side>,
    ) -> Result<Option<Limit>, LimitError> {
        let fits = |of: Option<Side>| of.is_none() || of == side;
        let Some(limit) = self
            .limits
            .iter()
            .find(|l| l.quantity == quantity && fits(l.side))
        else {
            return Ok(None);
        };
        let read = |bound: Option<Decimal>| -> Result<Option<Figure>, LimitError> {
            let error = || LimitError {
                quantity: quantity.to_owned(),
                unit: limit.unit.clone(),
            };
            bound
                .map(|b| figure(b, &limit.unit).ok_or_else(error))
                .transpose()
        };
        let (least, most) = (read(limit.min)?, read(limit.max)?);
        Ok(Some(Limit {
            new: None,
            least,
            most,
            source: limit.source.clone(),
        }))
    }
}

fn figure(value: Decimal, unit: &str) -> Option<Figure> {
    let length = |unit| Length::from_decimal(value, unit).map(Figure::length);
    let milli = |unit| {
        value
            .milli()
            .map(|m| Figure::Amount(Amount::Milli(m, unit)))
    };
    match unit {
        "mm" => length(LengthUnit::Millimetre),
        "thou" => length(LengthUnit::Thou),
        "in" => length(LengthUnit::Inch),
        "N" => milli(Unit::Newton),
        "N·m" => milli(Unit::NewtonMetre),
        "bar" => milli(Unit::Bar),
        "deg" => milli(Unit::Degree),
        "percent" => milli(Unit::Percent),
        "count" => milli(Unit::Count),
        "celsius" => milli(Unit::Celsius),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::engine::SHIPPED;
    use crate::engine::inspect::{Against, Verdict, fit};

    fn triple() -> Profile {
        Profile::parse(SHIPPED[0].1, SHIPPED[0].0).unwrap()
    }

    /// The limits are the invented demo engine's: stem clearance 0.08 inlet, 0.10 exhaust.
    #[test]
    fn a_stem_is_judged_by_the_limit_of_its_side() {
        let profile = triple();
        let um = Length::from_um;
        for (side, verdict) in [
            (Side::Inlet, Verdict::OutOfLimit),
            (Side::Exhaust, Verdict::Good),
        ] {
            let limit = profile
                .limit_for("stem_clearance", Some(side))
                .unwrap()
                .unwrap();
            let against = Against {
                limit: Some(&limit),
                unit: LengthUnit::Millimetre,
            };
            let found = fit("stem clearance", &[um(5_420)], &[um(5_510)], against)
                .unwrap()
                .finding;
            assert_eq!(found.verdict, verdict);
            assert_eq!(found.limit_source.as_deref(), Some("invented for the demo"));
        }
    }

    #[test]
    fn a_limit_that_the_profile_lacks_is_none_and_a_strange_unit_is_named() {
        let mut profile = triple();
        assert_eq!(
            profile.limit_for("seat_runout", Some(Side::Inlet)),
            Ok(None)
        );
        profile.limits[0].unit = "furlong".to_owned();
        let error = profile
            .limit_for("stem_clearance", Some(Side::Inlet))
            .unwrap_err();
        assert!(
            error
                .to_string()
                .contains("\"furlong\", or finer than a nanometre: expected mm, thou"),
            "{error}"
        );
    }
}
