//! What can be asked for on the command line.

use super::args_about::AboutArgs;
use super::args_devices::Devices;
use super::args_manual::Manual;
use super::args_shims::Shims;
use super::args_sound::SoundArgs;
use super::args_units::{GaugeArg, WrenchArg};
use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// A voice companion for cylinder-head benchwork.
///
/// Call a valve and what the feeler blades show ("three exhaust left, fifteen goes, eighteen
/// doesn't"). Each reading is understood, read back, and kept with its sound in the job's folder;
/// the sheet says what is tight, the shim plan what to fit where and what to buy. Nothing leaves
/// this machine.
///
/// Limits, torques and sequences come from the maker's manual for your engine; the demo's are
/// invented.
#[derive(Parser, Debug)]
#[command(version, max_term_width = 96)]
pub struct Args {
    #[command(subcommand)]
    pub(super) command: Command,
}

#[derive(Subcommand, Debug)]
pub(super) enum Command {
    /// Do everything in a browser: jobs, new ones, listening, results
    Bench(super::args_bench::Bench),
    /// Play the recorded bench session that ships with the program
    Demo(Demo),
    /// Make the folder of a new job
    New(New),
    /// Hear recordings, as if they had just been spoken at the bench
    Hear(Hear),
    /// Listen to the microphone
    Listen(Listen),
    /// Take typed phrases, each as if it had been heard
    Say(Say),
    /// Remove clips, never readings
    Forget(Forget),
    /// Show every valve: clearance, shim, verdict
    Sheet(Sheet),
    /// Work out which shim goes where, and what to buy
    Shims(Shims),
    /// Show where the job stands: its stages, what was looked at, what is still open
    Progress(Progress),
    /// Show what the inspection readings come to: stems, seats, springs, cams, torque, compression
    Findings(Findings),
    /// Show what cutting or lapping a seat would do to clearance and shim, before it is done
    Cut(Cut),
    /// Print an engine's profile as a page to check against the manual, with what is missing
    Engine(Engine),
    /// Show where to turn the crank, and which valves to measure at each stop
    Turns(Turns),
    /// Go through a session in a browser: every utterance with its clip
    Review(Review),
    /// Write the record of a job: HTML, CSV, JSON
    Report(Report),
    /// Print what can be said; draw random phrases; check grammar files
    Phrases(Phrases),
    /// Score the recogniser on clips with known words
    Score(Score),
    /// Check microphone, recogniser, voice and disk, with a fix for each; or a job
    Check(Check),
    /// Save what is left of a damaged job into a new one
    Recover(Recover),
    /// Let the recogniser learn your voice; list, switch and remove what it has learnt
    #[cfg(feature = "learn")]
    Voice(super::args_voice::Voice),
    /// List the devices that are paired with the pages, rename them, send them away
    Devices(Devices),
    /// Write man pages and completions for shells
    Manual(Manual),
}

