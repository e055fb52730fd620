//! The native half of the Python package `ferrowane`: questions in, answers and Arrow tables out.
//!
//! Nothing is computed here: a question becomes a scenario, the library answers, and `report` gives the words and pictures
//! that the command line gives. The functions that people call stand in `ferrowane/`, beside this folder.

#![allow(clippy::needless_pass_by_value, reason = "Python hands over values, not references")]
#![allow(clippy::unused_self, reason = "what every answer has is an attribute of it")]

mod batch;
mod case;
mod cells;
mod comparison;
mod csv_text;
mod explanation;
mod exposure;
mod failure;
mod fleet;
mod forecast;
mod hand;
mod options;
mod posterior;
mod running;
mod scores;
mod table;
mod values;

use pyo3::prelude::*;

/// Answers of the library.
#[pymodule]
mod _native {
    #[pymodule_export]
    use crate::batch::{Answers, batch};
    #[pymodule_export]
    use crate::case::read_case;
    #[pymodule_export]
    use crate::comparison::{Comparison, compare};
    #[pymodule_export]
    use crate::explanation::{Explanation, Sensitivity, explain, sensitivity};
    #[pymodule_export]
    use crate::exposure::{Exposure, exposure};
    #[pymodule_export]
    use crate::failure::{Error, refused};
    #[pymodule_export]
    use crate::fleet::{Fleet, simulate};
    #[pymodule_export]
    use crate::forecast::{Forecast, forecast};
    #[pymodule_export]
    use crate::hand::{growth, rates, section};
    #[pymodule_export]
    use crate::posterior::{Posterior, tune};
    #[pymodule_export]
    use crate::scores::{Scores, score};
    #[pymodule_export]
    use crate::table::Table;
    #[pymodule_export]
    const VERSION: &str = env!("CARGO_PKG_VERSION");
}
