//! `forecast`: the answer for a case, given what was seen on it.

use crate::case::{provenance, read_with};
use crate::failure::{OrRaise, raised};
use crate::options::Options;
use crate::posterior::learned;
use crate::table::Table;
use crate::values::{answer, to_python};
use ferrowane::error::Error;
use ferrowane::forecast::Forecast as Known;
use ferrowane::forecast::outcome::{TimeQuantiles, YearQuantiles};
use ferrowane::inspection::{Updated, update};
use ferrowane::report::band::band_plot;
use ferrowane::report::dots::dot_plot;
use ferrowane::report::evidence::evidence;
use ferrowane::report::fan::loss_fan;
use ferrowane::report::flag_words::{cautions, flags};
use ferrowane::report::forecast_json::{ForecastJson, PeriodJson};
use ferrowane::report::grades::grade_by_year;
use ferrowane::report::json::{Traced, json_with};
use ferrowane::report::notice::NOTICE;
use ferrowane::report::provenance::{ComputedBy, Provenance};
use ferrowane::report::text::answer as text_answer;
use ferrowane::report::update_json::UpdateJson;
use ferrowane::report::update_plot::update_plot;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// Pictures of a forecast.
const PICTURES: [&str; 5] = ["band", "losses", "grades", "dots", "updated"];

/// When the member of a case needs rework, and how sure that is.
///
/// Ages are years since first registration [a], losses [µm], shares and probabilities [-]. A planning estimate: no
/// structural or roadworthiness assessment. Local law, the maker's data and a licensed inspector decide.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Forecast {
    answer: Answer,
    provenance: Provenance,
}

/// A forecast, and where the car was looked at what it was before and what it rests on.
#[derive(Clone)]
enum Answer {
    Unseen(Box<Known>),
    Updated(Box<Updated>),
}

/// Computes the forecast of a case.
#[pyfunction]
pub(crate) fn forecast(
    py: Python<'_>,
    case: &Bound<'_, PyAny>,
    options: &Bound<'_, PyDict>,
) -> PyResult<Forecast> {
    let options = Options(options);
    let learned = learned(&options)?;
    let case = read_with(case, &learned.model)?;
    let scenario = match options.text("criteria")? {
        Some(id) => case.scenario.clone().held_against(&id).or_raise()?,
        None => case.scenario.clone(),
    };
    let settings = options.settings()?;
    let updated = options.running()?.run(py, |watch| update(&scenario, &settings, watch))?;
    let by = ComputedBy::histories(updated.forecast.seed, updated.forecast.histories);
    let answer = if updated.evidence.observations.is_empty() {
        Answer::Unseen(Box::new(updated.forecast))
    } else {
        Answer::Updated(Box::new(updated))
    };
    let whole_life = Forecast { answer, provenance: learned.named(provenance(&[&case], by)) };
    match options.date("as_of")? {
        Some(day) => whole_life.on_day(day),
        None => Ok(whole_life),
    }
}

impl Forecast {
    /// Of one case among several.
    pub(crate) fn of_case(forecast: &Known, provenance: &Provenance) -> Self {
        Self { answer: Answer::Unseen(Box::new(forecast.clone())), provenance: provenance.clone() }
    }

    fn known(&self) -> &Known {
        match &self.answer {
            Answer::Unseen(forecast) => forecast,
            Answer::Updated(updated) => &updated.forecast,
        }
    }

    fn on_day(&self, day: jiff::civil::Date) -> PyResult<Self> {
        let forecast =
            self.known().clone().as_of(day).map_err(|error| error.about("date", "as_of")).or_raise()?;
        let answer = match &self.answer {
            Answer::Unseen(_) => Answer::Unseen(Box::new(forecast)),
            Answer::Updated(updated) => {
                Answer::Updated(Box::new(Updated { forecast, ..(**updated).clone() }))
            }
        };
        Ok(Self { answer, provenance: Provenance { day: Some(day.to_string()), ..self.provenance.clone() } })
    }

    fn quantiles<'py>(py: Python<'py>, quantiles: &TimeQuantiles) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &answer(quantiles).or_raise()?)
    }
}

/// A yearly series as a table.
fn series(rows: &[YearQuantiles]) -> PyResult<Table> {
    Table::of_rows(&rows)
}

