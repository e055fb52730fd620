//! The decision problem: prices, keeping time, and what can be done to the member or its storage from a day on.
//!
//! An option follows a course of the car, which the forecast lives through; here stands what is done on it and what it costs.

use crate::coating::treatment::{Preparation, TreatmentAction as Done};
use crate::coating::{System, Treatment};
use crate::decision::cost::{Interest, mean};
use crate::decision::lives::reworked;
use crate::decision::renewal::{FirstRework, RenewalTerms};
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
    /// Each year in which a criterion is met [currency/a].
    pub late_penalty: Prior,
    /// A yearly inspection; without a price it costs nothing [currency].
    pub inspection_each: Option<Prior>,
    /// A new or sound member with its coating, without labour and parts; without a price none is fitted [currency].
    pub new_member: Option<Prior>,
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
    /// What a buyer pays for each unused year of the last rework's coat, as a share of what that year cost [-].
    pub rest_value_share: f64,
    /// Coating of a rework.
    pub rework_system: System,
    /// Other jobs that need the member out.
    pub jobs: Vec<OtherJob>,
}

impl DecisionProblem {
    /// What does not differ between histories.
    #[must_use]
    pub fn renewal_terms(&self) -> RenewalTerms {
        let Self { interest, now_a, keep_a, ref prices, .. } = *self;
        let late_per_a = mean(&prices.late_penalty);
        let in_late_a = |price: f64| if late_per_a > 0.0 { price / late_per_a } else { f64::INFINITY };
        let new_member = prices.new_member.as_ref().map_or(f64::INFINITY, |price| in_late_a(mean(price)));
        let rework = prices.removal.mean() + mean(&prices.blast_and_coat) + mean(&prices.parts);
        RenewalTerms { interest, now_a, keep_a, rework_a: in_late_a(rework), new_member_a: new_member }
    }

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

/// What an option costs besides reworks, new members and inspections.
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
}

/// What can be done from the day of the decision on. Serialised as its key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(into = "String")]
pub enum OptionName {
    /// Nothing: neither inspections nor reworks.
    Leave,
    /// Inspecting yearly, rework when the criterion is found met.
    ReworkWhenDue,
    /// Rework on the day of the decision.
    ReworkNow,
    /// Another member on that day.
    NewMemberNow,
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
            OptionName::Leave => "leave",
            OptionName::ReworkWhenDue => "rework_when_due",
            OptionName::ReworkNow => "rework_now",
            OptionName::NewMemberNow => "new_member_now",
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
#[derive(Debug, Clone, Copy)]
pub(crate) struct DecisionOption {
    pub(crate) name: OptionName,
    pub(crate) first: FirstRework,
    pub(crate) pays: OptionCost,
    /// Index of its storage in the price list; `None` when nobody knows where the car stands.
    pub(crate) storage: Option<usize>,
    /// The course the car goes on, and which treatment of that course; `None` for none.
    pub(crate) course: usize,
    pub(crate) treated: Option<usize>,
}

/// A way in which the car goes on being stored and used, with what may be done to its member on it.
#[derive(Debug, Clone)]
pub(crate) struct Course {
    /// The member left alone.
    pub(crate) scenario: Scenario,
    /// Reworked at the ages of [`crate::decision::lives`].
    pub(crate) reworked: Vec<Scenario>,
    /// Under coats and films.
    pub(crate) treated: Vec<Scenario>,
}

impl Course {
    fn new(scenario: Scenario, problem: &DecisionProblem) -> Self {
        Self { reworked: reworked(&scenario, problem), scenario, treated: Vec::new() }
    }
}

/// What can be chosen: leaving the member alone first, and the course the car is on.
#[derive(Debug, Clone)]
pub(crate) struct Choices {
    pub(crate) options: Vec<DecisionOption>,
    pub(crate) courses: Vec<Course>,
    /// The car with its member left alone.
    pub(crate) as_it_is: Scenario,
}

impl Choices {
    /// What can be done to the member while the car goes on as it is.
    pub(crate) fn to_member(scenario: &Scenario, problem: &DecisionProblem) -> Self {
        let mut scenario = scenario.clone();
        // whether and when it is reworked from now on is the question
        scenario
            .treatments
            .retain(|done| done.age_a < problem.now_a || !matches!(done.kind, Done::Rework(_)));
        let storage = current(&scenario, problem.now_a).and_then(|place| index_of(place.arrangement.kind));
        let option = |(name, first)| DecisionOption {
            name,
            first,
            pays: OptionCost::Nothing,
            storage,
            course: 0,
            treated: None,
        };
        let mut works = vec![
            (OptionName::Leave, FirstRework::Never),
            (OptionName::ReworkWhenDue, FirstRework::Found(0.0)),
            (OptionName::ReworkNow, FirstRework::Planned(0.0)),
        ];
        if problem.prices.new_member.is_some() {
            works.push((OptionName::NewMemberNow, FirstRework::NewMember(0.0)));
        }
        Self {
            options: works.into_iter().map(option).collect(),
            courses: vec![Course::new(scenario.clone(), problem)],
            as_it_is: scenario,
        }
    }

