//! Real climates embedded in the library, from desert to sub-polar coast.
//!
//! Files, sources, licences and trimming: `climate-samples/README.md`. Temperature and humidity are as measured or as in the
//! typical year; the depositions beside them are assumptions for the kind of place, no measurement.

use super::quick::AnnualMeans;
use super::read;
use super::record::ClimateRecord;
use super::record::Deposition;
use super::wet_days;
use super::wet_days::WetDays;
use crate::error::Error;
use crate::error::Result;
use crate::error::nearest;
use crate::reference;
use std::sync::{Mutex, MutexGuard, PoisonError};

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

/// Weights of the distance between climates, our assumption: the exponents of the chloride term of ISO 9223:2012, so that one unit of
/// distance is the same step in corrosion rate along both axes [1/K], [1/%].
const PER_KELVIN: f64 = 0.040;
const PER_PERCENT: f64 = 0.033;

/// Samples that were read before: a table of cases names the same few again and again.
static READ: Mutex<Vec<(SampleInfo, ClimateRecord)>> = Mutex::new(Vec::new());

fn held() -> MutexGuard<'static, Vec<(SampleInfo, ClimateRecord)>> {
    // nothing is left half done under the lock
    READ.lock().unwrap_or_else(PoisonError::into_inner)
}

/// One row of the index of samples.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
pub struct SampleInfo {
    /// Key of the sample in case files and on the command line.
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
    /// Basis of the assumed depositions.
    pub deposition_status: String,
    /// Where the record comes from.
    pub source: String,
    /// Licence of the record.
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

/// The sample climates and what is known of each.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleClimates(Vec<SampleInfo>);

impl SampleClimates {
    /// The samples of `climate-samples/index.csv`.
    ///
    /// # Errors
    /// As [`Self::from_csv`].
    pub fn published() -> Result<Self> {
        Self::from_csv(INDEX)
    }

    /// Reads an index with the columns of `climate-samples/index.csv`; its files are those embedded from that folder.
    ///
    /// # Errors
    /// [`Error::Input`] naming line and problem.
    pub fn from_csv(text: &str) -> Result<Self> {
        reference::rows("../climate-samples/index.csv", text).map(Self)
    }

    /// What is known of each sample, in the order of the index.
    #[must_use]
    pub fn infos(&self) -> &[SampleInfo] {
        &self.0
    }

    /// What is known of the sample `id`.
    ///
    /// # Errors
    /// [`Error::Invalid`] for an unknown id, with the nearest known one.
    pub fn info(&self, id: &str) -> Result<&SampleInfo> {
        self.0.iter().find(|info| info.id == id).ok_or_else(|| unknown(id, &self.0))
    }

    /// The sample with the nearest yearly means.
    pub(super) fn nearest(&self, means: &AnnualMeans) -> Result<&SampleInfo> {
        let nearest = self.0.iter().min_by(|a, b| distance(means, a).total_cmp(&distance(means, b)));
        nearest.ok_or_else(|| Error::invalid("climate samples", "none", "at least one"))
    }

    /// The embedded file of the sample `id`, packed as it stands in `climate-samples/`.
    ///
    /// # Errors
    /// [`Error::Invalid`] for an unknown id, with the nearest known one.
    pub fn file(&self, id: &str) -> Result<&'static [u8]> {
        let info = self.info(id)?;
        let embedded = FILES.iter().find(|(file, _)| *file == info.file);
        embedded.map(|(_, bytes)| *bytes).ok_or_else(|| unknown(id, &self.0))
    }

    /// The climate of the sample `id`.
    ///
    /// # Errors
    /// [`Error::Invalid`] for an unknown id, with the nearest known one; [`Error::Input`] where an embedded file is
    /// damaged.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::climate::SampleClimates;
    /// let climate = SampleClimates::published().unwrap().climate("po-plain").unwrap();
    /// assert_eq!(climate.series.years(), 1);
    /// ```
    pub fn climate(&self, id: &str) -> Result<ClimateRecord> {
        let info = self.info(id)?;
        let known = held().iter().find(|(known, _)| known == info).map(|(_, record)| record.clone());
        if let Some(record) = known {
            return Ok(record);
        }
        let record = self.read(info)?;
        held().push((info.clone(), record.clone()));
        Ok(record)
    }

    fn read(&self, info: &SampleInfo) -> Result<ClimateRecord> {
        let bytes = self.file(&info.id)?;
        let read = read::read_bytes(&format!("climate-samples/{}", info.file), bytes)?;
        let record = ClimateRecord {
            name: info.id.clone(),
            title: info.title.clone(),
            kind: info.kind.clone(),
            provenance: format!("{}; {}", info.source, info.licence),
            ..read
        };
        if record.wet_days == WetDays::Measured {
            return Ok(record);
        }
        let (days, source) = wet_days::for_sample(&info.id, &record.series)?;
        Ok(record.with_rain_days(&days, &source))
    }
}

fn distance(means: &AnnualMeans, info: &SampleInfo) -> f64 {
    let warmer = PER_KELVIN * (means.temperature_c - info.temperature_c);
    let damper = PER_PERCENT * (means.humidity_pct - info.humidity_pct);
    warmer.mul_add(warmer, damper * damper)
}

/// All samples.
///
/// # Errors
/// As [`SampleClimates::from_csv`].
pub fn samples() -> Result<Vec<SampleInfo>> {
    SampleClimates::published().map(|samples| samples.0)
}

/// What is known of the sample with the nearest yearly means.
pub(super) fn nearest_sample(means: &AnnualMeans) -> Result<SampleInfo> {
    SampleClimates::published()?.nearest(means).cloned()
}

/// The climate of one sample.
///
/// # Errors
/// As [`SampleClimates::climate`].
pub fn sample(id: &str) -> Result<ClimateRecord> {
    SampleClimates::published()?.climate(id)
}

/// Name and bytes of the embedded file of one sample.
///
/// # Errors
/// As [`SampleClimates::file`].
pub fn sample_file(id: &str) -> Result<(String, &'static [u8])> {
    let samples = SampleClimates::published()?;
    Ok((samples.info(id)?.file.clone(), samples.file(id)?))
}

fn unknown(id: &str, known: &[SampleInfo]) -> Error {
    let ids: Vec<&str> = known.iter().map(|info| info.id.as_str()).collect();
    Error::invalid("climate sample", format!("`{id}`"), format!("one of {}", ids.join(", ")))
        .with_nearest(nearest(id, ids))
}
