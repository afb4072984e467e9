//! `progress`: where the job stands after a break.

use super::args::Progress as ProgressArgs;
use super::show;
use crate::app::progress::{Progress, of};
use anyhow::Result;
use std::process::ExitCode;

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
        0 => outln!("{}: every valve is measured", progress.round),
        n => outln!(
            "{}: {n} to measure: {}",
            progress.round,
            progress.unmeasured.join(", ")
        ),
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
