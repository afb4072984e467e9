//! Small sums of a score: percentiles, intervals of rates, words that differ, memory.

/// Pairs of words that differ in the cheapest alignment; an empty word was lost or added.
pub(super) fn differences(meant: &str, heard: &str) -> Vec<(String, String)> {
    let (a, b): (Vec<&str>, Vec<&str>) = (
        meant.split_whitespace().collect(),
        heard.split_whitespace().collect(),
    );
    let mut cost = vec![vec![0_usize; b.len() + 1]; a.len() + 1];
    for i in 0..=a.len() {
        for j in 0..=b.len() {
            cost[i][j] = match (i, j) {
                (0, n) | (n, 0) => n,
                _ => (cost[i - 1][j - 1] + usize::from(a[i - 1] != b[j - 1]))
                    .min(cost[i - 1][j] + 1)
                    .min(cost[i][j - 1] + 1),
            };
        }
    }
    let (mut i, mut j, mut pairs) = (a.len(), b.len(), Vec::new());
    while i > 0 || j > 0 {
        let both = i > 0 && j > 0;
        if both && cost[i][j] == cost[i - 1][j - 1] + usize::from(a[i - 1] != b[j - 1]) {
            (i, j) = (i - 1, j - 1);
            if a[i] != b[j] {
                pairs.push((a[i].to_owned(), b[j].to_owned()));
            }
        } else if i > 0 && cost[i][j] == cost[i - 1][j] + 1 {
            i -= 1;
            pairs.push((a[i].to_owned(), String::new()));
        } else {
            j -= 1;
            pairs.push((String::new(), b[j].to_owned()));
        }
    }
    pairs
}

/// The value that this share of all values does not exceed.
pub(super) fn percentile(values: &mut [u64], percent: usize) -> u64 {
    values.sort_unstable();
    values
        .get((values.len() * percent).div_ceil(100).saturating_sub(1))
        .copied()
        .unwrap_or(0)
}

/// The 95 % interval of a rate (Wilson, J. Am. Stat. Assoc. 22, 1927).
pub(super) fn wilson(hits: usize, of: usize) -> (f64, f64) {
    if of == 0 {
        return (0.0, 1.0);
    }
    let (n, p, z) = (of as f64, hits as f64 / of as f64, 1.959_964_f64);
    let middle = p + z * z / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z * z / n;
    (
        ((middle - half) / scale).max(0.0),
        ((middle + half) / scale).min(1.0),
    )
}

/// The most memory this process held, as Linux tells it; zero elsewhere.
pub(super) fn peak_memory_bytes() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    let kib = line
        .and_then(|l| l.split_whitespace().next())
        .and_then(|n| n.parse::<u64>().ok());
    kib.unwrap_or(0) * 1_024
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 95 % interval of 10 in 20: 0.299 to 0.701 (Wilson 1927; value computed here, cf. the
    /// worked example of Newcombe 1998, Stat. Med. 17, 81 of 263: 0.2553 to 0.3662).
    #[test]
    fn the_interval_agrees_with_the_published_example() {
        let (low, high) = wilson(81, 263);
        assert!(
            (low - 0.2553).abs() < 1e-4 && (high - 0.3662).abs() < 1e-4,
            "{low} {high}"
        );
        assert_eq!(wilson(0, 0), (0.0, 1.0));
    }

    #[test]
    fn words_are_aligned() {
        let pair = |a: &str, b: &str| (a.to_owned(), b.to_owned());
        assert_eq!(
            differences("seven exhaust left", "eleven exhaust left"),
            [pair("seven", "eleven")]
        );
        assert_eq!(differences("in nine one", "nine one"), [pair("in", "")]);
        assert!(differences("one", "one").is_empty());
    }

    #[test]
    fn percentiles_are_values_that_occurred() {
        let mut values: Vec<u64> = (1..=100).rev().collect();
        assert_eq!(
            (percentile(&mut values, 50), percentile(&mut values, 99)),
            (50, 99)
        );
        assert_eq!(percentile(&mut [], 50), 0);
    }
}
