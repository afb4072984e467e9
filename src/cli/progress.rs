//! `progress`: where the job stands after a break.

use super::args::Progress as ProgressArgs;
use super::show;
use crate::app::job::Job;
use crate::event::Fact;
use crate::record::NoteText;
use anyhow::Result;
use serde::Serialize;
use std::process::ExitCode;

/// A stage of the job.
#[derive(Serialize)]
struct Stage {
    key: String,
    name: String,
    /// `done`, `begun` or `to_do`.
    state: &'static str,
    cautions: Vec<String>,
}

/// Something still open.
#[derive(Serialize)]
struct Open {
    event: u64,
    kind: String,
    text: String,
    valve: Option<String>,
}

/// Where the job stands.
#[derive(Serialize)]
pub(super) struct Progress {
    stages: Vec<Stage>,
    last_done: Option<String>,
    /// Valves to measure, or to measure again.
    unmeasured: Vec<String>,
    looked_at: Vec<String>,
    open: Vec<Open>,
    notes: Vec<String>,
}

pub(super) fn run(args: &ProgressArgs) -> Result<ExitCode> {
    let job = show::job(&args.job)?;
    let progress = of(&job);
    if args.json {
        show::json(&job, &progress)?;
    } else {
        show::damage(&job);
        print(&progress);
    }
    Ok(ExitCode::SUCCESS)
}

pub(super) fn of(job: &Job) -> Progress {
    let (counting, wording) = (job.state.counting(), &job.setup.grammar.wording);
    let stage = |s: &crate::grammar::StageText| Stage {
        key: s.key.clone(),
        name: s.name.clone(),
        state: match counting.stage_is(&s.key) {
            Some(true) => "done",
            Some(false) => "begun",
            None => "to_do",
        },
        cautions: s.cautions.clone(),
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

fn print(progress: &Progress) {
    for stage in &progress.stages {
        let mark = match stage.state {
            "done" => "[x]",
            "begun" => "[>]",
            _ => "[ ]",
        };
        outln!("{mark} {}", stage.name);
        for caution in stage.cautions.iter().filter(|_| stage.state == "begun") {
            outln!("      caution: {caution}");
        }
    }
    if let Some(last) = &progress.last_done {
        outln!("last: {last}");
    }
    match progress.unmeasured.len() {
        0 => outln!("every valve is measured"),
        n => outln!("{n} to measure: {}", progress.unmeasured.join(", ")),
    }
    for line in &progress.looked_at {
        outln!("looked at: {line}");
    }
    for task in &progress.open {
        let valve = task.valve.as_deref().unwrap_or_default();
        let line = format!("{} {valve} {}", task.kind, task.text);
        outln!(
            "still open: {}",
            line.split_whitespace().collect::<Vec<_>>().join(" ")
        );
    }
    for note in &progress.notes {
        outln!("note: {note}");
    }
    outln!("Cautions defer to the maker's manual, local rules and licensed practice.");
}
