//! Writes one draw, the random numbers of its histories and our measured answer, for a peer to compute the same.

use crate::{Setup, YEARS, nanoseconds_a_year, read};
use ferrowane::error::{Error, Result};
use ferrowane::forecast::tally::Tally;
use rayon::prelude::*;
use std::hint::black_box;
use std::path::Path;

const HISTORIES: usize = 65_536;
/// Blocks a task counts before its tally is added to the others.
const BLOCKS_A_TASK: usize = 128;

/// Measures with 1 and 2 threads and writes `aleatory.bin` (f64, history by number) and `case.json`.
pub(crate) fn write(directory: &Path) -> Result<()> {
    let setup = Setup::new(HISTORIES)?;
    let pool = |threads| {
        let build = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        build.map_err(|error| Error::invalid("thread pool", error.to_string(), "a running pool"))
    };
    let (one, two) = (pool(1)?, pool(2)?);
    let run = || {
        let tasks = setup.blocks.par_chunks(BLOCKS_A_TASK).map(|blocks| setup.tally(blocks));
        let tallies: Vec<Tally> = tasks.collect();
        let mut sum = Tally::of_years(YEARS);
        for tally in &tallies {
            sum.merge(tally, 0);
        }
        read(&sum)
    };
    let timed = |pool: &rayon::ThreadPool| {
        black_box(pool.install(run));
    };
    let [with_1, with_2] = nanoseconds_a_year(HISTORIES, [&|| timed(&one), &|| timed(&two)]);
    let answer = one.install(run);
    let medians =
        |quantity: usize| -> Vec<f64> { answer.years.iter().map(|year| year[quantity][1]).collect() };
    let case = serde_json::json!({
        "histories": HISTORIES,
        "years": YEARS,
        "draw": draw(&setup),
        "locations": locations(&setup),
        "limits": { "rework": setup.limits[0], "caution": setup.limits[1], "grade_ages": setup.grade_ages },
        "ours": {
            "ns_per_history_year": { "1 thread": with_1, "2 threads": with_2 },
            "time_a": answer.time_a,
            "first_shares": answer.first_shares,
            "assessment_share": answer.assessment_share,
            "median_mean_um": medians(0),
            "median_deepest_um": medians(1),
            "median_modulus_loss": medians(2),
            "median_bared_um": medians(3),
            "above": answer.above,
        },
    });
    let aleatory: Vec<u8> =
        setup.by_history().iter().flatten().flat_map(|number| number.to_le_bytes()).collect();
    save(&directory.join("aleatory.bin"), &aleatory)?;
    save(&directory.join("case.json"), case.to_string().as_bytes())
}

fn draw(setup: &Setup) -> serde_json::Value {
    let draw = &setup.draw;
    serde_json::json!({
        "ln_rate": draw.ln_rate,
        "year_sd": draw.year_sd,
        "exponent": draw.exponent,
        "life_exponent": draw.life_exponent,
        "breakdown_shape": draw.breakdown_shape,
        "ln_life": draw.coats.first().map(|coat| (coat.ln_life, coat.car_sd)),
        "ln_inside_life": draw.ln_inside_life,
        "inside_rate_factor": draw.inside_rate_factor,
        "pit_factor": draw.pitting_factor,
        "car_sd": draw.car_sd,
        "node_sd": draw.node_sd,
        "wall_sd": draw.wall_sd,
    })
}

fn locations(setup: &Setup) -> serde_json::Value {
    let locations = &setup.locations;
    serde_json::json!({
        "rate_factor": locations.rate_factor,
        "life_factor": locations.life_factor,
        "circumference_share": locations.circumference_share,
        "intact": locations.intact,
        "polynomials": locations.polynomials,
    })
}

fn save(path: &Path, bytes: &[u8]) -> Result<()> {
    std::fs::write(path, bytes).map_err(|source| Error::Io { path: path.to_owned(), source })
}
