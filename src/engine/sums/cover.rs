//! The fewest places on a circle that show everything, then the earliest last place.
//!
//! Exact, not a search that may miss: cut the circle at the first place, and what it leaves are
//! plain intervals, for which stabbing each earliest end is optimal.

/// The places to stop at, as indices in order: the fewest, then the least offset of the last,
/// then the earliest first. `seen[valve][place]`, each row with a `true` and its `true`s one arc
/// of the circle; `offsets` sorted, one for each place.
pub(crate) fn fewest(seen: &[Vec<bool>], offsets: &[i64]) -> Vec<usize> {
    let mut best: Option<Vec<usize>> = None;
    for first in 0..offsets.len() {
        let Some(mut ranges) = left_after(seen, first) else {
            continue;
        };
        ranges.sort_unstable_by_key(|r| (r.1, r.0));
        let Some(count) = stab(&ranges, first, offsets.len() - 1).map(|s| s.len()) else {
            continue;
        };
        // The earliest last place at which the count does not grow.
        let (mut low, mut high) = (first, offsets.len() - 1);
        while low < high {
            let middle = low.midpoint(high);
            match stab(&ranges, first, middle) {
                Some(stops) if stops.len() == count => high = middle,
                _ => low = middle + 1,
            }
        }
        if let Some(stops) = stab(&ranges, first, high) {
            let better = best.as_ref().is_none_or(|b| {
                (stops.len(), offsets.get(high)) < (b.len(), b.last().map(|&l| &offsets[l]))
            });
            if better {
                best = Some(stops);
            }
        }
    }
    if seen.is_empty() {
        return Vec::new();
    }
    best.unwrap_or_default()
}

/// First and last place after `first` that show each valve which `first` does not; `None` where a
/// valve is shown by no later place. What shows a valve is one arc of the circle, so between the
/// two it is always shown.
fn left_after(seen: &[Vec<bool>], first: usize) -> Option<Vec<(usize, usize)>> {
    seen.iter()
        .filter(|row| !row[first])
        .map(|row| {
            let low = row[first..].iter().position(|&s| s)? + first;
            let high = row.iter().rposition(|&s| s)?;
            Some((low, high))
        })
        .collect()
}

/// `first`, then the fewest places up to `last` that meet every range; `ranges` sorted by end.
fn stab(ranges: &[(usize, usize)], first: usize, last: usize) -> Option<Vec<usize>> {
    let mut stops = vec![first];
    let mut latest = first;
    for &(low, high) in ranges {
        if low > last {
            return None;
        }
        if low > latest {
            latest = high.min(last);
            stops.push(latest);
        }
    }
    Some(stops)
}
