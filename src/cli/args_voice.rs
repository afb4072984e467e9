//! What `voice` can be asked for.

use clap::{Args, Subcommand};
use std::path::PathBuf;

/// A voice is learnt only when you ask for it, on this machine, from some thirty phrases that you
/// read aloud. What is kept is a small file of numbers in the settings folder, no sound.
#[derive(Args, Debug)]
pub(super) struct Voice {
    #[command(subcommand)]
    pub(super) what: What,
}

#[derive(Subcommand, Debug)]
pub(super) enum What {
    /// Read phrases aloud, or give recordings of them, and let the recogniser learn the voice
    Learn(Learn),
    /// List the voices that were learnt
    List(List),
    /// Hear everything with this voice from now on
    On(Named),
    /// Hear everything without a voice again
    Off,
    /// Hear checked phrases with this voice and without it, and count what is stored as it was said
    Compare(Compare),
    /// Remove a voice
    Remove(Named),
}

#[derive(Args, Debug)]
pub(super) struct Named {
    /// The voice
    #[arg(value_name = "NAME")]
    pub(super) name: String,
}

/// Takes about three minutes. Every fourth phrase is kept out of the learning: on those it is shown what
/// was learnt. A voice that is not heard better, or that would make others be heard worse, stays off.
/// A voice of this name is replaced.
#[derive(Args, Debug)]
pub(super) struct Learn {
    /// What to call the voice: a to z, 0 to 9, - and _
    #[arg(value_name = "NAME")]
    pub(super) name: String,
    /// Microphone: a part of its name
    #[arg(long, value_name = "NAME", conflicts_with_all = ["from_folder", "from"])]
    pub(super) microphone: Option<String>,
    /// One recording of the phrases in their order, instead of the microphone; those that are left out,
    /// misread or said twice cost no other
    #[arg(long, value_name = "FILE", conflicts_with_all = ["microphone", "from_folder", "from"])]
    pub(super) recording: Option<PathBuf>,
    /// Take recordings from this folder: manifest.tsv in it has lines of FILE<TAB>WORDS AS SAID
    #[arg(long, value_name = "FOLDER", conflicts_with = "from")]
    pub(super) from_folder: Option<PathBuf>,
    /// Take what was said in this job: only utterances that somebody confirmed or put right in the review
    #[arg(long, value_name = "JOB")]
    pub(super) from: Option<PathBuf>,
    /// A recording of the shop's noise, without speech; with a microphone you are asked for it
    #[arg(long, value_name = "FILE")]
    pub(super) noise: Option<PathBuf>,
    /// Print the phrases and end
    #[arg(long, conflicts_with_all = ["microphone", "recording", "from_folder", "from", "noise"])]
    pub(super) phrases: bool,
    /// How many phrases to read
    #[arg(long, value_name = "N", default_value_t = 30, value_parser = clap::value_parser!(u8).range(12..=90))]
    pub(super) count: u8,
    /// The result as JSON
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Args, Debug)]
pub(super) struct List {
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Args, Debug)]
#[command(group(clap::ArgGroup::new("source").required(true)))]
pub(super) struct Compare {
    /// The voice
    #[arg(value_name = "NAME")]
    pub(super) name: String,
    /// Recordings of this folder: manifest.tsv in it has lines of FILE<TAB>WORDS AS SAID
    #[arg(long, value_name = "FOLDER", group = "source")]
    pub(super) from_folder: Option<PathBuf>,
    /// What was confirmed or put right in the review of this job
    #[arg(long, value_name = "JOB", group = "source")]
    pub(super) from: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}
