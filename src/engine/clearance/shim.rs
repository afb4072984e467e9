//! Which shim to fit: new = old + (measured - target) / ratio, on intervals. The ratio is that of a
//! finger follower; a bucket's is one.

use crate::engine::clearance::interval::{Fit, Interval};
use crate::engine::profile::{FollowerRatio, SideSpec};
use crate::measure::{Length, LengthUnit};

/// One size that could be fitted.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Candidate {
    /// Thickness.
    pub size: Length,
    /// Whether it lands in the set band.
    pub fit: Fit,
    /// The clearance to expect with it.
    pub result: Interval,
    /// Twice the distance of the expected middle from the target, in nanometres.
    pub twice_off_nm: i64,
}

/// The shim that would hit the target, as an interval: `old + (clearance - target) / ratio`.
#[must_use]
pub(crate) fn ideal(
    old: Length,
    clearance: Interval,
    target: Length,
    ratio: FollowerRatio,
) -> Interval {
    let shim = |end: Length| old + ratio.at_valve(end - target);
    Interval {
        low: clearance.low.map(shim),
        high: clearance.high.map(shim),
    }
}

/// The clearance with `new` in place of `old`.
#[must_use]
pub(crate) fn predict(
    old: Length,
    clearance: Interval,
    new: Length,
    ratio: FollowerRatio,
) -> Interval {
    clearance.shifted(ratio.at_lobe(old - new))
}

/// What `size` would do; `None` where an end of the reading is missing: no number follows from it.
#[must_use]
pub(crate) fn judge(
    old: Length,
    clearance: Interval,
    spec: &SideSpec,
    size: Length,
    ratio: FollowerRatio,
) -> Option<Candidate> {
    let result = predict(old, clearance, size, ratio);
    let off = result.twice_middle_nm()? - 2 * spec.target.nm();
    Some(Candidate {
        size,
        fit: result.fit(spec.set),
        result,
        twice_off_nm: off.abs(),
    })
}

/// A shim's size as it is marked, in millimetres; in a thou job with the thou beside it.
#[must_use]
pub(crate) fn shown(size: Length, unit: LengthUnit) -> String {
    let marked = size.show(LengthUnit::Millimetre);
    match unit {
        LengthUnit::Thou | LengthUnit::Inch => {
            format!("{marked} ({} thou)", size.rounded(LengthUnit::Thou, 1))
        }
        LengthUnit::Millimetre | LengthUnit::Micron => marked,
    }
}

/// The size nearest to an ideal thickness, without any band; of two that are equally near the thinner:
/// clearance closes with use, and a tight valve burns.
#[must_use]
pub(crate) fn nearest(ideal: Length, sizes: &[Length]) -> Option<Length> {
    (sizes.iter().copied()).min_by_key(|size| ((*size - ideal).abs(), *size))
}
