//! Published forms where they are used: greatest pits in the kernel, rates from mass, limits of grades. The rows of
//! `shared/checks_published_forms.csv` themselves: `tests/validation.rs`.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/cars.rs"]
mod cars;
#[path = "support/close.rs"]
mod close;

use close::assert_close;
use ferrowane::coating::RustGrade;
use ferrowane::coating::grade::GradeScale;
use ferrowane::corrosivity::dose_response::AirChemistry;
use ferrowane::corrosivity::{Conditions, DoseResponse, DoseResponses};
use ferrowane::forecast::draw::Draw;
use ferrowane::forecast::kernel::{Block, LANES, Lane, dimensions, run_block};
use ferrowane::model::Model;
use ferrowane::model::locations::Locations;
use ferrowane::numeric::normal::quantile;
use ferrowane::section::Tube;

#[derive(serde::Deserialize)]
struct Row {
    function: String,
    inputs: String,
    expected: f64,
    unit: String,
    abs_tolerance: f64,
    compared: String,
}

impl Row {
    /// The number after `name=`; values may carry a unit after a blank.
    fn input(&self, name: &str) -> f64 {
        let pairs = self.inputs.split(';').filter_map(|pair| pair.trim().split_once('='));
        let text = pairs.clone().find(|(key, _)| *key == name).map(|(_, value)| value);
        text.and_then(|value| value.split(' ').next()?.parse().ok())
            .unwrap_or_else(|| panic!("{}: no input {name} in {}", self.function, self.inputs))
    }

    fn assert(&self, found: f64) {
        let what = format!("{} at {}, {}", self.function, self.inputs, self.unit);
        assert_close(&what, found, self.expected, self.abs_tolerance);
    }
}

/// Rows whose function starts with `start`; fails when there are not `count` of them.
fn rows(start: &str, count: usize) -> Vec<Row> {
    let text = include_str!("../shared/checks_published_forms.csv");
    let all: Vec<Row> = ferrowane::reference::rows("checks_published_forms.csv", text).unwrap();
    let wanted: Vec<Row> = all.into_iter().filter(|row| row.function.starts_with(start)).collect();
    assert_eq!(wanted.len(), count, "rows of {start}");
    wanted
}

fn conditions(temperature_c: f64, humidity_pct: f64, so2_mg_m2_d: f64, chloride_mg_m2_d: f64) -> Conditions {
    Conditions {
        temperature_c,
        humidity_pct,
        so2_mg_m2_d,
        chloride_mg_m2_d,
        wetness_h_per_a: 0.0,
        air: AirChemistry::default(),
    }
}

#[test]
fn closed_form_iso9223_temperature_function_is_continuous() {
    let dose_responses = DoseResponses::published().unwrap();
    let term = |t| dose_responses.rate(DoseResponse::Iso9223, &conditions(t, 75.0, 10.0, 0.0)).terms[0].1;
    assert_close("continuous at 10 C", term(10.0 + 1e-9) / term(10.0 - 1e-9), 1.0, 1e-9);
}

/// A function that gives g/m² becomes a rate through the density that the rows state.
#[test]
fn published_mass_to_depth() {
    let dose_responses = DoseResponses::published().unwrap();
    let given = conditions(8.0, 80.0, 4.0, 0.0);
    let mass_g_m2 = dose_responses.multi_assess_2007_g_m2(&given, 5.0, 1.0);
    let rate = dose_responses.rate(DoseResponse::MultiAssess2007, &given).rate_um_per_a;
    assert_close("rate of a function in g/m2", rate, mass_g_m2 / 7.86, 1e-12 * rate);
}

#[test]
fn published_rows_are_all_compared() {
    assert!(rows("", 66).iter().all(|row| row.compared == "yes"));
}

/// The greatest pit of a car is Gumbel: read back from the kernel. With young attack `m` and a factor of `f`, the deepest
/// loss is `m + (f - 1) g m/(1 + m/500)`, `g = 1 + 0.15 (y - y at the median)`; `m` is what a factor of 1 leaves.
#[test]
fn published_gumbel_reduced_variates_in_the_kernel() {
    let rows = rows("Gumbel", 4);
    let mut aleatory = vec![[0.0; LANES]; dimensions(0, 10)];
    for (lane, row) in rows.iter().enumerate() {
        aleatory[PIT][lane] = quantile(1.0 - 1.0 / row.input("return period"));
    }
    aleatory[NODE] = [-5.0; LANES];
    let deepest = |pitting_factor: f64| deepest_um(&gumbel_draw(pitting_factor), &aleatory);
    let ([plain, rusted], [pitted, _]) = (deepest(1.0), deepest(2.0));
    for (lane, row) in rows.iter().enumerate() {
        let young = plain[lane];
        let excess = (pitted[lane] - young) * (1.0 + young / 500.0) / young;
        let at_median = -(2f64.ln().ln());
        // the mode moves with the logarithm of the rusted part of the area the factor is stated for
        row.assert(at_median + (excess - 1.0) / 0.15 - rusted[lane].ln());
    }
}

const NODE: usize = 2;
const PIT: usize = 3;

/// Deepest loss [µm], and share of the node that is rusted [-].
fn deepest_um(draw: &Draw, aleatory: &[Lane]) -> [Lane; 2] {
    let mut locations =
        Locations::new(&Model::published().unwrap().locations, Tube::round(45.0, 2.0).unwrap(), 4).unwrap();
    // the area on which the pitting factor is stated
    locations.area_m2 = [0.015; 2];
    let mut block = Block::with_years(10);
    run_block(&mut block, draw, &locations, aleatory);
    [block.deepest_um[10], block.rusted[1][10]]
}

/// A draw whose node fails at once and whose run lasts longer, so the deepest loss is the node's; nothing inside.
fn gumbel_draw(pitting_factor: f64) -> Draw {
    Draw { inside_rate_factor: 0.0, pitting_factor, node_sd: 0.5, ..cars::certain_draw(50.0, 20.0, 10) }
}

/// Class limits are the geometric midpoints of the nominal areas, printed to two or three digits.
#[test]
fn published_grade_limits_are_geometric_midpoints() {
    let scale = GradeScale::published().unwrap();
    let nominal = RustGrade::ALL.map(|grade| 100.0 * scale.nominal_share(grade));
    for (place, expected) in [(1, 0.005), (2, 0.005), (3, 0.005), (4, 0.5)] {
        let midpoint = (nominal[place] * nominal[place + 1]).sqrt();
        assert_close("limit", 100.0 * scale.limits()[place], midpoint, expected);
    }
}
