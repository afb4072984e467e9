//! The steps of the word network.

/// The steps that leave a state, each with the state where it leads.
pub(super) type Steps = Vec<(Edge, usize)>;

/// The empty output: the first of all.
pub(super) const NO_OUT: usize = 0;

/// A step from one state to another. Words, outputs and slots stand in lists of the network.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub(super) enum Edge {
    Free,
    /// A word, and what it adds to the slot around it.
    Word(usize, usize),
    Out(usize),
    Any,
    Open(usize),
    Close,
}

impl Edge {
    /// Whether it is taken without a word.
    pub(super) const fn is_silent(&self) -> bool {
        !matches!(self, Self::Word(..) | Self::Any)
    }
}
