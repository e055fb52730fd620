//! What would a tight garage or a dehumidified tent gain from the age of four on, against staying in the street?
//!
//! Every history is computed for each place, so that the years gained are those of the same car.
//!
//!     cargo run --release --example two_arrangements

#![allow(clippy::print_stdout, reason = "an example shows its result")]

use ferrowane::case::vary::{Vary, choices};
use ferrowane::error::Result;
use ferrowane::forecast::Settings;
use ferrowane::inspection::paired::{Known, paired};
use ferrowane::model::Model;
use std::ops::ControlFlow;
use std::path::Path;

fn main() -> Result<()> {
    let car = ferrowane::case::read_path(Path::new("demo/cases/street_daily.toml"), &Model::published()?)?;
    let places = ["garage_tight", "tent_dehumidified"].map(str::to_owned);
    let choices = choices(&car, Vary::Storage, &places, Some(4.0))?;
    let settings = Settings { histories: 32_768, ..Settings::default() };
    let run = paired(&choices.scenarios(), Known::OfFirst, &settings, &|_| ControlFlow::Continue(()))?;
    for (choice, shift) in choices.variants.iter().zip(&run.shifts) {
        let [low, middle, high] = [0.1, 0.5, 0.9].map(|p| shift.quantile_a(p));
        let name = format!("{:?}", choice.name);
        println!("{name:45} {middle:+5.1} a ({low:+.1} to {high:+.1})");
    }
    println!("Planning estimate only: no structural or roadworthiness assessment.");
    Ok(())
}