/// The demo needs no microphone: a recording of five invented voices in a noisy workshop goes
/// through the recogniser that ships with the program. Its engine, a triple, is invented.
#[derive(clap::Args, Debug)]
pub(super) struct Demo {
    /// Keep the job in this folder (a new one); without it a temporary folder is used
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: Option<PathBuf>,
    /// Play it in real time, and the read-back aloud
    #[arg(long)]
    pub(super) aloud: bool,
    /// One JSON object an utterance
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(super) enum UnitArg {
    /// Bare numbers are hundredths of a millimetre: "fifteen" is 0.15 mm
    Mm,
    /// Bare numbers are thousandths of an inch: "six" is 0.006 in
    Thou,
}

/// The unit is fixed here, before the first reading, since "eight" is a clearance in either.
#[derive(clap::Args, Debug)]
pub(super) struct New {
    /// The folder to make
    pub(super) job: PathBuf,
    /// Engine: the key of one that ships, such as triple (a wrong key lists them), or the path of a
    /// profile (see grammars/README.md)
    #[arg(long, value_name = "KEY")]
    pub(super) engine: String,
    /// What bare numbers are
    #[arg(long, value_enum, default_value = "mm")]
    pub(super) unit: UnitArg,
    /// What bare compressions are in; bar in a millimetre job, psi in a thou job
    #[arg(long, value_enum)]
    pub(super) gauge: Option<GaugeArg>,
    /// What bare torques are in; newton metres in a millimetre job, pound feet in a thou job
    #[arg(long, value_enum)]
    pub(super) wrench: Option<WrenchArg>,
    /// Feeler blades owned, in the job's unit, separated by commas; the profile's set otherwise
    #[arg(long, value_delimiter = ',', value_name = "SIZE")]
    pub(super) blades: Vec<String>,
    /// Language that is spoken: en or de
    #[arg(long, default_value = "en", value_name = "KEY")]
    pub(super) language: String,
    #[command(flatten)]
    pub(super) about: AboutArgs,
}

/// Without a choice all clips go. What was heard, read back and stored stays, and the record says that
/// the clips were removed. It cannot be taken back.
#[derive(clap::Args, Debug)]
pub(super) struct Forget {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// Only clips from this time on, such as 2026-11-25T14:30
    #[arg(long, value_name = "TIME", requires = "to")]
    pub(super) from: Option<super::moment::Moment>,
    /// … and before this one
    #[arg(long, value_name = "TIME", requires = "from")]
    pub(super) to: Option<super::moment::Moment>,
    /// Only clips of talk that was ignored
    #[arg(long, conflicts_with_all = ["from", "to"])]
    pub(super) ignored: bool,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// WAV of any common rate, depth and channel count, FLAC, Ogg Vorbis, MP3.
#[derive(clap::Args, Debug)]
pub(super) struct Hear {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// One JSON object an utterance
    #[arg(long)]
    pub(super) json: bool,
    /// Another recogniser: any Whisper model in ggml format
    #[arg(long, value_name = "FILE")]
    pub(super) model: Option<PathBuf>,
    /// Hear with this voice (see `voice`); without it with the one that is on; "none" for none
    #[arg(long, value_name = "NAME")]
    pub(super) voice: Option<String>,
    /// Keep the clips of talk that was ignored; otherwise they go when this ends, those of earlier
    /// sessions too
    #[arg(long)]
    pub(super) keep_talk: bool,
    /// Recordings, in order
    #[arg(required = true, value_name = "FILE")]
    pub(super) files: Vec<PathBuf>,
}

/// Reads back aloud. While the tool speaks it does not listen, unless you wear a headset.
#[derive(clap::Args, Debug)]
#[command(group(clap::ArgGroup::new("a_key").multiple(true)))]
pub(super) struct Listen {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// One JSON object an utterance
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) sound: SoundArgs,
    /// Keep the clips of talk that was ignored; otherwise they go when this ends, those of earlier
    /// sessions too
    #[arg(long)]
    pub(super) keep_talk: bool,
    /// Wait so much longer before a silence ends what you say, in percent of the usual wait. "Give me
    /// time" doubles it while you work, "normal pace" ends that
    #[arg(long, value_name = "PERCENT", default_value_t = 100, value_parser = clap::value_parser!(u32).range(50..=400))]
    pub(super) patience: u32,
    /// Push to talk: nothing is heard until this key or pedal is pressed, then one utterance.
    /// A key is one character, space, enter, tab, pageup, pagedown, up, down or f1 to f5
    #[arg(long, value_name = "KEY", group = "a_key")]
    pub(super) talk_key: Option<String>,
    /// This key says "affirm"
    #[arg(long, value_name = "KEY", group = "a_key")]
    pub(super) affirm_key: Option<String>,
    /// This key says "disregard"
    #[arg(long, value_name = "KEY", group = "a_key")]
    pub(super) disregard_key: Option<String>,
    /// Take these keys from this pedal or keyboard too, whichever window has the focus: a part of its
    /// name, or its path under /dev/input
    #[arg(long, value_name = "DEVICE", requires = "a_key")]
    pub(super) pedal: Option<String>,
    /// Show the board in a browser; its address is printed first
    #[arg(long)]
    pub(super) board: bool,
    /// Serve the board on the local network, over TLS, to paired devices only
    #[arg(long, requires = "board")]
    pub(super) lan: bool,
    /// The microphone and loudspeaker are those of the device that shows the board
    #[arg(long, requires = "board", conflicts_with_all = ["microphone", "recording"])]
    pub(super) phone: bool,
    /// Port of the board; any free one otherwise, with --lan that of the last time
    #[arg(
        long,
        default_value_t = 0,
        requires = "board",
        value_name = "PORT",
        hide_default_value = true
    )]
    pub(super) port: u16,
    /// Stop after this many seconds
    #[arg(long, value_name = "SECONDS")]
    pub(super) stop_after: Option<u64>,
}

#[derive(clap::Args, Debug)]
pub(super) struct Say {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// One JSON object a phrase
    #[arg(long)]
    pub(super) json: bool,
    /// Phrases, each one argument in quotes
    #[arg(required = true, value_name = "TEXT")]
    pub(super) texts: Vec<String>,
}

