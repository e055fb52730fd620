//! `record posterior`: what a record has learned from its own cars, and the way back to the priors.

use crate::cli::Format;
use crate::cli::run::model;
use crate::error::Result;
use crate::record::{self, AdoptedPosterior, HeldOut};
use crate::report::json::json;
use jiff::Timestamp;
use serde::Serialize;
use std::path::Path;

/// What is done about it.
#[derive(Debug, clap::Args)]
pub(super) struct PosteriorArguments {
    /// Compute the cars with the priors again
    #[arg(long)]
    priors: bool,
}

/// What a record has learned.
#[derive(Serialize)]
struct Shown {
    /// `None` where the priors hold.
    learned_from: Option<String>,
    cars: usize,
    observations: usize,
    held_out: Option<HeldOut>,
}

impl PosteriorArguments {
    pub(super) fn run(&self, file: &Path, format: Format) -> Result<String> {
        let model = model()?;
        if self.priors {
            record::return_to_priors(&mut record::open(file, &model)?, Timestamp::now())?;
        }
        let found = record::adopted(&record::open_to_read(file, &model)?, None)?;
        match format {
            Format::Json => json(&Shown {
                learned_from: found.as_ref().map(AdoptedPosterior::learned_from),
                cars: found.as_ref().map_or(0, |found| found.cars_read.len()),
                observations: found.as_ref().map_or(0, |found| found.observations),
                held_out: found.as_ref().map(|found| found.held_out),
            }),
            Format::Text => Ok(found.as_ref().map_or_else(|| NONE.to_owned(), words)),
        }
    }
}

const NONE: &str =
    "nothing: cars are computed with the priors; `ferrowane tune --record ... --adopt` learns from them";

fn words(found: &AdoptedPosterior) -> String {
    let HeldOut { cars, log_score_gain: [gain, error] } = found.held_out;
    format!(
        "learned from {}; {cars} cars that were held out are forecast better than by the priors, by {gain:.3} ± {error:.3} a \
         grade (logarithmic score)",
        found.learned_from()
    )
}
