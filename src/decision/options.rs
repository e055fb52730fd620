//! The decision problem: prices, keeping time, and what can be done to the member or its storage from a day on.
//!
//! Every option is a complete scenario, so the forecast decides what it moves; here stands only what it costs.

use crate::coating::treatment::{Preparation, TreatmentAction as Done};
use crate::coating::{System, Treatment};
use crate::decision::cost::{Interest, mean};
use crate::error::{Result, in_range};
use crate::exposure::{ArrangementKind, Driving, StorageAndUse, Wash};
use crate::forecast::scenario::Scenario;
use crate::prior::Prior;
use serde::Serialize;

/// Years between over-rust coats where they are repeated [a]; common practice, no source.
const COAT_EVERY_A: f64 = 2.0;

/// What things cost, in one currency.
#[derive(Debug, Clone, PartialEq)]
pub struct Prices {
    /// Labour to take the member out and put it back [currency].
    pub removal: Removal,
    /// Blasting and coating [currency].
    pub blast_and_coat: Prior,
    /// Bushes, bolts, pipes that a rework needs [currency].
    pub parts: Prior,
    /// An over-rust coat in place [currency].
    pub over_rust_coat: Prior,
    /// Wax film renewed yearly; the option is not offered without a price [currency/a].
    pub wax_per_year: Option<Prior>,
    /// Washing the underside once; the option is not offered without a price [currency].
    pub wash_each: Option<Prior>,
    /// Storage by arrangement, in the order of [`ArrangementKind::ALL`]; one without a price is not offered [currency/a].
    pub storage_per_year: [Option<Prior>; ArrangementKind::ALL.len()],
    /// Each year that a rework comes after its criterion was met [currency/a].
    pub late_penalty: Prior,
}

/// Labour to take the member out and put it back.
#[derive(Debug, Clone, PartialEq)]
pub enum Removal {
    /// An amount [currency].
    Amount(Prior),
    /// Hours [h] at a rate [currency/h].
    Hours(Prior, Prior),
}

impl Removal {
    /// Expected price [currency].
    #[must_use]
    pub fn mean(&self) -> f64 {
        match self {
            Self::Amount(amount) => mean(amount),
            Self::Hours(hours, rate) => mean(hours) * mean(rate),
        }
    }
}

/// Another job on the car that needs the member out.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherJob {
    /// Name for people.
    pub name: String,
    /// Its cost without the removal labour [currency].
    pub cost: Prior,
    /// Age of the car when it is due [a].
    pub due_a: f64,
    /// Cost of each year it is done early [currency/a].
    pub early_per_a: f64,
    /// Cost of each year it is done late [currency/a].
    pub late_per_a: f64,
}

/// What is to be decided, when and at which prices.
#[derive(Debug, Clone)]
pub struct DecisionProblem {
    /// Age of the car on the day of the decision [a].
    pub now_a: f64,
    /// How long it will be kept from then on, 1 to 40 [a].
    pub keep_a: f64,
    /// Interest.
    pub interest: Interest,
    /// What things cost.
    pub prices: Prices,
    /// Coating of a rework.
    pub rework_system: System,
    /// Other jobs that need the member out.
    pub jobs: Vec<OtherJob>,
}

impl DecisionProblem {
    /// The same at another age [a], its keeping time ending at 60 years at the latest; `None` where that leaves less than one.
    #[must_use]
    pub fn at_age(&self, now_a: f64) -> Option<Self> {
        let keep_a = self.keep_a.min(60.0 - now_a);
        Self { now_a, keep_a, ..self.clone() }.checked().ok()
    }

    /// Checks age and keeping time.
    ///
    /// # Errors
    /// [`crate::error::Error::OutOfRange`] when the keeping time ends after an age of 60 years.
    pub fn checked(self) -> Result<Self> {
        in_range("age at the decision", self.now_a, "a", 0.0..=59.0)?;
        in_range("keeping time", self.keep_a, "a", 1.0..=40.0)?;
        in_range("age at the end of the keeping time", self.now_a + self.keep_a, "a", 1.0..=60.0)?;
        Ok(self)
    }
}

/// What an option costs besides reworks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum OptionCost {
    /// Nothing.
    Nothing,
    /// Over-rust coats until the first rework: every so many years, or once.
    OverRust(Option<f64>),
    /// Wax until the first rework.
    Wax,
    /// So many washes a year throughout [1/a].
    Washes(f64),
    /// A rework at once.
    Rework,
}

/// What can be done from the day of the decision on. Serialised as its key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(into = "String")]
pub enum OptionName {
    /// Grading yearly, rework when the criterion is met.
    ReworkWhenDue,
    /// Rework on the day of the decision.
    ReworkNow,
    /// An over-rust coat on that day, on unprepared rust.
    OverRustCoatNow,
    /// The same every two years.
    OverRustCoatEvery2A,
    /// A wax film, renewed yearly.
    WaxYearly,
    /// Rinsing the underside after every drive on a salted road.
    WashAfterSaltedDrives,
    /// Another place to stand.
    MoveTo(ArrangementKind),
}

