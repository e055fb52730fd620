//! A forecast as a table: one row a year of age, every yearly series in its own column, the unit last in each name.

use crate::error::{Error, Result};
use crate::forecast::outcome::{BandYear, Forecast, GradeShares, ProbabilityYear, YearQuantiles};
use crate::report::number_words::{decimal_year, rounded};

/// Digits kept, as in the JSON.
const DIGITS: usize = 6;

/// Writes the yearly series as CSV; a cell is empty where a series has no such year.
///
/// Shares and probabilities are in 0 to 1, losses in µm.
///
/// # Errors
/// [`Error::Invalid`] for a date of first registration that is none.
pub fn forecast_csv(forecast: &Forecast) -> Result<String> {
    let registration = decimal_year(forecast.first_registration);
    let columns = columns(forecast);
    let refused = |reason: csv::Error| Error::invalid("CSV", reason.to_string(), "rows of equal length");
    let mut writer = csv::Writer::from_writer(Vec::new());
    let names = ["age_a", "calendar_a"].into_iter().map(str::to_owned);
    writer.write_record(names.chain(columns.iter().map(|c| c.name.clone()))).map_err(refused)?;
    for BandYear { year, .. } in &forecast.band {
        let start = [year.to_string(), format!("{:.2}", registration + f64::from(*year))];
        let cells = columns.iter().map(|c| c.cell(*year));
        writer.write_record(start.into_iter().chain(cells)).map_err(refused)?;
    }
    let bytes = writer.into_inner().map_err(|e| Error::invalid("CSV", e.to_string(), "a table"))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// A series under its name.
struct Column {
    name: String,
    values: Vec<(u32, f64)>,
}

impl Column {
    fn cell(&self, year: u32) -> String {
        let found = self.values.iter().find(|(y, _)| *y == year);
        found.map_or_else(String::new, |(_, value)| format!("{}", rounded(*value, DIGITS)))
    }
}

fn columns(f: &Forecast) -> Vec<Column> {
    let mut all = band(&f.band);
    all.push(assessment(&f.assessment_by_year));
    all.extend(spread("mean_loss", "um", &f.mean_loss_um));
    all.extend(spread("deepest_loss", "um", &f.deepest_loss_um));
    all.extend(spread("bending_capacity_left", "share", &f.bending_capacity_left));
    all.extend(spread("loss_of_bared_steel", "um", &f.loss_of_bared_steel_um));
    all.extend(grades("run", &f.true_grade_shares));
    all.extend(grades("node", &f.node_grade_shares));
    all
}

fn column<T>(name: String, rows: &[T], read: impl Fn(&T) -> (u32, f64)) -> Column {
    Column { name, values: rows.iter().map(read).collect() }
}

fn band(rows: &[BandYear]) -> Vec<Column> {
    vec![
        column("rework_by_then_p05_share".into(), rows, |b| (b.year, b.low)),
        column("rework_by_then_p50_share".into(), rows, |b| (b.year, b.mid)),
        column("rework_by_then_p95_share".into(), rows, |b| (b.year, b.high)),
        column("rework_by_then_pooled_share".into(), rows, |b| (b.year, b.pooled)),
    ]
}

fn assessment(rows: &[ProbabilityYear]) -> Column {
    column("assessment_by_then_share".into(), rows, |c| (c.year, c.probability))
}

fn spread(name: &str, unit: &str, rows: &[YearQuantiles]) -> Vec<Column> {
    vec![
        column(format!("{name}_p05_{unit}"), rows, |s| (s.year, s.p05)),
        column(format!("{name}_p50_{unit}"), rows, |s| (s.year, s.p50)),
        column(format!("{name}_p95_{unit}"), rows, |s| (s.year, s.p95)),
    ]
}

fn grades(part: &str, rows: &[GradeShares]) -> Vec<Column> {
    let reads: [fn(&GradeShares) -> f64; 6] =
        [|g| g.ri0, |g| g.ri1, |g| g.ri2, |g| g.ri3, |g| g.ri4, |g| g.ri5];
    let named = reads.into_iter().enumerate();
    named
        .map(|(grade, read)| column(format!("{part}_ri{grade}_share"), rows, |g| (g.year, read(g))))
        .collect()
}
