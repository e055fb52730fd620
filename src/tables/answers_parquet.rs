//! Answers as Parquet (Apache Parquet format): groups of rows of fixed size, so the same answers give the same bytes.

use super::WriteAnswers;
use crate::batch::{ANSWERS, Answer};
use crate::error::{Error, Result};
use parquet::basic::{Compression, GzipLevel};
use parquet::data_type::{ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::parser::parse_message_type;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Rows of a group [-].
const ROWS_PER_GROUP: usize = 1 << 14;

/// Writes answers into a Parquet file.
pub struct AnswersParquet {
    writer: SerializedFileWriter<File>,
    waiting: Vec<Answer>,
    path: PathBuf,
}

impl AnswersParquet {
    /// With names and texts that the file carries along.
    ///
    /// # Errors
    /// [`Error::Io`] of the file.
    pub fn new(file: File, path: &Path, notes: &[(&str, String)]) -> Result<Self> {
        let io = |error: ParquetError| fault(path, error);
        let notes =
            notes.iter().map(|(name, text)| KeyValue::new((*name).to_owned(), text.clone())).collect();
        let properties = WriterProperties::builder()
            .set_compression(Compression::GZIP(GzipLevel::default()))
            .set_key_value_metadata(Some(notes))
            // the default names the version of the package
            .set_created_by(env!("CARGO_PKG_NAME").to_owned())
            .build();
        let schema = Arc::new(parse_message_type(&message_type()).map_err(io)?);
        let writer = SerializedFileWriter::new(file, schema, Arc::new(properties)).map_err(io)?;
        Ok(Self { writer, waiting: Vec::new(), path: path.to_owned() })
    }

    fn write_group(&mut self, rows: usize) -> Result<()> {
        let answers: Vec<Answer> = self.waiting.drain(..rows).collect();
        let mut group = self.writer.next_row_group().map_err(|error| fault(&self.path, error))?;
        let written = write_columns(&mut group, &answers).and_then(|()| group.close().map(drop));
        written.map_err(|error| fault(&self.path, error))
    }
}

impl WriteAnswers for AnswersParquet {
    fn write(&mut self, answers: &[Answer]) -> Result<()> {
        self.waiting.extend_from_slice(answers);
        while self.waiting.len() >= ROWS_PER_GROUP {
            self.write_group(ROWS_PER_GROUP)?;
        }
        Ok(())
    }

    fn finish(mut self: Box<Self>) -> Result<()> {
        if !self.waiting.is_empty() {
            self.write_group(self.waiting.len())?;
        }
        self.writer.finish().map(drop).map_err(|error| fault(&self.path, error))
    }
}

/// The columns, as the format writes a schema.
fn message_type() -> String {
    let mut schema = String::from("message answers { required int64 row; ");
    schema += "optional binary ref (UTF8); optional binary group (UTF8); required int64 seed; ";
    schema += "optional double latitude_deg; optional double longitude_deg; ";
    for column in &ANSWERS {
        schema = schema + "optional double " + column.name + "; ";
    }
    schema + "optional binary error (UTF8); }"
}

fn write_columns(
    group: &mut SerializedRowGroupWriter<File>,
    answers: &[Answer],
) -> std::result::Result<(), ParquetError> {
    let text = |of: fn(&Answer) -> Option<&str>| answers.iter().map(of).map(|text| text.map(bytes)).collect();
    let whole = |number: u64| i64::try_from(number).ok();
    required(group, answers.iter().map(|answer| whole(answer.row)).collect())?;
    optional::<ByteArrayType>(group, text(|answer| answer.reference.as_deref()))?;
    optional::<ByteArrayType>(group, text(|answer| answer.group.as_deref()))?;
    required(group, answers.iter().map(|answer| whole(answer.seed)).collect())?;
    for which in 0..2 {
        optional::<DoubleType>(
            group,
            answers.iter().map(|answer| answer.place.map(|at| at[which])).collect(),
        )?;
    }
    for place in 0..ANSWERS.len() {
        let numbers = answers.iter().map(|answer| answer.values.get(place).copied().flatten());
        optional::<DoubleType>(group, numbers.collect())?;
    }
    optional::<ByteArrayType>(group, text(|answer| answer.error.as_deref()))
}

fn bytes(text: &str) -> ByteArray {
    ByteArray::from(text)
}

/// A column of whole numbers; none of them is missing.
fn required(
    group: &mut SerializedRowGroupWriter<File>,
    numbers: Vec<Option<i64>>,
) -> std::result::Result<(), ParquetError> {
    let numbers: Vec<i64> = numbers.into_iter().map(Option::unwrap_or_default).collect();
    let Some(mut column) = group.next_column()? else { return Ok(()) };
    column.typed::<Int64Type>().write_batch(&numbers, None, None)?;
    column.close()
}

/// A column whose cells may be empty.
fn optional<T: DataType>(
    group: &mut SerializedRowGroupWriter<File>,
    cells: Vec<Option<T::T>>,
) -> std::result::Result<(), ParquetError> {
    let levels: Vec<i16> = cells.iter().map(|cell| i16::from(cell.is_some())).collect();
    let there: Vec<T::T> = cells.into_iter().flatten().collect();
    let Some(mut column) = group.next_column()? else { return Ok(()) };
    column.typed::<T>().write_batch(&there, Some(&levels), None)?;
    column.close()
}

fn fault(path: &Path, error: ParquetError) -> Error {
    Error::Io { path: path.to_owned(), source: std::io::Error::other(error) }
}
