//! A car of the record: reference, case and owner.

use super::cells::{code, one_line, quoted};
use crate::case;
use crate::error::{Error, Result};
use crate::model::Model;
use jiff::civil::Date;
use serde::Serialize;
use std::sync::Arc;

/// A car of the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct RecordedCar {
    /// The workshop's own reference.
    #[serde(rename = "ref")]
    pub reference: String,
    /// Date of first registration, age zero; the case has the same.
    #[schemars(with = "String")]
    pub first_registration: Date,
    /// Free text about the owner; can be wiped.
    pub owner: Option<String>,
    /// The case as in a case file, without a weather file.
    pub case_toml: String,
}

impl RecordedCar {
    /// A car from its case; `case_file` is what errors call it.
    ///
    /// # Errors
    /// [`Error::Invalid`] of reference and owner; [`Error::Input`] with the place in the case.
    pub fn from_case(
        reference: &str,
        owner: Option<&str>,
        (case_toml, case_file): (&str, &str),
        model: &Arc<Model>,
    ) -> Result<Self> {
        let reference = code("ref", reference)?;
        let owner = owner.map(|owner| one_line("owner", owner.trim(), 500)).transpose()?;
        let owner = owner.filter(|owner| !owner.is_empty());
        let first_registration = case::read_str(case_toml, case_file, None, model)?.first_registration;
        Ok(Self { reference, first_registration, owner, case_toml: case_toml.to_owned() })
    }

    /// Whether date and case of a car built by hand agree.
    pub(super) fn check(&self, model: &Arc<Model>) -> Result<()> {
        let name = format!("case of {}", self.reference);
        let read = Self::from_case(&self.reference, self.owner.as_deref(), (&self.case_toml, &name), model)?;
        if read == *self {
            return Ok(());
        }
        let found = quoted(&self.first_registration.to_string());
        Err(Error::invalid(
            "first_registration",
            found,
            format!("{}, as in the case", read.first_registration),
        ))
    }
}
