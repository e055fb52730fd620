//! `climate`: the climates that come with the program, or what one of them or a weather file says.

use super::climate_year::{MONTHS, climate_year};
use super::columns::{Stand, facts, table};
use super::failure::Failure;
use super::{Format, Streams, pictures};
use crate::climate::samples::{SampleInfo, sample, samples};
use crate::climate::summary::Summary;
use crate::climate::wet_days::{WET_ROAD_RAIN_MM, WetDays};
use crate::climate::{
    ClimateRecord, ColumnMap, GapReport, RainLeftOut, read_path, read_path_mapped, summary,
};
use crate::error::Result;
use crate::report::climate_plot;
use crate::report::json::json;
use crate::report::number_words::grouped;
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};

/// List the climates that come with the program, or summarise one of them or a weather file.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Weather files: a table in CSV with the columns month, day, hour (or date, hour; or time),
temperature_c [°C], humidity_pct [%] or dew_point_c [°C], and perhaps year, rain_mm [mm], wind_m_s [m/s];
without hour it is daily, without day monthly, with daily_range_k [K] and rain_days [d] where known;
temperature_f [°F], rain_in [in] and wind_mph [mph] serve as well. EPW, TMY3, TMY2, PVGIS and PSM
tables. Plain or gzip. Any other table: --columns temperature_c=T2m,humidity_pct=RH,time=time(UTC), or
columns in a case. Where rain is not measured, wet days are drawn from a count of rain days [d]:
rain_days in a case. The samples' depositions [mg/(m2 d)] are assumptions for the kind of place.")]
pub(super) struct Arguments {
    /// Id of a sample, or a weather file; without it all samples are listed
    #[arg(value_name = "NAME|FILE")]
    name: Option<String>,
    /// Columns of a table of another kind: our name=its name, separated by commas
    #[arg(long, value_name = "OURS=ITS,...", requires = "name")]
    columns: Option<String>,
    /// Folder for a picture of the year and its numbers
    #[arg(long, value_name = "DIR", requires = "name")]
    out: Option<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

#[derive(Serialize)]
struct Listed {
    #[serde(flatten)]
    info: SampleInfo,
    time_of_wetness_h_per_a: f64,
}

#[derive(Serialize)]
struct ClimateSummary<'a> {
    name: &'a str,
    title: &'a str,
    kind: &'a str,
    provenance: &'a str,
    years: usize,
    so2_mg_m2_d: Option<f64>,
    chloride_mg_m2_d: Option<f64>,
    deposition_status: Option<&'a str>,
    #[serde(flatten)]
    summary: Summary,
    wet_days: &'a WetDays,
    gaps: &'a GapReport,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let Some(name) = &self.name else { return self.list(streams.out) };
        let (climate, info) = read(name, self.columns.as_deref())?;
        let answer = ClimateSummary::new(&climate, info.as_ref());
        let numbers = json(&answer)?;
        match self.format {
            Format::Json => write!(streams.out, "{numbers}")?,
            Format::Text => answer.write(streams.out)?,
        }
        if let Some(folder) = &self.out {
            let svg = climate_plot::climate_year(&climate_year(&climate))?;
            pictures::write(folder, "climate", (&svg, &numbers), streams)?;
        }
        Ok(())
    }

    fn list(&self, out: &mut dyn Write) -> std::result::Result<(), Failure> {
        let listed = |info: SampleInfo| {
            let time_of_wetness_h_per_a = summary(&sample(&info.id)?).time_of_wetness_h_per_a;
            Ok(Listed { info, time_of_wetness_h_per_a })
        };
        let all = samples()?.into_iter().map(listed).collect::<Result<Vec<Listed>>>()?;
        match self.format {
            Format::Json => write!(out, "{}", json(&all)?)?,
            Format::Text => {
                let rows: Vec<Vec<String>> = all.iter().map(row).collect();
                write!(out, "{}\n{LIST_NOTE}", table(LIST_HEADS, &rows))?;
            }
        }
        Ok(())
    }
}

const LIST_HEADS: &[(&str, Stand)] = &[
    ("id", Stand::Left),
    ("kind", Stand::Words),
    ("mean T\n[°C]", Stand::Right),
    ("mean RH\n[%]", Stand::Right),
    ("wet\n[h/a]", Stand::Right),
    ("SO2\n", Stand::Right),
    ("chloride\n", Stand::Right),
    ("years\n", Stand::Right),
];

const LIST_NOTE: &str = "\
wet: hours with humidity above 80 % and temperature above 0 °C (ISO 9223).
SO2, chloride: deposition [mg/(m²·d)], assumed for the kind of place, not measured.
More about one: ferrowane climate ID
";

fn row(listed: &Listed) -> Vec<String> {
    let info = &listed.info;
    vec![
        info.id.clone(),
        info.kind.clone(),
        format!("{:.1}", info.temperature_c),
        format!("{:.0}", info.humidity_pct),
        grouped(listed.time_of_wetness_h_per_a, 0),
        info.so2_mg_m2_d.to_string(),
        info.chloride_mg_m2_d.to_string(),
        info.years.to_string(),
    ]
}

