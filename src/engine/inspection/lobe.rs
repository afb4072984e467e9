//! Cam lobes: height, lift, and the one that does not agree with its sisters.

use super::error::InspectError;
use crate::event::Position;
use crate::measure::Length;

/// From memory of the trade: sisters of one cam agree within 0.15 mm; a wider difference is more
/// often two digits swapped in hearing than wear. Asks again, and judges nothing.
pub(crate) const SISTERS_AGREE_NM: Length = Length::from_um(150);

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

/// A lobe that does not agree with its sisters.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Sister {
    /// Which.
    pub position: Position,
    /// As called.
    pub height_nm: Length,
    /// Its difference from the middle one of its sisters.
    pub off_nm: Length,
}

/// Lobes of one cam that differ from the middle one by more than `agree`: measure these again.
/// Of two that disagree both are named, because nothing tells which is right.
#[must_use]
pub(crate) fn odd_ones_out(sisters: &[(Position, Length)], agree: Length) -> Vec<Sister> {
    let mut heights: Vec<Length> = sisters.iter().map(|s| s.1).collect();
    heights.sort_unstable();
    let Some(&middle) = heights.get(heights.len() / 2) else {
        return Vec::new();
    };
    let from = |height: Length| match heights[..] {
        [low, high] => {
            if height == low {
                low - high
            } else {
                high - low
            }
        }
        _ => height - middle,
    };
    sisters
        .iter()
        .map(|&(position, height_nm)| Sister {
            position,
            height_nm,
            off_nm: from(height_nm),
        })
        .filter(|s| s.off_nm.abs() > agree)
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::event::Side;

    const fn um(um: i64) -> Length {
        Length::from_um(um)
    }

    /// Height less base circle (TM 5-3805-258-24-1, p. 4-28).
    #[test]
    fn lift_is_height_less_base_circle() {
        assert_eq!(lift(um(35_410), um(27_000)), Ok(um(8_410)));
        assert!(lift(um(27_000), um(35_410)).is_err());
    }

    /// 35.41 heard as 35.14 (trade practice).
    #[test]
    fn swapped_digits_stand_out() {
        let lobe = |cylinder, height| {
            let position = Position {
                cylinder,
                side: Side::Inlet,
                valve: None,
            };
            (position, um(height))
        };
        let odd = |lobes: &[(Position, Length)]| -> Vec<u8> {
            odd_ones_out(lobes, SISTERS_AGREE_NM)
                .iter()
                .map(|s| s.position.cylinder)
                .collect()
        };
        let (a, b, c) = (lobe(1, 35_410), lobe(2, 35_140), lobe(3, 35_420));
        assert_eq!(odd(&[a, b, c]), [2]);
        assert_eq!(odd(&[a, c]), [] as [u8; 0]);
        assert_eq!(odd(&[a, b]), [1, 2]);
        assert_eq!(odd(&[a]), [] as [u8; 0]);
        assert_eq!(odd(&[]), [] as [u8; 0]);
    }
}
