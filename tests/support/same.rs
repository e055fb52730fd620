//! Two scenarios that ask the same question, and what two answers differ by.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::panic,
    reason = "each test uses its part; helpers may fail loudly"
)]

use ferrowane::case::{read_path, read_str};
use ferrowane::forecast::outcome::Forecast;
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::inspection::paired::{Known, paired};
use ferrowane::inspection::{Updated, update};
use ferrowane::model::Model;
use std::ops::ControlFlow;
use std::path::Path;

pub(crate) const FEW: Settings = Settings { seed: 1, histories: 16_384, horizon_a: 40, precision_a: None };

/// A case of `demo/cases`.
pub(crate) fn demo(name: &str) -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/cases").join(name);
    read_path(&path, &Model::published().unwrap()).unwrap()
}

/// A case written as TOML; places of climate files are meant from the repository's root.
pub(crate) fn case(text: &str) -> Scenario {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    read_str(text, "case.toml", Some(root), &Model::published().unwrap())
        .unwrap_or_else(|error| panic!("{error}\n{text}"))
}

/// The update of a scenario with few histories.
pub(crate) fn updated(scenario: &Scenario) -> Updated {
    update(scenario, &FEW, &|_| ControlFlow::Continue(())).unwrap()
}

/// The forecast of a scenario with few histories.
pub(crate) fn answer(scenario: &Scenario) -> Forecast {
    updated(scenario).forecast
}

/// 5, 50 and 95 % points of the shift of the second's rework date against the first's in the same histories [a].
pub(crate) fn shift_a(first: &Scenario, second: &Scenario) -> [f64; 3] {
    let both = paired(&[first, second], Known::OfFirst, &FEW, &|_| ControlFlow::Continue(())).unwrap();
    [0.05, 0.5, 0.95].map(|p| both.shifts[1].quantile_a(p))
}
