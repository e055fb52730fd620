//! `--posterior`: what a fleet's grades say of the shared inputs, in place of their priors.

use super::record::read;
use super::sources::file_name;
use crate::cli::run::model;
use crate::error::{Error, Result};
use crate::model::Model;
use crate::model::shared_draws::SharedDraws;
use crate::report::tune_text::AGREED;
use crate::tune::columns::Columns;
use crate::tune::draws_table::{DrawsTable, read_draws};
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
        let learned_from = learned_from(folder)?;
        let path = folder.join("posterior.csv");
        let DrawsTable { draws, .. } =
            read_draws(&text(&path)?, &path.display().to_string(), &Columns::new(&published)?)?;
        let points = draws.into_iter().map(|draw| draw.z).collect();
        let shared = SharedDraws::new(points, learned_from)?;
        Ok(Arc::new(Model { shared: Some(Arc::new(shared)), ..(*published).clone() }))
    }
}

/// What a posterior was learned from: the fleet, as its summary says, and the folder.
fn learned_from(folder: &Path) -> Result<String> {
    let path = folder.join("summary.json");
    let name = path.display().to_string();
    let summary: serde_json::Value = serde_json::from_str(&text(&path)?)
        .map_err(|error| Error::invalid(&name, error.to_string(), "what `tune` wrote"))?;
    let count = |key: &str| {
        let found = summary.get(key).and_then(serde_json::Value::as_u64);
        found.ok_or_else(|| Error::invalid(&name, format!("no count of {key}"), "what `tune` wrote"))
    };
    let (cars, observations) = (count("cars")?, count("observations")?);
    let r_hat = settled(&summary, &name)?;
    let apart = Some(r_hat).filter(|r_hat| *r_hat > AGREED);
    let apart = apart.map(|r_hat| format!(", whose runs do not agree yet: R-hat up to {r_hat:.2}"));
    let folder = file_name(folder);
    Ok(format!("{observations} observations on {cars} cars ({folder}{})", apart.unwrap_or_default()))
}

/// Potential scale reduction above which a posterior is no answer yet [-]: Gelman et al., Bayesian Data Analysis, 3rd edition,
/// 2013, section 11.5 (MEMORY-H).
const SETTLED: f64 = 1.1;

/// Greatest potential scale reduction of a summary [-], refused where its runs lie apart or there is only one: bands of such a
/// posterior are too narrow.
fn settled(summary: &serde_json::Value, name: &str) -> Result<f64> {
    let allowed = format!("runs that agree, R-hat at most {SETTLED}: ask `tune` for more --particles");
    match r_hat(summary) {
        Some(r_hat) if r_hat <= SETTLED => Ok(r_hat),
        Some(r_hat) => Err(Error::invalid(name, format!("runs that lie apart, R-hat {r_hat:.2}"), allowed)),
        None => Err(Error::invalid(name, "a single run", allowed)),
    }
}

/// Greatest potential scale reduction of a summary [-]; `None` of one run.
fn r_hat(summary: &serde_json::Value) -> Option<f64> {
    let parameters = summary.get("parameters")?.as_array()?;
    parameters.iter().filter_map(|one| one.get("r_hat")?.as_f64()).max_by(f64::total_cmp)
}

fn text(path: &Path) -> Result<String> {
    let refused = || Error::invalid(path.display().to_string(), "bytes that are not UTF-8", "text");
    String::from_utf8(read(path)?).map_err(|_| refused())
}
