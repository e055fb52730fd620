//! What does an answer rest on? Program, tables, question and inputs, kept with the answer, so that it can be computed again.
//!
//! Nothing in it depends on clock, machine, threads or folders: files go by their names and digests. Digests are SHA-256 of
//! the bytes, as other programs compute them.

mod marks;
mod tables;

pub use marks::{found_in, marked, without};
pub use tables::tables_sha256;

use crate::climate::samples;
use crate::error::Result;
use crate::record::file_digest;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Letters of a digest that are shown where there is little room [-].
pub const SHORT: usize = 8;

/// What an answer rests on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Provenance {
    /// The program.
    pub program: String,
    /// Its version.
    pub version: String,
    /// Commit it was built from; `unknown` in a build for development.
    pub commit: String,
    /// Digest of the tables compiled in.
    pub tables_sha256: String,
    /// The cases, by file or reference.
    pub cases: Vec<NamedDigest>,
    /// Their climates, by file.
    pub climates: Vec<NamedDigest>,
    /// Seed of the random numbers [-]
    pub seed: Option<u64>,
    /// Histories computed [-]
    pub histories: Option<u64>,
    /// Day of the answer, YYYY-MM-DD, where it is read on one.
    pub day: Option<String>,
    /// The question as arguments of the program, everything stated that was left open; of a page the request.
    pub command: Vec<String>,
    /// Files and records that the command names.
    pub inputs: Vec<Input>,
    /// Tables written beside it, which hold no such note.
    pub beside: Vec<NamedDigest>,
    /// Name of the file that this stands in.
    pub output: String,
}

/// A name and the digest of what it names.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
pub struct NamedDigest {
    /// Name of the file, without folders, or reference of the car.
    pub name: String,
    /// SHA-256 in hexadecimal digits.
    pub sha256: String,
}

/// What an input is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum InputKind {
    /// A case.
    Case,
    /// Another file.
    File,
    /// A record; its digest is that of the cars named, with their entries and without owners.
    Record,
    /// A folder that `tune` wrote.
    Posterior,
}

/// Something that a command names.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Input {
    /// Place of its name in the command, from 0 [-]
    pub argument: usize,
    /// What it is.
    pub kind: InputKind,
    /// Name without folders.
    pub name: String,
    /// SHA-256; absent of what can be read once only, such as a pipe.
    pub sha256: Option<String>,
}

/// How an answer was computed.
#[derive(Debug, Clone, Copy, Default)]
pub struct ComputedBy {
    /// Seed of the random numbers [-]
    pub seed: Option<u64>,
    /// Histories [-]
    pub histories: Option<u64>,
    /// Day it is read on.
    pub day: Option<Date>,
}

impl ComputedBy {
    /// So many histories of a seed [-].
    #[must_use]
    pub fn histories(seed: u64, histories: u64) -> Self {
        Self { seed: Some(seed), histories: Some(histories), day: None }
    }
}

impl NamedDigest {
    /// Of a file's name and bytes.
    #[must_use]
    pub fn new(name: impl Into<String>, bytes: &[u8]) -> Self {
        Self { name: name.into(), sha256: file_digest(bytes) }
    }
}

impl Provenance {
    /// Of this program and its tables, with everything else to be filled in.
    #[must_use]
    pub fn of_this_program() -> Self {
        Self {
            program: env!("CARGO_PKG_NAME").to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            commit: option_env!("FERROWANE_COMMIT").unwrap_or("unknown").to_owned(),
            tables_sha256: tables_sha256().to_owned(),
            cases: Vec::new(),
            climates: Vec::new(),
            seed: None,
            histories: None,
            day: None,
            command: Vec::new(),
            inputs: Vec::new(),
            beside: Vec::new(),
            output: String::new(),
        }
    }

    /// The same for a file of that name.
    #[must_use]
    pub fn of_file(&self, name: &str) -> Self {
        Self { output: name.to_owned(), ..self.clone() }
    }

    /// The same with a table beside it.
    #[must_use]
    pub fn beside(mut self, name: &str, table: &str) -> Self {
        self.beside.push(NamedDigest::new(name, table.as_bytes()));
        self
    }

    /// As JSON on one line.
    #[must_use]
    pub fn to_line(&self) -> String {
        // plain text and numbers always have a JSON form
        serde_json::to_string(self).unwrap_or_default()
    }
}

/// The file of the sample climate that a case names, as it is compiled in; nothing for one that names none.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for a sample that is not there.
pub fn sample_of(case: &Value) -> Result<Option<NamedDigest>> {
    let Some(id) = case.pointer("/climate/sample").and_then(Value::as_str) else { return Ok(None) };
    let (name, bytes) = samples::sample_file(id)?;
    Ok(Some(NamedDigest::new(name, bytes)))
}

#[cfg(test)]
mod tests {
    use super::{Provenance, sample_of};
    use serde_json::json;

    #[test]
    fn property_a_line_is_read_back_as_it_was() {
        let written = Provenance::of_this_program().of_file("a<b>.json").beside("t.csv", "x");
        assert_eq!(serde_json::from_str::<Provenance>(&written.to_line()).unwrap(), written);
    }

    #[test]
    fn property_the_climate_of_a_case_is_named_with_its_file() {
        let found = sample_of(&json!({ "climate": { "sample": "reading" } })).unwrap().unwrap();
        assert_eq!((found.name.as_str(), found.sha256.len()), ("reading.csv.gz", 64));
        assert!(sample_of(&json!({ "climate": { "file": "a.csv" } })).unwrap().is_none());
    }
}
