//! Does the model agree with what was printed, measured or computed elsewhere, and how surely are its own numbers computed?
//!
//! Every row of the check tables of `shared/` is a [`Check`]: what a source says, what the model finds, and how far apart
//! they may be. The tests hold the same checks, so a page made of them cannot say anything else than the tests do.

mod climate;
pub mod garage;
mod growth;
mod humid_air;
pub mod inspections;
pub mod known;
mod published_forms;
mod reference_libraries;
mod section;
mod section_losses;
pub mod seeds;
pub mod sites;
pub mod tables;

use crate::error::{Error, Result};
use crate::explain::response_curves::{RateCurves, ReworkCurve};
use crate::explain::sensitivity::Sensitivity;
use crate::inspection::coverage::CoverageStatistics;
use crate::model::Model;
use crate::reference;
use serde::Serialize;
use serde::de::DeserializeOwned;

/// Where the expected value of a check comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CheckKind {
    /// Printed in a standard or a paper.
    Published,
    /// Worked out from a published equation outside this program.
    WorkedOut,
    /// Printed by another library.
    ReferenceLibrary,
    /// Measured on steel.
    Measured,
}

/// What a source says, and what the model finds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Check {
    /// File of `shared/` that holds the row.
    pub table: &'static str,
    /// The question.
    pub name: String,
    /// Where the expected value comes from.
    pub kind: CheckKind,
    /// Source of the expected value.
    pub source: String,
    /// Value of the source, in the unit of `name`.
    pub expected: f64,
    /// Value of the model, in the same unit.
    pub found: f64,
    /// How far apart they may be, in the same unit.
    pub tolerance: f64,
    /// Whether they are no farther apart.
    pub ok: bool,
}

impl Check {
    /// Distance as a share of what is allowed [-]; above 1 the check fails.
    #[must_use]
    pub fn share_of_tolerance(&self) -> f64 {
        let distance = (self.found - self.expected).abs();
        if distance <= 0.0 { 0.0 } else { distance / self.tolerance }
    }
}

/// All that a reader needs to judge the model.
#[derive(Debug, Clone)]
pub struct Validation {
    /// Rows of the check tables.
    pub checks: Vec<Check>,
    /// Sites where steel was hung out.
    pub sites: Vec<sites::Site>,
    /// Functions of the first-year rate over these sites.
    pub site_scatter: Vec<sites::SiteScatter>,
    /// Assessment levels beside what inspections found.
    pub inspected: Vec<inspections::InspectedShare>,
    /// Quantiles of one car over several seeds.
    pub seeds: Vec<seeds::SeedScatter>,
    /// A small simulated workshop.
    pub coverage: CoverageStatistics,
    /// Larger ones of lately.
    pub earlier_runs: Vec<known::CalibrationRun>,
    /// Variance of one car's age at rework, input by input.
    pub by_input: Sensitivity,
    /// Rates of the functions over each condition.
    pub rates: Vec<RateCurves>,
    /// Ages at rework of that car over each input.
    pub rework: Vec<ReworkCurve>,
    /// What is known to be wrong or left out.
    pub limits: Vec<known::KnownLimit>,
    /// Every coefficient as it stands in its table.
    pub coefficients: Vec<tables::PublishedTable>,
}

/// A table whose rows are checked, and how its source is known.
#[derive(Debug, Clone, Copy)]
struct Origin<'a> {
    table: &'static str,
    kind: CheckKind,
    source: &'a str,
}

impl Origin<'_> {
    /// A check of this origin; a value that is no number fails.
    fn check(&self, name: String, [expected, found]: [f64; 2], tolerance: f64) -> Check {
        let ok = (found - expected).abs() <= tolerance;
        Check {
            table: self.table,
            name,
            kind: self.kind,
            source: self.source.to_owned(),
            expected,
            found,
            tolerance,
            ok,
        }
    }
}

/// All checks of a model, table by table.
///
/// # Errors
/// When a table cannot be read or asks for what the model does not have.
///
/// # Examples
/// ```
/// use ferrowane::{model::Model, validation::checks};
/// let checks = checks(&*Model::published()?)?;
/// assert!(checks.iter().all(|check| check.ok));
/// # Ok::<(), ferrowane::error::Error>(())
/// ```
pub fn checks(model: &Model) -> Result<Vec<Check>> {
    let tables = [
        published_forms::checks(model)?,
        growth::checks(model)?,
        section::checks()?,
        section_losses::checks()?,
        humid_air::checks()?,
        garage::checks()?,
        climate::checks()?,
        reference_libraries::checks()?,
        sites::checks(model)?,
    ];
    Ok(tables.into_iter().flatten().collect())
}

/// Rows of a table of `shared/`.
fn rows<T: DeserializeOwned>(table: &str) -> Result<Vec<T>> {
    reference::rows(table, reference::table(table)?)
}

/// What the opening lines of a table say of where its rows come from.
fn source_of(table: &str) -> Result<String> {
    Ok(reference::notes(reference::table(table)?).collect::<Vec<_>>().join(" "))
}

/// A number written in a cell.
fn number(table: &str, text: &str) -> Result<f64> {
    text.trim().parse().map_err(|_| Error::invalid(table, text, "a number"))
}
