//! Why an inspection has no finding.

/// Why an inspection has no finding.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub(crate) enum InspectError {
    /// Nothing was called.
    #[error("no reading of {what} yet")]
    NoReading {
        /// Of what.
        what: String,
    },
    /// A figure that cannot be.
    #[error("{what} comes to {value}: {expected}")]
    Impossible {
        /// Which figure.
        what: String,
        /// As it came out.
        value: String,
        /// What would be accepted, and what may have gone wrong.
        expected: &'static str,
    },
    /// A limit without a bound, or whose ends are the wrong way round; its source.
    #[error("the limit from \"{0}\" is empty: expected a least, a most, or both in order")]
    EmptyLimit(String),
    /// A limit in another unit than the figure; its source.
    #[error("the limit from \"{0}\" is in another kind of unit than the reading")]
    OtherUnit(String),
}
