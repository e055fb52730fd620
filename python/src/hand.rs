//! Hand calculations: a first-year rate, loss of bare steel over years, a worn tube.

use crate::failure::{OrRaise, raised};
use crate::options::Options;
use crate::values::to_python;
use ferrowane::corrosivity::given::GivenConditions;
use ferrowane::error::{Error, Result};
use ferrowane::model::Model;
use ferrowane::report::growth_json::growth_value;
use ferrowane::report::rate_json::{ALL, FirstYearRate, form_of};
use ferrowane::report::section_json::{SectionLeft, losses};
use ferrowane::section::{Corners, FaceLoss, Tube};
use pyo3::prelude::*;
use pyo3::types::PyDict;
use serde_json::Value;

/// First-year rate by a dose-response function, or by all that have their inputs.
#[pyfunction]
pub(crate) fn rates<'py>(
    py: Python<'py>,
    form: &str,
    options: &Bound<'py, PyDict>,
) -> PyResult<Bound<'py, PyAny>> {
    let options = Options(options);
    let needed = |key: &'static str| {
        let missing = || raised(&Error::invalid(key, "nothing", "a number"));
        options.number(key)?.ok_or_else(missing)
    };
    let given = GivenConditions {
        temperature_c: needed("temperature_c")?,
        humidity_pct: needed("humidity_pct")?,
        so2_mg_m2_d: needed("so2_mg_m2_d")?,
        chloride_mg_m2_d: needed("chloride_mg_m2_d")?,
        wetness_h_per_a: options.number("wetness_h_per_a")?,
        rain_mm_per_a: options.number("rain_mm_per_a")?,
        rain_ph: options.number("rain_ph")?,
        pm10_ug_m3: options.number("pm10_ug_m3")?,
    };
    to_python(py, &by_form(form, &given).or_raise()?)
}

fn by_form(form: &str, given: &GivenConditions) -> Result<Value> {
    let model = Model::published()?;
    let rates = match form {
        ALL => FirstYearRate::of_all(given, &model)?,
        one => vec![FirstYearRate::new(form_of(one)?, given, &model)?],
    };
    Ok(rates.iter().map(FirstYearRate::to_value).collect())
}

/// Loss of bare steel after some years at a constant first-year rate.
#[pyfunction]
pub(crate) fn growth(
    py: Python<'_>,
    rate_um_per_a: f64,
    years_a: f64,
    exponent: f64,
) -> PyResult<Bound<'_, PyAny>> {
    to_python(py, &growth_value(rate_um_per_a, years_a, exponent).or_raise()?)
}

/// Properties of a tube, new or with losses of wall by sector, outside and inside [mm].
#[pyfunction]
pub(crate) fn section(
    py: Python<'_>,
    named: (String, String),
    loss_mm: Vec<(f64, f64)>,
    yield_n_mm2: f64,
) -> PyResult<Bound<'_, PyAny>> {
    let pairs: Vec<FaceLoss> =
        loss_mm.into_iter().map(|(outside_mm, inside_mm)| FaceLoss { outside_mm, inside_mm }).collect();
    let left = losses(&pairs).and_then(|losses| SectionLeft::new(tube(&named)?, &losses, yield_n_mm2));
    to_python(py, &left.or_raise()?.to_value())
}

/// A tube by its shape and size.
fn tube((shape, size): &(String, String)) -> Result<Tube> {
    match shape.as_str() {
        "round" => Tube::parse_round(size),
        "cold_formed" => Tube::parse_rectangular(size, Corners::ColdFormed),
        "hot_finished" => Tube::parse_rectangular(size, Corners::HotFinished),
        other => Err(Error::unknown("shape", other, &["round", "cold_formed", "hot_finished"])),
    }
}
