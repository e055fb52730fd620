//! A climate from two yearly means, when nothing else is known.
//!
//! The hours are those of the sample with the nearest means, shifted until their means are the given ones, or all the same
//! (a constant year, for checks against closed forms). The shift keeps the daily and seasonal swings of the sample, which
//! are not those of the place: use a record where there is one. The shift rule is our assumption.

use super::calendar::HOURS_PER_YEAR;
use super::record::ClimateRecord;
use super::record::GapReport;
use super::record::Series;
use super::samples::SampleClimates;
use super::summary::mean;
use super::wet_days;
use super::wet_days::WetDays;
use crate::error::Result;
use crate::error::in_range;

/// How closely the shifted humidity meets its mean [%].
const HUMIDITY_TOLERANCE_PCT: f64 = 0.001;

/// Yearly means of a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnnualMeans {
    /// Mean air temperature, -40 to 40 [°C]
    pub temperature_c: f64,
    /// Mean relative humidity, 0 to 100 [%]
    pub humidity_pct: f64,
}

/// Where the hours of a year of given means come from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum HourlyShape {
    /// The sample with the nearest means, shifted.
    #[default]
    #[serde(rename = "nearest")]
    NearestSample,
    /// Every hour the same.
    Constant,
}

/// A climate with the given yearly means; `samples` are those to take the hours from.
///
/// # Errors
/// [`crate::error::Error::OutOfRange`] for means outside their range, [`crate::error::Error::Invalid`] when there is no sample.
///
/// # Examples
/// ```
/// use ferrowane::climate::SampleClimates;
/// use ferrowane::climate::quick::{AnnualMeans, HourlyShape, quick};
/// let means = AnnualMeans { temperature_c: 9.0, humidity_pct: 81.0 };
/// let climate = quick(&SampleClimates::published()?, &means, HourlyShape::NearestSample)?;
/// assert_eq!(climate.name, "shape of port-angeles");
/// # Ok::<(), ferrowane::error::Error>(())
/// ```
pub fn quick(samples: &SampleClimates, means: &AnnualMeans, shape: HourlyShape) -> Result<ClimateRecord> {
    in_range("mean air temperature", means.temperature_c, "°C", -40.0..=40.0)?;
    in_range("mean relative humidity", means.humidity_pct, "%", 0.0..=100.0)?;
    match shape {
        HourlyShape::Constant => constant(means),
        HourlyShape::NearestSample => shifted(samples, means),
    }
}

fn constant(means: &AnnualMeans) -> Result<ClimateRecord> {
    let AnnualMeans { temperature_c, humidity_pct } = *means;
    let series =
        Series::from_columns(vec![temperature_c; HOURS_PER_YEAR], vec![humidity_pct; HOURS_PER_YEAR]);
    let (days, source) = wet_days::for_unknown_place(&series)?;
    let record = ClimateRecord {
        name: "constant".to_owned(),
        title: format!("constant year of {temperature_c} °C and {humidity_pct} %"),
        kind: "constant".to_owned(),
        provenance: "yearly means given by the user, every hour alike".to_owned(),
        series,
        gaps: GapReport::default(),
        wet_days: WetDays::Measured,
    };
    Ok(record.with_rain_days(&days, &source))
}

fn shifted(samples: &SampleClimates, means: &AnnualMeans) -> Result<ClimateRecord> {
    let info = samples.nearest(means)?;
    let sample = samples.climate(&info.id)?;
    let series = shift(&sample.series, means);
    let AnnualMeans { temperature_c, humidity_pct } = *means;
    Ok(ClimateRecord {
        name: format!("shape of {}", info.id),
        title: format!("{temperature_c} °C and {humidity_pct} % yearly, hours shaped like {}", info.title),
        kind: format!("yearly means on the shape of: {}", info.kind),
        provenance: format!("yearly means given by the user; hours from {}", sample.provenance),
        series,
        gaps: sample.gaps,
        wet_days: sample.wet_days,
    })
}

/// The series moved to the given means: temperature by an offset, humidity by an offset clipped to 0..100 %.
fn shift(series: &Series, means: &AnnualMeans) -> Series {
    let warmer = means.temperature_c - mean(&series.temperature_c);
    let damper = humidity_offset(&series.humidity_pct, means.humidity_pct);
    Series {
        temperature_c: series.temperature_c.iter().map(|t| t + warmer).collect(),
        humidity_pct: series.humidity_pct.iter().map(|rh| (rh + damper).clamp(0.0, 100.0)).collect(),
        ..series.clone()
    }
}

/// Bisection for the offset at which the clipped humidities have the wanted mean; the mean rises with the offset, from 0
/// at -100 to 100 at +100, so there is always one.
fn humidity_offset(humidity_pct: &[f64], wanted_pct: f64) -> f64 {
    let error = |offset: f64| {
        let sum: f64 = humidity_pct.iter().map(|rh| (rh + offset).clamp(0.0, 100.0)).sum();
        sum / humidity_pct.len() as f64 - wanted_pct
    };
    let (mut low, mut high) = (-100.0, 100.0);
    // 200 % halved 18 times lies below the tolerance, and the mean moves no faster than the offset
    while high - low > HUMIDITY_TOLERANCE_PCT {
        let middle = 0.5 * (low + high);
        if error(middle) < 0.0 { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}
