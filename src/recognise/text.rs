//! What the model wrote -> plain words; and whether it repeats itself.

/// Lower-case words with single spaces. Keeps apostrophes inside words, points and commas
/// inside numbers; drops other punctuation and whatever stands in brackets (`[MUSIC PLAYING]` is not a speech).
pub fn words(raw: &str) -> String {
    let mut depth = 0_u32;
    let mut plain: Vec<char> = Vec::new();
    for c in raw.chars() {
        match c {
            '[' | '(' => depth += 1,
            ']' | ')' => depth = depth.saturating_sub(1),
            _ if depth > 0 => {}
            '’' => plain.push('\''),
            _ => plain.extend(c.to_lowercase()),
        }
    }
    let mut text = String::new();
    for (i, &c) in plain.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|i| plain.get(i));
        let after = plain.get(i + 1);
        let between = |is: fn(&char) -> bool| before.is_some_and(is) && after.is_some_and(is);
        let keep = match c {
            '\'' => between(|c| c.is_alphabetic()),
            '.' | ',' => between(char::is_ascii_digit),
            _ => c.is_alphanumeric(),
        };
        if keep {
            text.push(c);
        } else if !text.is_empty() && !text.ends_with(' ') {
            text.push(' ');
        }
    }
    text.truncate(text.trim_end().len());
    text
}

/// Does `tokens` end in a repetition that nobody says: one token four times over, or a run of 2 to
/// 12 tokens three times over? (Counts by common practice, no source; "two two two" is a number.)
pub(super) fn is_looped(tokens: &[i32]) -> bool {
    (1..=12).any(|run| {
        let times = if run == 1 { 4 } else { 3 };
        let Some(start) = tokens.len().checked_sub(run * times) else {
            return false;
        };
        let tail = &tokens[start..];
        tail.iter().zip(&tail[run..]).all(|(a, b)| a == b)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_plain() {
        let cases = [
            (
                " three exhaust left point two five",
                "three exhaust left point two five",
            ),
            (" Three, exhaust-left; 0.25.", "three exhaust left 0.25"),
            (" Drei, Auslass links: 0,25", "drei auslass links 0,25"),
            (
                " fifteen goes, eighteen won’t",
                "fifteen goes eighteen won't",
            ),
            (" 'so' what's  next?", "so what's next"),
            (" [MUSIC PLAYING]", ""),
            (" yes (door slams", "yes"),
            ("", ""),
        ];
        for (raw, text) in cases {
            assert_eq!(words(raw), text, "{raw}");
        }
    }

    #[test]
    fn loops_are_seen_and_numbers_are_not() {
        assert!(is_looped(&[7, 7, 7, 7]));
        assert!(is_looped(&[9, 1, 2, 3, 1, 2, 3, 1, 2, 3]));
        for fine in [&[][..], &[7, 7, 7], &[1, 2, 1, 2], &[7, 7, 7, 7, 1]] {
            assert!(!is_looped(fine), "{fine:?}");
        }
    }
}
