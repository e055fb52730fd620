//! What a year of a history costs: the block kernel with its thresholds and tallies against a plain loop.
//!
//! Both run the same histories of one draw over 40 years with all locations; before anything is timed their answers are
//! compared, so the plain loop cannot drift. With `PEER_DIR` set, the draw and its answers are written there instead for
//! the comparison with another implementation (`peers/run.sh`).

#![allow(clippy::print_stdout, reason = "a benchmark says what it measured")]

#[path = "peers/ours.rs"]
mod ours;
mod plain;
mod question;

use criterion::{Criterion, Throughput};
use ferrowane::corrosivity::category::Categories;
use ferrowane::error::Result;
use ferrowane::forecast::draw::{Draw, Inputs};
use ferrowane::forecast::kernel::{self, Block, LANES, Lane, run_block};
use ferrowane::forecast::tally::Tally;
use ferrowane::forecast::threshold::Thresholds;
use ferrowane::model::DIMENSIONS;
use ferrowane::model::Model;
use ferrowane::model::locations::Locations;
use ferrowane::numeric::normal::quantile;
use ferrowane::numeric::sobol::Sobol;
use plain::{Answer, Limits, Quantiles};
use std::hint::black_box;
use std::time::Instant;

const YEARS: usize = 40;
const HISTORIES: usize = 16_384;
const ROUNDS: usize = 5;

/// One draw and the random numbers of its histories.
struct Setup {
    draw: Draw,
    locations: Locations,
    thresholds: Thresholds,
    limits: [Limits; 2],
    /// Coating ages at the class limits of the grades: run, worst node [-].
    grade_ages: [[f64; 5]; 2],
    categories: Categories,
    /// By block, number, lane.
    blocks: Vec<Vec<Lane>>,
}

impl Setup {
    fn new(histories: usize) -> Result<Self> {
        let scenario = question::scenario()?;
        let member = &scenario.member;
        let draw = Inputs::new(&scenario)?.draw(&[0.0; DIMENSIONS], (1, 0), YEARS)?;
        let locations = Locations::new(&Model::published()?.locations, member.tube, member.nodes)?;
        let scale = ferrowane::coating::grade::GradeScale::published()?;
        let shape = draw.breakdown_shape;
        let points = Sobol::scrambled(&(1..=kernel::dimensions(0, YEARS) as u64).collect::<Vec<_>>())?;
        let lane = |block: usize, number: usize| -> Lane {
            std::array::from_fn(|lane| quantile(points.coordinate((block * LANES + lane) as u32, number)))
        };
        let block = |block: usize| (0..points.dimensions()).map(|number| lane(block, number)).collect();
        let thresholds = Thresholds::new(member, &locations, &scale, shape);
        Ok(Self {
            grade_ages: thresholds.grade_ages(),
            thresholds,
            limits: [&member.rework, &member.assessment].map(|c| Limits::new(c, member, &locations, shape)),
            categories: Categories::published()?,
            blocks: (0..histories / LANES).map(block).collect(),
            draw,
            locations,
        })
    }

    /// Tally of some blocks through the library.
    fn tally(&self, blocks: &[Vec<Lane>]) -> Tally {
        let mut tally = Tally::of_years(YEARS);
        let mut block = Block::with_years(YEARS);
        tally.start_draw();
        for aleatory in blocks {
            run_block(&mut block, &self.draw, &self.locations, aleatory);
            let met = self.thresholds.met(&block);
            tally.count(&block, &met, &[1.0; LANES], &self.categories);
        }
        tally
    }

    /// Random numbers by history, as the plain loop takes them.
    fn by_history(&self) -> Vec<Vec<f64>> {
        let of = |block: &Vec<Lane>, lane: usize| block.iter().map(|numbers| numbers[lane]).collect();
        self.blocks.iter().flat_map(|block| (0..LANES).map(move |lane| of(block, lane))).collect()
    }

    fn plain_histories(&self, aleatory: &[Vec<f64>]) -> Vec<plain::History> {
        aleatory
            .iter()
            .map(|aleatory| plain::history(&self.draw, &self.locations, &self.limits, aleatory))
            .collect()
    }
}

/// Reads a tally as the plain loop answers.
fn read(tally: &Tally) -> Answer {
    let spread = |quantile: &dyn Fn(f64) -> Option<f64>| -> Quantiles {
        [0.05, 0.50, 0.95].map(|p| quantile(p).unwrap_or(f64::INFINITY))
    };
    Answer {
        time_a: spread(&|p| tally.time.quantile(p)),
        assessment_share: 1.0 - tally.assessment.beyond(),
        first_shares: std::array::from_fn(|criterion| tally.first[criterion] / tally.weight),
        years: tally
            .years
            .iter()
            .map(|year| {
                [&year.mean_um, &year.deepest_um, &year.modulus_loss, &year.bared_um]
                    .map(|histogram| spread(&|p| histogram.quantile(p)))
            })
            .collect(),
        above: tally.years.iter().map(|year| year.above.map(|part| part.map(|w| w / tally.weight))).collect(),
    }
}