#[derive(clap::Args, Debug)]
pub(super) struct Sheet {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// The order of the stages is advice: any of them can be begun at any time.
#[derive(clap::Args, Debug)]
pub(super) struct Progress {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Each figure with its verdict, its reason and the source of its limit. A limit that the engine's
/// profile does not have is never invented: see the maker's manual.
#[derive(clap::Args, Debug)]
pub(super) struct Findings {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Height above the sea, in metres, where compression was tested
    #[arg(
        long,
        default_value_t = 0,
        value_name = "METRES",
        allow_negative_numbers = true
    )]
    pub(super) height: i64,
}

/// Metal taken off seat or face lets the valve rise: the clearance falls and a thinner shim is
/// needed. The valve must be measured and its shim known.
#[derive(clap::Args, Debug)]
pub(super) struct Cut {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
    /// The valve, as it is called: "three exhaust left"
    #[arg(long, value_name = "PLACE")]
    pub(super) valve: String,
    /// How much is taken off, in the job's unit
    #[arg(long, value_name = "SIZE")]
    pub(super) by: String,
    /// It is measured square to the seat's face; without this along the stem
    #[arg(long)]
    pub(super) square: bool,
}

/// An entry that cannot be meant, or that nothing looks at, is an error with its line and column.
#[derive(clap::Args, Debug)]
pub(super) struct Engine {
    /// Engine: the key of one that ships, such as triple (a wrong key lists them), or the path of a
    /// profile (see grammars/README.md)
    #[arg(
        value_name = "FILE",
        required_unless_present = "job",
        conflicts_with = "job"
    )]
    pub(super) file: Option<String>,
    /// The profile of a job; with --set or --from it is changed, as an event of the job
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: Option<PathBuf>,
    /// An entry of the job's profile, such as `inlet.target_mm=0.17`
    #[arg(long, value_name = "ENTRY=VALUE", requires = "job")]
    pub(super) set: Vec<String>,
    /// The whole profile anew, from a file
    #[arg(long, value_name = "FILE", requires = "job", conflicts_with = "set")]
    pub(super) from: Option<String>,
}

/// Only forwards, by hand, plugs out. Look that the lobe points away from the bucket before you
/// measure: the picture beats the sum.
#[derive(clap::Args, Debug)]
pub(super) struct Turns {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Stop only where a piston stands at top dead centre
    #[arg(long)]
    pub(super) marks: bool,
    /// All valves, also those that are measured
    #[arg(long)]
    pub(super) all: bool,
}

/// Prints its address first. Every edit is a new entry; nothing is changed or deleted.
#[derive(clap::Args, Debug)]
pub(super) struct Review {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// Another recogniser, to hear the whole session again and see what differs: a Whisper model in ggml
    /// format
    #[arg(long, value_name = "FILE")]
    pub(super) model: Option<PathBuf>,
    /// Write the checked clips with what was really said into this new folder, for `score`, and end
    #[arg(long, value_name = "FOLDER")]
    pub(super) export: Option<PathBuf>,
    /// Serve on the local network, over TLS, to paired devices only
    #[arg(long)]
    pub(super) lan: bool,
    /// Port; any free one otherwise, with --lan that of the last time
    #[arg(
        long,
        default_value_t = 0,
        value_name = "PORT",
        hide_default_value = true
    )]
    pub(super) port: u16,
    /// Stop after this many seconds
    #[arg(long, value_name = "SECONDS")]
    pub(super) stop_after: Option<u64>,
}

/// The HTML is one file that prints well on A4 and Letter. The JSON holds every event, so that
/// `--import` makes the same job of it elsewhere.
#[derive(clap::Args, Debug)]
#[command(group(clap::ArgGroup::new("what").required(true).multiple(true)))]
pub(super) struct Report {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// As a page
    #[arg(long, value_name = "OUT", group = "what", num_args = 0..=1, default_missing_value = "-")]
    pub(super) html: Option<PathBuf>,
    /// One line a valve
    #[arg(long, value_name = "OUT", group = "what", num_args = 0..=1, default_missing_value = "-")]
    pub(super) csv: Option<PathBuf>,
    /// Everything
    #[arg(long, value_name = "OUT", group = "what", num_args = 0..=1, default_missing_value = "-")]
    pub(super) json: Option<PathBuf>,
    /// Put the sounds into the JSON too
    #[arg(long, requires = "json")]
    pub(super) with_sound: bool,
    /// An earlier job of the same engine (its folder, or its report as JSON): how each clearance
    /// moved since
    #[arg(long, value_name = "JOB")]
    pub(super) before: Option<PathBuf>,
    /// Bring a report's JSON back, into a new folder or an empty job
    #[arg(long, value_name = "FILE", group = "what", conflicts_with_all = ["html", "csv", "json"])]
    pub(super) import: Option<PathBuf>,
}

