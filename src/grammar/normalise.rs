//! Recognised or typed text to plain lower-case words.

use super::Wording;

/// Words of a text: lower case, no punctuation or apostrophes, figures spelled digit by digit; a
/// per cent sign is a word, which `[spelling]` writes out.
#[must_use]
pub(super) fn words(text: &str, wording: &Wording) -> Vec<String> {
    let mut all = Vec::new();
    // An umlaut may come as a letter and its dots.
    let text = text
        .to_lowercase()
        .replace("a\u{308}", "ä")
        .replace("o\u{308}", "ö")
        .replace("u\u{308}", "ü")
        .replace('%', " % ");
    let plain: Vec<char> = text
        .chars()
        .filter(|c| !matches!(c, '\'' | '’' | '`'))
        .collect();
    let figure = |at: Option<usize>| {
        let c = at.and_then(|at| plain.get(at));
        c.is_some_and(char::is_ascii_digit)
    };
    let cleaned: String = (0..plain.len())
        .map(|at| match plain[at] {
            '.' => '.',
            c if c.is_alphanumeric() || c == '%' => c,
            c if c == wording.decimal_mark && figure(at.checked_sub(1)) && figure(Some(at + 1)) => {
                '.'
            }
            _ => ' ',
        })
        .collect();
    for token in cleaned.split_whitespace() {
        if token.contains(|c: char| c.is_ascii_digit()) {
            spell(token, wording, &mut all);
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

fn spell(token: &str, wording: &Wording, all: &mut Vec<String>) {
    let token = token.trim_end_matches('.');
    let mut letters = String::new();
    for c in token.chars() {
        let figure = c.to_digit(10).and_then(|d| wording.digits.get(d as usize));
        let word = if c == '.' {
            Some(wording.point.to_lowercase())
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
