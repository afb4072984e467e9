//! What one line of free text may hold: names and corrections, which pages, terminals and paper show
//! as they are.

/// Why a text is not one line.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum NotALine {
    /// It is too long.
    #[error("{letters} letters are too long: expected one line of {most} letters at most")]
    Long {
        /// How many it has.
        letters: usize,
        /// How many it may have.
        most: usize,
    },
    /// It ends a line, commands a terminal or turns the order of what is read.
    #[error(
        "it holds a line break or another sign that cannot be shown: expected one line of {most} letters at most"
    )]
    Odd {
        /// How many letters it may have.
        most: usize,
    },
}

/// Whether a text is one line of so many letters at most.
///
/// # Errors
/// [`NotALine`].
pub(crate) fn one_line(text: &str, most: usize) -> Result<(), NotALine> {
    let letters = text.chars().count();
    if letters > most {
        return Err(NotALine::Long { letters, most });
    }
    if text.contains(commands) {
        return Err(NotALine::Odd { most });
    }
    Ok(())
}

/// Whether a character is not shown but commands what shows it, or turns the order of what is read
/// (Unicode Standard Annex 9).
pub(crate) fn commands(c: char) -> bool {
    matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        || c.is_control()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_short_and_commands_nothing() {
        assert_eq!(one_line("Übergabe: 24 312 km", 80), Ok(()));
        assert_eq!(one_line(&"ä".repeat(80), 80), Ok(()));
        for odd in ["two\nlines", "a\u{1b}[2J", "a\0", "\u{202e}turned", "a\tb"] {
            assert_eq!(
                one_line(odd, 80),
                Err(NotALine::Odd { most: 80 }),
                "{odd:?}"
            );
        }
        let (letters, most) = (81, 80);
        let long = Err(NotALine::Long { letters, most });
        assert_eq!(one_line(&"x".repeat(81), 80), long);
    }
}
