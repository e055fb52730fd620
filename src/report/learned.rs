//! What was learned from the grades of a fleet, in words: whose, and how long the coat of a car lasts by it.

use crate::coating::system::System;
use crate::forecast::scenario::Scenario;
use crate::model::Input;
use crate::numeric::elementary::exp_alone;
use crate::numeric::normal::quantile;
use crate::report::number_words::significant;
use crate::report::text::indented;

/// Middle and ends of the interval that is named [-].
const SHARES: [f64; 3] = [0.05, 0.5, 0.95];

/// What the shared inputs were learned from, in lines; none where their priors hold.
#[must_use]
pub(crate) fn learned(from: Option<&str>) -> Vec<String> {
    from.map_or_else(Vec::new, |fleet| indented("", &sentence(fleet), 0))
}

/// The same in a sentence.
pub(crate) fn sentence(fleet: &str) -> String {
    format!("Shared inputs as learned from {fleet}, not from the priors.")
}

/// How long the outside coat of a car lasts by what was learned, and by the tables; `None` where nothing was.
pub(crate) fn coat_life(scenario: &Scenario) -> Option<String> {
    let shared = scenario.model.shared.as_ref()?;
    let system = &scenario.coating.outside;
    let mut learned: Vec<f64> = shared.numbers(Input::SystemLife).map(|z| life_a(system, z)).collect();
    learned.sort_by(f64::total_cmp);
    let at = |share: f64| learned[((share * learned.len() as f64) as usize).min(learned.len() - 1)];
    let [low, middle, high] = SHARES.map(|share| significant(at(share), 2));
    let [low_before, before, high_before] =
        SHARES.map(|share| significant(life_a(system, quantile(share)), 2));
    Some(format!(
        "Learned from {}: a coat like this one lasts {middle} years to Ri 3 at the middle of corrosivity C3 ({low} to {high}); \
         the tables say {before} ({low_before} to {high_before}).",
        shared.learned_from
    ))
}

/// Life of the middle car of a system [a].
fn life_a(system: &System, z: f64) -> f64 {
    exp_alone(system.ln_life(z).0)
}
