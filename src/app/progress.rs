//! Where the job stands after a break.

use super::job::Job;
use crate::event::Fact;
use crate::record::NoteText;
use serde::Serialize;

/// A stage of the job.
#[derive(Serialize)]
pub(crate) struct Stage {
    pub(crate) key: String,
    pub(crate) name: String,
    /// `done`, `begun` or `to_do`.
    pub(crate) state: &'static str,
    pub(crate) cautions: Vec<String>,
}

/// Something still open.
#[derive(Serialize)]
pub(crate) struct Open {
    pub(crate) event: u64,
    pub(crate) kind: String,
    pub(crate) text: String,
    pub(crate) valve: Option<String>,
}

/// Where the job stands.
#[derive(Serialize)]
pub(crate) struct Progress {
    pub(crate) stages: Vec<Stage>,
    pub(crate) last_done: Option<String>,
    /// Which round of measuring it is.
    pub(crate) round: String,
    /// Valves to measure, or to measure again.
    pub(crate) unmeasured: Vec<String>,
    pub(crate) looked_at: Vec<String>,
    pub(crate) open: Vec<Open>,
    pub(crate) notes: Vec<String>,
}

/// Where the job stands.
#[must_use]
pub(crate) fn of(job: &Job) -> Progress {
    let (counting, wording) = (job.state.counting(), &job.setup.grammar.wording);
    let stage = |s: &crate::grammar::StageText| Stage {
        key: s.key.clone(),
        name: job.setup.name_of(s).to_owned(),
        state: match counting.stage_is(&s.key) {
            Some(true) => "done",
            Some(false) => "begun",
            None => "to_do",
        },
        cautions: job.setup.cautions(s).cloned().collect(),
    };
    let noted = |n: NoteText| match n.position {
        Some(position) => format!("{position}: {}", n.text),
        None => n.text,
    };
    let checked = |fact: &Fact| {
        let bad = matches!(fact, Fact::Checked { good: false, .. });
        format!("{}{}", if bad { "! " } else { "" }, wording.fact(fact))
    };
    Progress {
        stages: job.setup.grammar.stages.iter().map(stage).collect(),
        last_done: counting.last_done().map(|f| wording.fact(f)),
        round: job.state.view.sheet().round.words(),
        unmeasured: (job.state.view.remaining().iter())
            .map(ToString::to_string)
            .collect(),
        looked_at: counting.checks().into_iter().map(checked).collect(),
        open: counting
            .tasks()
            .into_iter()
            .map(|t| Open {
                event: t.event,
                kind: t.kind.to_owned(),
                text: t.text.to_owned(),
                valve: t.position.map(|p| p.to_string()),
            })
            .collect(),
        notes: counting.notes().into_iter().map(noted).collect(),
    }
}
