//! `tune`: what the grades of a fleet say of what all its cars share.

use crate::csv_text::table_of_csv;
use crate::failure::{OrRaise, raised};
use crate::fleet::{cars, save};
use crate::options::Options;
use crate::table::Table;
use crate::values::{answer, to_python};
use ferrowane::error::{Error, Result};
use ferrowane::model::Model;
use ferrowane::record::{cars_read, graded_fleet};
use ferrowane::report::notice::NOTICE;
use ferrowane::report::posterior_files::{
    DRAWS_CSV, FittedSummary, PosteriorFiles, PosteriorSummary, ReadPosterior, SUMMARY_JSON, draws_of,
    learned_model,
};
use ferrowane::report::provenance::{Input, InputKind, NamedDigest, Provenance};
use ferrowane::report::tune_text::tune_text;
use ferrowane::tune::Points;
use ferrowane::tune::draws_table::DrawsTable;
use ferrowane::tune::posterior::{FleetPosterior, TuneSummary};
use ferrowane::tune::progress::Watched;
use ferrowane::tune::run::TuneSettings;
use ferrowane::user_file::read_text;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use serde_json::json;
use std::path::PathBuf;
use std::sync::Arc;

/// Column of the draws that holds names.
const CHOICE: &str = "dose_response_choice";
/// What a posterior is called that was never written down.
const UNNAMED: &str = "posterior";

/// What all cars of a fleet share, given what was seen on them.
///
/// A planning estimate: no structural or roadworthiness assessment.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Posterior {
    fitted: FittedSummary,
    files: PosteriorFiles,
}

/// Learns from the grades of a fleet.
#[pyfunction]
pub(crate) fn tune(
    py: Python<'_>,
    fleet: &Bound<'_, PyAny>,
    options: &Bound<'_, PyDict>,
) -> PyResult<Posterior> {
    let options = Options(options);
    let settings = settings(&options)?;
    let cars = cars(fleet)?;
    options.running()?.run(py, |watch| {
        let cars_read = cars_read(&cars);
        let fleet = graded_fleet(cars)?;
        let runs = fleet.runs(&settings, &mut Watched::new(fleet.samplers(&settings), watch))?;
        let posterior = FleetPosterior { runs };
        let fitted = FittedSummary { summary: posterior.summary(&fleet, &settings), cars_read };
        Ok(Posterior { files: PosteriorFiles::new(&posterior, &fleet, &fitted)?, fitted })
    })
}

fn settings(options: &Options<'_, '_>) -> PyResult<TuneSettings> {
    let usual = TuneSettings::default();
    let size = |key, usual| Ok::<_, PyErr>(options.size(key)?.unwrap_or(usual));
    let (hourly, sets) = (size("hourly", usual.points.hourly)?, size("sets", usual.points.sets)?);
    let settings = TuneSettings {
        seed: options.whole("seed")?.unwrap_or(usual.seed),
        runs: size("runs", usual.runs)?,
        particles: size("particles", usual.particles)?,
        points: Points { hourly, sets, ..usual.points },
        ..usual
    };
    settings.checked().or_raise()
}

#[pymethods]
impl Posterior {
    /// Cars that were looked at [-].
    #[getter]
    fn cars(&self) -> usize {
        self.fitted.summary.cars
    }

    /// What was seen on them [-].
    #[getter]
    fn observations(&self) -> usize {
        self.fitted.summary.observations
    }

    /// Logarithm of the mean likelihood under the priors [-].
    #[getter]
    fn log_evidence(&self) -> f64 {
        self.fitted.summary.log_evidence
    }

    /// A row a draw: ``run``, the shared inputs by key (values in the unit that ``parameters`` names), ``bias_`` with the
    /// code of each inspector [sd], ``log_likelihood`` [-].
    #[getter]
    fn draws(&self) -> PyResult<Table> {
        table_of_csv(&self.files.draws_csv, |name| name != CHOICE).or_raise()
    }

    /// A row a shared input or inspector: quantiles before (``prior_p05`` to ``prior_p95``) and given the grades
    /// (``posterior_p05`` to ``posterior_p95``) in its ``unit`` (``sd``: standard normal numbers), the spread that is left
    /// [-], R-hat over the runs [-], effective sample size [-].
    #[getter]
    fn parameters(&self) -> PyResult<Table> {
        Table::of_rows(&self.fitted.summary.parameters)
    }

    /// A row a dose-response function: the probability that it holds, ``weight`` [-], and the logarithm of its evidence [-].
    #[getter]
    fn dose_response(&self) -> PyResult<Table> {
        Table::of_rows(&self.fitted.summary.dose_response)
    }

