//! What a person wants of a valve whatever its clearance says: "leave that one".

/// Whether a valve may be touched. Kept as the item of a [`super::Fact::Checked`] of that valve;
/// every language that knows such items says both, under these keys.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub(crate) enum Wish {
    /// "Leave that one": its shim stays in.
    Leave,
    /// "That one comes out": its shim may be changed again.
    ComesOut,
}

impl Wish {
    /// Every wish.
    pub(crate) const ALL: [Self; 2] = [Self::Leave, Self::ComesOut];

    /// The key of its item.
    #[must_use]
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::Leave => "leave",
            Self::ComesOut => "comes_out",
        }
    }

    /// The wish that an item is; `None` for anything else that was looked at.
    #[must_use]
    pub(crate) fn from_key(item: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|wish| wish.key() == item)
    }
}
