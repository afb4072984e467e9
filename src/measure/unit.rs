//! Units of amounts that are no lengths, and the one table of what each comes to.

use super::{Decimal, ratio};
use serde::{Deserialize, Serialize};

/// The unit of an amount that is not a length. Amounts are kept in thousandths of the unit they were
/// said in, so that they print as they were said.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Unit {
    Newton,
    PoundForce,
    NewtonMetre,
    PoundFoot,
    PoundInch,
    KilogramMetre,
    Bar,
    Kilopascal,
    Psi,
    Degree,
    Percent,
    Count,
    Celsius,
    Fahrenheit,
    CubicCentimetre,
}

impl Unit {
    /// The sign written after a number.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Newton => "N",
            Self::PoundForce => "lbf",
            Self::NewtonMetre => "N·m",
            Self::PoundFoot => "lbf·ft",
            Self::PoundInch => "lbf·in",
            Self::KilogramMetre => "kgf·m",
            Self::Bar => "bar",
            Self::Kilopascal => "kPa",
            Self::Psi => "psi",
            Self::Degree => "°",
            Self::Percent => "%",
            Self::Count => "",
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::CubicCentimetre => "cm³",
        }
    }

    /// The unit that bounds and limits of the same kind are kept in.
    #[must_use]
    pub const fn base(self) -> Self {
        match self {
            Self::PoundForce => Self::Newton,
            Self::PoundFoot | Self::PoundInch | Self::KilogramMetre => Self::NewtonMetre,
            Self::Kilopascal | Self::Psi => Self::Bar,
            Self::Fahrenheit => Self::Celsius,
            other => other,
        }
    }

    /// One unit in its base, as an exact fraction, and the base's reading at its zero.
    ///
    /// 1 lb = 0.45359237 kg, g = 9.80665 m/s², 1 in = 0.0254 m exactly, hence 1 lbf =
    /// 4.4482216152605 N, 1 lbf·in = 0.1129848290276167 N·m, 1 psi = 1 lbf / 0.00064516 m² (NIST
    /// SP 811, appendix B).
    const fn exact(self) -> (i128, i128) {
        match self {
            Self::PoundForce => (44_482_216_152_605, 10_000_000_000_000),
            Self::PoundInch => (1_129_848_290_276_167, 10_000_000_000_000_000),
            Self::PoundFoot => (12 * 1_129_848_290_276_167, 10_000_000_000_000_000),
            Self::KilogramMetre => (980_665, 100_000),
            Self::Kilopascal => (1, 100),
            Self::Psi => (44_482_216_152_605, 645_160_000_000_000),
            Self::Fahrenheit => (5, 9),
            _ => (1, 1),
        }
    }

    /// What this unit's zero is in thousandths of the base unit's zero, before scaling: only
    /// Fahrenheit has one of its own.
    const fn zero_milli(self) -> i128 {
        match self {
            Self::Fahrenheit => 32_000,
            _ => 0,
        }
    }

    /// `milli` thousandths of this unit in thousandths of its base, rounded once; the ends of the
    /// range where it does not fit.
    #[must_use]
    pub fn in_base(self, milli: i64) -> i64 {
        let (top, bottom) = self.exact();
        let scaled = ratio((i128::from(milli) - self.zero_milli()) * top, bottom);
        scaled.unwrap_or(if milli < 0 { i64::MIN } else { i64::MAX })
    }

    /// `value` of this unit in another of the same kind, rounded once to `places`; `None` where
    /// the kinds differ or it does not fit.
    #[must_use]
    pub fn convert(self, value: Decimal, to: Self, places: u8) -> Option<Decimal> {
        let same = self.base() as u8 == to.base() as u8;
        let ((top, bottom), (over, under)) = (self.exact(), to.exact());
        if !same || self.zero_milli() != to.zero_milli() {
            return None;
        }
        // Units of one kind share their large factors: taken out first, so that all fits.
        let (top, over) = reduced(top, over);
        let (under, bottom) = reduced(under, bottom);
        let wide = i128::from(value.mantissa())
            .checked_mul(top)?
            .checked_mul(under)?
            .checked_mul(10_i128.checked_pow(u32::from(places))?)?;
        let narrow = bottom
            .checked_mul(over)?
            .checked_mul(10_i128.checked_pow(u32::from(value.places()))?)?;
        ratio(wide, narrow).map(|mantissa| Decimal::new(mantissa, places))
    }
}

fn reduced(a: i128, b: i128) -> (i128, i128) {
    let (mut x, mut y) = (a, b);
    while y != 0 {
        (x, y) = (y, x % y);
    }
    (a / x, b / x)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn published_pairs() {
        for (from, unit, to, text) in [
            // NIST SP 811, appendix B.8
            ("1", Unit::PoundFoot, Unit::NewtonMetre, "1.355818"),
            ("1", Unit::PoundInch, Unit::NewtonMetre, "0.112985"),
            ("1", Unit::KilogramMetre, Unit::NewtonMetre, "9.806650"),
            ("1", Unit::PoundForce, Unit::Newton, "4.448222"),
            ("1", Unit::Bar, Unit::Psi, "14.503774"),
            ("1", Unit::Bar, Unit::Kilopascal, "100.000000"),
        ] {
            let found = unit.convert(from.parse().unwrap(), to, 6).unwrap();
            assert_eq!(found.to_string(), text, "{unit:?}");
        }
        assert_eq!(
            Unit::Bar.convert(Decimal::new(1, 0), Unit::Newton, 3),
            None,
            "a pressure is not a force"
        );
    }

    #[test]
    fn in_the_base_unit() {
        assert_eq!(Unit::Psi.in_base(185_000), 12_755);
        assert_eq!(Unit::Fahrenheit.in_base(68_000), 20_000);
        assert_eq!(Unit::Fahrenheit.in_base(-40_000), -40_000);
        assert_eq!(Unit::PoundFoot.in_base(22_000), 29_828);
        assert_eq!(Unit::Bar.in_base(12_500), 12_500);
    }
}
