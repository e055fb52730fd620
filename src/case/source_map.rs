//! Where does a key stand in a TOML text? Parses it and remembers where every key and value stands.
//!
//! The document becomes a JSON value, dates as `YYYY-MM-DD` text, so that a case from a file and one from a page go the
//! same way afterwards. A key path such as `storage[1].from` finds its line and column; a key that is not there, the table
//! it belongs in.

use super::fault_words::shortened;
use super::schema_check::{About, Fault, below};
use crate::error::{Error, Result, SourceSpan};
use serde_json::Value;
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Most dots on a line: nests of dotted keys are recursive, and the parser itself limits brackets only.
const DOTS_MAX: usize = 24;

/// A parsed TOML text.
pub(super) struct Document<'a> {
    text: &'a str,
    file: &'a str,
    /// Its content.
    pub(super) value: Value,
    /// Offsets of key and value by key path.
    offsets: BTreeMap<String, (usize, usize)>,
}

impl<'a> Document<'a> {
    /// Parses a text; [`Error::Input`] when it is no TOML or holds a number that is not finite.
    pub(super) fn parse(text: &'a str, file: &'a str) -> Result<Self> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut document = Self { text, file, value: Value::Null, offsets: BTreeMap::new() };
        if text.trim().is_empty() {
            return Err(document.input("file", (0..0, "nothing".to_owned()), "a case".to_owned()));
        }
        document.refuse_many_dots()?;
        let root = DeTable::parse(text).map_err(|error| document.syntax(&error))?;
        let value = document.table(root.get_ref(), "");
        document.value = value.map_err(|error| document.with_span(error))?;
        Ok(document)
    }

    fn refuse_many_dots(&self) -> Result<()> {
        let mut offset = 0;
        for line in self.text.split_inclusive('\n') {
            let dots = line.matches('.').count();
            if dots > DOTS_MAX {
                let found = format!("{dots} dots on a line");
                return Err(self.input("file", (offset..offset, found), format!("at most {DOTS_MAX}")));
            }
            offset += line.len();
        }
        Ok(())
    }

    fn syntax(&self, error: &toml::de::Error) -> Error {
        let span = error.span().unwrap_or(0..0);
        let rest = self.text.get(span.start..).unwrap_or_default();
        let line = rest.lines().next().unwrap_or_default();
        let quoted = match self.text.get(span.clone()).unwrap_or_default() {
            "" => line,
            token => token.lines().next().unwrap_or_default(),
        };
        let found = if rest.is_empty() {
            "the end of the file".to_owned()
        } else if quoted.is_empty() {
            "the end of the line".to_owned()
        } else {
            format!("`{}`", shortened(quoted))
        };
        self.input("syntax", (span, found), format!("TOML ({})", error.message().trim()))
    }

    fn table(&mut self, table: &DeTable<'_>, path: &str) -> Result<Value> {
        let mut entries = serde_json::Map::new();
        for (key, value) in table {
            let path = below(path, key.get_ref());
            self.offsets.insert(path.clone(), (key.span().start, value.span().start));
            entries.insert(key.get_ref().to_string(), self.entry(value, &path)?);
        }
        Ok(Value::Object(entries))
    }

    fn entry(&mut self, value: &Spanned<DeValue<'_>>, path: &str) -> Result<Value> {
        let not_finite = |text: &str| Error::invalid(path, shortened(text), "a finite number");
        let number = match value.get_ref() {
            DeValue::Table(table) => return self.table(table, path),
            DeValue::Array(list) => {
                let items = list.iter().enumerate().map(|(index, item)| {
                    let path = format!("{path}[{index}]");
                    self.offsets.insert(path.clone(), (item.span().start, item.span().start));
                    self.entry(item, &path)
                });
                return items.collect::<Result<_>>().map(Value::Array);
            }
            DeValue::String(text) => return Ok(Value::String(text.to_string())),
            DeValue::Boolean(yes) => return Ok(Value::Bool(*yes)),
            DeValue::Datetime(date) => return Ok(Value::String(date.to_string())),
            DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix())
                .map_err(|_| not_finite(number.as_str()))?
                .into(),
            DeValue::Float(number) => {
                serde_json::Number::from_f64(number.as_str().parse().unwrap_or(f64::NAN))
                    .ok_or_else(|| self.with_span(not_finite(number.as_str())))?
            }
        };
        Ok(Value::Number(number))
    }

    /// The fault to report: the first in the text, but what is there before what is not.
    pub(super) fn first(&self, faults: Vec<Fault>) -> Option<Error> {
        let offset = |fault: &Fault| self.offset(&fault.path, fault.about);
        let first = faults.into_iter().min_by_key(|fault| (fault.about == About::Absence, offset(fault)))?;
        let span = self.span_of(offset(&first));
        let Fault { path: field, found, allowed, nearest, .. } = first;
        Some(Error::Input { span, field, found, allowed, nearest })
    }

    /// An error about a key path, with its line and column; any other error as it is.
    pub(super) fn with_span(&self, error: Error) -> Error {
        let Error::Invalid { what: field, found, allowed, nearest } = error else { return error };
        let span = self.span_of(self.offset(&field, About::Value));
        Error::Input { span, field, found, allowed, nearest }
    }

    /// Offset of a key or its value, else of the nearest table round it that is there.
    fn offset(&self, path: &str, about: About) -> usize {
        let mut path = path;
        loop {
            if let Some((key, value)) = self.offsets.get(path) {
                return if about == About::Key { *key } else { *value };
            }
            match path.rfind(['.', '[']) {
                Some(cut) => path = &path[..cut],
                None => return 0,
            }
        }
    }

    fn input(&self, field: &str, (span, found): (Range<usize>, String), allowed: String) -> Error {
        let span = self.span_of(span.start);
        Error::Input { span, field: field.to_owned(), found, allowed, nearest: None }
    }

    fn span_of(&self, offset: usize) -> SourceSpan {
        let before = self.text.get(..offset).unwrap_or(self.text);
        let line_start = before.rfind('\n').map_or(0, |end| end + 1);
        let line = before.matches('\n').count() + 1;
        let column = before[line_start..].chars().count() + 1;
        SourceSpan { file: self.file.to_owned(), line: Some(line), column: Some(column) }
    }
}
