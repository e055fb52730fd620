//! Loss of bare steel at a constant first-year rate, with its source: the JSON of `growth`.

use crate::corrosivity::long_term::loss_um;
use crate::error::Result;
use serde_json::{Value, json};

/// What the loss follows.
pub const SOURCE: &str = "ISO 9224:2012: rate x years^exponent up to 20 years, then along the tangent";

/// The loss after some years [a] at a first-year rate [µm/a] with a growth exponent [-], as JSON.
///
/// # Errors
/// As [`loss_um`].
pub fn growth_value(rate_um_per_a: f64, years_a: f64, exponent: f64) -> Result<Value> {
    let loss_um = loss_um(rate_um_per_a, years_a, exponent)?;
    Ok(json!({
        "rate_um_per_a": rate_um_per_a, "years_a": years_a, "exponent": exponent, "loss_um": loss_um,
        "source": SOURCE,
    }))
}
