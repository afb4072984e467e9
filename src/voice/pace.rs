//! Speech at another pace: shorter or longer at the same pitch.

/// Length of a stretch of sound that is kept as it is, in milliseconds: two periods of a low voice.
const GRAIN_MS: usize = 20;
/// How far a stretch may be moved so that it fits the one before, in milliseconds.
const REACH_MS: usize = 8;
/// Every so many samples are compared: pitch needs no more than 6 kHz.
const COARSE: usize = 4;

/// Sound at `percent` of its pace: 200 takes half the time. Stretches are overlapped where their
/// waves fit best (waveform-similarity overlap-add: Verhelst and Roelands, 1993, from memory).
pub(super) fn at_pace(samples: &[i16], rate_hz: u32, percent: u32) -> Vec<i16> {
    let rate = rate_hz as usize;
    let half = rate * GRAIN_MS / 2_000;
    let reach = rate * REACH_MS / 1_000;
    let percent = percent as usize;
    if percent == 100 || percent == 0 || half == 0 || samples.len() < 2 * half + reach {
        return samples.to_vec();
    }
    let step = half * percent / 100;
    let mut out = samples[..half].to_vec();
    // Where the stretch that sounds now goes on.
    let mut tail = half;
    let mut nominal = step;
    while nominal + reach + 2 * half <= samples.len() && tail + half <= samples.len() {
        let next = best_fit(
            samples,
            tail,
            nominal.saturating_sub(reach),
            nominal + reach,
            half,
        );
        let (old, new) = (&samples[tail..tail + half], &samples[next..next + half]);
        out.extend(old.iter().zip(new).enumerate().map(|(i, (old, new))| {
            let mixed = i64::from(*old) * (half - i) as i64 + i64::from(*new) * i as i64;
            (mixed / half as i64) as i16
        }));
        tail = next + half;
        nominal += step;
    }
    out.extend_from_slice(&samples[tail.min(samples.len())..]);
    out
}

/// The start from `from` to `to` at which the next `half` samples are likest to those at `tail`.
fn best_fit(samples: &[i16], tail: usize, from: usize, to: usize, half: usize) -> usize {
    let likeness = |start: usize| -> i64 {
        let pairs = (0..half).step_by(COARSE);
        pairs
            .map(|i| i64::from(samples[tail + i]) * i64::from(samples[start + i]))
            .sum()
    };
    let starts = (from..=to).step_by(COARSE / 2);
    starts.max_by_key(|start| likeness(*start)).unwrap_or(from)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: u32 = 24_000;

    /// A tone of 150 Hz, one second.
    fn tone() -> Vec<i16> {
        let wave = |i: i32| {
            (9_000.0 * (f64::from(i) * 150.0 * std::f64::consts::TAU / 24_000.0).sin()) as i16
        };
        (0..24_000).map(wave).collect()
    }

    fn crossings(samples: &[i16]) -> usize {
        samples
            .windows(2)
            .filter(|w| (w[0] < 0) != (w[1] < 0))
            .count()
    }

    #[test]
    fn another_pace_changes_the_length_and_not_the_pitch() {
        let tone = tone();
        for percent in [75, 125, 175, 200] {
            let paced = at_pace(&tone, RATE_HZ, percent);
            let expected = tone.len() * 100 / percent as usize;
            assert!(
                paced.len().abs_diff(expected) < 24_000 / 20,
                "{percent}: {}",
                paced.len()
            );
            // 150 Hz crosses zero 300 times a second.
            let per_second = crossings(&paced) * 24_000 / paced.len();
            assert!(per_second.abs_diff(300) < 9, "{percent}: {per_second}");
            let peak = paced.iter().map(|s| s.unsigned_abs()).max().unwrap_or(0);
            assert!((8_500..=9_100).contains(&peak), "{percent}: {peak}");
        }
    }

    #[test]
    fn its_own_pace_and_what_is_too_short_stay_as_they_are() {
        let tone = tone();
        assert_eq!(at_pace(&tone, RATE_HZ, 100), tone);
        assert_eq!(at_pace(&tone[..100], RATE_HZ, 175), &tone[..100]);
    }
}
