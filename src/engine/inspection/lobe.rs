//! The lift of a cam lobe.

use super::error::InspectError;
use crate::measure::Length;

/// Lift: height over nose and heel less the base circle across it.
///
/// # Errors
/// A height not above the base circle.
pub(crate) fn lift(height: Length, base_circle: Length) -> Result<Length, InspectError> {
    if base_circle <= Length::ZERO || height <= base_circle {
        return Err(InspectError::Impossible {
            what: "lift".to_owned(),
            value: (height - base_circle).to_string(),
            expected: "expected the height above the base circle; the two swapped?",
        });
    }
    Ok(height - base_circle)
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn um(um: i64) -> Length {
        Length::from_um(um)
    }

    /// Height less base circle (TM 5-3805-258-24-1, p. 4-28).
    #[test]
    fn lift_is_height_less_base_circle() {
        assert_eq!(lift(um(35_410), um(27_000)), Ok(um(8_410)));
        assert!(lift(um(27_000), um(35_410)).is_err());
    }
}
