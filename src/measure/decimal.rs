//! Decimals that keep the digits as they were said: "point one oh" is 0.10, not 0.1.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// `mantissa / 10^places`, trailing zeros kept.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Decimal {
    mantissa: i64,
    places: u8,
}

/// Why a text is not a decimal.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[error("\"{text}\" is not a number: expected digits with at most one point, such as 0.15 or 265")]
pub struct DecimalError {
    /// The text as given.
    pub text: String,
}

impl Decimal {
    /// `mantissa / 10^places`.
    #[must_use]
    pub const fn new(mantissa: i64, places: u8) -> Self {
        Self { mantissa, places }
    }

    /// All digits as one integer.
    #[must_use]
    pub const fn mantissa(self) -> i64 {
        self.mantissa
    }

    /// How many of the digits stand after the point.
    #[must_use]
    pub const fn places(self) -> u8 {
        self.places
    }

    /// The same digits with the point moved `by` places to the left.
    #[must_use]
    pub const fn shifted(self, by: u8) -> Self {
        Self {
            mantissa: self.mantissa,
            places: self.places + by,
        }
    }

    /// In thousandths, rounded half up; `None` on overflow.
    #[must_use]
    pub fn milli(self) -> Option<i64> {
        let scaled = i128::from(self.mantissa) * 1_000;
        let power = 10_i128.checked_pow(u32::from(self.places))?;
        i64::try_from((scaled + power / 2).div_euclid(power)).ok()
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digits = self.mantissa.unsigned_abs().to_string();
        let places = usize::from(self.places);
        let padded = format!("{digits:0>width$}", width = places + 1);
        let (whole, fraction) = padded.split_at(padded.len() - places);
        let sign = if self.mantissa < 0 { "-" } else { "" };
        if fraction.is_empty() {
            write!(f, "{sign}{whole}")
        } else {
            write!(f, "{sign}{whole}.{fraction}")
        }
    }
}

impl FromStr for Decimal {
    type Err = DecimalError;

    fn from_str(text: &str) -> Result<Self, DecimalError> {
        let error = || DecimalError {
            text: text.to_owned(),
        };
        let (sign, body) = match text.strip_prefix('-') {
            Some(rest) => (-1, rest),
            None => (1, text),
        };
        let (whole, fraction) = body.split_once('.').unwrap_or((body, ""));
        let digits = format!("{whole}{fraction}");
        if digits.is_empty() || digits.len() > 15 || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return Err(error());
        }
        let mantissa: i64 = digits.parse().map_err(|_| error())?;
        let places = u8::try_from(fraction.len()).map_err(|_| error())?;
        Ok(Self {
            mantissa: sign * mantissa,
            places,
        })
    }
}

impl From<Decimal> for String {
    fn from(value: Decimal) -> Self {
        value.to_string()
    }
}

impl TryFrom<String> for Decimal {
    type Error = DecimalError;
    fn try_from(text: String) -> Result<Self, DecimalError> {
        text.parse()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn digits_stay_as_said() {
        for text in ["0.10", "0.1", "265", "2.625", "-0.05", "0.000", ".25"] {
            let value: Decimal = text.parse().unwrap();
            let expected = text
                .strip_prefix('.')
                .map_or(text.to_owned(), |f| format!("0.{f}"));
            assert_eq!(value.to_string(), expected);
        }
    }

    #[test]
    fn other_text_is_refused_with_what_was_expected() {
        for text in [
            "",
            ".",
            "1.2.3",
            "NaN",
            "inf",
            "1e5",
            " 1",
            "٣",
            "9999999999999999999",
        ] {
            assert!(
                text.parse::<Decimal>()
                    .unwrap_err()
                    .to_string()
                    .contains("expected digits"),
                "{text}"
            );
        }
    }
}
