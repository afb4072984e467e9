//! Recognised or typed text to plain lower-case words.

/// Words of a text: lower case, no punctuation or apostrophes, figures spelled digit by digit.
#[must_use]
pub(super) fn words(text: &str, digits: &[String; 10], point: &str) -> Vec<String> {
    let mut all = Vec::new();
    let cleaned: String = text
        .to_lowercase()
        .chars()
        .filter(|c| !matches!(c, '\'' | '’' | '`'))
        .map(|c| {
            if c.is_alphanumeric() || c == '.' {
                c
            } else {
                ' '
            }
        })
        .collect();
    for token in cleaned.split_whitespace() {
        if token.contains(|c: char| c.is_ascii_digit()) {
            spell(token, digits, point, &mut all);
        } else {
            all.extend(
                token
                    .split('.')
                    .filter(|w| !w.is_empty())
                    .map(str::to_owned),
            );
        }
    }
    all
}

fn spell(token: &str, digits: &[String; 10], point: &str, all: &mut Vec<String>) {
    let token = token.trim_end_matches('.');
    let mut letters = String::new();
    for c in token.chars() {
        let figure = c.to_digit(10).and_then(|d| digits.get(d as usize));
        let word = if c == '.' {
            Some(point.to_owned())
        } else {
            figure.cloned()
        };
        if let Some(word) = word {
            if !letters.is_empty() {
                all.push(std::mem::take(&mut letters));
            }
            all.push(word);
        } else {
            letters.push(c);
        }
    }
    if !letters.is_empty() {
        all.push(letters);
    }
}
