//! The invented cars that come with the program.

use crate::case;
use crate::error::Result;
use crate::forecast::scenario::Scenario;
use crate::model::Model;
use std::sync::Arc;

/// Name and text of each case file.
pub const DEMO_CASES: [(&str, &str); 6] = [
    ("dehumidified_tent_washed.toml", include_str!("../../demo/cases/dehumidified_tent_washed.toml")),
    ("heated_garage_daily.toml", include_str!("../../demo/cases/heated_garage_daily.toml")),
    ("square_tube_zinc.toml", include_str!("../../demo/cases/square_tube_zinc.toml")),
    (STREET_CAR, STREET_TEXT),
    ("tight_garage_fair_weather.toml", include_str!("../../demo/cases/tight_garage_fair_weather.toml")),
    ("unknown_past_carport.toml", include_str!("../../demo/cases/unknown_past_carport.toml")),
];

/// The car that is driven daily on salted roads and parked in the street.
const STREET_CAR: &str = "street_daily.toml";
const STREET_TEXT: &str = include_str!("../../demo/cases/street_daily.toml");

/// All of them as scenarios.
///
/// # Errors
/// As [`case::read_str`].
pub fn demo_cars(model: &Arc<Model>) -> Result<Vec<Scenario>> {
    DEMO_CASES.iter().map(|(name, text)| read(name, text, model)).collect()
}

/// The street car as a scenario.
///
/// # Errors
/// As [`case::read_str`].
pub fn street_car(model: &Arc<Model>) -> Result<Scenario> {
    read(STREET_CAR, STREET_TEXT, model)
}

fn read(name: &str, text: &str, model: &Arc<Model>) -> Result<Scenario> {
    case::read_str(text, name, None, model)
}