    /// Pairs of inputs that the grades cannot tell apart, ``first`` and ``second``, with their ``correlation`` [-].
    #[getter]
    fn not_told_apart(&self) -> PyResult<Table> {
        let pairs = self.fitted.summary.not_told_apart.iter();
        let row = |first: &str, second: &str, correlation: f64| json!({ "first": first, "second": second, "correlation": correlation });
        let rows = pairs.map(|pair| row(&pair.names[0], &pair.names[1], pair.correlation));
        Table::of_values(&rows.collect::<Vec<_>>()).or_raise()
    }

    /// What the command line prints.
    #[getter]
    fn words(&self) -> String {
        tune_text(&self.fitted.summary)
    }

    /// What a reader must not do with the numbers.
    #[getter]
    fn cautions(&self) -> [&str; 1] {
        [NOTICE]
    }

    /// Everything but the draws as plain values, with the names of the command line's JSON and all digits.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &answer(&self.fitted).or_raise()?)
    }

    /// The command line's JSON, six digits.
    fn to_json(&self) -> &str {
        &self.files.summary_json
    }

    /// Writes ``posterior.csv`` and ``summary.json`` into a folder, for the command line's ``--posterior``; with ``replace``
    /// also over files that somebody changed.
    #[pyo3(signature = (folder, *, replace = false))]
    fn save(&self, folder: PathBuf, replace: bool) -> PyResult<()> {
        save(self.files.clone().named().into_iter(), (&folder, replace))
    }

    fn _repr_html_(&self) -> PyResult<String> {
        Ok(format!("{}<p>{NOTICE}</p>", self.parameters()?.html()))
    }

    fn __repr__(&self) -> String {
        let TuneSummary { cars, observations, draws, .. } = &self.fitted.summary;
        format!(
            "<ferrowane.Posterior: {draws} draws from {observations} observations on {cars} cars. {NOTICE}>"
        )
    }
}

/// A posterior as it is written down, and what it is called.
struct Written {
    draws: String,
    summary: String,
    name: String,
}

impl Written {
    /// Of one that was handed in as it is, or as the folder it was written to.
    fn new(posterior: &Bound<'_, PyAny>) -> PyResult<Self> {
        if let Ok(posterior) = posterior.cast::<Posterior>() {
            let PosteriorFiles { draws_csv, summary_json } = posterior.get().files.clone();
            return Ok(Self { draws: draws_csv, summary: summary_json, name: UNNAMED.to_owned() });
        }
        let Ok(folder) = posterior.extract::<PathBuf>() else {
            let kind = posterior.get_type().to_string();
            let allowed = "a Posterior, or the folder it was saved to";
            return Err(raised(&Error::invalid("posterior", kind, allowed)));
        };
        let text = |name: &str| read_text(&folder.join(name)).or_raise();
        let name = folder.file_name().unwrap_or(folder.as_os_str()).to_string_lossy().into_owned();
        Ok(Self { draws: text(DRAWS_CSV)?, summary: text(SUMMARY_JSON)?, name })
    }

    fn read(&self, model: &Model) -> Result<(PosteriorSummary, DrawsTable)> {
        let summary = PosteriorSummary::read(&self.summary, SUMMARY_JSON)?;
        Ok((summary, draws_of(&self.draws, DRAWS_CSV, model)?))
    }
}

/// A posterior that was handed in.
pub(crate) fn read(posterior: &Bound<'_, PyAny>) -> PyResult<ReadPosterior> {
    let written = Written::new(posterior)?;
    let (summary, draws) = written.read(&*Model::published().or_raise()?).or_raise()?;
    ReadPosterior::new(draws, &summary, &written.name).or_raise()
}

/// The model of an answer: the published one, or with what the option `posterior` learned of the shared inputs.
pub(crate) struct LearnedModel {
    pub(crate) model: Arc<Model>,
    input: Option<Input>,
}

/// The model that the option `posterior` makes; one whose runs do not agree is refused.
pub(crate) fn learned(options: &Options<'_, '_>) -> PyResult<LearnedModel> {
    let published = Model::published().or_raise()?;
    let Some(posterior) = options.get("posterior")? else {
        return Ok(LearnedModel { model: published, input: None });
    };
    let written = Written::new(&posterior)?;
    let (summary, draws) = written.read(&published).or_raise()?;
    summary.settled().or_raise()?;
    let learned_from = summary.learned_from(&written.name).or_raise()?;
    let model = learned_model(&published, draws, learned_from).or_raise()?;
    let bytes = [written.draws.as_bytes(), written.summary.as_bytes()].concat();
    let NamedDigest { name, sha256 } = NamedDigest::new(written.name, &bytes);
    let input = Input { argument: 0, kind: InputKind::Posterior, name, sha256: Some(sha256) };
    Ok(LearnedModel { model, input: Some(input) })
}

impl LearnedModel {
    /// What an answer rests on, with the posterior.
    pub(crate) fn named(&self, mut provenance: Provenance) -> Provenance {
        provenance.inputs.extend(self.input.clone());
        provenance
    }
}
