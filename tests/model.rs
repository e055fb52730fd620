//! The model is replaceable: a scenario is computed with the tables it carries, not with the embedded ones.

#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use ferrowane::case::{read_str, template};
use ferrowane::forecast::{Forecast, Scenario, Settings, forecast};
use ferrowane::model::{INPUTS, Model};
use ferrowane::prior::Priors;
use std::ops::ControlFlow;
use std::sync::Arc;

const PRIORS: &str = include_str!("../shared/priors.csv");

fn computed(scenario: &Scenario) -> Forecast {
    let settings = Settings { histories: 32_768, ..Settings::default() };
    forecast(scenario, &settings, &|_| ControlFlow::Continue(())).unwrap()
}

fn of_model(model: &Arc<Model>) -> Forecast {
    computed(&read_str(template(), "template.toml", None, model).unwrap())
}

/// The published model with other rows in its table of priors.
fn with_prior(from: &str, to: &str) -> Arc<Model> {
    assert!(PRIORS.contains(from), "the table has another row than {from}");
    let priors = Priors::from_csv(&PRIORS.replace(from, to)).unwrap();
    let model = Model::published().unwrap();
    Arc::new(Model { priors, ..(*model).clone() })
}

#[test]
fn property_another_prior_moves_what_it_is_about_and_nothing_before_it() {
    let published = of_model(&Model::published().unwrap());
    let deeper = of_model(&with_prior("pit_factor,2,1.2,3.5,", "pit_factor,4,2.4,7,"));
    let last = |forecast: &Forecast| forecast.deepest_loss_um.last().unwrap().p50;
    assert!(last(&deeper) > 1.2 * last(&published), "{} and {}", last(&deeper), last(&published));
    assert_eq!(deeper.first_year_rate_um_per_a, published.first_year_rate_um_per_a);
    assert_eq!(deeper.mean_loss_um, published.mean_loss_um);
}

#[test]
fn property_the_same_tables_give_the_same_numbers() {
    let model = Model::published().unwrap();
    let read_again = Arc::new(Model { priors: Priors::from_csv(PRIORS).unwrap(), ..(*model).clone() });
    assert_eq!(of_model(&read_again), of_model(&model));
}

#[test]
fn property_a_model_without_a_prior_is_refused_by_name() {
    let model = with_prior("car_spread,", "car_scatter,");
    let scenario = read_str(template(), "template.toml", None, &model).unwrap();
    let settings = Settings::default();
    let error = forecast(&scenario, &settings, &|_| ControlFlow::Continue(())).unwrap_err().to_string();
    assert!(error.contains("car_spread"), "{error}");
}

#[test]
fn property_the_registry_names_rows_that_exist() {
    let priors = Priors::from_csv(PRIORS).unwrap();
    let named = INPUTS.iter().flat_map(|facts| facts.priors);
    assert!(named.clone().count() > 25);
    named.for_each(|id| assert!(priors.get(id).is_ok(), "{id}"));
}