#[pymethods]
impl Forecast {
    /// Name of the case.
    #[getter]
    fn title(&self) -> &str {
        &self.known().title
    }

    /// Date of first registration, ``YYYY-MM-DD``.
    #[getter]
    fn first_registration(&self) -> String {
        self.known().first_registration.to_string()
    }

    /// Seed of the random numbers [-].
    #[getter]
    fn seed(&self) -> u64 {
        self.known().seed
    }

    /// Histories computed [-].
    #[getter]
    fn histories(&self) -> u64 {
        self.known().histories
    }

    /// Horizon [a].
    #[getter]
    fn horizon_a(&self) -> u32 {
        self.known().horizon_a
    }

    /// Median age at rework [a]; ``None`` beyond the horizon.
    #[getter]
    fn median_a(&self) -> Option<f64> {
        self.known().time_to_rework_a.p50
    }

    /// Age at rework by quantile, ``p05`` to ``p95`` [a]; ``None`` beyond the horizon.
    #[getter]
    fn time_to_rework_a<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        Self::quantiles(py, &self.known().time_to_rework_a)
    }

    /// Standard errors of those quantiles from independent replicates [a].
    #[getter]
    fn standard_error_a<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        Self::quantiles(py, &self.known().standard_error.as_quantiles())
    }

    /// Share of the histories that do not reach rework within the horizon [-].
    #[getter]
    fn share_beyond_horizon(&self) -> f64 {
        self.known().share_beyond_horizon
    }

    /// Share of the variance of the age at rework that knowledge could remove [-].
    #[getter]
    fn epistemic_share(&self) -> f64 {
        self.known().epistemic_share
    }

    /// Effective sample size after what was seen on the car [histories].
    #[getter]
    fn effective_sample_size(&self) -> f64 {
        self.known().effective_sample_size
    }

    /// First-year rate of bare steel in the first storage period, ``p05``, ``p50``, ``p95`` [µm/a].
    #[getter]
    fn first_year_rate_um_per_a<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &answer(&self.known().first_year_rate_um_per_a).or_raise()?)
    }

    /// Which criterion came first, share of the histories that reach rework [-].
    #[getter]
    fn first_criterion_shares<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &answer(&self.known().first_criterion_shares).or_raise()?)
    }

    /// Probability of having reached rework by each year of age: ``year`` [a]; ``low``, ``mid``, ``high`` (5 %, 50 %, 95 %
    /// points of what is not known) and ``pooled`` (all histories together) [-].
    #[getter]
    fn band(&self) -> PyResult<Table> {
        Table::of_rows(&self.known().band)
    }

    /// Standard errors of the band, with its columns [-].
    #[getter]
    fn band_standard_error(&self) -> PyResult<Table> {
        Table::of_rows(&self.known().band_standard_error)
    }

    /// Probability of having reached an assessment level by each year of age [-].
    #[getter]
    fn assessment_by_year(&self) -> PyResult<Table> {
        Table::of_rows(&self.known().assessment_by_year)
    }

    /// Mean loss of wall round the circumference by year of age [µm].
    #[getter]
    fn mean_loss_um(&self) -> PyResult<Table> {
        series(&self.known().mean_loss_um)
    }

    /// Deepest loss of wall anywhere by year of age [µm].
    #[getter]
    fn deepest_loss_um(&self) -> PyResult<Table> {
        series(&self.known().deepest_loss_um)
    }

    /// Elastic section modulus left, over that of the new tube, by year of age [-].
    #[getter]
    fn bending_capacity_left(&self) -> PyResult<Table> {
        series(&self.known().bending_capacity_left)
    }

    /// Mean loss of the steel that is bare by year of age [µm].
    #[getter]
    fn loss_of_bared_steel_um(&self) -> PyResult<Table> {
        series(&self.known().loss_of_bared_steel_um)
    }

    /// Shares of the histories by grade Ri of ISO 4628-3 and year of age [-]: ``part`` is ``run`` or ``node`` (the worst),
    /// ``seen`` whether as an inspector sees it or as after cleaning.
    #[pyo3(signature = (part = "run", seen = false))]
    fn grade_shares(&self, part: &str, seen: bool) -> PyResult<Table> {
        let forecast = self.known();
        let rows = match (part, seen) {
            ("run", false) => &forecast.true_grade_shares,
            ("run", true) => &forecast.visible_grade_shares,
            ("node", false) => &forecast.node_grade_shares,
            ("node", true) => &forecast.visible_node_grade_shares,
            _ => return Err(raised(&Error::unknown("part", part, &["run", "node"]))),
        };
        Table::of_rows(rows)
    }

    /// When each level is reached: rework, caution, those of a set of criteria; ages [a], ``None`` beyond the horizon.
    #[getter]
    fn levels(&self) -> PyResult<Table> {
        Table::of_rows(&self.known().levels)
    }

    /// What the steel saw, storage period by storage period, median draw.
    #[getter]
    fn storage_periods(&self) -> PyResult<Table> {
        let periods = self.known().storage_periods.iter().copied();
        Table::of_rows(&periods.map(PeriodJson::new).collect::<Vec<_>>())
    }

    /// Inputs outside a range, and other remarks on the numbers.
    #[getter]
    fn flags(&self) -> Vec<String> {
        flags(&self.known().flags)
    }

    /// What a reader must not do with the numbers.
    #[getter]
    fn cautions(&self) -> Vec<String> {
        cautions(&self.known().cautions)
    }

    /// The same histories read on a day (a date, or ``YYYY-MM-DD``): rework due by then, years left where it is not.
    fn as_of(&self, py: Python<'_>, day: &Bound<'_, PyAny>) -> PyResult<Self> {
        let options = PyDict::new(py);
        options.set_item("as_of", day)?;
        let missing = || raised(&Error::invalid("as_of", "nothing", "a date"));
        self.on_day(Options(&options).date("as_of")?.ok_or_else(missing)?)
    }

    /// Everything as plain values, with the names of the command line's JSON and all digits.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let value = match &self.answer {
            Answer::Unseen(forecast) => answer(&Traced::new(&ForecastJson::new(forecast), &self.provenance)),
            Answer::Updated(updated) => answer(&Traced::new(&UpdateJson::of_case(updated), &self.provenance)),
        };
        to_python(py, &value.or_raise()?)
    }

    /// The command line's JSON, six digits.
    fn to_json(&self) -> PyResult<String> {
        let text = match &self.answer {
            Answer::Unseen(forecast) => json_with(&ForecastJson::new(forecast), &self.provenance),
            Answer::Updated(updated) => json_with(&UpdateJson::of_case(updated), &self.provenance),
        };
        text.or_raise()
    }

    /// A picture as SVG: ``band``, ``losses``, ``grades``, ``dots``, or ``updated`` where something was seen on the car.
    #[pyo3(signature = (picture = "band"))]
    fn svg(&self, picture: &str) -> PyResult<String> {
        let forecast = self.known();
        let drawn = match (picture, &self.answer) {
            ("band", _) => band_plot(forecast),
            ("losses", _) => loss_fan(forecast),
            ("grades", _) => grade_by_year(forecast),
            ("dots", _) => dot_plot(forecast),
            ("updated", Answer::Updated(updated)) => update_plot(updated),
            (other, Answer::Unseen(_)) => Err(Error::unknown("picture", other, &PICTURES[..4])),
            (other, Answer::Updated(_)) => Err(Error::unknown("picture", other, &PICTURES)),
        };
        drawn.or_raise()
    }

    fn _repr_svg_(&self) -> PyResult<String> {
        self.svg(if matches!(self.answer, Answer::Updated(_)) { "updated" } else { "band" })
    }

    fn __str__(&self) -> String {
        let mut words = text_answer(self.known());
        if let Answer::Updated(updated) = &self.answer {
            words += &evidence(updated, &[]);
        }
        words
    }

    fn __repr__(&self) -> String {
        let forecast = self.known();
        let median = forecast.time_to_rework_a.p50;
        let median =
            median.map_or_else(|| format!("beyond {} a", forecast.horizon_a), |a| format!("{a:.1} a"));
        format!("<ferrowane.Forecast of {:?}: median age at rework {median}. {NOTICE}>", forecast.title)
    }
}
