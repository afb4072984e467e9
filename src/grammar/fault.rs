//! What is wrong in a grammar file, and where.

/// A grammar file that cannot be used.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[error("{file}:{line}:{column}: {message}")]
pub struct GrammarError {
    /// Which file.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong and what was expected.
    pub message: String,
}

/// A file that is read, to say where something is wrong in it.
pub(super) struct At<'a> {
    pub(super) name: &'a str,
    pub(super) text: &'a str,
}

impl At<'_> {
    /// What is wrong at a byte of the file.
    pub(super) fn error(&self, offset: usize, message: impl Into<String>) -> GrammarError {
        let upto = &self.text[..offset.min(self.text.len())];
        let line_start = upto.rfind('\n').map_or(0, |i| i + 1);
        GrammarError {
            file: self.name.to_owned(),
            line: upto.matches('\n').count() + 1,
            column: upto[line_start..].chars().count() + 1,
            message: message.into(),
        }
    }
}
