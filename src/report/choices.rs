//! What can be chosen in a case, in words and units? Ranges, names and defaults are read off the schema of a case; the
//! words, from the tables they stand in.

use crate::case::keys::{CaseKey, NamedChoice, case_keys, named_choices};
use crate::case::{self, schema, template, vary};
use crate::climate::samples::{SampleInfo, samples};
use crate::coating::RustGrade;
use crate::error::Result;
use crate::exposure::ArrangementKind;
use crate::forecast::outcome::CRITERIA;
use crate::model::Model;
use crate::prior::PriorRow;
use crate::report::choice_words::arrangement_name;
use crate::report::grade_patch::grade_patch;
use crate::report::notice::NOTICE;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

/// What can be chosen.
#[derive(Debug, Serialize, JsonSchema)]
pub struct CaseChoices {
    /// Climates that come with the library; the depositions are assumptions for the kind of place.
    pub climates: Vec<SampleInfo>,
    /// Where a car can stand, from open air to driest, and `unknown`.
    pub arrangements: Vec<NamedChoice>,
    /// Presets of the days a year on which roads are salted.
    pub salted_days: Vec<SaltedDaysPreset>,
    /// Coating systems outside.
    pub coating_systems: Vec<CoatingChoice>,
    /// Protection inside the tube.
    pub inside: Vec<CoatingChoice>,
    /// How the underside is washed; `every_days` takes a number of days [d]
    pub wash: Vec<NamedChoice>,
    /// What can be done to the member in service.
    pub treatments: Vec<NamedChoice>,
    /// Cleaning before an over-rust coat, ISO 8501-1.
    pub preparations: Vec<NamedChoice>,
    /// Shapes of the tube.
    pub tubes: Vec<NamedChoice>,
    /// How square and rectangular tubes are made.
    pub corners: Vec<NamedChoice>,
    /// Parts that are graded on their own.
    pub parts: Vec<NamedChoice>,
    /// Degrees of rusting, ISO 4628-3.
    pub grades: Vec<GradeChoice>,
    /// Criteria of rework and assessment.
    pub criteria: Vec<NamedChoice>,
    /// Sets of criteria by country or rule, whose levels can be stated.
    pub criteria_sets: Vec<NamedChoice>,
    /// What `compare` can vary, with the names it takes after `=`.
    pub vary: Vec<VaryChoice>,
    /// Every key of a case: its meaning, unit, range, names and default.
    pub values: Vec<CaseKey>,
    /// A case to start from.
    pub case: Value,
    /// Planning-estimate notice.
    pub notice: &'static str,
}

/// A preset of the days a year on which roads are salted.
#[derive(Debug, Serialize, JsonSchema)]
pub struct SaltedDaysPreset {
    /// As written in a case.
    pub id: String,
    /// In words.
    pub title: String,
    /// Median [d/a]
    pub median: f64,
    /// 5 % point [d/a]
    pub p05: Option<f64>,
    /// 95 % point [d/a]
    pub p95: Option<f64>,
    /// Where the numbers come from.
    pub source: String,
}

/// A coating system.
#[derive(Debug, Serialize, JsonSchema)]
pub struct CoatingChoice {
    /// As written in a case.
    pub id: String,
    /// In words.
    pub title: String,
    /// Nominal dry film thickness [µm]
    pub dft_um: Option<f64>,
    /// Median life to 1 % rusted area at the middle of C3; absent for bare steel [a]
    pub life_a: Option<f64>,
}

/// A degree of rusting.
#[derive(Debug, Serialize, JsonSchema)]
pub struct GradeChoice {
    /// As written in a case.
    pub id: String,
    /// Nominal rusted area [%]
    pub area_pct: f64,
    /// A square with so much rust, SVG.
    pub svg: String,
}

/// What can be varied.
#[derive(Debug, Serialize, JsonSchema)]
pub struct VaryChoice {
    /// As `compare` takes it.
    pub id: String,
    /// Names of the choices.
    pub choices: Vec<String>,
}

