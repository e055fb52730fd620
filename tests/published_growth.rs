//! ISO 9224:2012 through the kernel, and the rates of its table. The table itself: `tests/validation.rs`.
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

#[path = "support/cars.rs"]
mod cars;
#[path = "support/close.rs"]
mod close;

use cars::certain_draw;
use close::assert_close;
use ferrowane::corrosivity::category::Categories;
use ferrowane::corrosivity::long_term::{B1, B2, loss_um};
use ferrowane::forecast::draw::Draw;
use ferrowane::forecast::kernel::{Block, LANES, dimensions, run_block};
use ferrowane::model::Model;
use ferrowane::model::locations::Locations;
use ferrowane::section::Tube;

#[derive(serde::Deserialize)]
struct Row {
    category: String,
    rate_um_per_a: f64,
}

fn table() -> Vec<Row> {
    let text = include_str!("../shared/checks_iso9224_table.csv");
    let rows: Vec<Row> = ferrowane::reference::rows("checks_iso9224_table.csv", text).unwrap();
    assert_eq!(rows.len(), 36);
    rows
}

#[test]
fn published_rates_of_the_table_are_the_category_bounds() {
    let categories = Categories::published().unwrap();
    for row in table() {
        assert_eq!(format!("{:?}", categories.outdoor(row.rate_um_per_a)), row.category);
    }
}

/// A bare inside in years that are all alike is ISO 9224, to the rounding of one power. A wall thick enough
/// for 200 µm/a to the power 0.9.
#[test]
fn closed_form_kernel_on_equal_years_is_the_standard() {
    let locations =
        Locations::new(&Model::published().unwrap().locations, Tube::round(45.0, 15.0).unwrap(), 4).unwrap();
    for exponent in [0.4, B1, B2, 0.9] {
        for rate in [1.3, 25.0, 80.0, 200.0] {
            let mut block = Block::with_years(40);
            let aleatory = vec![[0.7; LANES]; dimensions(0, 40)];
            // a coating that outlives any horizon outside
            let draw = Draw { exponent: vec![exponent; 40], ..certain_draw(rate, 1e9, 40) };
            run_block(&mut block, &draw, &locations, &aleatory);
            for year in [1, 2, 5, 10, 15, 20, 21, 30, 40] {
                let expected = loss_um(rate, year as f64, exponent).unwrap();
                let found = block.mean_um[year][3];
                assert_close(&format!("{rate} um/a, {year} a"), found, expected, 1e-9 * expected);
            }
        }
    }
}
