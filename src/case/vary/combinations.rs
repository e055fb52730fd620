//! Everyday choices of an owner, each with each: where the car stands, how it is washed, and what is put on.

use super::{CaseName, Choices, DifferFrom, EVERYDAY_COATS, Variant, Vary, choices, from};
use crate::error::Result;
use crate::forecast::scenario::Scenario;

/// Every way to store, wash and coat a car from an age on; the first of each is what the case says.
#[derive(Debug, Clone)]
pub struct Combinations {
    /// Where it stands.
    pub storages: Vec<CaseName>,
    /// How it is washed.
    pub washes: Vec<CaseName>,
    /// What is put on the member.
    pub coats: Vec<CaseName>,
    /// One a combination; the last choice changes first.
    pub scenarios: Vec<Scenario>,
    from: DifferFrom,
}

impl Combinations {
    /// Of a car from an age on [a].
    ///
    /// # Errors
    /// As [`choices`].
    pub fn new(base: &Scenario, from_age_a: f64) -> Result<Self> {
        let coats = EVERYDAY_COATS.map(str::to_owned);
        let of = |car: &Scenario, vary, chosen: &[String]| {
            choices(car, vary, chosen, Some(from_age_a)).map(|choices| choices.variants)
        };
        let names = |variants: &[Variant]| {
            let others = variants.iter().skip(1).map(|variant| variant.name.clone());
            std::iter::once(CaseName::LeftAsItIs).chain(others).collect::<Vec<_>>()
        };
        let stored = of(base, Vary::Storage, &[])?;
        let mut all = Self {
            storages: names(&stored),
            washes: names(&of(base, Vary::Wash, &[])?),
            coats: names(&of(base, Vary::Treatment, &coats)?),
            scenarios: Vec::new(),
            from: from(base, Vary::Storage, Some(from_age_a)),
        };
        for store in &stored {
            for washed in of(&store.scenario, Vary::Wash, &[])? {
                let coated = of(&washed.scenario, Vary::Treatment, &coats)?;
                all.scenarios.extend(coated.into_iter().map(|variant| variant.scenario));
            }
        }
        Ok(all)
    }

    /// Place of a combination of storage, washing and coat among the scenarios.
    #[must_use]
    pub fn place(&self, [storage, wash, coat]: [usize; 3]) -> usize {
        (storage * self.washes.len() + wash) * self.coats.len() + coat
    }

    /// Places of the car left as it is and of those that differ from it in one choice, in the order of [`super::everyday`].
    #[must_use]
    pub fn single_places(&self) -> Vec<usize> {
        let one =
            |count: usize, at: fn(usize) -> [usize; 3]| (1..count).map(move |number| self.place(at(number)));
        let storages = one(self.storages.len(), |number| [number, 0, 0]);
        let washes = one(self.washes.len(), |number| [0, number, 0]);
        let coats = one(self.coats.len(), |number| [0, 0, number]);
        std::iter::once(0).chain(storages).chain(washes).chain(coats).collect()
    }

    /// The choices that differ in one thing, as [`super::everyday`] gives them.
    #[must_use]
    pub fn everyday(&self) -> Choices {
        let names =
            [&self.storages, &self.washes, &self.coats].into_iter().flat_map(|names| names.iter().skip(1));
        let names = std::iter::once(&CaseName::LeftAsItIs).chain(names);
        let scenarios = self.single_places().into_iter().filter_map(|place| self.scenarios.get(place));
        let variants = names.zip(scenarios);
        Choices {
            variants: variants
                .map(|(name, scenario)| Variant { name: name.clone(), scenario: scenario.clone() })
                .collect(),
            from: self.from,
        }
    }
}
