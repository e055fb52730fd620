//! Real climates that travel with the library, from desert to sub-polar coast.
//!
//! Files, sources, licences and trimming: `climate-samples/README.md`. Temperature and humidity are as measured or as in the
//! typical year; the depositions beside them are assumptions for the kind of place, no measurement.

use super::Climate;
use super::Deposition;
use super::read;
use crate::error::Error;
use crate::error::Result;
use crate::error::nearest;
use crate::reference;

const INDEX: &str = include_str!("../../climate-samples/index.csv");

macro_rules! embedded {
    ($($file:literal),* $(,)?) => {
        &[$(($file, include_bytes!(concat!("../../climate-samples/", $file)))),*]
    };
}

const FILES: &[(&str, &[u8])] = embedded![
    "casper.csv.gz",
    "fort-lauderdale.csv.gz",
    "greensboro.csv.gz",
    "hayward.csv.gz",
    "janesville.csv.gz",
    "miami.csv.gz",
    "new-york-coast-2013.csv.gz",
    "new-york-coast.csv.gz",
    "newark-2013.csv.gz",
    "panama-city.csv.gz",
    "phoenix.csv.gz",
    "po-plain.csv.gz",
    "port-angeles.csv.gz",
    "presque-isle.csv.gz",
    "reading.csv.gz",
    "renton.csv.gz",
    "sand-point.csv.gz",
];

/// One row of the index of samples.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
pub struct SampleInfo {
    /// Name by which the sample is asked for.
    pub id: String,
    /// Place and period.
    pub title: String,
    /// Kind of climate.
    pub kind: String,
    /// Country, two letters.
    pub country: String,
    /// File in `climate-samples/`.
    pub file: String,
    /// Years in the file [a]
    pub years: usize,
    /// Mean air temperature [°C]
    pub temperature_c: f64,
    /// Mean relative humidity [%]
    pub humidity_pct: f64,
    /// Assumed SO2 deposition [mg/(m²·d)]
    pub so2_mg_m2_d: f64,
    /// Assumed chloride deposition [mg/(m²·d)]
    pub chloride_mg_m2_d: f64,
    /// What the depositions rest on.
    pub deposition_status: String,
    /// Where the record comes from.
    pub source: String,
    /// Under which terms.
    pub licence: String,
}

impl SampleInfo {
    /// The assumed depositions, checked.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] where the index is wrong.
    pub fn deposition(&self) -> Result<Deposition> {
        Deposition::new(self.so2_mg_m2_d, self.chloride_mg_m2_d)
    }
}

/// All samples.
///
/// # Errors
/// [`Error::Input`] where the embedded index is damaged.
pub fn samples() -> Result<Vec<SampleInfo>> {
    reference::rows("../climate-samples/index.csv", INDEX)
}

/// The climate of one sample.
///
/// # Errors
/// [`Error::Invalid`] for an unknown id, with the nearest known one; [`Error::Input`] where an embedded file is damaged.
///
/// ```
/// # use ferrowane::climate::samples::sample;
/// assert_eq!(sample("po-plain").unwrap().series.years(), 1);
/// ```
pub fn sample(id: &str) -> Result<Climate> {
    let known = samples()?;
    let info = known.iter().find(|info| info.id == id).ok_or_else(|| unknown(id, &known))?;
    let (_, bytes) = FILES.iter().find(|(file, _)| *file == info.file).ok_or_else(|| unknown(id, &known))?;
    let read = read::read_bytes(&format!("climate-samples/{}", info.file), bytes)?;
    Ok(Climate {
        name: info.id.clone(),
        title: info.title.clone(),
        kind: info.kind.clone(),
        provenance: format!("{}; {}", info.source, info.licence),
        ..read
    })
}

fn unknown(id: &str, known: &[SampleInfo]) -> Error {
    let ids: Vec<&str> = known.iter().map(|info| info.id.as_str()).collect();
    let hint =
        nearest(id, ids.iter().copied()).map_or_else(String::new, |name| format!("; did you mean `{name}`?"));
    Error::invalid("climate sample", format!("`{id}`"), format!("one of {}{hint}", ids.join(", ")))
}
