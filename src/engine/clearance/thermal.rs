//! What a warm or cold engine does to a reading. Shown beside it, never applied.

use crate::measure::{Length, LengthUnit};
use crate::measure::{ratio, scaled};
use serde::Serialize;

/// Aluminium head, 23.1 ppm/K, in parts per thousand million per kelvin.
/// Source: Swyt, J. Res. Natl. Inst. Stand. Technol. 99, 31 (1994). Honest to about ±1 ppm/K.
pub const ALUMINIUM_PPB_PER_K: i64 = 23_100;

/// Steel valve and shim, 11.5 ppm/K. Source and honesty as [`ALUMINIUM_PPB_PER_K`].
pub const STEEL_PPB_PER_K: i64 = 11_500;

/// The reference temperature of lengths, 20 °C (ISO 1), in thousandths of a degree.
pub const REFERENCE_MILLI_C: i64 = 20_000;

/// A note that stands beside a clearance; the reading itself stays as it was called.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct ThermalNote {
    /// How much looser (positive) or tighter the gap reads than it would at 20 °C.
    pub shift_nm: Length,
    /// In words.
    pub words: String,
}

/// How much a clearance changes: `(α_head - α_stack) · height · ΔT`, for a uniform, small ΔT.
///
/// Coefficients in parts per thousand million per kelvin, `delta_milli_k` in thousandths of a
/// kelvin. `height` runs from the cam bearing to the seat. `None` only where the answer does not
/// fit.
#[must_use]
pub fn clearance_shift(
    head_ppb_per_k: i64,
    stack_ppb_per_k: i64,
    height: Length,
    delta_milli_k: i64,
) -> Option<Length> {
    growth(
        height,
        head_ppb_per_k.checked_sub(stack_ppb_per_k)?,
        delta_milli_k,
    )
}

/// How much a length grows: `α · L · ΔT`. Units as [`clearance_shift`].
#[must_use]
pub fn growth(length: Length, ppb_per_k: i64, delta_milli_k: i64) -> Option<Length> {
    let top = i128::from(length.nm())
        .checked_mul(i128::from(ppb_per_k))?
        .checked_mul(i128::from(delta_milli_k))?;
    ratio(top, 1_000_000_000_000).map(Length::from_nm)
}

/// The note for a clearance read at `engine_milli_c` on an aluminium head with steel valves.
#[must_use]
pub fn note(height: Length, engine_milli_c: i64, unit: LengthUnit) -> Option<ThermalNote> {
    let delta = engine_milli_c.checked_sub(REFERENCE_MILLI_C)?;
    let shift = clearance_shift(ALUMINIUM_PPB_PER_K, STEEL_PPB_PER_K, height, delta)?;
    let way = match shift.nm() {
        0 => return Some(at_reference()),
        nm if nm > 0 => "loose",
        _ => "tight",
    };
    let degrees = scaled(engine_milli_c, 1, 1_000)?;
    // A tenth of a micrometre, or a hundredth of a thou: finer is not meant.
    let (size, sign) = if unit == LengthUnit::Thou || unit == LengthUnit::Inch {
        (shift.abs().rounded(LengthUnit::Thou, 2), "thou")
    } else {
        (shift.abs().rounded(LengthUnit::Micron, 1), "µm")
    };
    Some(ThermalNote {
        shift_nm: shift,
        words: format!(
            "at {degrees} °C the gap reads about {size} {sign} {way} against 20 °C; shown only, not applied"
        ),
    })
}

fn at_reference() -> ThermalNote {
    ThermalNote {
        shift_nm: Length::ZERO,
        words: "at 20 °C nothing is to be allowed for".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Coefficients NIST (Swyt 1994), the rest arithmetic: height mm, ΔT K, nm.
    #[test]
    fn clearance_shifts_of_the_check_list() {
        for (height_mm, kelvin, nm) in [
            (100, 10, 11_600),
            (100, 15, 17_400),
            (110, 20, 25_520),
            (95, -10, -11_020),
            (100, 1, 1_160),
        ] {
            let height = Length::from_um(height_mm * 1_000);
            assert_eq!(
                clearance_shift(ALUMINIUM_PPB_PER_K, STEEL_PPB_PER_K, height, kelvin * 1_000),
                Some(Length::from_nm(nm))
            );
        }
    }

    /// A 25 mm setting standard 10 K warm: 2.875 µm; a shim of 2.65 mm 15 K warm: 0.457 µm
    /// (arithmetic).
    #[test]
    fn micrometer_growth() {
        let grown = |um, kelvin: i64| growth(Length::from_um(um), STEEL_PPB_PER_K, kelvin * 1_000);
        assert_eq!(grown(25_000, 10), Some(Length::from_nm(2_875)));
        assert_eq!(grown(2_650, 15), Some(Length::from_nm(457)));
    }

    /// 0.170 at 35 °C is 0.153 at 20 °C (arithmetic).
    #[test]
    fn the_note_shows_and_does_not_apply() {
        let shown = note(Length::from_um(100_000), 35_000, LengthUnit::Millimetre).unwrap();
        let cold = Length::from_um(170) - shown.shift_nm;
        assert_eq!(cold.rounded(LengthUnit::Millimetre, 3).to_string(), "0.153");
        assert!(shown.words.contains("17.4 µm loose"), "{}", shown.words);
        assert!(shown.words.contains("not applied"));
        let cool = note(Length::from_um(95_000), 10_000, LengthUnit::Thou).unwrap();
        assert!(cool.words.contains("0.43 thou tight"), "{}", cool.words);
    }
}
