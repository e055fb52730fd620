//! How a number of an input stands in a table, and back: a value in the unit of the registry where it has a prior, a name where
//! it chooses a function, else the standard normal number itself.

use crate::corrosivity::DoseResponse;
use crate::corrosivity::dose_response::DoseResponseFacts;
use crate::error::{Error, Result};
use crate::model::{Input, InputPriors, Model, Point};
use crate::numeric::normal::{cdf_alone, quantile};

/// Reads and writes the cells of the inputs of a model.
#[derive(Debug, Clone)]
pub struct Columns {
    priors: InputPriors,
    /// Functions of the forecast in the order of their shares.
    functions: Vec<DoseResponse>,
}

impl Columns {
    /// Those of a model.
    ///
    /// # Errors
    /// When the model lacks a prior that an input names, or every dose-response function.
    pub fn new(model: &Model) -> Result<Self> {
        let in_forecast = |function: &DoseResponse| {
            model.dose_responses.facts(*function).is_ok_and(DoseResponseFacts::is_in_forecast)
        };
        let functions: Vec<DoseResponse> = DoseResponse::ALL.into_iter().filter(in_forecast).collect();
        if functions.is_empty() {
            return Err(Error::invalid("dose-response functions", "none", "at least one in the forecast"));
        }
        Ok(Self { priors: InputPriors::new(&model.priors)?, functions })
    }

    /// Functions of the forecast, each with the same share before any data.
    #[must_use]
    pub fn functions(&self) -> &[DoseResponse] {
        &self.functions
    }

    /// Place of the function that a standard normal number chooses, among [`Self::functions`].
    #[must_use]
    pub fn function_at(&self, number: f64) -> usize {
        let count = self.functions.len();
        ((cdf_alone(number) * count as f64) as usize).min(count - 1)
    }

    /// A standard normal number that chooses the function of a place: the middle of those that do [-].
    #[must_use]
    pub fn number_of(&self, function: usize) -> f64 {
        quantile((function as f64 + 0.5) / self.functions.len() as f64)
    }

    /// Value of an input at a point, in the unit of the registry; its standard normal number where that has no prior.
    #[must_use]
    pub fn value(&self, input: Input, z: &Point) -> f64 {
        self.priors.value(input, z)
    }

    /// The cell of an input.
    #[must_use]
    pub fn cell(&self, input: Input, z: &Point) -> String {
        if input == Input::DoseResponseChoice {
            return self.functions[self.function_at(z[input as usize])].id().to_owned();
        }
        // the shortest digits that read back as the same number
        self.value(input, z).to_string()
    }

    /// The standard normal number of a cell [-].
    ///
    /// # Errors
    /// [`Error::Invalid`] naming the column, what was found and what is allowed.
    pub fn number(&self, input: Input, cell: &str) -> Result<f64> {
        let key = input.facts().key;
        if input == Input::DoseResponseChoice {
            let place = self.functions.iter().position(|function| function.id() == cell);
            let names: Vec<&str> = self.functions.iter().map(|function| function.id()).collect();
            return place
                .map(|place| self.number_of(place))
                .ok_or_else(|| Error::invalid(key, format!("`{cell}`"), names.join(", ")));
        }
        let number = cell.trim().parse::<f64>().ok().map(|value| self.priors.number(input, value));
        number
            .filter(|number| number.is_finite())
            .ok_or_else(|| Error::invalid(key, format!("`{cell}`"), "a number its prior allows"))
    }
}

#[cfg(test)]
mod tests {
    use super::Columns;
    use crate::model::{INPUTS, Input, Model, Point};

    /// A cell says which number it came from, of every input; of the function only which share it lay in.
    #[test]
    fn property_cells_read_back() {
        let model = Model::published().unwrap();
        let columns = Columns::new(&model).unwrap();
        let z: Point = std::array::from_fn(|i| (i as f64 * 0.7).sin());
        for facts in INPUTS.iter().filter(|facts| facts.input != Input::DoseResponseChoice) {
            let cell = columns.cell(facts.input, &z);
            let number = columns.number(facts.input, &cell).unwrap();
            assert!((number - z[facts.input as usize]).abs() < 1e-9, "{}: {cell}", facts.key);
        }
        for (place, function) in columns.functions().iter().enumerate() {
            let number = columns.number(Input::DoseResponseChoice, function.id()).unwrap();
            assert_eq!(columns.function_at(number), place);
        }
        assert!(columns.number(Input::DoseResponseChoice, "iso_9223").is_err());
        assert!(columns.number(Input::BreakdownShape, "much").is_err());
        assert!(columns.number(Input::VisibleLoss, "-1").is_err());
    }
}
