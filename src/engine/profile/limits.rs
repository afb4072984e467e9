//! The limits that a profile has, as inspections take them.

use crate::engine::inspection::{Figure, Limit};
use crate::engine::profile::limit_names::{LimitName, NAMES, figure};
use crate::engine::profile::{self, Profile};
use crate::event::{Fastener, Head, Side};
use crate::measure::{Decimal, Length, Quantity};

/// A limit of a profile that cannot be used.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum LimitError {
    /// Its unit is none, or it is finer than a nanometre.
    #[error("the limit of {quantity} is in \"{unit}\": expected {expected}")]
    Unit {
        /// What is limited.
        quantity: String,
        /// Its unit, as written.
        unit: String,
        /// What would have been read.
        expected: String,
    },
    /// Nothing tells which of two holds.
    #[error("the profile has two limits of {0} for the same: expected one")]
    Twice(String),
}

impl Profile {
    /// The limit of a quantity on a side and a head: the one that names most of them. `None` if the
    /// profile has none: then no verdict may be given.
    ///
    /// # Errors
    /// A unit that is not known, or two limits of which nothing says which holds.
    pub fn limit_for(
        &self,
        quantity: &str,
        side: Option<Side>,
        head: Option<Head>,
    ) -> Result<Option<Limit>, LimitError> {
        self.limit_at(quantity, side, head, None)
    }

    /// What a manual gives and this profile does not: limits, torques, angles.
    #[must_use]
    pub fn missing(&self) -> Vec<String> {
        let has = |name: &str| self.limits.iter().any(|l| l.quantity == name);
        let named = NAMES.iter().filter(|n| !has(n.name));
        let mut missing: Vec<String> = named
            .map(|n| format!("the limit of {}", n.name.replace('_', " ")))
            .collect();
        let counted = self.chain.is_some_and(|c| c.pins_between_marks.is_some());
        missing.retain(|m| !(counted && m.ends_with("chain pins")));
        for kind in Fastener::ALL {
            if !self.torque.iter().any(|t| t.bolts == Some(kind)) {
                missing.push(format!("the torque of {}s", kind.key().replace('_', " ")));
            }
        }
        for (side, spec) in [("inlet", &self.inlet), ("exhaust", &self.exhaust)] {
            if spec.opens_deg.is_none() {
                missing.push(format!("the {side} opening and closing angles"));
            }
        }
        if self.displacement.is_none() {
            missing.push("bore and stroke".to_owned());
        }
        if self.seat_angle_deg.is_none() {
            missing.push("the seat angle".to_owned());
        }
        if !counted {
            missing.push("the chain's pins between the marks".to_owned());
        }
        missing
    }

    /// The heights at which a spring's load has a limit, each once.
    #[must_use]
    pub fn load_heights(&self) -> Vec<Length> {
        let loads = self.limits.iter();
        let loads = loads.filter(|l| l.quantity == Quantity::SpringLoad.key());
        let mut heights: Vec<Length> = loads.filter_map(|l| l.at).collect();
        heights.sort_unstable();
        heights.dedup();
        heights
    }

    /// As [`Profile::limit_for`], of a load at a height.
    ///
    /// # Errors
    /// As [`Profile::limit_for`].
    pub fn limit_at(
        &self,
        quantity: &str,
        side: Option<Side>,
        head: Option<Head>,
        at: Option<Length>,
    ) -> Result<Option<Limit>, LimitError> {
        let holds = |l: &&profile::Limit| {
            l.quantity == quantity
                && l.at == at
                && l.side.is_none_or(|s| Some(s) == side)
                && l.head.is_none_or(|h| Some(h) == head)
        };
        let named = |l: &profile::Limit| u8::from(l.side.is_some()) + u8::from(l.head.is_some());
        let mut found: Vec<&profile::Limit> = self.limits.iter().filter(holds).collect();
        let most = found.iter().map(|l| named(l)).max();
        found.retain(|l| Some(named(l)) == most);
        match found[..] {
            [] => Ok(None),
            [one] => read(one).map(Some),
            _ => Err(LimitError::Twice(quantity.to_owned())),
        }
    }
}

fn read(limit: &profile::Limit) -> Result<Limit, LimitError> {
    let one = |value: Decimal| -> Result<Figure, LimitError> {
        let units = LimitName::of(&limit.quantity).map_or_else(
            || "a unit of its kind".to_owned(),
            |name| name.units.join(" or "),
        );
        figure(value, &limit.unit).ok_or_else(|| LimitError::Unit {
            quantity: limit.quantity.clone(),
            unit: limit.unit.clone(),
            expected: units,
        })
    };
    let new = limit.new.map(|(from, to)| Ok((one(from)?, one(to)?)));
    Ok(Limit {
        new: new.transpose()?,
        least: limit.min.map(one).transpose()?,
        most: limit.max.map(one).transpose()?,
        source: limit.source.clone(),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::engine::SHIPPED;
    use crate::engine::inspection::{Against, Verdict, fit};
    use crate::measure::LengthUnit;

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
                .limit_for("stem_clearance", Some(side), None)
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
            profile.limit_for("seat_runout", Some(Side::Inlet), None),
            Ok(None)
        );
        profile.limits[0].unit = "furlong".to_owned();
        let error = profile
            .limit_for("stem_clearance", Some(Side::Inlet), None)
            .unwrap_err();
        assert!(
            error
                .to_string()
                .contains("\"furlong\": expected mm or thou or in"),
            "{error}"
        );
    }

    /// A limit of both sides that stands first does not win over that of the side.
    #[test]
    fn the_limit_of_the_side_wins_and_two_of_the_same_are_an_error() {
        let mut profile = triple();
        let mut general = profile.limits[0].clone();
        assert_eq!(general.quantity, "stem_clearance");
        (general.side, general.max) = (None, Some(Decimal::new(20, 2)));
        profile.limits.insert(0, general);
        let most = |profile: &Profile, side| {
            let limit = profile.limit_for("stem_clearance", side, None);
            limit.map(|l| l.unwrap().most.unwrap().base())
        };
        assert_eq!(most(&profile, Some(Side::Inlet)), Ok(80_000));
        assert_eq!(most(&profile, None), Ok(200_000));
        profile.limits.push(profile.limits[1].clone());
        let error = most(&profile, Some(Side::Inlet)).unwrap_err().to_string();
        assert!(error.contains("two limits of stem_clearance"), "{error}");
        assert_eq!(most(&profile, Some(Side::Exhaust)), Ok(100_000));
    }
}
