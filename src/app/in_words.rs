//! An error as one line for a person.

/// The error and its causes, joined by colons. A cause that the line above it quotes is not said
/// twice, and the system's own numbers ("os error 2") are left out.
pub(crate) fn in_words(error: &anyhow::Error) -> String {
    let mut said = String::new();
    for cause in error.chain() {
        let words = without_numbers(&cause.to_string());
        if said.contains(&words) {
            continue;
        }
        if !said.is_empty() {
            said.push_str(": ");
        }
        said.push_str(&words);
    }
    said
}

/// Without " (os error 2)", which `std` puts behind what the system says.
fn without_numbers(text: &str) -> String {
    let mut parts = text.split(" (os error ");
    let mut kept = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (_, rest) = part.split_once(')').unwrap_or(("", part));
        kept.push_str(rest);
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::in_words;
    use anyhow::{Context, anyhow};
    use std::io;

    #[test]
    fn nothing_is_said_twice_and_numbers_are_left_out() {
        let gone = || io::Error::from_raw_os_error(2);
        let error = Err::<(), _>(gone())
            .context("cannot read x.wav")
            .err()
            .map(|e| in_words(&e));
        assert_eq!(
            error.as_deref(),
            Some("cannot read x.wav: No such file or directory")
        );
        let quoted = anyhow!(gone()).context(format!("cannot read x.wav: {}; try again", gone()));
        assert_eq!(
            in_words(&quoted),
            "cannot read x.wav: No such file or directory; try again"
        );
    }
}
