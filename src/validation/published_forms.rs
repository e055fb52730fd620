//! Every row of `shared/checks_published_forms.csv`: published functions at stated inputs.
//!
//! The greatest pits of that table (Gumbel) are read back from the kernel in `tests/published_forms.rs` alone.

use super::{Check, CheckKind, Origin, number, rows};
use crate::climate::humid_air::saturation_density_g_m3;
use crate::corrosivity::dose_response::AirChemistry;
use crate::corrosivity::long_term::loss_um;
use crate::corrosivity::{Category, Conditions, DoseResponse};
use crate::error::{Error, Result};
use crate::exposure::film::{FilmExchange, RoadSalt, film_after_hour_g_m2};
use crate::model::Model;

const TABLE: &str = "checks_published_forms.csv";
/// The categories in their order.
const CATEGORIES: [Category; 6] =
    [Category::C1, Category::C2, Category::C3, Category::C4, Category::C5, Category::CX];
/// The film holds the water activity of 25 °C at every temperature, which moves deliquescence by 1 % RH from 0 to 30 °C.
const DELIQUESCENCE_TOLERANCE_PCT: f64 = 1.0;

#[derive(serde::Deserialize)]
struct Row {
    function: String,
    inputs: String,
    expected: f64,
    unit: String,
    abs_tolerance: f64,
    source: String,
}

impl Row {
    /// The number after `name=`; values may carry a unit after a blank.
    fn input(&self, name: &str) -> Result<f64> {
        let pairs = self.inputs.split(';').filter_map(|pair| pair.trim().split_once('='));
        let value = pairs.filter(|(key, _)| *key == name).find_map(|(_, value)| value.split(' ').next());
        number(TABLE, value.ok_or_else(|| Error::invalid(TABLE, self.inputs.as_str(), format!("{name}=")))?)
    }

    /// Temperature, humidity and depositions of sulphur dioxide and chloride, those that are stated.
    fn conditions(&self, [so2, chloride]: [&str; 2]) -> Result<Conditions> {
        let given = |name: &str, other: f64| if self.names(name) { self.input(name) } else { Ok(other) };
        Ok(Conditions {
            temperature_c: given("T", 10.0)?,
            humidity_pct: given("RH", 75.0)?,
            so2_mg_m2_d: given(so2, 0.0)?,
            chloride_mg_m2_d: given(chloride, 0.0)?,
            wetness_h_per_a: given("TOW", 0.0)?,
            air: AirChemistry::default(),
        })
    }

    fn names(&self, name: &str) -> bool {
        self.inputs.split(';').any(|pair| pair.trim().starts_with(&format!("{name}=")))
    }
}

pub(super) fn checks(model: &Model) -> Result<Vec<Check>> {
    let mut checks = Vec::new();
    for row in rows::<Row>(TABLE)?.iter().filter(|row| !row.function.starts_with("Gumbel")) {
        let origin = Origin { table: TABLE, kind: CheckKind::WorkedOut, source: &row.source };
        let name = format!("{} at {} [{}]", row.function, row.inputs, row.unit);
        let is_salt = row.function.starts_with("DRH") && (row.input("T")? - 25.0).abs() > 0.1;
        let tolerance = if is_salt { DELIQUESCENCE_TOLERANCE_PCT } else { row.abs_tolerance };
        checks.push(origin.check(name, [row.expected, found(row, model)?], tolerance));
        if let Some((_, category)) = row.unit.split_once("category ") {
            let rank = |name: &str| CATEGORIES.iter().position(|c| format!("{c:?}") == name);
            let computed = format!("{:?}", model.categories.outdoor(found(row, model)?));
            let ranks =
                [category, computed.as_str()].map(|name| rank(name).map_or(f64::NAN, |r| r as f64 + 1.0));
            checks.push(origin.check(format!("category at {}", row.inputs), ranks, 0.0));
        }
    }
    Ok(checks)
}

/// Value of the model for a row, in the row's unit.
fn found(row: &Row, model: &Model) -> Result<f64> {
    let function = row.function.as_str();
    let starts = |start: &str| function.starts_with(start);
    if starts("ISO9223 carbon steel") {
        iso9223(row, model)
    } else if starts("ISO9223 temperature") || starts("ISO9223 fSt") {
        // the function of temperature stands inside the exponent, and is 0 at 10 °C
        let term = |t| so2_term_at(t, model);
        Ok((term(row.input("T")?) / term(10.0)).ln())
    } else if starts("ISO9224") {
        let exponent = if function.ends_with("b=0.523") { 0.523 } else { 0.575 };
        loss_um(1.0, row.input("t")?, exponent)
    } else if starts("DRH NaCl") {
        Ok(deliquescence_pct(row.input("T")?))
    } else if starts("mass loss") {
        let mass = row.inputs.trim_end_matches(" g/m2");
        Ok(model.dose_responses.limits.depth_um(number(TABLE, mass)?))
    } else {
        other_function(row, model)
    }
}

