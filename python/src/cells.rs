//! Cells of an Arrow table, of columns of any kind, as plain values.

use arrow_array::cast::AsArray;
use arrow_array::types::{Float64Type, Int64Type};
use arrow_array::{Array, ArrayRef, RecordBatch};
use arrow_cast::{CastOptions, cast_with_options};
use arrow_schema::{ArrowError, DataType};
use ferrowane::error::{Error, Result};
use serde_json::{Number, Value};

/// Whole numbers below it are exact in a number of 64 bits, 2⁵³ [-].
const WHOLE_MAX: f64 = 9_007_199_254_740_992.0;

/// The error of a table that cannot be read.
pub(crate) fn refused(reason: &ArrowError) -> Error {
    Error::invalid("table", reason.to_string(), "columns of numbers, texts, dates or truth values")
}

/// Cells row by row.
pub(crate) fn cells(rows: &RecordBatch) -> Result<Vec<Result<Vec<Value>>>> {
    let plain = rows.columns().iter().map(plain).collect::<std::result::Result<Vec<_>, _>>();
    let plain = plain.map_err(|reason| refused(&reason))?;
    let row = |row: usize| Ok(plain.iter().map(|column| cell(column, row)).collect());
    Ok((0..rows.num_rows()).map(row).collect())
}

/// A column as one of whole numbers, numbers, truth values or texts; dates become text.
fn plain(column: &ArrayRef) -> std::result::Result<ArrayRef, ArrowError> {
    let strict = CastOptions { safe: false, ..CastOptions::default() };
    let to = |kind: &DataType| cast_with_options(column, kind, &strict);
    match column.data_type() {
        DataType::Boolean | DataType::Null => Ok(ArrayRef::clone(column)),
        kind if kind.is_integer() => to(&DataType::Int64),
        kind if kind.is_floating() || kind.is_decimal() => to(&DataType::Float64),
        DataType::Timestamp(..) | DataType::Date64 => plain(&to(&DataType::Date32)?),
        DataType::Dictionary(_, kind) => plain(&to(kind)?),
        _ => to(&DataType::Utf8),
    }
}

/// A cell of a plain column.
fn cell(column: &ArrayRef, row: usize) -> Value {
    if column.is_null(row) || *column.data_type() == DataType::Null {
        return Value::Null;
    }
    match column.data_type() {
        DataType::Boolean => column.as_boolean().value(row).into(),
        DataType::Int64 => column.as_primitive::<Int64Type>().value(row).into(),
        DataType::Float64 => number(column.as_primitive::<Float64Type>().value(row)),
        _ => column.as_string::<i32>().value(row).into(),
    }
}

/// A number; data frames hold whole ones as broken ones where cells are missing. One that is not finite is handed on as text, for the
/// check of its key to name.
fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < WHOLE_MAX {
        return (value as i64).into();
    }
    Number::from_f64(value).map_or_else(|| Value::String(value.to_string()), Value::Number)
}