impl From<OptionName> for String {
    fn from(name: OptionName) -> Self {
        let key = match name {
            OptionName::ReworkWhenDue => "rework_when_due",
            OptionName::ReworkNow => "rework_now",
            OptionName::OverRustCoatNow => "over_rust_coat_now",
            OptionName::OverRustCoatEvery2A => "over_rust_coat_every_2_a",
            OptionName::WaxYearly => "wax_yearly",
            OptionName::WashAfterSaltedDrives => "wash_after_salted_drives",
            OptionName::MoveTo(arrangement) => return format!("move_to_{}", arrangement.id()),
        };
        key.to_owned()
    }
}

/// An option as it is computed.
#[derive(Debug, Clone)]
pub(crate) struct DecisionOption {
    pub(crate) name: OptionName,
    pub(crate) scenario: Scenario,
    pub(crate) pays: OptionCost,
    /// Index of its storage in the price list; `None` when nobody knows where the car stands.
    pub(crate) storage: Option<usize>,
}

/// All options: rework when due first, rework now second.
pub(crate) fn choices(scenario: &Scenario, problem: &DecisionProblem) -> Result<Vec<DecisionOption>> {
    let now_a = problem.now_a;
    let stored =
        current(scenario, now_a).and_then(|storage_and_use| index_of(storage_and_use.arrangement.kind));
    let treated = |name: OptionName, treatments: Vec<Treatment>, pays: OptionCost| {
        let mut scenario = scenario.clone();
        scenario.treatments.extend(treatments);
        DecisionOption { name, scenario, pays, storage: stored }
    };
    let at = |age_a: f64, kind: Done| Treatment { age_a, kind };
    let coat = |age_a: f64| at(age_a, Done::OverRust(Preparation::None));
    let coats = (problem.keep_a / COAT_EVERY_A).ceil() as usize;
    let repeated = (0..coats).map(|n| coat((n as f64).mul_add(COAT_EVERY_A, now_a))).collect();
    let rework = at(now_a, Done::Rework(problem.rework_system.clone()));
    let mut choices = vec![
        treated(OptionName::ReworkWhenDue, Vec::new(), OptionCost::Nothing),
        treated(OptionName::ReworkNow, vec![rework], OptionCost::Rework),
        treated(OptionName::OverRustCoatNow, vec![coat(now_a)], OptionCost::OverRust(None)),
        treated(OptionName::OverRustCoatEvery2A, repeated, OptionCost::OverRust(Some(COAT_EVERY_A))),
    ];
    if problem.prices.wax_per_year.is_some() {
        let film = at(now_a, Done::WaxFilm(Some(1.0)));
        choices.push(treated(OptionName::WaxYearly, vec![film], OptionCost::Wax));
    }
    choices.extend(washed(scenario, problem, stored));
    choices.extend(moved(scenario, problem, stored)?);
    Ok(choices)
}

/// Rinsing after every drive on a salted road, where that is not done already.
fn washed(scenario: &Scenario, problem: &DecisionProblem, storage: Option<usize>) -> Option<DecisionOption> {
    problem.prices.wash_each.as_ref()?;
    let drives_on_salt = |driving: &Driving| driving.winter_use && driving.wash != Wash::AfterSaltedDrives;
    let mut possible = scenario.periods_from(problem.now_a).flat_map(|period| &period.mixture);
    if !possible.any(|(_, entry)| drives_on_salt(&entry.driving)) {
        return None;
    }
    let now = scenario.periods_from(problem.now_a).next()?;
    let washes_per_a = now.mixture.iter().map(|(weight, entry)| weight * washes_per_a(&entry.driving)).sum();
    let scenario = scenario.from_age(problem.now_a, |entry| entry.washed(Wash::AfterSaltedDrives));
    Some(DecisionOption {
        name: OptionName::WashAfterSaltedDrives,
        scenario,
        pays: OptionCost::Washes(washes_per_a),
        storage,
    })
}

/// Every arrangement with a price, where the car does not stand there already.
fn moved(
    scenario: &Scenario,
    problem: &DecisionProblem,
    stored: Option<usize>,
) -> Result<Vec<DecisionOption>> {
    let offered = ArrangementKind::ALL.iter().zip(&problem.prices.storage_per_year).enumerate();
    let elsewhere = offered.filter(|(index, (_, price))| price.is_some() && Some(*index) != stored);
    elsewhere
        .map(|(index, (kind, _))| {
            let arrangement = scenario.model.arrangements.arrangement(*kind)?;
            let scenario = scenario.from_age(problem.now_a, |entry| entry.moved_to(&arrangement));
            Ok(DecisionOption {
                name: OptionName::MoveTo(*kind),
                scenario,
                pays: OptionCost::Nothing,
                storage: Some(index),
            })
        })
        .collect()
}

/// Drives on salted roads in a usual year, each followed by a wash [1/a].
fn washes_per_a(driving: &Driving) -> f64 {
    let share = if driving.winter_use { driving.days_per_week / 7.0 } else { 0.0 };
    driving.salted_days.median() * share
}

/// Where the car stands at an age and how it is used, of an unknown past the likeliest.
fn current(scenario: &Scenario, age_a: f64) -> Option<&StorageAndUse> {
    let likeliest = scenario.periods_from(age_a).next()?.mixture.iter().max_by(|a, b| a.0.total_cmp(&b.0));
    likeliest.map(|(_, storage_and_use)| storage_and_use)
}

fn index_of(kind: ArrangementKind) -> Option<usize> {
    ArrangementKind::ALL.iter().position(|known| *known == kind)
}
