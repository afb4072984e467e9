//! The grammar of a job, read when it is first asked for: whoever only looks at a job never asks.

use crate::grammar::Grammar;
use std::fmt;
use std::ops::Deref;
use std::sync::{Arc, LazyLock};

type Load = Box<dyn FnOnce() -> Grammar + Send>;

/// A grammar, or how to come by it.
#[derive(Clone)]
pub struct LazyGrammar(Arc<LazyLock<Grammar, Load>>);

impl LazyGrammar {
    /// One that is made when it is first asked for.
    pub(crate) fn new(load: impl FnOnce() -> Grammar + Send + 'static) -> Self {
        Self(Arc::new(LazyLock::new(Box::new(load))))
    }
}

impl From<Grammar> for LazyGrammar {
    fn from(grammar: Grammar) -> Self {
        let lazy = Self::new(|| grammar);
        LazyLock::force(&lazy.0);
        lazy
    }
}

impl Deref for LazyGrammar {
    type Target = Grammar;

    fn deref(&self) -> &Grammar {
        &self.0
    }
}

impl fmt::Debug for LazyGrammar {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("LazyGrammar")
    }
}
