//! `manual`: man pages and what shells complete, from the arguments themselves.

use super::args::Args;
use super::args_manual::Manual;
use anyhow::{Context, Result};
use clap::{Command, CommandFactory};
use clap_complete::{Shell, generate_to};
use std::path::Path;
use std::process::ExitCode;

pub(super) fn run(args: &Manual) -> Result<ExitCode> {
    let folder = args.folder.as_path();
    std::fs::create_dir_all(folder)
        .and_then(|()| write(folder))
        .with_context(|| format!("cannot write into {}", folder.display()))?;
    Ok(ExitCode::SUCCESS)
}

fn write(folder: &Path) -> std::io::Result<()> {
    let mut program: Command = Args::command();
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        generate_to(shell, &mut program, "benchcall", folder)?;
    }
    clap_mangen::generate_to(Args::command().disable_help_subcommand(true), folder)
}
