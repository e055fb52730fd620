//! `--posterior`: what a fleet's grades say of the shared inputs, in place of their priors.

use super::record::read;
use super::sources::file_name;
use crate::cli::run::model;
use crate::error::{Error, Result};
use crate::model::Model;
use crate::model::shared_draws::SharedDraws;
use crate::record::{CarRead, CarScenario};
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
        let summary = Summary::read(folder)?;
        settled(summary.r_hat(), &summary.name)?;
        let points = draws(folder)?.draws.into_iter().map(|draw| draw.z).collect();
        let shared = SharedDraws::new(points, summary.learned_from(folder)?)?;
        Ok(Arc::new(Model { shared: Some(Arc::new(shared)), ..(*published).clone() }))
    }

    /// The posterior that has to be given, whether or not its runs agree.
    pub(super) fn read(&self) -> Result<ReadPosterior> {
        let none = || Error::invalid("--posterior", "nothing", "a folder that `tune` wrote");
        let folder = self.posterior.as_ref().ok_or_else(none)?;
        let summary = Summary::read(folder)?;
        Ok(ReadPosterior {
            cars_read: summary.cars_read()?,
            learned_from: summary.learned_from(folder)?,
            r_hat: summary.r_hat(),
            table: draws(folder)?,
        })
    }
}

/// A posterior as it was written down.
pub(super) struct ReadPosterior {
    /// Its draws.
    pub(super) table: DrawsTable,
    /// What it was learned from, in words.
    pub(super) learned_from: String,
    /// Greatest potential scale reduction [-]; `None` of one run.
    pub(super) r_hat: Option<f64>,
    /// Cars whose observations it was fitted to.
    cars_read: Vec<CarRead>,
}

impl ReadPosterior {
    /// Observations of a car that it was fitted to, the first in order of time [-].
    pub(super) fn observations_known(&self, car: &CarScenario) -> usize {
        let is_read = |read: &&CarRead| read.is_of(car);
        self.cars_read.iter().filter(is_read).map(|read| read.observations).max().unwrap_or(0)
    }
}

/// The draws of a folder.
fn draws(folder: &Path) -> Result<DrawsTable> {
    let path = folder.join("posterior.csv");
    read_draws(&text(&path)?, &path.display().to_string(), &Columns::new(&*model()?)?)
}

/// Potential scale reduction above which a posterior is no answer yet [-]: Gelman et al., Bayesian Data Analysis, 3rd edition,
/// 2013, section 11.5 (MEMORY-H).
const SETTLED: f64 = 1.1;

/// Refuses a posterior whose runs lie apart, or of one run: its bands are too narrow. `name` is where it stands.
pub(super) fn settled(r_hat: Option<f64>, name: &str) -> Result<()> {
    let allowed = format!("runs that agree, R-hat at most {SETTLED}: ask `tune` for more --particles");
    let found = match r_hat {
        Some(r_hat) if r_hat <= SETTLED => return Ok(()),
        Some(r_hat) => format!("runs that lie apart, R-hat {r_hat:.2}"),
        None => "a single run".to_owned(),
    };
    Err(Error::invalid(name, found, allowed))
}

/// What `tune` says of a posterior.
struct Summary {
    found: serde_json::Value,
    /// Its file.
    name: String,
}

impl Summary {
    fn read(folder: &Path) -> Result<Self> {
        let path = folder.join("summary.json");
        let name = path.display().to_string();
        let found = serde_json::from_str(&text(&path)?)
            .map_err(|error| Error::invalid(&name, error.to_string(), "what `tune` wrote"))?;
        Ok(Self { found, name })
    }

    /// What was learned from: the fleet, and the folder.
    fn learned_from(&self, folder: &Path) -> Result<String> {
        let count = |key: &str| {
            let found = self.found.get(key).and_then(serde_json::Value::as_u64);
            found.ok_or_else(|| Error::invalid(&self.name, format!("no count of {key}"), "what `tune` wrote"))
        };
        let (cars, observations) = (count("cars")?, count("observations")?);
        let apart = self.r_hat().filter(|r_hat| *r_hat > AGREED);
        let apart = apart.map(|r_hat| format!(", whose runs do not agree yet: R-hat up to {r_hat:.2}"));
        let folder = file_name(folder);
        Ok(format!("{observations} observations on {cars} cars ({folder}{})", apart.unwrap_or_default()))
    }

    /// Greatest potential scale reduction [-]; `None` of one run.
    fn r_hat(&self) -> Option<f64> {
        let parameters = self.found.get("parameters")?.as_array()?;
        parameters.iter().filter_map(|one| one.get("r_hat")?.as_f64()).max_by(f64::total_cmp)
    }

    /// The cars it was fitted to.
    fn cars_read(&self) -> Result<Vec<CarRead>> {
        let cars = self.found.get("cars_read").cloned().and_then(|cars| serde_json::from_value(cars).ok());
        let allowed = "the cars that `tune` read: run it once more";
        cars.ok_or_else(|| Error::invalid(&self.name, "no `cars_read`", allowed))
    }
}

fn text(path: &Path) -> Result<String> {
    let refused = || Error::invalid(path.display().to_string(), "bytes that are not UTF-8", "text");
    String::from_utf8(read(path)?).map_err(|_| refused())
}
