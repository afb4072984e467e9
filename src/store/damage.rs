//! What is wrong with a damaged job, in words.

use std::fmt;
use std::ops::RangeInclusive;
use std::path::PathBuf;

/// What is wrong with a job, and what is left of it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Damage {
    /// The job's folder.
    pub folder: PathBuf,
    /// What was found first.
    pub what: String,
    /// How many events check out.
    pub kept: u64,
    /// The events between them that do not.
    pub damaged: Vec<u64>,
    /// The events after them that were stored and are gone.
    pub gone: Option<RangeInclusive<u64>>,
    /// Whether checksums prove those that are kept: jobs of before version 5 have none.
    pub proven: bool,
}

impl Damage {
    /// What stands on everything that is made of it.
    #[must_use]
    pub fn line(&self) -> String {
        let (what, left) = (&self.what, self.left());
        format!("This job is damaged ({what}). {left}. Only what is left is shown here.")
    }

    /// What is left, and what is not.
    #[must_use]
    pub fn left(&self) -> impl fmt::Display {
        Left(self.clone())
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (folder, what) = (self.folder.display(), &self.what);
        write!(f, "{folder}: this job is damaged ({what}). {}", self.left())
    }
}

/// What is left of a job, in words.
struct Left(Damage);

impl fmt::Display for Left {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(left) = self;
        let (kept, damaged) = (left.kept, named(&left.damaged));
        match (&left.damaged[..], left.proven) {
            ([], true) => write!(f, "All {kept} events that are left check out")?,
            ([], false) => write!(f, "{kept} events can be read")?,
            (_, true) => write!(f, "{kept} events check out, {damaged} not")?,
            (_, false) => write!(f, "{kept} events can be read, {damaged} not")?,
        }
        if !left.proven {
            f.write_str("; no checksum proves them: hear their sounds")?;
        }
        match &left.gone {
            Some(gone) if gone.start() == gone.end() => {
                write!(f, "; event {}, the last, is gone", gone.start())?;
            }
            Some(gone) => write!(
                f,
                "; the last, {} to {}, are gone",
                gone.start(),
                gone.end()
            )?,
            None => {}
        }
        if !left.damaged.is_empty() || left.gone.is_some() {
            f.write_str(" (what they corrected or took back may count again)")?;
        }
        Ok(())
    }
}

/// Up to five numbers in words.
fn named(ids: &[u64]) -> String {
    let mut words: Vec<String> = ids.iter().take(5).map(u64::to_string).collect();
    if ids.len() > 5 {
        words.push(format!("{} more", ids.len() - 5));
    }
    match words.split_last() {
        Some((last, [])) => format!("event {last}"),
        Some((last, others)) => format!("events {} and {last}", others.join(", ")),
        None => String::new(),
    }
}
