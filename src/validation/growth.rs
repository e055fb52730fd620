//! The table of greatest attack of ISO 9224:2012 (`shared/checks_iso9224_table.csv`).

use super::{Check, CheckKind, Origin, number, rows, source_of};
use crate::corrosivity::long_term::{B1, B2, loss_um};
use crate::error::Result;
use crate::model::Model;

const TABLE: &str = "checks_iso9224_table.csv";

#[derive(serde::Deserialize)]
struct Row {
    category: String,
    rate_um_per_a: f64,
    years: f64,
    printed_um: String,
    computed_b1_um: f64,
    computed_b2_um: f64,
}

/// The printed table to half of its last digit, columns worked out to three decimals, and the exponent of the priors.
pub(super) fn checks(model: &Model) -> Result<Vec<Check>> {
    let source = source_of(TABLE)?;
    let printed = Origin { table: TABLE, kind: CheckKind::Published, source: &source };
    let worked_out = Origin { kind: CheckKind::WorkedOut, ..printed };
    let exponent = model.priors.get("growth_exponent")?.median();
    let mut checks = vec![printed.check("growth exponent B1 [-]".to_owned(), [B1, exponent], 1e-9)];
    for row in rows::<Row>(TABLE)? {
        let what = |exponent: f64| format!("{};years={};exponent={exponent} [um]", row.category, row.years);
        let loss = |exponent| loss_um(row.rate_um_per_a, row.years, exponent);
        let half_digit = if row.printed_um.contains('.') { 0.05 } else { 0.5 };
        let as_printed = number(TABLE, &row.printed_um)?;
        checks.push(printed.check(what(exponent), [as_printed, loss(exponent)?], half_digit));
        for (exponent, expected) in [(B1, row.computed_b1_um), (B2, row.computed_b2_um)] {
            checks.push(worked_out.check(what(exponent), [expected, loss(exponent)?], 0.000_5 + 1e-9));
        }
    }
    Ok(checks)
}
