//! Lengths in integer nanometres, exact in millimetres and in thou.

use super::Decimal;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::{Add, Neg, Sub};

/// A length in nanometres. A thou (0.001 in) is exactly 25 400 nm, a micrometre division 1 000 nm.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Length(i64);

/// A unit in which a length is said or shown.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LengthUnit {
    /// Millimetre.
    #[serde(rename = "mm")]
    Millimetre,
    /// A thousandth of an inch.
    Thou,
    /// Inch: 25.4 mm exactly (NIST SP 811, appendix B).
    Inch,
    /// Micrometre, "micron" at the bench.
    Micron,
}

impl LengthUnit {
    /// One unit in nanometres.
    #[must_use]
    pub const fn nm(self) -> i64 {
        match self {
            Self::Millimetre => 1_000_000,
            Self::Thou => 25_400,
            Self::Inch => 25_400_000,
            Self::Micron => 1_000,
        }
    }

    /// The sign written after a number.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Thou => "thou",
            Self::Inch => "in",
            Self::Micron => "µm",
        }
    }
}

impl Length {
    /// No length at all.
    pub const ZERO: Self = Self(0);

    /// From nanometres.
    #[must_use]
    pub const fn from_nm(nm: i64) -> Self {
        Self(nm)
    }

    /// From whole micrometres.
    #[must_use]
    pub const fn from_um(um: i64) -> Self {
        Self(um * 1_000)
    }

    /// From whole thou.
    #[must_use]
    pub const fn from_thou(thou: i64) -> Self {
        Self(thou * 25_400)
    }

    /// From a decimal in `unit`; `None` where it is not a whole number of nanometres or too large.
    #[must_use]
    pub fn from_decimal(value: Decimal, unit: LengthUnit) -> Option<Self> {
        let scaled = i128::from(value.mantissa()) * i128::from(unit.nm());
        let power = 10_i128.checked_pow(u32::from(value.places()))?;
        if scaled % power != 0 {
            return None;
        }
        i64::try_from(scaled / power).ok().map(Self)
    }

    /// In nanometres.
    #[must_use]
    pub const fn nm(self) -> i64 {
        self.0
    }

    /// Its size without sign.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }

    /// The exact decimal in `unit`, with at least `min_places` places; `None` where the unit
    /// cannot write it in nine places (a millimetre in thou, say).
    #[must_use]
    pub fn to_decimal(self, unit: LengthUnit, min_places: u8) -> Option<Decimal> {
        for places in min_places..=9 {
            let scaled = i128::from(self.0) * 10_i128.pow(u32::from(places));
            if scaled % i128::from(unit.nm()) == 0 {
                let mantissa = i64::try_from(scaled / i128::from(unit.nm())).ok()?;
                return Some(Decimal::new(mantissa, places));
            }
        }
        None
    }

    /// Rounded half up to `places` in `unit`, for showing beside the exact value.
    #[must_use]
    pub fn rounded(self, unit: LengthUnit, places: u8) -> Decimal {
        let scaled = i128::from(self.0) * 10_i128.pow(u32::from(places));
        let per = i128::from(unit.nm());
        let mantissa = (scaled + per / 2).div_euclid(per);
        Decimal::new(i64::try_from(mantissa).unwrap_or(i64::MAX), places)
    }

    /// Written in the job's unit: exact where possible, with its sign.
    #[must_use]
    pub fn show(self, unit: LengthUnit) -> String {
        // No tool of the bench shows more: a micrometre, a tenth of a thou.
        let (places, most) = match unit {
            LengthUnit::Millimetre => (2, 3),
            LengthUnit::Thou | LengthUnit::Micron => (0, 2),
            LengthUnit::Inch => (0, 4),
        };
        let value = self
            .to_decimal(unit, places)
            .filter(|d| d.places() <= most)
            .unwrap_or_else(|| self.rounded(unit, places + 1));
        format!("{value} {}", unit.sign())
    }
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.show(LengthUnit::Millimetre))
    }
}

impl fmt::Debug for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} nm", self.0)
    }
}

impl Add for Length {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Length {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Neg for Length {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    fn length(text: &str, unit: LengthUnit) -> Option<Length> {
        Length::from_decimal(text.parse().unwrap(), unit)
    }

    /// Published pairs: a thou is 0.0254 mm exactly (NIST SP 811 B.8); 1.492 in = 37.8968 mm and
    /// 1.082 in = 27.4828 mm (TM 10-4320-344-24, table 4-1); 0.0017 in = 0.04318 mm
    /// (TM 9-2320-364-34-4 prints 0.0432).
    #[test]
    fn published_pairs_are_exact() {
        for (inch, mm) in [
            ("0.001", "0.0254"),
            ("1.492", "37.8968"),
            ("1.082", "27.4828"),
            ("0.0017", "0.04318"),
        ] {
            assert_eq!(
                length(inch, LengthUnit::Inch),
                length(mm, LengthUnit::Millimetre),
                "{inch}"
            );
        }
    }

    #[test]
    fn a_tenth_of_a_thou_is_exact_and_a_third_is_not_invented() {
        assert_eq!(
            length("0.0001", LengthUnit::Inch),
            Some(Length::from_nm(2_540))
        );
        assert_eq!(length("0.0000001", LengthUnit::Micron), None);
    }

    #[test]
    fn shown_in_the_unit_of_the_job() {
        assert_eq!(Length::from_um(150).show(LengthUnit::Millimetre), "0.15 mm");
        assert_eq!(
            Length::from_um(125).show(LengthUnit::Millimetre),
            "0.125 mm"
        );
        assert_eq!(Length::from_thou(8).show(LengthUnit::Thou), "8 thou");
        assert_eq!(Length::from_um(150).show(LengthUnit::Thou), "5.9 thou");
        // 0.2355 in and 43 thou are 5.9817 and 1.0922 mm: a micrometre is the last digit measured.
        let mm = LengthUnit::Millimetre;
        assert_eq!(Length::from_nm(5_981_700).show(mm), "5.982 mm");
        assert_eq!(Length::from_thou(43).show(mm), "1.092 mm");
    }

    proptest! {
        #[test]
        fn decimals_go_both_ways(mantissa in -1_000_000_i64..1_000_000, places in 0_u8..5, unit in prop_oneof![
            Just(LengthUnit::Millimetre), Just(LengthUnit::Thou), Just(LengthUnit::Inch)]) {
            let said = Decimal::new(mantissa, places);
            if let Some(length) = Length::from_decimal(said, unit) {
                let back = length.to_decimal(unit, places).unwrap();
                prop_assert_eq!(back, said);
            }
        }
    }
}
