//! Whose machine a job is for, as it is told on the command line.

use crate::event::{About, Fact};

#[derive(clap::Args, Debug)]
pub(super) struct AboutArgs {
    /// Whose machine it is
    #[arg(long, value_name = "NAME")]
    owner: Option<String>,
    /// Which machine it is
    #[arg(long, value_name = "NAME")]
    machine: Option<String>,
    /// Its frame number
    #[arg(long, value_name = "NUMBER")]
    frame_number: Option<String>,
    /// The engine's number
    #[arg(long, value_name = "NUMBER")]
    engine_number: Option<String>,
    /// What it has run, with its unit
    #[arg(long, value_name = "DISTANCE")]
    mileage: Option<String>,
    /// Who works on it
    #[arg(long, value_name = "NAME")]
    worked_by: Option<String>,
}

impl AboutArgs {
    /// What was told, for the record.
    pub(super) fn facts(&self) -> Vec<Fact> {
        let told = [
            (About::Owner, &self.owner),
            (About::Machine, &self.machine),
            (About::FrameNumber, &self.frame_number),
            (About::EngineNumber, &self.engine_number),
            (About::Mileage, &self.mileage),
            (About::WorkedBy, &self.worked_by),
        ];
        let fact = |(what, text): (About, &Option<String>)| {
            let text = text.clone()?;
            Some(Fact::About { what, text })
        };
        told.into_iter().filter_map(fact).collect()
    }
}