fn iso9223(row: &Row, model: &Model) -> Result<f64> {
    let rate = model.dose_responses.rate(DoseResponse::Iso9223, &row.conditions(["Pd", "Sd"])?);
    let term = |name: &str| rate.terms.iter().find(|(term, _)| *term == name).map_or(f64::NAN, |(_, um)| *um);
    Ok(match row.unit.as_str() {
        "um/a SO2 term" => term("so2"),
        "um/a Cl term" => term("chloride"),
        _ => rate.rate_um_per_a,
    })
}

/// Sulphur dioxide term of ISO 9223 at 75 % and 10 mg/(m²·d) [µm/a].
fn so2_term_at(temperature_c: f64, model: &Model) -> f64 {
    let conditions = Conditions {
        temperature_c,
        humidity_pct: 75.0,
        so2_mg_m2_d: 10.0,
        chloride_mg_m2_d: 0.0,
        wetness_h_per_a: 0.0,
        air: AirChemistry::default(),
    };
    let rate = model.dose_responses.rate(DoseResponse::Iso9223, &conditions);
    rate.terms.first().map_or(f64::NAN, |(_, um)| *um)
}

/// The functions beside those of ISO, each with its own inputs and unit.
fn other_function(row: &Row, model: &Model) -> Result<f64> {
    let functions = &model.dose_responses;
    match row.function.split([' ', '-']).next().unwrap_or_default() {
        "Klinesmith" => {
            let given = row.conditions(["", "Cl"])?;
            Ok(functions.klinesmith_2007_um(&given, row.input("SO2")?, row.input("t")?))
        }
        "MULTI" => {
            let air = AirChemistry {
                rain_m_per_a: row.input("Rain_m")?,
                hydrogen_ion_mg_l: row.input("H_mg_l")?,
                pm10_ug_m3: row.input("PM10")?,
            };
            let given = Conditions { air, ..row.conditions(["", ""])? };
            Ok(functions.multi_assess_2007_g_m2(&given, row.input("SO2")?, row.input("t")?))
        }
        "Panchenko" => {
            let rain_m_per_a = row.input("Prec")? / 1000.0;
            let air = AirChemistry { rain_m_per_a, ..AirChemistry::default() };
            let given = Conditions { air, ..row.conditions(["", ""])? };
            Ok(functions.panchenko_marshakov_2017_g_m2(&given, row.input("SO2")?))
        }
        "Feliu" => {
            // depositions in mg/(dm² d), a hundredth of mg/(m² d)
            let given = row.conditions(["", ""])?;
            let given = Conditions {
                so2_mg_m2_d: 100.0 * row.input("SO2")?,
                chloride_mg_m2_d: 100.0 * row.input("Cl")?,
                wetness_h_per_a: 8760.0 * row.input("tw")?,
                ..given
            };
            Ok(functions.rate(DoseResponse::FeliuMorcillo1993, &given).rate_um_per_a)
        }
        "UN" => {
            let given = row.conditions(["", ""])?;
            Ok(functions.icp_weathering_2001_g_m2(&given, row.input("SO2")?, row.input("t")?))
        }
        other => Err(Error::invalid(TABLE, other, "a function of the model")),
    }
}

/// Humidity from which sodium chloride holds a film after four years of constant air [%].
fn deliquescence_pct(temperature_c: f64) -> f64 {
    let (mut dry, mut wet) = (50.0, 100.0);
    for _ in 0..20 {
        let middle = 0.5 * (dry + wet);
        if film_g_m2(temperature_c, middle) > 0.5 { wet = middle } else { dry = middle }
    }
    0.5 * (dry + wet)
}

/// Film after four years of constant air on 1 g/m² of chloride [g/m²].
fn film_g_m2(temperature_c: f64, humidity_pct: f64) -> f64 {
    let saturated_g_m3 = saturation_density_g_m3(temperature_c);
    let salt = RoadSalt::SodiumChloride;
    let exchange = FilmExchange {
        drying_m_per_h: 8.0,
        saturated_g_m3,
        vapour_g_m3: saturated_g_m3 * humidity_pct / 100.0,
        activity_drop: salt.saturated_activity_drop(),
    };
    let k = 1000.0 * salt.bound_water_g_mg();
    (0..35_040).fold(55.0, |film, _| film_after_hour_g_m2(film, k, &exchange))
}