/// Both ran the same histories, so Monte Carlo error cancels; what is left is the width of a histogram's bin
/// (1/64 a, 1/32 of an octave or 2.2 %, linear within) and, for shares, a history or two on an edge.
fn assert_agreement(ours: &Answer, plain: &Answer) {
    let close = |a: f64, b: f64, tolerance: f64| a.total_cmp(&b).is_eq() || (a - b).abs() <= tolerance;
    for (a, b) in ours.time_a.iter().zip(&plain.time_a) {
        assert!(close(*a, *b, 0.02), "age at rework: {a} against {b} a");
    }
    for (end, (ours, plain)) in ours.years.iter().zip(&plain.years).enumerate() {
        for (a, b) in ours.iter().flatten().zip(plain.iter().flatten()) {
            assert!(*b < 1e-3 || close(*a, *b, 0.005 * b), "year {}: {a} against {b}", end + 1);
        }
    }
    let shares = |answer: &Answer| -> Vec<f64> {
        let above = answer.above.iter().flatten().flatten().copied();
        above.chain(answer.first_shares).chain([answer.assessment_share]).collect()
    };
    for (a, b) in shares(ours).into_iter().zip(shares(plain)) {
        assert!(close(a, b, 2.5 / HISTORIES as f64), "share: {a} against {b}");
    }
}

/// Nanoseconds a history-year, best of rounds that alternate between the versions.
fn nanoseconds_a_year<const N: usize>(histories: usize, versions: [&dyn Fn(); N]) -> [f64; N] {
    let mut best = [f64::INFINITY; N];
    for _ in 0..ROUNDS {
        for (best, version) in best.iter_mut().zip(versions) {
            let start = Instant::now();
            version();
            *best = best.min(start.elapsed().as_secs_f64() * 1e9 / (histories * YEARS) as f64);
        }
    }
    best
}

fn print_ratio(setup: &Setup, aleatory: &[Vec<f64>]) {
    let grade_ages = &setup.grade_ages;
    let [kernel, whole, loops, loops_whole] = nanoseconds_a_year(
        HISTORIES,
        [
            &|| {
                let mut block = Block::with_years(YEARS);
                for aleatory in &setup.blocks {
                    run_block(&mut block, &setup.draw, &setup.locations, aleatory);
                    black_box(setup.thresholds.met(&block));
                }
            },
            &|| {
                black_box(read(&setup.tally(&setup.blocks)));
            },
            &|| {
                for aleatory in aleatory {
                    black_box(plain::history(&setup.draw, &setup.locations, &setup.limits, aleatory));
                }
            },
            &|| {
                black_box(plain::summarise(&setup.plain_histories(aleatory), grade_ages));
            },
        ],
    );
    println!(
        "one thread, {HISTORIES} histories of one draw, {YEARS} a, ns per history-year, best of {ROUNDS}:"
    );
    println!(
        "  histories and thresholds:  kernel {kernel:8.1}  plain {loops:8.1}  ratio {:6.1}",
        loops / kernel
    );
    println!(
        "  with tallies, quantiles:   kernel {whole:8.1}  plain {loops_whole:8.1}  ratio {:6.1}",
        loops_whole / whole
    );
}

fn main() -> Result<()> {
    if let Some(directory) = std::env::var_os("PEER_DIR") {
        return ours::write(std::path::Path::new(&directory));
    }
    let setup = Setup::new(HISTORIES)?;
    let aleatory = setup.by_history();
    let plain = plain::summarise(&setup.plain_histories(&aleatory), &setup.grade_ages);
    assert_agreement(&read(&setup.tally(&setup.blocks)), &plain);

    let mut criterion = Criterion::default().configure_from_args();
    let mut group = criterion.benchmark_group("256 histories of 40 years");
    group.throughput(Throughput::Elements((256 * YEARS) as u64));
    group.bench_function("kernel, thresholds, tally", |b| {
        b.iter(|| setup.tally(&setup.blocks[..256 / LANES]));
    });
    group.bench_function("plain loop", |b| b.iter(|| setup.plain_histories(&aleatory[..256])));
    group.finish();
    criterion.final_summary();
    print_ratio(&setup, &aleatory);
    Ok(())
}
