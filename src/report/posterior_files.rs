//! A posterior as two texts, a table of draws and a summary with the cars it was fitted to, and what is read back from them.

use crate::error::{Error, Result, in_range};
use crate::model::Model;
use crate::model::shared_draws::SharedDraws;
use crate::record::{CarRead, CarScenario};
use crate::report::json::json;
use crate::report::tune_text::AGREED;
use crate::tune::columns::Columns;
use crate::tune::draws_table::{DrawsTable, draws_csv, read_draws};
use crate::tune::posterior::{FleetPosterior, TuneSummary};
use crate::tune::run::Fleet;
use crate::tune::score::Learned;
use serde::Serialize;
use serde_json::Value;
use std::sync::Arc;

/// File with a row a draw.
pub const DRAWS_CSV: &str = "posterior.csv";
/// File with the posterior in numbers.
pub const SUMMARY_JSON: &str = "summary.json";

/// Potential scale reduction above which a posterior is no answer yet [-]: Gelman et al., Bayesian Data Analysis, 3rd edition,
/// 2013, section 11.5 (MEMORY-H).
const SETTLED: f64 = 1.1;

/// A posterior in numbers, with the cars it was fitted to.
#[derive(Debug, Clone, Serialize)]
pub struct FittedSummary {
    /// The numbers.
    #[serde(flatten)]
    pub summary: TuneSummary,
    /// The cars.
    pub cars_read: Vec<CarRead>,
}

/// A posterior as it is written down.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PosteriorFiles {
    /// A row a draw.
    pub draws_csv: String,
    /// The posterior in numbers, JSON.
    pub summary_json: String,
}

impl PosteriorFiles {
    /// Of a posterior of a fleet.
    ///
    /// # Errors
    /// [`Error::Invalid`] where it cannot be written.
    pub fn new(posterior: &FleetPosterior, fleet: &Fleet, summary: &FittedSummary) -> Result<Self> {
        Ok(Self { draws_csv: draws_csv(posterior, fleet)?, summary_json: json(summary)? })
    }

    /// Names of the files, each with its text.
    #[must_use]
    pub fn named(self) -> [(&'static str, String); 2] {
        [(DRAWS_CSV, self.draws_csv), (SUMMARY_JSON, self.summary_json)]
    }
}

/// What a summary says of a posterior.
#[derive(Debug, Clone)]
pub struct PosteriorSummary {
    found: Value,
    /// Its file.
    name: String,
}

impl PosteriorSummary {
    /// Of the text of a summary; `name` is what errors call it.
    ///
    /// # Errors
    /// [`Error::Invalid`] for what is no JSON.
    pub fn read(text: &str, name: &str) -> Result<Self> {
        let refused = |error: serde_json::Error| Error::invalid(name, error.to_string(), "what `tune` wrote");
        Ok(Self { found: serde_json::from_str(text).map_err(refused)?, name: name.to_owned() })
    }

    /// What was learned from, in words: the fleet, and the folder of the posterior.
    ///
    /// # Errors
    /// [`Error::Invalid`] without the numbers of cars and observations.
    pub fn learned_from(&self, folder: &str) -> Result<String> {
        let count = |key: &str| {
            let found = self.found.get(key).and_then(Value::as_u64);
            found.ok_or_else(|| Error::invalid(&self.name, format!("no count of {key}"), "what `tune` wrote"))
        };
        let (cars, observations) = (count("cars")?, count("observations")?);
        let apart = self.r_hat().filter(|r_hat| *r_hat > AGREED);
        let apart = apart.map(|r_hat| format!(", whose runs do not agree yet: R-hat up to {r_hat:.2}"));
        Ok(format!("{observations} observations on {cars} cars ({folder}{})", apart.unwrap_or_default()))
    }

    /// Refused where its runs lie apart or there is only one: bands of such a posterior are too narrow.
    ///
    /// # Errors
    /// [`Error::Invalid`] then.
    pub fn settled(&self) -> Result<()> {
        let allowed = format!("runs that agree, R-hat at most {SETTLED}: ask `tune` for more --particles");
        let found = match self.r_hat() {
            Some(r_hat) if r_hat <= SETTLED => return Ok(()),
            Some(r_hat) => format!("runs that lie apart, R-hat {r_hat:.2}"),
            None => "a single run".to_owned(),
        };
        Err(Error::invalid(&self.name, found, allowed))
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

/// The draws of a table; `name` is what errors call it.
///
/// # Errors
/// As [`read_draws`].
pub fn draws_of(text: &str, name: &str, model: &Model) -> Result<DrawsTable> {
    read_draws(text, name, &Columns::new(model)?)
}

/// A model whose shared inputs are draws of a posterior in place of their priors.
///
/// # Errors
/// As [`SharedDraws::new`].
pub fn learned_model(published: &Model, draws: DrawsTable, learned_from: String) -> Result<Arc<Model>> {
    let points = draws.draws.into_iter().map(|draw| draw.z).collect();
    let shared = Arc::new(SharedDraws::new(points, learned_from)?);
    Ok(Arc::new(Model { shared: Some(shared), ..published.clone() }))
}

/// A posterior that was written down, whether or not its runs agree.
#[derive(Debug, Clone)]
pub struct ReadPosterior {
    /// Its draws.
    table: DrawsTable,
    /// What it was learned from, in words.
    pub learned_from: String,
    /// Greatest potential scale reduction [-]; `None` of one run.
    pub r_hat: Option<f64>,
    /// Cars whose observations it was fitted to.
    cars_read: Vec<CarRead>,
}

impl ReadPosterior {
    /// Of its draws and its summary, from a folder of that name.
    ///
    /// # Errors
    /// [`Error::Invalid`] where the summary lacks the cars.
    pub fn new(table: DrawsTable, summary: &PosteriorSummary, folder: &str) -> Result<Self> {
        let (learned_from, r_hat) = (summary.learned_from(folder)?, summary.r_hat());
        Ok(Self { table, learned_from, r_hat, cars_read: summary.cars_read()? })
    }

    /// What is scored on these cars, all of which were looked at: so many of its draws, 16 to 4096.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] of another number of draws.
    pub fn learned(&self, cars: &[CarScenario], draws: usize, seed: u64) -> Result<Learned> {
        in_range("draws", draws as f64, "-", 16.0..=4096.0)?;
        let DrawsTable { draws: all, codes } = self.table.clone();
        let known = cars.iter().map(|car| self.observations_known(car)).collect();
        Ok(Learned { known, draws: all, codes, used: draws, seed })
    }

    /// Observations of a car that it was fitted to, the first in order of time [-].
    fn observations_known(&self, car: &CarScenario) -> usize {
        let is_read = |read: &&CarRead| read.is_of(car);
        self.cars_read.iter().filter(is_read).map(|read| read.observations).max().unwrap_or(0)
    }
}
