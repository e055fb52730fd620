//! When does the member of a case need rework? The median age, its 80 % interval, and the band by year.
//!
//!     cargo run --release --example forecast_of_a_case -- demo/cases/street_daily.toml

#![allow(clippy::print_stdout, reason = "an example shows its result")]

use ferrowane::error::Result;
use ferrowane::forecast::{Settings, forecast};
use ferrowane::model::Model;
use std::ops::ControlFlow;
use std::path::PathBuf;

fn main() -> Result<()> {
    let path =
        std::env::args_os().nth(1).map_or_else(|| "demo/cases/street_daily.toml".into(), PathBuf::from);
    let scenario = ferrowane::case::read_path(&path, &Model::published()?)?;
    let settings = Settings { histories: 32_768, ..Settings::default() };
    let forecast = forecast(&scenario, &settings, &|_| ControlFlow::Continue(()))?;
    let age =
        |age_a: Option<f64>| age_a.map_or_else(|| "beyond the horizon".to_owned(), |a| format!("{a:.1} a"));
    let ages = &forecast.time_to_rework_a;
    println!("{}", forecast.title);
    println!("age at rework: {}, 80 % interval {} to {}", age(ages.p50), age(ages.p10), age(ages.p90));
    for year in forecast.band.iter().step_by(5) {
        println!("by {:2} a: {:4.2} ({:4.2} to {:4.2})", year.year, year.mid, year.low, year.high);
    }
    println!("Planning estimate only: no structural or roadworthiness assessment.");
    Ok(())
}
