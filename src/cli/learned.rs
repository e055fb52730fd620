//! `--posterior`: what a fleet's grades say of the shared inputs, in place of their priors.

use super::sources::file_name;
use crate::cli::run::model;
use crate::error::{Error, Result};
use crate::model::Model;
use crate::report::posterior_files::{
    DRAWS_CSV, PosteriorSummary, ReadPosterior, SUMMARY_JSON, draws_of, learned_model,
};
use crate::tune::draws_table::DrawsTable;
use crate::user_file::read_text;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Where the shared inputs come from.
#[derive(Debug, clap::Args)]
pub(super) struct LearnedOptions {
    /// Folder that `tune` wrote: shared inputs as
    /// learned from a fleet, not from the priors
    #[arg(long, value_name = "POST", verbatim_doc_comment)]
    posterior: Option<PathBuf>,
}

impl LearnedOptions {
    /// The published model, with what was learned where a posterior is given.
    pub(super) fn model(&self) -> Result<Arc<Model>> {
        let published = model()?;
        let Some(folder) = &self.posterior else { return Ok(published) };
        let summary = summary(folder)?;
        summary.settled()?;
        learned_model(&published, draws(folder)?, summary.learned_from(&file_name(folder))?)
    }

    /// The posterior that has to be given, whether or not its runs agree.
    pub(super) fn read(&self) -> Result<ReadPosterior> {
        let none = || Error::invalid("--posterior", "nothing", "a folder that `tune` wrote");
        let folder = self.posterior.as_ref().ok_or_else(none)?;
        let summary = summary(folder)?;
        ReadPosterior::new(draws(folder)?, &summary, &file_name(folder))
    }
}

fn summary(folder: &Path) -> Result<PosteriorSummary> {
    let path = folder.join(SUMMARY_JSON);
    PosteriorSummary::read(&read_text(&path)?, &path.display().to_string())
}

fn draws(folder: &Path) -> Result<DrawsTable> {
    let path = folder.join(DRAWS_CSV);
    draws_of(&read_text(&path)?, &path.display().to_string(), &*model()?)
}
