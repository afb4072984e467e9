//! Where in the cycle each cylinder fires, worked out from the order and the layout, because a manual
//! gives these and rarely the degrees.

/// Layouts by key, with what to tell about them.
pub(crate) const LAYOUTS: [(&str, &str); 5] = [
    ("even", "evenly"),
    ("pins", "two in line: pins apart by the angle"),
    ("vee_sooner", "V of two: 360° less the angle apart"),
    ("vee_later", "V of two: 360° and the angle apart"),
    ("intervals", "unevenly: from each to the next"),
];

/// Degrees of one working cycle.
const CYCLE: u16 = 720;

/// The degrees from each firing to the next, in the order of firing.
fn intervals(cylinders: usize, layout: &str, angle: &[u16]) -> Result<Vec<u16>, String> {
    let count = u16::try_from(cylinders).unwrap_or(u16::MAX);
    if layout == "even" {
        return match CYCLE.checked_rem(count) {
            Some(0) => Ok(vec![CYCLE / count; cylinders]),
            _ => Err(format!(
                "{count} cylinders cannot fire evenly in whole degrees: expected the degrees from firing to firing"
            )),
        };
    }
    if layout == "intervals" {
        let sum: u32 = angle.iter().copied().map(u32::from).sum();
        let whole = angle.len() == cylinders && sum == u32::from(CYCLE);
        return if whole && !angle.contains(&0) {
            Ok(angle.to_vec())
        } else {
            Err(format!(
                "expected {count} angles above 0 that make {CYCLE} together, such as 270 450"
            ))
        };
    }
    if cylinders != 2 {
        return Err(format!(
            "this layout has two cylinders, not {count}: expected “evenly” or “unevenly”"
        ));
    }
    let [angle] = angle else {
        return Err("expected one angle in degrees".to_owned());
    };
    let first = match layout {
        "pins" => Some(*angle),
        "vee_sooner" => 360_u16.checked_sub(*angle),
        _ => 360_u16.checked_add(*angle),
    };
    match first {
        Some(first) if (1..CYCLE).contains(&first) => Ok(vec![first, CYCLE - first]),
        _ => Err(format!("an angle of {angle} degrees: expected less")),
    }
}

/// Where each cylinder fires, in cylinder order, counted from the firing of cylinder 1.
///
/// # Errors
/// An angle that the layout cannot have, in words.
pub(crate) fn crank_deg(order: &[u16], layout: &str, angle: &[u16]) -> Result<Vec<u16>, String> {
    let intervals = intervals(order.len(), layout, angle)?;
    let mut at = vec![0; order.len()];
    let mut now = 0;
    for (cylinder, interval) in order.iter().zip(intervals) {
        let place = usize::from(*cylinder).checked_sub(1);
        if let Some(fires) = place.and_then(|p| at.get_mut(p)) {
            *fires = now;
        }
        now += interval;
    }
    let first = at.first().copied().unwrap_or(0);
    Ok(at.iter().map(|deg| (deg + CYCLE - first) % CYCLE).collect())
}

/// The layout of which these degrees come, and its angle.
#[must_use]
pub(crate) fn layout_of(order: &[u16], crank: &[u16]) -> (&'static str, Vec<u16>) {
    let fires = |c: &u16| {
        let at = usize::from(*c).checked_sub(1);
        at.and_then(|p| crank.get(p)).copied().unwrap_or(0)
    };
    let all: Vec<u16> = order.iter().map(fires).collect();
    let next = all.iter().cycle().skip(1);
    let gaps = all.iter().zip(next);
    let gaps: Vec<u16> = gaps
        .map(|(from, to)| match (to + CYCLE - from) % CYCLE {
            0 => CYCLE,
            gap => gap,
        })
        .collect();
    match gaps[..] {
        [first, ..] if gaps.iter().all(|g| *g == first) => ("even", Vec::new()),
        [first, _] => ("pins", vec![first]),
        _ => ("intervals", gaps),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Orders and intervals that textbooks give: in-line four 180°, in-line three 240°, crossplane
    /// twin 270/450, 90° V-twin 270/450 (from memory of the trade; the sums are arithmetic).
    #[test]
    fn degrees_follow_from_order_and_layout() {
        for (order, layout, angle, expected) in [
            (
                &[1_u16, 3, 4, 2][..],
                "even",
                &[][..],
                &[0_u16, 540, 180, 360][..],
            ),
            (&[1, 2, 3], "even", &[], &[0, 240, 480]),
            (&[2, 3, 1], "even", &[], &[0, 240, 480]),
            (&[1], "even", &[], &[0]),
            (&[1, 2], "pins", &[270], &[0, 270]),
            (&[1, 2], "vee_sooner", &[90], &[0, 270]),
            (&[1, 2], "vee_later", &[90], &[0, 450]),
            (
                &[1, 3, 2, 4],
                "intervals",
                &[180, 90, 180, 270],
                &[0, 270, 180, 450],
            ),
        ] {
            let deg = crank_deg(order, layout, angle);
            assert_eq!(deg.as_deref(), Ok(expected), "{order:?} {layout}");
            let (layout, angle) = layout_of(order, expected);
            assert_eq!(crank_deg(order, layout, &angle).as_deref(), Ok(expected));
        }
    }

    #[test]
    fn an_angle_that_cannot_be_is_told() {
        for (order, layout, angle, part) in [
            (&[1_u16, 2, 3][..], "pins", &[180_u16][..], "not 3"),
            (&[1, 2], "pins", &[], "one angle"),
            (&[1, 2], "pins", &[720], "expected less"),
            (&[1, 2], "vee_sooner", &[400], "expected less"),
            (&[1, 2], "intervals", &[270, 460], "make 720"),
            (&[1, 2, 3, 4, 5, 6, 7], "even", &[], "evenly"),
            (&[], "even", &[], "evenly"),
        ] {
            let why = crank_deg(order, layout, angle);
            assert!(
                why.as_ref().is_err_and(|w| w.contains(part)),
                "{layout}: {why:?}"
            );
        }
    }
}
