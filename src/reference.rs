//! Published tables embedded at build time: one reader for all of them.
//!
//! Tables are CSV files in `shared/`; lines that start with `#` state how the file was made. Each stage embeds the tables it
//! uses and reads them here, so that a coefficient is written once, beside its source and status.

use crate::error::{Error, Result, SourceSpan};
use serde::de::DeserializeOwned;

/// Reads an embedded table into one value a row.
///
/// `table` is the file name under `shared/`, used in errors only; `text` its content.
///
/// # Errors
/// [`Error::Input`] naming table, line and problem.
pub fn rows<T: DeserializeOwned>(table: &str, text: &str) -> Result<Vec<T>> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes())
        .deserialize()
        .map(|row| row.map_err(|error| row_error(table, &error)))
        .collect()
}

fn row_error(table: &str, error: &csv::Error) -> Error {
    let line = error.position().map(|position| position.line() as usize);
    Error::Input {
        span: SourceSpan { file: format!("shared/{table}"), line, column: None },
        field: "row".to_owned(),
        found: error.to_string(),
        allowed: "a row that fits the header".to_owned(),
        nearest: None,
    }
}

#[cfg(test)]
mod tests {
    use super::rows;

    #[derive(serde::Deserialize)]
    struct Row {
        symbol: String,
        value: f64,
    }

    #[test]
    fn reads_rows_and_skips_comment_lines() {
        let read: Vec<Row> = rows("t.csv", "# made by hand\nsymbol,value\na, 1.5\n").unwrap();
        assert_eq!(read.len(), 1);
        assert_eq!(read[0].symbol, "a");
        assert!((read[0].value - 1.5).abs() < f64::EPSILON);
    }

    #[test]
    fn a_bad_number_names_table_and_line() {
        let message = rows::<Row>("t.csv", "symbol,value\na,x\n").err().unwrap().to_string();
        assert!(message.starts_with("shared/t.csv:2"), "{message}");
    }
}
