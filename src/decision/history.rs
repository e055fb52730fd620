//! One history as its costs need it, and as a row of a table from which they can be counted again.

use crate::decision::courses::LivedCourse;
use crate::decision::lives::ReworkLives;
use crate::decision::options::{Choices, DecisionOption, OptionCost};
use crate::decision::prices::SampledPrices;

/// Prices of a history, without storage: names of their columns [currency].
const PRICES: [&str; 8] =
    ["removal", "coat", "new_member", "late_per_a", "inspection", "over_rust_coat", "wax_per_a", "wash"];

/// One history.
pub(super) struct History<'t> {
    pub(super) prices: SampledPrices,
    pub(super) courses: &'t [LivedCourse],
    /// Reworks by course.
    pub(super) lives: Vec<ReworkLives>,
    pub(super) lane: usize,
}

impl History<'_> {
    /// Age at which the criterion is met under an option before any rework [a].
    pub(super) fn met_a(&self, option: &DecisionOption) -> f64 {
        let course = &self.courses[option.course];
        option.treated.map_or(&course.alone_a, |number| &course.treated_a[number])[self.lane]
    }

    /// What its storage costs a year [currency/a].
    pub(super) fn storage_per_a(&self, option: &DecisionOption) -> f64 {
        option.storage.map_or(0.0, |index| self.prices.storage_per_a[index])
    }

    /// Its row of a [`HistoryTable`].
    fn row(&self, options: &[DecisionOption], weight: f64) -> impl Iterator<Item = f64> {
        let p = &self.prices;
        let prices = [
            p.removal,
            p.coat,
            p.new_member,
            p.late_per_a,
            p.inspection,
            p.over_rust_coat,
            p.wax_per_a,
            p.wash,
        ];
        let of_options = options
            .iter()
            .flat_map(|option| [self.met_a(option), self.storage_per_a(option), washes_per_a(option)]);
        let reworks = self.lives.iter().flat_map(ReworkLives::lived);
        let of_reworks = reworks.flat_map(|life| [life.metal_age_a, life.life_a, life.worn_age_a]);
        std::iter::once(weight).chain(prices).chain(of_options).chain(of_reworks)
    }
}

/// Washes a year that an option pays for [1/a].
fn washes_per_a(option: &DecisionOption) -> f64 {
    if let OptionCost::Washes(per_a) = option.pays { per_a } else { 0.0 }
}

/// The histories behind a decision, a row each: what it costs can be counted again in any program.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HistoryTable {
    /// Names of the columns: weight [-], prices [currency]; by option the age at which the criterion is met [a], storage
    /// [currency/a] and washes [1/a]; by course and rework metal age, life and metal age at its end [a].
    pub columns: Vec<String>,
    /// The rows, one after the other, in the units of the columns: [currency], [a], [-].
    pub values: Vec<f64>,
}

impl HistoryTable {
    /// Without rows.
    pub(super) fn without_rows(choices: &Choices) -> Self {
        let mut columns: Vec<String> = std::iter::once("weight").chain(PRICES).map(str::to_owned).collect();
        for option in &choices.options {
            let name = String::from(option.name);
            columns.extend(["met_a", "storage_per_a", "washes_per_a"].map(|what| format!("{what}.{name}")));
        }
        for (number, course) in choices.courses.iter().enumerate() {
            let own = choices.options.iter().find(|option| number > 0 && option.course == number);
            let name = own.map_or_else(|| "as_it_is".to_owned(), |option| option.name.into());
            // the last is the one that helps no more
            for rework in 0..=course.reworked.len() {
                columns.extend(
                    ["metal_age_a", "life_a", "worn_age_a"].map(|what| format!("{what}.{name}.{rework}")),
                );
            }
        }
        Self { columns, values: Vec::new() }
    }

    /// Adds a history.
    pub(super) fn add(&mut self, history: &History, options: &[DecisionOption], weight: f64) {
        self.values.extend(history.row(options, weight));
    }

    /// Adds the histories that come next.
    pub(super) fn merge(&mut self, next: Self) {
        self.values.extend(next.values);
    }

    /// The rows, first to last, each in the units of the columns: [currency], [a], [-].
    pub fn rows(&self) -> impl Iterator<Item = &[f64]> {
        self.values.chunks(self.columns.len().max(1))
    }
}
