//! `growth`: loss of bare steel after some years at a constant first-year rate.

use super::columns::facts;
use super::failure::Failure;
use super::numbers::number;
use super::{Format, HANDBOOK_NOTE};
use crate::corrosivity::long_term::{B1, loss_um};
use crate::report::growth_json::{SOURCE, growth_value};
use crate::report::json::json;
use crate::report::number_words::grouped;
use std::io::Write;

/// Loss of bare steel after some years of constant exposure.
#[derive(Debug, clap::Args)]
#[command(after_help = HANDBOOK_NOTE)]
pub(super) struct Arguments {
    /// First-year rate, 0 to 10000 [µm/a]
    #[arg(long, value_name = "UM_PER_A", value_parser = number, allow_negative_numbers = true)]
    rate: f64,
    /// Years of exposure, 0 to 200 [a]
    #[arg(long, value_name = "YEARS", value_parser = number, allow_negative_numbers = true)]
    years: f64,
    /// Growth exponent, 0.1 to 1; 0.575 is on the safe side [-]
    #[arg(long, value_name = "B", default_value_t = B1, value_parser = number, allow_negative_numbers = true)]
    exponent: f64,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

impl Arguments {
    pub(super) fn run(&self, out: &mut dyn Write) -> Result<(), Failure> {
        let Self { rate, years, exponent, format } = *self;
        if format == Format::Json {
            return Ok(write!(out, "{}", json(&growth_value(rate, years, exponent)?)?)?);
        }
        let loss_um = loss_um(rate, years, exponent)?;
        writeln!(out, "Loss of bare steel at a constant first-year rate\n")?;
        let rows = [
            ("loss", format!("{} µm after {years} a", grouped(loss_um, 1))),
            ("first year", format!("{} µm/a", grouped(rate, 1))),
            ("exponent", exponent.to_string()),
            ("source", SOURCE.to_owned()),
        ];
        Ok(write!(out, "{}", facts(&rows))?)
    }
}
