//! A hand calculation of bare steel: the first-year rate by every dose-response function, and the loss it leads to.
//!
//!     cargo run --example hand_calculation

#![allow(clippy::print_stdout, reason = "an example shows its result")]

use ferrowane::corrosivity::dose_response::AirChemistry;
use ferrowane::corrosivity::long_term::{B1, loss_um};
use ferrowane::corrosivity::{Conditions, DoseResponse};
use ferrowane::error::Result;
use ferrowane::model::Model;

fn main() -> Result<()> {
    let model = Model::published()?;
    let conditions = Conditions {
        temperature_c: 10.0,
        humidity_pct: 75.0,
        so2_mg_m2_d: 10.0,
        chloride_mg_m2_d: 10.0,
        wetness_h_per_a: 3_000.0,
        air: AirChemistry::default(),
    };
    println!("{:27} {:>8} {:>4} {:>8} {:>8}", "function", "µm/a", "", "10 a, µm", "30 a, µm");
    for function in DoseResponse::ALL {
        let rate = model.dose_responses.rate(function, &conditions).rate_um_per_a;
        let category = format!("{:?}", model.categories.outdoor(rate));
        let [ten, thirty] = [loss_um(rate, 10.0, B1)?, loss_um(rate, 30.0, B1)?];
        println!("{:27} {rate:8.1} {category:>4} {ten:8.0} {thirty:8.0}", function.id());
    }
    Ok(())
}
