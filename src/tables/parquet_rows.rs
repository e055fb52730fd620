//! Rows of a Parquet table (Apache Parquet format), its columns plain numbers, texts, dates or truth values.

use super::TableRow;
use crate::error::{Error, Result};
use jiff::Span;
use jiff::civil::{Date, date};
use parquet::errors::ParquetError;
use parquet::file::reader::{FileReader as _, SerializedFileReader};
use parquet::record::Field;
use parquet::record::reader::RowIter;
use serde_json::{Number, Value};
use std::fs::File;
use std::path::{Path, PathBuf};

/// First day of dates in Parquet (its logical type DATE).
const EPOCH: Date = date(1970, 1, 1);

/// Rows that are left.
pub(super) struct ParquetRows {
    /// Number of all rows [-].
    pub(super) count: u64,
    rows: RowIter<'static>,
    path: PathBuf,
}

impl ParquetRows {
    /// Names of the columns, and the rows.
    pub(super) fn open(file: File, path: &Path) -> Result<(Vec<String>, Self)> {
        let reader = SerializedFileReader::new(file).map_err(|error| fault(path, &error))?;
        let about = reader.metadata().file_metadata();
        let fields = about.schema().get_fields();
        if let Some(nested) = fields.iter().find(|field| !field.is_primitive()) {
            let found = format!("column {} with lists or tables in its cells", nested.name());
            return Err(not_a_table(path, found));
        }
        let names = fields.iter().map(|field| field.name().to_owned()).collect();
        let count = u64::try_from(about.num_rows()).unwrap_or(0);
        let rows = RowIter::from_file_into(Box::new(reader));
        Ok((names, Self { count, rows, path: path.to_owned() }))
    }
}

impl Iterator for ParquetRows {
    type Item = TableRow;

    fn next(&mut self) -> Option<TableRow> {
        let row = self.rows.next()?.map_err(|error| fault(&self.path, &error));
        Some(row.map(|row| row.get_column_iter().map(|(_, field)| value(field)).collect()))
    }
}

/// A cell; what is no finite number is handed on as text, for the check of its key to name.
fn value(field: &Field) -> Value {
    let number = |number: f64| {
        Number::from_f64(number).map_or_else(|| Value::String(number.to_string()), Value::Number)
    };
    match field {
        Field::Null => Value::Null,
        Field::Bool(truth) => Value::Bool(*truth),
        Field::Byte(number) => (*number).into(),
        Field::Short(number) => (*number).into(),
        Field::Int(number) => (*number).into(),
        Field::Long(number) => (*number).into(),
        Field::UByte(number) => (*number).into(),
        Field::UShort(number) => (*number).into(),
        Field::UInt(number) => (*number).into(),
        Field::ULong(number) => (*number).into(),
        Field::Float(single) => number(f64::from(*single)),
        Field::Double(double) => number(*double),
        Field::Str(text) => Value::String(text.clone()),
        Field::Date(days) => Value::String(day(i64::from(*days))),
        Field::TimestampMillis(millis) => Value::String(day(millis.div_euclid(86_400_000))),
        Field::TimestampMicros(micros) => Value::String(day(micros.div_euclid(86_400_000_000))),
        other => Value::String(other.to_string()),
    }
}

/// A date so many days after [`EPOCH`], as cases write it.
fn day(days: i64) -> String {
    let date = Span::new().try_days(days).ok().and_then(|span| EPOCH.checked_add(span).ok());
    date.map_or_else(|| format!("day {days}"), |date| date.to_string())
}

fn fault(path: &Path, error: &ParquetError) -> Error {
    not_a_table(path, error.to_string())
}

fn not_a_table(path: &Path, found: String) -> Error {
    let allowed = "a Parquet table of numbers, texts, dates and truth values".to_owned();
    Error::File { path: path.to_owned(), found, allowed }
}