    /// All that can be chosen.
    pub(crate) fn all(scenario: &Scenario, problem: &DecisionProblem) -> Result<Self> {
        let mut choices = Self::to_member(scenario, problem);
        choices.add_covers(problem);
        choices.add_washes(problem);
        choices.add_moves(problem)?;
        Ok(choices)
    }

    /// The member left alone, inspected yearly.
    fn inspected(&self) -> Option<DecisionOption> {
        self.options.iter().find(|option| option.name == OptionName::ReworkWhenDue).copied()
    }

    /// Over-rust coats and wax.
    fn add_covers(&mut self, problem: &DecisionProblem) {
        let Some(inspected) = self.inspected() else { return };
        let scenario = self.as_it_is.clone();
        let at = |age_a: f64, kind: Done| Treatment { age_a, kind };
        let coat = |age_a: f64| at(age_a, Done::OverRust(Preparation::None));
        let now_a = problem.now_a;
        let coats = (problem.keep_a / COAT_EVERY_A).ceil() as usize;
        let repeated = (0..coats).map(|n| coat((n as f64).mul_add(COAT_EVERY_A, now_a))).collect();
        let mut covers = vec![
            (OptionName::OverRustCoatNow, OptionCost::OverRust(None), vec![coat(now_a)]),
            (OptionName::OverRustCoatEvery2A, OptionCost::OverRust(Some(COAT_EVERY_A)), repeated),
        ];
        if problem.prices.wax_per_year.is_some() {
            covers.push((OptionName::WaxYearly, OptionCost::Wax, vec![at(now_a, Done::WaxFilm(Some(1.0)))]));
        }
        for (number, (name, pays, treatments)) in covers.into_iter().enumerate() {
            let mut treated = scenario.clone();
            treated.treatments.extend(treatments);
            self.options.push(DecisionOption { name, pays, treated: Some(number), ..inspected });
            self.courses.iter_mut().take(1).for_each(|course| course.treated.push(treated.clone()));
        }
    }

    /// Rinsing after every drive on a salted road, where that is not done already.
    fn add_washes(&mut self, problem: &DecisionProblem) {
        let Some(inspected) = self.inspected() else { return };
        let scenario = self.as_it_is.clone();
        let drives_on_salt =
            |driving: &Driving| driving.winter_use && driving.wash != Wash::AfterSaltedDrives;
        let mut possible = scenario.periods_from(problem.now_a).flat_map(|period| &period.mixture);
        let Some(now) = scenario.periods_from(problem.now_a).next() else { return };
        if problem.prices.wash_each.is_none() || !possible.any(|(_, entry)| drives_on_salt(&entry.driving)) {
            return;
        }
        let washes_per_a =
            now.mixture.iter().map(|(weight, entry)| weight * washes_per_a(&entry.driving)).sum();
        let washed = scenario.from_age(problem.now_a, |entry| entry.washed(Wash::AfterSaltedDrives));
        let option = DecisionOption {
            name: OptionName::WashAfterSaltedDrives,
            pays: OptionCost::Washes(washes_per_a),
            ..inspected
        };
        self.add_course(option, Course::new(washed, problem));
    }

    /// Every arrangement with a price, where the car does not stand there already.
    fn add_moves(&mut self, problem: &DecisionProblem) -> Result<()> {
        let Some(inspected) = self.inspected() else { return Ok(()) };
        let scenario = self.as_it_is.clone();
        let offered = ArrangementKind::ALL.iter().zip(&problem.prices.storage_per_year).enumerate();
        for (index, (kind, _)) in
            offered.filter(|(index, (_, price))| price.is_some() && Some(*index) != inspected.storage)
        {
            let arrangement = scenario.model.arrangements.arrangement(*kind)?;
            let moved = scenario.from_age(problem.now_a, |entry| entry.moved_to(&arrangement));
            let option =
                DecisionOption { name: OptionName::MoveTo(*kind), storage: Some(index), ..inspected };
            self.add_course(option, Course::new(moved, problem));
        }
        Ok(())
    }

    fn add_course(&mut self, option: DecisionOption, course: Course) {
        self.options.push(DecisionOption { course: self.courses.len(), ..option });
        self.courses.push(course);
    }
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