#[derive(clap::Args, Debug)]
pub(super) struct Phrases {
    /// Show the patterns behind the examples
    #[arg(long)]
    pub(super) patterns: bool,
    /// Draw this many random phrases with their meaning, one JSON object a line
    #[arg(long, value_name = "N")]
    pub(super) sample: Option<usize>,
    /// Where the drawing begins; the same seed draws the same phrases
    #[arg(long, default_value_t = 1, value_name = "S", requires = "sample")]
    pub(super) seed: u64,
    /// Check the grammar files in a folder, and the engine profiles in the folder "engines"
    /// beside it; or a file of own words
    #[arg(long, value_name = "PATH")]
    pub(super) check: Option<PathBuf>,
    /// Engine that the drawn phrases are for
    #[arg(
        long,
        default_value = "triple",
        value_name = "KEY",
        requires = "sample"
    )]
    pub(super) engine: String,
    /// What bare numbers are in the drawn phrases
    #[arg(long, value_enum, default_value = "mm", requires = "sample")]
    pub(super) unit: UnitArg,
    /// Language of the phrases: en or de
    #[arg(long, default_value = "en", value_name = "KEY")]
    pub(super) language: String,
}

/// Every event that its checksum proves is saved with its sound. One that is damaged keeps its number
/// and says so. The damaged job stays as it is.
#[derive(clap::Args, Debug)]
pub(super) struct Recover {
    /// The damaged job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// The folder of the new job
    #[arg(long, value_name = "FOLDER")]
    pub(super) into: PathBuf,
    /// Engine, if the event that says it is damaged: its key, or the path of a profile
    #[arg(long, value_name = "KEY")]
    pub(super) engine: Option<String>,
    /// What bare numbers are, with --engine
    #[arg(long, value_enum, default_value = "mm", requires = "engine")]
    pub(super) unit: UnitArg,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(clap::Args, Debug)]
pub(super) struct Check {
    /// The whole state of this job instead: its events, what is missing, its sounds
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["voice", "microphone", "recording"])]
    pub(super) job: Option<PathBuf>,
    /// Ask for ten phrases and say how well this voice, microphone and room are heard; with a name (see
    /// `voice`) as they are heard with what was learnt of it
    #[arg(long, value_name = "NAME", num_args = 0..=1, default_missing_value = "")]
    pub(super) voice: Option<String>,
    /// Microphone: a part of its name
    #[arg(long, value_name = "NAME")]
    pub(super) microphone: Option<String>,
    /// Loudspeaker to measure: a part of its name
    #[arg(long, value_name = "NAME", requires = "delay")]
    pub(super) speaker: Option<String>,
    /// Play a chirp and measure how far the loudspeaker is behind (Bluetooth is): kept, so that the tool
    /// stays deaf that much longer after it has spoken
    #[arg(long, conflicts_with_all = ["voice", "job", "recording"])]
    pub(super) delay: bool,
    /// Recording to take instead of the microphone, for --voice
    #[arg(long, value_name = "FILE", conflicts_with = "microphone")]
    pub(super) recording: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Each line is heard in a fresh job. What is expected is what `say` makes of the text; an empty
/// text means that nothing may be stored.
#[derive(clap::Args, Debug)]
pub(super) struct Score {
    /// Lines of PATH<TAB>TEXT AS SAID[<TAB>KIND[<TAB>TYPED BEFORE / IT]], paths from the
    /// manifest's folder
    pub(super) manifest: PathBuf,
    /// Write the result here
    #[arg(long, value_name = "OUT")]
    pub(super) json: Option<PathBuf>,
    /// Write pictures of the figures into this folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) plots: Option<PathBuf>,
    /// Write each clip with what spoke for and against it here, one JSON object a line
    #[arg(long, value_name = "OUT")]
    pub(super) trials: Option<PathBuf>,
    /// Engine of the fresh jobs
    #[arg(long, default_value = "triple", value_name = "KEY")]
    pub(super) engine: String,
    /// What bare numbers are in the fresh jobs
    #[arg(long, value_enum, default_value = "mm")]
    pub(super) unit: UnitArg,
    /// Another recogniser: any Whisper model in ggml format
    #[arg(long, value_name = "FILE")]
    pub(super) model: Option<PathBuf>,
    /// Hear with this voice (see `voice`); without it with none
    #[arg(long, value_name = "NAME")]
    pub(super) voice: Option<String>,
    /// Mix in clips of this folder, at --snr-db
    #[arg(long, value_name = "FOLDER", requires = "snr_db")]
    pub(super) noise: Option<PathBuf>,
    /// Signal to noise of the mix, in dB of mean power
    #[arg(
        long,
        value_name = "DB",
        requires = "noise",
        allow_negative_numbers = true
    )]
    pub(super) snr_db: Option<f64>,
}
