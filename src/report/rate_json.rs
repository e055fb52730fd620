//! The first-year rate by one dose-response function, with what it rests on: the JSON of `rate`.

use crate::corrosivity::given::GivenConditions;
use crate::corrosivity::{Conditions, DoseResponse, Rate};
use crate::error::{Error, Result, nearest};
use crate::model::Model;
use crate::report::flag_words::outside_range;
use serde_json::{Value, json};

/// The name that stands for all functions.
pub const ALL: &str = "all";

/// One function's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct FirstYearRate {
    /// The function.
    pub form: DoseResponse,
    /// Rate and its terms.
    pub rate: Rate,
    /// Category of ISO 9223, outdoors.
    pub category: String,
    /// Inputs outside the range it was fitted on.
    pub flags: Vec<String>,
    /// Whether a range is known at all.
    pub has_range: bool,
    /// Author and year.
    pub title: String,
    /// How well it is known.
    pub status: String,
    /// Where it was printed.
    pub source: String,
}

impl FirstYearRate {
    /// Of a function.
    ///
    /// # Errors
    /// As [`GivenConditions::checked`] and [`GivenConditions::refuse_without_inputs_of`].
    pub fn new(form: DoseResponse, given: &GivenConditions, model: &Model) -> Result<Self> {
        let conditions = given.checked()?;
        given.refuse_without_inputs_of(form)?;
        let forms = &model.dose_responses;
        let facts = forms.facts(form)?;
        let rate = forms.rate(form, &conditions);
        Ok(Self {
            form,
            category: format!("{:?}", model.categories.outdoor(rate.rate_um_per_a)),
            rate,
            flags: facts.outside_range(&conditions).iter().map(outside_range).collect(),
            has_range: !facts.outside_range(&beyond(&conditions)).is_empty(),
            title: facts.title.clone(),
            status: facts.status.clone(),
            source: facts.source.clone(),
        })
    }

    /// Of every function that has its inputs.
    ///
    /// # Errors
    /// As [`GivenConditions::checked`].
    pub fn of_all(given: &GivenConditions, model: &Model) -> Result<Vec<Self>> {
        let forms = DoseResponse::ALL.iter().filter(|form| given.has_inputs_of(**form));
        forms.map(|form| Self::new(*form, given, model)).collect()
    }

    /// As JSON.
    #[must_use]
    pub fn to_value(&self) -> Value {
        let terms: serde_json::Map<String, Value> =
            self.rate.terms.iter().map(|(name, um)| ((*name).to_owned(), Value::from(*um))).collect();
        json!({
            "form": self.form.id(), "rate_um_per_a": self.rate.rate_um_per_a, "category": self.category,
            "terms": terms, "flags": self.flags, "status": self.status, "source": self.source,
        })
    }
}

/// Conditions outside any range there could be.
fn beyond(conditions: &Conditions) -> Conditions {
    let far = f64::MAX;
    Conditions {
        temperature_c: far,
        humidity_pct: far,
        so2_mg_m2_d: far,
        chloride_mg_m2_d: far,
        ..*conditions
    }
}

/// The function of a name, with `all` among the names that are offered.
///
/// # Errors
/// [`Error::Invalid`] about `form`.
pub fn form_of(name: &str) -> Result<DoseResponse> {
    DoseResponse::from_id(name).map_err(|_| {
        let names: Vec<&str> = DoseResponse::ALL.iter().map(|form| form.id()).chain([ALL]).collect();
        let unknown = Error::invalid("form", format!("`{name}`"), names.join(", "));
        unknown.with_nearest(nearest(name, names))
    })
}
