//! Which prices were named for a car after its last rework, and what do they change in its costs?

use super::car_scenario::CarScenario;
use super::entry::{EntryKind, NewEntry};
use crate::coating::CoatingSystems;
use crate::decision::planned::REWORK;
use crate::decision::{DecisionProblem, OtherJob};
use crate::forecast::scenario::age_on;
use crate::prior::Prior;

/// Prices named after the last rework, the latest of each job [the workshop's currency].
pub(super) struct OpenQuotes<'a> {
    /// Of the whole rework.
    pub(super) rework: Option<f64>,
    /// Of other jobs, each by its name.
    others: Vec<(&'a str, f64)>,
}

impl<'a> OpenQuotes<'a> {
    /// Quotes of a car dated after an age at its last rework [a].
    pub(super) fn after(reworked_a: f64, known: &'a CarScenario) -> Self {
        let mut quotes = Self { rework: None, others: Vec::new() };
        let registered = known.car.first_registration;
        let is_open =
            |entry: &&NewEntry| entry.kind == EntryKind::Quote && age_on(registered, entry.date) > reworked_a;
        // oldest first, so that the latest stays
        for entry in known.entries.iter().map(|entry| &entry.fields).filter(is_open) {
            let Some(amount) = entry.amount else { continue };
            let job = entry.what.as_deref().unwrap_or_default().trim();
            quotes.take(job, names_rework(job, &known.scenario.model.systems), amount);
        }
        quotes
    }

    fn take(&mut self, job: &'a str, is_rework: bool, amount: f64) {
        if is_rework {
            self.rework = Some(amount);
        } else {
            self.others.retain(|(other, _)| !is_same(other, job));
            self.others.push((job, amount));
        }
    }

    /// What was quoted for a job [the workshop's currency].
    pub(super) fn quoted(&self, job: &str) -> Option<f64> {
        self.others.iter().find(|(other, _)| is_same(other, job)).map(|(_, amount)| *amount)
    }

    /// The costs of a file for a car of this age at the quoted prices; `None` where it is too old.
    ///
    /// - `now_a`: age of the car [a]
    /// - `reworked_a`: its age at the last rework [a]
    pub(super) fn priced(
        &self,
        costs: &DecisionProblem,
        now_a: f64,
        reworked_a: f64,
    ) -> Option<DecisionProblem> {
        let mut problem = costs.at_age(now_a)?;
        // what had fallen due when the member was last out was done then, unless it was quoted since
        problem.jobs.retain(|job| job.due_a > reworked_a || self.quoted(&job.name).is_some());
        for OtherJob { name, cost, .. } in &mut problem.jobs {
            *cost = self.quoted(name).map_or(*cost, Prior::Fixed);
        }
        if let Some(amount) = self.rework {
            let prices = &mut problem.prices;
            prices.blast_and_coat = Prior::Fixed((amount - prices.removal.mean()).max(0.0));
            prices.parts = Prior::Fixed(0.0);
        }
        Some(problem)
    }

    /// Quoted jobs that the costs do not plan; they wait for the next visit.
    pub(super) fn unplanned<'b>(
        &'b self,
        costs: Option<&'b DecisionProblem>,
    ) -> impl Iterator<Item = &'b str> {
        let is_planned = move |job: &str| {
            costs.is_some_and(|costs| costs.jobs.iter().any(|planned| is_same(&planned.name, job)))
        };
        self.others.iter().map(|(job, _)| *job).filter(move |job| !is_planned(job))
    }
}

/// Whether a quote is for the whole rework: it says so, names a coating system, or nothing.
fn names_rework(job: &str, systems: &CoatingSystems) -> bool {
    job.is_empty() || is_same(job, REWORK) || systems.outside(job).is_ok()
}

fn is_same(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}
