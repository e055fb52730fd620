//! Weather, depositions and air of the place.

use super::at;
use crate::case::raw;
use crate::climate::quick::{AnnualMeans, quick};
use crate::climate::wet_days::RainDays;
use crate::climate::{
    ClimateRecord, ColumnMap, Deposition, SampleClimates, read_path_mapped, samples, summary,
};
use crate::corrosivity::dose_response::{AirChemistry, hydrogen_ion_mg_l};
use crate::error::{Error, Result};
use std::collections::BTreeMap;
use std::path::Path;

/// What the place brings: weather, what falls from the air, and what the air holds.
pub(super) struct PlaceClimate {
    pub(super) climate: ClimateRecord,
    pub(super) deposition: Deposition,
    pub(super) air: AirChemistry,
}

pub(super) fn resolve(raw: &raw::Climate, base_dir: Option<&Path>) -> Result<PlaceClimate> {
    let climate = match (&raw.sample, &raw.file, &raw.means) {
        (Some(id), None, None) => at("climate.sample", samples::sample(id))?,
        (None, Some(file), None) => from_file(file, raw.columns.as_ref(), base_dir)?,
        (None, None, Some(means)) => at("climate.means", from_means(means))?,
        (None, None, None) => return Err(one_source("none of them")),
        _ => return Err(one_source("several of them")),
    };
    if raw.columns.is_some() && raw.file.is_none() {
        return Err(Error::invalid(
            "climate.columns",
            "columns without a file",
            "columns only beside `file`",
        ));
    }
    let climate = match &raw.rain_days {
        Some(days) => {
            climate.with_rain_days(&at("climate.rain_days", rain_days(days))?, "stated in the case")
        }
        None => climate,
    };
    let deposition = deposition(raw)?;
    let air = air(raw, &climate)?;
    Ok(PlaceClimate { climate, deposition, air })
}

fn rain_days(raw: &raw::RainDaysField) -> Result<RainDays> {
    match raw {
        raw::RainDaysField::Year(days) => RainDays::by_year(*days),
        raw::RainDaysField::Months(days) => RainDays::by_month(*days),
    }
}

fn one_source(found: &str) -> Error {
    Error::invalid("climate", found, "exactly one of `sample`, `file` and `means`")
}

fn from_file(
    file: &str,
    columns: Option<&BTreeMap<String, String>>,
    base_dir: Option<&Path>,
) -> Result<ClimateRecord> {
    let path = "climate.file";
    let folder = base_dir.ok_or_else(|| {
        Error::invalid(path, format!("`{file}`"), "`sample` or `means`: this case comes from no folder")
    })?;
    let columns = columns.map(ColumnMap::from_table).transpose();
    let columns = at("climate.columns", columns)?.unwrap_or_default();
    let refused = |found: String| {
        Error::invalid(path, found, "a weather file that can be read, relative to the case file")
    };
    if file == "-" {
        return Err(refused("standard input".to_owned()));
    }
    read_path_mapped(&folder.join(file), &columns).map_err(|error| match error {
        Error::Io { path: tried, source } => refused(format!("{}: {source}", tried.display())),
        Error::File { path: tried, found, .. } => refused(format!("{}: {found}", tried.display())),
        other => other,
    })
}

fn from_means(raw: &raw::Means) -> Result<ClimateRecord> {
    let celsius = |f: f64| (f - 32.0) * 5.0 / 9.0;
    let temperature_c =
        one_of((raw.temperature_c, "temperature_c"), (raw.temperature_f.map(celsius), "temperature_f"))?;
    let temperature_c = temperature_c.ok_or_else(|| {
        Error::invalid("climate.means", "no temperature", "`temperature_c` or `temperature_f`")
    })?;
    quick(
        &SampleClimates::published()?,
        &AnnualMeans { temperature_c, humidity_pct: raw.humidity_pct },
        raw.shape,
    )
}

/// A value that may be written in one of two units, or not at all.
fn one_of(
    (first, first_key): (Option<f64>, &str),
    (second, second_key): (Option<f64>, &str),
) -> Result<Option<f64>> {
    if first.is_some() && second.is_some() {
        let found = format!("`{first_key}` and `{second_key}`");
        return Err(Error::invalid("climate", found, "one of the two"));
    }
    Ok(first.or(second))
}

/// Depositions as given, else those of the sample; a file or two means say nothing of them.
fn deposition(raw: &raw::Climate) -> Result<Deposition> {
    let known = samples::samples()?;
    let of_sample = known.iter().find(|info| raw.sample.as_ref() == Some(&info.id));
    let or_sample = |given: Option<f64>, key: &str, own: fn(&samples::SampleInfo) -> f64| {
        let missing = || {
            let allowed = "a deposition [mg/(m²·d)]; only a sample has its own";
            Error::invalid(format!("climate.{key}"), "no such key", allowed)
        };
        given.or_else(|| of_sample.map(own)).ok_or_else(missing)
    };
    let so2 = or_sample(raw.so2_mg_m2_d, "so2_mg_m2_d", |info| info.so2_mg_m2_d)?;
    let chloride = or_sample(raw.chloride_mg_m2_d, "chloride_mg_m2_d", |info| info.chloride_mg_m2_d)?;
    at("climate", Deposition::new(so2, chloride))
}

/// Rain as given, else as in the record; the rest as given; else the usual values.
fn air(raw: &raw::Climate, climate: &ClimateRecord) -> Result<AirChemistry> {
    let usual = AirChemistry::default();
    let recorded = summary(climate).rain_mm_per_a.map(|rain_mm| rain_mm / 1000.0);
    let from_inches = raw.rain_in_per_a.map(|inches| inches * 0.0254);
    let stated = one_of((raw.rain_m_per_a, "rain_m_per_a"), (from_inches, "rain_in_per_a"))?;
    Ok(AirChemistry {
        rain_m_per_a: stated.or(recorded).unwrap_or(usual.rain_m_per_a),
        hydrogen_ion_mg_l: raw.rain_ph.map_or(usual.hydrogen_ion_mg_l, hydrogen_ion_mg_l),
        pm10_ug_m3: raw.pm10_ug_m3.unwrap_or(usual.pm10_ug_m3),
    })
}
