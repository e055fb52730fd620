//! Draws of what all cars share, learned from the grades of a fleet, in place of the priors of those inputs.
//!
//! Shared inputs depend on one another once grades were read, so a draw is taken as a whole: the number that else chooses the
//! dose-response function says which. Even numbers take the draws evenly, so the points of a forecast keep their evenness.

use crate::error::{Error, Result};
use crate::model::input::{INPUTS, Input, Point, Scope};
use crate::numeric::normal::cdf_alone;

/// Draws of what all cars share.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedDraws {
    draws: Vec<Point>,
    /// What they were learned from, in words.
    pub learned_from: String,
}

impl SharedDraws {
    /// Standard normal numbers of the shared inputs, a point a draw [-].
    ///
    /// # Errors
    /// [`Error::Invalid`] without a draw.
    pub fn new(draws: Vec<Point>, learned_from: String) -> Result<Self> {
        if draws.is_empty() {
            return Err(Error::invalid("draws", "none", "at least one"));
        }
        Ok(Self { draws, learned_from })
    }

    /// How many draws there are [-].
    #[must_use]
    pub fn count(&self) -> usize {
        self.draws.len()
    }

    /// A point with what is shared taken from the draw that its number of the dose-response function chooses [-].
    #[must_use]
    pub fn taken_into(&self, z: &Point) -> Point {
        let share = cdf_alone(z[Input::DoseResponseChoice as usize]);
        let chosen = ((share * self.draws.len() as f64) as usize).min(self.draws.len() - 1);
        with_shared(z, &self.draws[chosen])
    }

    /// Numbers of an input, by draw [-].
    pub fn numbers(&self, input: Input) -> impl Iterator<Item = f64> {
        self.draws.iter().map(move |draw| draw[input as usize])
    }

    /// A point with the medians of what is shared [-].
    #[must_use]
    pub fn median_into(&self, z: &Point) -> Point {
        let median = |input: usize| {
            let mut numbers: Vec<f64> = self.draws.iter().map(|draw| draw[input]).collect();
            numbers.sort_by(f64::total_cmp);
            numbers[numbers.len() / 2]
        };
        with_shared(z, &std::array::from_fn(median))
    }
}

fn with_shared(z: &Point, shared: &Point) -> Point {
    std::array::from_fn(|input| if INPUTS[input].scope == Scope::Car { z[input] } else { shared[input] })
}

#[cfg(test)]
mod tests {
    use super::SharedDraws;
    use crate::model::{DIMENSIONS, Input};
    use crate::numeric::normal::quantile;

    /// Four draws are taken by quarters, whole; what is a car's own stays.
    #[test]
    fn closed_form_draws_are_taken_evenly() {
        let draws = (0..4).map(|draw| [f64::from(draw); DIMENSIONS]).collect();
        let shared = SharedDraws::new(draws, "four cars".to_owned()).unwrap();
        for (share, draw) in [(0.1, 0.0), (0.3, 1.0), (0.6, 2.0), (0.999, 3.0)] {
            let mut z = [9.0; DIMENSIONS];
            z[Input::DoseResponseChoice as usize] = quantile(share);
            let found = shared.taken_into(&z);
            let all =
                [Input::DoseResponseChoice, Input::SystemLife, Input::SaltPerDrive, Input::GradeReadingSd];
            assert!(all.iter().all(|input| (found[*input as usize] - draw).abs() < 1e-12), "{share}");
            assert!((found[Input::SteelOffset as usize] - 9.0).abs() < 1e-12);
        }
        let middle = shared.median_into(&[9.0; DIMENSIONS]);
        assert!((middle[Input::SystemLife as usize] - 2.0).abs() < 1e-12);
        assert!(SharedDraws::new(Vec::new(), String::new()).is_err());
    }
}
