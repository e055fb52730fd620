//! `GET /api/choices`: what can be chosen, in words and units. Ranges, names and usual values are read off the schema
//! of a case; names for people, from the tables they stand in.

use super::forecast::answer;
use super::problem::Problem;
use super::question::{MAX_HISTORIES, MIN_HISTORIES};
use super::ranges::{Entry, Named, entries, named};
use crate::case::{self, schema, template};
use crate::climate::samples::{SampleInfo, samples};
use crate::coating::{Inside, RustGrade, System, system};
use crate::error::Result;
use crate::exposure::ArrangementKind;
use crate::forecast::outcome::CRITERIA;
use crate::forecast::run::HISTORIES_PER_REPLICATE;
use crate::forecast::scenario::Settings;
use crate::report::notice::NOTICE;
use axum::response::Response;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

/// What can be chosen.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Choices {
    /// Climates that come with the library; the depositions are assumptions for the kind of place.
    climates: Vec<SampleInfo>,
    /// Where a car can stand, from open air to driest, and `unknown`.
    arrangements: Vec<Named>,
    /// Presets of the days a year on which roads are salted.
    salted_days: Vec<Region>,
    /// Coating systems outside.
    coating_systems: Vec<Coat>,
    /// Protection inside the tube.
    inside: Vec<Coat>,
    /// How the underside is washed; `every_days` takes a number of days [d]
    wash: Vec<Named>,
    /// What can be done to the member in service.
    treatments: Vec<Named>,
    /// Cleaning before an over-rust coat, ISO 8501-1.
    preparations: Vec<Named>,
    /// Shapes of the tube.
    tubes: Vec<Named>,
    /// How square and rectangular tubes are made.
    corners: Vec<Named>,
    /// Parts that are graded on their own.
    parts: Vec<Named>,
    /// Degrees of rusting, ISO 4628-3.
    grades: Vec<Grade>,
    /// Criteria of rework and caution.
    criteria: Vec<Named>,
    /// What `compare` can vary, with the names it takes after `=`.
    vary: Vec<Varied>,
    /// Every value of a case: its key, meaning, unit, range, names and usual value.
    values: Vec<Entry>,
    /// How histories are computed.
    run: RunChoices,
    /// A case to start from.
    case: Value,
    /// What every page says.
    notice: &'static str,
}

/// A preset of the days a year on which roads are salted.
#[derive(Debug, Serialize, JsonSchema)]
struct Region {
    id: String,
    title: String,
    /// Median [d/a]
    median: f64,
    /// 5 % point [d/a]
    p05: Option<f64>,
    /// 95 % point [d/a]
    p95: Option<f64>,
    /// Where the numbers come from.
    source: String,
}

/// A coating system.
#[derive(Debug, Serialize, JsonSchema)]
struct Coat {
    id: String,
    title: String,
    /// Usual film thickness [µm]
    film_um: Option<f64>,
    /// Median life to 1 % rusted area at the middle of C3; absent for bare steel [a]
    life_a: Option<f64>,
}

/// A degree of rusting.
#[derive(Debug, Serialize, JsonSchema)]
struct Grade {
    id: String,
    /// Rusted area it stands for [%]
    area_pct: f64,
}

/// What can be varied.
#[derive(Debug, Serialize, JsonSchema)]
struct Varied {
    id: String,
    /// Names of the choices.
    choices: Vec<String>,
}

/// How histories are computed.
#[derive(Debug, Serialize, JsonSchema)]
struct RunChoices {
    /// Usual seed [-]
    seed: u64,
    /// Usual histories [-]
    histories: u64,
    /// Fewest histories, for a quick first answer [-]
    histories_least: u64,
    /// Most histories of one request [-]
    histories_most: u64,
    /// Histories are rounded up to a multiple of this [-]
    histories_step: u64,
    /// Usual horizon [a]
    horizon_a: u32,
}

/// Handler.
pub(super) async fn choices() -> std::result::Result<Response, Problem> {
    answer(&all()?)
}

fn all() -> Result<Choices> {
    let schema = schema();
    let at = |path: &str| schema.pointer(&format!("/properties/{path}")).map_or_else(Vec::new, named);
    let usual = Settings::default();
    Ok(Choices {
        climates: samples()?,
        arrangements: arrangements(),
        salted_days: salted_days()?,
        coating_systems: coats("outside")?,
        inside: coats("inside")?,
        wash: at("use/properties/wash"),
        treatments: at("treatment/items/properties/kind"),
        preparations: at("treatment/items/properties/preparation"),
        tubes: at("member/properties/tube"),
        corners: at("member/properties/corners"),
        parts: at("coating/properties/condition/items/properties/part"),
        grades: grades()?,
        criteria: criteria(&schema),
        vary: vary()?,
        values: entries(&schema),
        run: RunChoices {
            seed: usual.seed,
            histories: usual.histories,
            histories_least: MIN_HISTORIES,
            histories_most: MAX_HISTORIES,
            histories_step: HISTORIES_PER_REPLICATE,
            horizon_a: usual.horizon_a,
        },
        case: case::to_json(template(), "template")?,
        notice: NOTICE,
    })
}

fn arrangements() -> Vec<Named> {
    let known = ArrangementKind::ALL.iter().map(|kind| Named::new(kind.id(), kind.title()));
    known.chain([Named::new("unknown", "not known")]).collect()
}

fn salted_days() -> Result<Vec<Region>> {
    let region = |row: crate::prior::PriorRow| Region {
        title: capitalised(&row.id),
        id: row.id,
        median: row.median,
        p05: row.p05,
        p95: row.p95,
        source: row.source,
    };
    Ok(case::regions()?.into_iter().map(region).collect())
}

/// `lowland_england` as `Lowland England`.
fn capitalised(id: &str) -> String {
    let word = |word: &str| word[..1].to_uppercase() + &word[1..];
    id.split('_').filter(|part| part.is_ascii() && !part.is_empty()).map(word).collect::<Vec<_>>().join(" ")
}

fn coats(face: &str) -> Result<Vec<Coat>> {
    let coat = |(id, title): (String, String)| {
        let system = match face {
            "outside" => Some(System::outside(&id)?),
            _ => match Inside::new(&id)? {
                Inside::Bare => None,
                Inside::Coated(system) => Some(system),
            },
        };
        let life_a = system.as_ref().map(|system| system.life_a.median());
        Ok(Coat { id, title, film_um: system.and_then(|system| system.dft_um), life_a })
    };
    system::list(face)?.into_iter().map(coat).collect()
}

fn grades() -> Result<Vec<Grade>> {
    let scale = crate::coating::grade::GradeScale::published()?;
    let grade =
        |grade: &RustGrade| Grade { id: grade.to_string(), area_pct: 100.0 * scale.nominal_share(*grade) };
    Ok(RustGrade::ALL.iter().map(grade).collect())
}

fn criteria(schema: &Value) -> Vec<Named> {
    let meaning = |name: &&str| {
        let at = format!("/properties/member/properties/rework/properties/{name}/description");
        Named::new(name, schema.pointer(&at).and_then(Value::as_str).unwrap_or_default())
    };
    CRITERIA.iter().map(meaning).collect()
}

fn vary() -> Result<Vec<Varied>> {
    let varied = |(id, what): (&str, case::vary::Vary)| {
        Ok(Varied { id: id.to_owned(), choices: case::vary::offered(what)? })
    };
    case::vary::Vary::IDS.into_iter().map(varied).collect()
}
