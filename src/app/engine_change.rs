//! Another profile in the place of a job's: what it changes, told before it is stored as an event.

use super::engine_words::page;
use super::job::Job;
use crate::engine::{Item, Profile};
use crate::record::JobView;
use crate::report::{finding_words, verdict_words};
use anyhow::{Result, bail};

/// A profile that may take the place of the job's.
#[derive(Debug)]
pub(crate) struct Change {
    /// The lines that are not as before: those that go, with `-`, then those that come, with `+`.
    pub(crate) lines: Vec<String>,
    /// The verdicts that are not as before.
    pub(crate) verdicts: Vec<String>,
}

impl Change {
    /// What the profile would change.
    ///
    /// # Errors
    /// It is of another engine, or says the same.
    pub(crate) fn of(job: &Job, profile: &Profile) -> Result<Self> {
        let old = &job.setup.profile;
        if old.valves() != profile.valves() || old.shims.kind != profile.shims.kind {
            bail!(
                "{} has other valves or shims than {}: begin a new job for another engine",
                profile.key,
                old.key
            );
        }
        let (before, after) = (page(old), page(profile));
        let gone = before.iter().filter(|line| !after.contains(line));
        let come = after.iter().filter(|line| !before.contains(line));
        let gone = gone.map(|line| format!("- {line}"));
        let come = come.map(|line| format!("+ {line}"));
        let lines: Vec<String> = gone.chain(come).collect();
        if lines.is_empty() {
            bail!("nothing would change: the job's profile says the same");
        }
        let view = JobView::of(profile, &job.setup.blades, job.state.events());
        Ok(Self {
            lines,
            verdicts: verdicts(&job.state.view, &view, profile),
        })
    }
}

/// The verdicts that are not as before.
fn verdicts(before: &JobView, after: &JobView, profile: &Profile) -> Vec<String> {
    let valves = profile.valves().into_iter().filter_map(|p| {
        let (was, is) = (before.verdict(p), after.verdict(p));
        let words = |v| verdict_words(v);
        (was != is).then(|| format!("{p}: {} before, now {}", words(was), words(is)))
    });
    let (old, new) = (before.findings(0).items, after.findings(0).items);
    let verdict = |item: &Item| item.finding.as_ref().map(|f| f.verdict);
    let same = |a: &Item, b: &Item| (&a.place, a.what) == (&b.place, b.what);
    let found = new.iter().filter_map(|item| {
        let was = old.iter().find(|o| same(o, item)).and_then(verdict)?;
        let is = verdict(item)?;
        let words = |v| finding_words(v);
        let place = format!("{} {}", item.place, item.what);
        (was != is).then(|| format!("{}: {} before, now {}", place.trim(), words(was), words(is)))
    });
    valves.chain(found).collect()
}