/// Everything that can be chosen in a case.
///
/// # Errors
/// When an embedded table cannot be read.
pub fn case_choices(model: &Model) -> Result<CaseChoices> {
    let schema = schema();
    let at = |path: &str| schema.pointer(&format!("/properties/{path}")).map_or_else(Vec::new, named_choices);
    Ok(CaseChoices {
        climates: samples()?,
        arrangements: arrangements(),
        salted_days: salted_days(model),
        coating_systems: coats("outside", model)?,
        inside: coats("inside", model)?,
        wash: at("use/properties/wash"),
        treatments: at("treatment/items/properties/kind"),
        preparations: at("treatment/items/properties/preparation"),
        tubes: at("member/properties/tube"),
        corners: at("member/properties/corners"),
        parts: at("coating/properties/condition/items/properties/part"),
        grades: grades(model),
        criteria: criteria(schema),
        criteria_sets: model.defaults.sets.iter().map(|set| NamedChoice::new(&set.id, &set.title)).collect(),
        vary: varied(model)?,
        values: case_keys(schema),
        case: case::to_json(template(), "template")?,
        notice: NOTICE,
    })
}

fn arrangements() -> Vec<NamedChoice> {
    let known = ArrangementKind::ALL.iter().map(|kind| NamedChoice::new(kind.id(), arrangement_name(*kind)));
    known.chain([NamedChoice::new("unknown", "not known")]).collect()
}

fn salted_days(model: &Model) -> Vec<SaltedDaysPreset> {
    let preset = |row: &PriorRow| SaltedDaysPreset {
        title: capitalised(&row.id),
        id: row.id.clone(),
        median: row.median,
        p05: row.p05,
        p95: row.p95,
        source: row.source.clone(),
    };
    model.defaults.salted_days.iter().map(preset).collect()
}

/// `lowland_england` as `Lowland England`.
fn capitalised(id: &str) -> String {
    let word = |word: &str| word[..1].to_uppercase() + &word[1..];
    id.split('_').filter(|part| part.is_ascii() && !part.is_empty()).map(word).collect::<Vec<_>>().join(" ")
}

fn coats(face: &str, model: &Model) -> Result<Vec<CoatingChoice>> {
    let coat = |(id, title): (&str, &str)| {
        let system = match face {
            "outside" => Some(model.systems.outside(id)?),
            _ => model.systems.inside(id)?.system().cloned(),
        };
        let life_a = system.as_ref().map(|system| system.life_a.median());
        Ok(CoatingChoice {
            id: id.to_owned(),
            title: title.to_owned(),
            dft_um: system.and_then(|system| system.dft_um),
            life_a,
        })
    };
    model.systems.names(face).map(coat).collect()
}

fn grades(model: &Model) -> Vec<GradeChoice> {
    let scale = &model.grades;
    let grade = |grade: &RustGrade| {
        let area_pct = 100.0 * scale.nominal_share(*grade);
        GradeChoice { id: grade.to_string(), area_pct, svg: grade_patch(grade.number(), area_pct) }
    };
    RustGrade::ALL.iter().map(grade).collect()
}

fn criteria(schema: &Value) -> Vec<NamedChoice> {
    let meaning = |name: &&str| {
        let at = format!("/properties/member/properties/rework/properties/{name}/description");
        NamedChoice::new(name, schema.pointer(&at).and_then(Value::as_str).unwrap_or_default())
    };
    CRITERIA.iter().map(meaning).collect()
}

fn varied(model: &Model) -> Result<Vec<VaryChoice>> {
    let choice = |(id, what): (&str, vary::Vary)| {
        Ok(VaryChoice { id: id.to_owned(), choices: vary::offered(what, model)? })
    };
    vary::Vary::IDS.into_iter().map(choice).collect()
}
