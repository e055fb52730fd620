//! What stands in the files that a command names: digests of cases, tables, folders, and of what a record says of cars.

use crate::case;
use crate::cli::run::model;
use crate::error::{Error, Result};
use crate::record;
use crate::report::provenance::{Input, InputKind, NamedDigest, sample_of};
use crate::user_file::read_bounded;
use jiff::civil::Date;
use serde_json::Value;
use std::path::Path;

/// Digests of what a command names.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Sources {
    pub(super) inputs: Vec<Input>,
    pub(super) cases: Vec<NamedDigest>,
    pub(super) climates: Vec<NamedDigest>,
}

/// What an argument of that name is.
pub(super) fn input_kind(id: &str) -> InputKind {
    match id {
        "case" | "cases" => InputKind::Case,
        "record" => InputKind::Record,
        "posterior" => InputKind::Posterior,
        _ => InputKind::File,
    }
}

impl Sources {
    /// Adds an input at its place in the command; of a record what it says of the cars, of all where none is named.
    pub(super) fn add(
        &mut self,
        argument: usize,
        (kind, path): (InputKind, &Path),
        (cars, until): (&[String], Option<Date>),
    ) -> Result<()> {
        let name = file_name(path);
        let sha256 = match kind {
            InputKind::Case => self.case(path)?,
            InputKind::File => bytes(path)?.map(|bytes| digest(&bytes)),
            InputKind::Record => Some(self.record(path, cars, until)?),
            InputKind::Posterior => {
                let files = ["posterior.csv", "summary.json"].map(|name| read_bounded(&path.join(name)));
                let [draws, summary] = files;
                Some(digest(&[draws?, summary?].concat()))
            }
        };
        self.inputs.push(Input { argument, kind, name, sha256 });
        Ok(())
    }

    fn case(&mut self, path: &Path) -> Result<Option<String>> {
        let Some(bytes) = bytes(path)? else { return Ok(None) };
        let name = file_name(path);
        let text = String::from_utf8(bytes)
            .map_err(|_| Error::invalid(&name, "bytes that are not UTF-8", "a case in TOML"))?;
        self.add_case(&name, &text)?;
        let json = case::to_json(&text, &name)?;
        if let Some(file) = json.pointer("/climate/file").and_then(Value::as_str) {
            let weather = path.parent().unwrap_or(Path::new("")).join(file);
            self.add_climate(NamedDigest::new(file_name(&weather), &read_bounded(&weather)?));
        }
        Ok(Some(digest(text.as_bytes())))
    }

    fn add_case(&mut self, name: &str, text: &str) -> Result<()> {
        self.cases.push(NamedDigest::new(name, text.as_bytes()));
        sample_of(&case::to_json(text, name)?)?.into_iter().for_each(|sample| self.add_climate(sample));
        Ok(())
    }

    fn add_climate(&mut self, climate: NamedDigest) {
        if !self.climates.contains(&climate) {
            self.climates.push(climate);
        }
    }

    fn record(&mut self, path: &Path, cars: &[String], until: Option<Date>) -> Result<String> {
        let record = record::open_to_read(path, &model()?)?;
        let known = record::known_of(&record, cars, until)?;
        for (reference, case_toml) in &known.cases {
            self.add_case(reference, case_toml)?;
        }
        Ok(known.sha256)
    }
}

/// The name of a file without its folders.
pub(super) fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

/// The bytes of a plain file; anything else can be read once only, and the command does that.
fn bytes(path: &Path) -> Result<Option<Vec<u8>>> {
    if path.is_file() { read_bounded(path).map(Some) } else { Ok(None) }
}

fn digest(bytes: &[u8]) -> String {
    NamedDigest::new("", bytes).sha256
}
