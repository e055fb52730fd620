//! What an answer costs: the default forecast, a million histories and their memory, and the hourly year.

#![allow(clippy::print_stdout, reason = "a benchmark says what it measured")]

mod question;

use criterion::{Criterion, Throughput};
use ferrowane::climate::HOURS_PER_YEAR;
use ferrowane::error::Result;
use ferrowane::forecast::draw::{DRIVES, Inputs};
use ferrowane::forecast::{Forecast, Scenario, Settings, forecast};
use ferrowane::model::DIMENSIONS;
use std::hint::black_box;
use std::ops::ControlFlow;
use std::time::Instant;

fn answer(scenario: &Scenario, histories: u64) -> Result<Forecast> {
    forecast(scenario, &Settings { histories, ..Settings::default() }, &|_| ControlFlow::Continue(()))
}

/// Most memory the process has held so far, as the system states it.
fn peak_memory() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    peak.map_or_else(|| "not known on this system".to_owned(), |peak| peak.trim().to_owned())
}

/// Runs so many histories once, with all threads, and says how long it took.
fn once(scenario: &Scenario, histories: u64) -> Result<()> {
    let start = Instant::now();
    let answer = answer(scenario, histories)?;
    let seconds = start.elapsed().as_secs_f64();
    println!(
        "{} histories of {} a: {seconds:.2} s on {} threads, median {:.2} a, peak memory {}",
        answer.histories,
        answer.horizon_a,
        rayon::current_num_threads(),
        answer.time_to_rework_a.p50.unwrap_or(f64::INFINITY),
        peak_memory()
    );
    Ok(())
}

fn main() -> Result<()> {
    let scenario = question::scenario()?;
    let mut criterion = Criterion::default().configure_from_args().sample_size(10);
    // first, so that the peak is theirs
    once(&scenario, Settings::default().histories)?;
    once(&scenario, 1_000_000)?;

    let inputs = Inputs::new(&scenario)?;
    let (street, z) = (question::street()?, [0.0; DIMENSIONS]);
    let drives = [0.0; DRIVES];
    let mut group = criterion.benchmark_group("hour by hour");
    group.throughput(Throughput::Elements(HOURS_PER_YEAR as u64));
    group.bench_function("a year in the street", |b| {
        b.iter(|| black_box(inputs.exposures(&street, &z, (&drives, 0.0))));
    });
    group.finish();

    let mut group = criterion.benchmark_group("default forecast");
    group.throughput(Throughput::Elements(Settings::default().histories));
    for threads in [1, rayon::current_num_threads()] {
        let Ok(pool) = rayon::ThreadPoolBuilder::new().num_threads(threads).build() else { continue };
        group.bench_function(format!("{threads} threads"), |b| {
            b.iter(|| pool.install(|| answer(&scenario, Settings::default().histories).is_ok()));
        });
    }
    group.finish();
    criterion.final_summary();
    Ok(())
}
