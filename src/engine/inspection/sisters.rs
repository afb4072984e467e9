//! Parts of one side of an engine are alike: the one that does not agree with its sisters.

use crate::event::Position;
use crate::measure::{Length, Quantity};

/// How far the parts of one side may lie apart before one is measured again: more is more often
/// misheard, misread or two digits swapped than worn. It asks, and judges nothing. From memory of the
/// trade.
const AGREE: [(Quantity, Length); 5] = [
    (Quantity::StemDiameter, Length::from_um(50)),
    (Quantity::GuideBore, Length::from_um(50)),
    (Quantity::SeatWidth, Length::from_um(600)),
    (Quantity::SpringFreeLength, Length::from_um(1_500)),
    (Quantity::LobeHeight, Length::from_um(150)),
];

/// How far sisters may lie apart; `None` of what is not compared.
pub(crate) fn sisters_agree(quantity: Quantity) -> Option<Length> {
    let mut all = AGREE.iter();
    all.find(|(q, _)| *q == quantity).map(|(_, agree)| *agree)
}

/// The middle one of `sisters`, if `own` lies further from it than they may lie apart.
pub(crate) fn apart_from(
    quantity: Quantity,
    own: Length,
    mut sisters: Vec<Length>,
) -> Option<Length> {
    let agree = sisters_agree(quantity)?;
    sisters.sort_unstable();
    let middle = *sisters.get(sisters.len() / 2)?;
    ((own - middle).abs() > agree).then_some(middle)
}

/// A part that does not agree with its sisters.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Sister {
    /// Which.
    pub position: Position,
    /// As called.
    pub value_nm: Length,
    /// Its difference from the middle one of its sisters.
    pub off_nm: Length,
}

/// Parts of one side that differ from the middle one by more than `agree`: measure these again.
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
        .map(|&(position, value_nm)| Sister {
            position,
            value_nm,
            off_nm: from(value_nm),
        })
        .filter(|s| s.off_nm.abs() > agree)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::Side;

    const fn um(um: i64) -> Length {
        Length::from_um(um)
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
            odd_ones_out(lobes, um(150))
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

    /// A 45.0 among 40.5s (trade practice).
    #[test]
    fn one_reading_is_held_against_its_sisters() {
        let spring = |own, sisters: &[i64]| {
            let sisters = sisters.iter().map(|s| um(*s)).collect();
            apart_from(Quantity::SpringFreeLength, um(own), sisters)
        };
        assert_eq!(spring(45_000, &[40_500, 40_400, 40_600]), Some(um(40_500)));
        assert_eq!(spring(45_000, &[40_500]), Some(um(40_500)));
        assert_eq!(spring(41_000, &[40_500]), None);
        assert_eq!(spring(45_000, &[]), None);
        assert_eq!(apart_from(Quantity::Wobble, um(9), vec![um(900)]), None);
    }
}
