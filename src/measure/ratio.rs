//! Integer proportions, rounded half away from zero.

/// `value * by / over` in wide integers, rounded half away from zero; `None` where `over` is zero
/// or the answer does not fit.
pub(crate) fn scaled(value: i64, by: i64, over: i64) -> Option<i64> {
    ratio(i128::from(value) * i128::from(by), i128::from(over))
}

/// `top / bottom` rounded half away from zero; `None` where `bottom` is zero or the answer does
/// not fit.
pub(crate) fn ratio(top: i128, bottom: i128) -> Option<i64> {
    if bottom == 0 {
        return None;
    }
    let (top, bottom) = if bottom < 0 {
        (top.checked_neg()?, bottom.checked_neg()?)
    } else {
        (top, bottom)
    };
    let half = bottom / 2;
    let rounded = if top < 0 {
        top.checked_sub(half)? / bottom
    } else {
        top.checked_add(half)? / bottom
    };
    i64::try_from(rounded).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounds_half_away_from_zero_and_never_divides_by_nothing() {
        assert_eq!(ratio(5, 2), Some(3));
        assert_eq!(ratio(-5, 2), Some(-3));
        assert_eq!(ratio(5, -2), Some(-3));
        assert_eq!(ratio(4, 3), Some(1));
        assert_eq!(ratio(1, 0), None);
        assert_eq!(scaled(i64::MAX, 2, 1), None);
        assert_eq!(scaled(i64::MAX, 2, 2), Some(i64::MAX));
    }
}