/// A sample of that id, else a file of that name; a plain word that is neither is taken for a misspelt id.
fn read(name: &str, columns: Option<&str>) -> Result<(ClimateRecord, Option<SampleInfo>)> {
    if let Some(columns) = columns {
        let columns = ColumnMap::parse(columns).map_err(|error| error.about("columns", "--columns"))?;
        return Ok((read_path_mapped(Path::new(name), &columns)?, None));
    }
    let info = samples()?.into_iter().find(|info| info.id == name);
    let path = Path::new(name);
    if info.is_none() && (path.exists() || name.contains(['/', '\\', '.'])) {
        return Ok((read_path(path)?, None));
    }
    Ok((sample(name)?, info))
}

impl<'a> ClimateSummary<'a> {
    fn new(climate: &'a ClimateRecord, info: Option<&'a SampleInfo>) -> Self {
        Self {
            name: &climate.name,
            title: &climate.title,
            kind: &climate.kind,
            provenance: &climate.provenance,
            years: climate.series.years(),
            so2_mg_m2_d: info.map(|info| info.so2_mg_m2_d),
            chloride_mg_m2_d: info.map(|info| info.chloride_mg_m2_d),
            deposition_status: info.map(|info| info.deposition_status.as_str()),
            summary: summary(climate),
            wet_days: &climate.wet_days,
            gaps: &climate.gaps,
        }
    }

    fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        let s = &self.summary;
        let deposition = match (self.so2_mg_m2_d, self.chloride_mg_m2_d, self.deposition_status) {
            (Some(so2), Some(chloride), Some(status)) => {
                format!("SO2 {so2}, chloride {chloride} mg/(m²·d); {status}")
            }
            _ => "not in a weather file; a case states it".to_owned(),
        };
        let rows = [
            ("kind", self.kind.to_owned()),
            ("years", self.years.to_string()),
            (
                "temperature",
                format!(
                    "mean {:.1}, from {:.1} to {:.1} °C",
                    s.temperature_c, s.temperature_min_c, s.temperature_max_c
                ),
            ),
            (
                "humidity",
                format!(
                    "mean {:.0}, from {:.0} to {:.0} %",
                    s.humidity_pct, s.humidity_min_pct, s.humidity_max_pct
                ),
            ),
            (
                "wetness",
                format!("{} h/a above 80 % and 0 °C (ISO 9223)", grouped(s.time_of_wetness_h_per_a, 0)),
            ),
            ("frost", format!("{} h/a below 0 °C", grouped(s.hours_below_zero_h_per_a, 0))),
            (
                "rain",
                s.rain_mm_per_a
                    .map_or_else(|| "not in the record".to_owned(), |mm| format!("{} mm/a", grouped(mm, 0))),
            ),
            ("wet days", wet_days(self.wet_days, s.wet_days_per_a)),
            ("deposition", deposition),
            ("missing", missing(self.gaps)),
            ("source", self.provenance.to_owned()),
        ];
        let months = MONTHS.iter().zip(&s.months).map(|(name, month)| {
            let wet = grouped(month.wet_h_per_a, 0);
            vec![
                String::new(),
                (*name).to_owned(),
                format!("{:.1}", month.temperature_c),
                format!("{:.0}", month.humidity_pct),
                wet,
            ]
        });
        let heads = [
            ("", Stand::Left),
            ("month", Stand::Left),
            ("mean T\n[°C]", Stand::Right),
            ("mean RH\n[%]", Stand::Right),
            ("wet\n[h]", Stand::Right),
        ];
        let months = table(&heads, &months.collect::<Vec<_>>());
        write!(out, "{}\n\n{}\n{months}", self.title, facts(&rows))
    }
}

/// Days on which roads are wet from rain, and how they are known.
fn wet_days(known: &WetDays, per_a: f64) -> String {
    let count = grouped(per_a, 0);
    match known {
        WetDays::Measured => format!("{count} a year with at least {WET_ROAD_RAIN_MM} mm of rain, measured"),
        WetDays::Drawn { source, .. } => {
            format!("{count} a year, drawn: the most humid days of each month; count: {source}")
        }
    }
}

/// Missing hours and what stands in for them.
fn missing(gaps: &GapReport) -> String {
    let mut parts = Vec::new();
    let mut part = |count: usize, words: &str| {
        if count > 0 {
            parts.push(format!("{} {words}", grouped(count as f64, 0)));
        }
    };
    part(gaps.missing_hours, "hours without temperature or humidity");
    part(gaps.longest_gap_h, "h in the longest gap");
    part(gaps.straight_line_values, "values filled by a straight line");
    part(gaps.neighbour_day_values, "values filled from the days before and after");
    part(gaps.clipped_humidity_values, "humidities above 100 % set to 100 %");
    part(gaps.doubtful_values, "readings outside their plausible range taken as missing");
    part(gaps.leap_day_rows, "rows of 29 February left out");
    part(gaps.rain_taken_dry_h, "hours without a rain reading taken as dry");
    parts.extend(gaps.rain_left_out.map(|why| match why {
        RainLeftOut::AllZero => "rain left out: nothing but zeros, so not measured".to_owned(),
        RainLeftOut::Impossible => "rain left out: more than any place has".to_owned(),
        RainLeftOut::Gaps => "rain left out: too many gaps".to_owned(),
    }));
    parts.extend(gaps.wind_left_out.then(|| "wind left out: too many gaps".to_owned()));
    if let Some(month) = gaps.begins_in_month.and_then(|month| MONTHS.get(usize::from(month) - 1)) {
        parts.push(format!("the record begins in {month}; the months before it stand first"));
    }
    if parts.is_empty() { "nothing".to_owned() } else { parts.join("; ") }
}
