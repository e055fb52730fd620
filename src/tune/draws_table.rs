//! Draws of what all cars share as a table, a row a draw, and back.
//!
//! Columns: `run`, the keys of the shared inputs (values in the unit of the registry, standard normal numbers where that has no
//! prior), `bias_` with the code of each inspector, `log_likelihood`.

use crate::error::{Error, Result};
use crate::model::input::{InputFacts, Scope};
use crate::model::{DIMENSIONS, INPUTS};
use crate::tune::columns::Columns;
use crate::tune::posterior::FleetPosterior;
use crate::tune::run::{Fleet, SharedDraw};
use csv::StringRecord;

const BIAS: &str = "bias_";
const LOG_LIKELIHOOD: &str = "log_likelihood";

/// Draws read back, with the codes of the inspectors whose biases they hold.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawsTable {
    /// The draws.
    pub draws: Vec<SharedDraw>,
    /// Codes of the inspectors, in the order of the biases.
    pub codes: Vec<String>,
}

fn shared() -> impl Iterator<Item = &'static InputFacts> {
    INPUTS.iter().filter(|facts| facts.scope != Scope::Car)
}

/// Writes the draws of a posterior.
///
/// # Errors
/// [`Error::Invalid`] where the table cannot be written.
pub fn draws_csv(posterior: &FleetPosterior, fleet: &Fleet) -> Result<String> {
    let refused = |error: &dyn std::fmt::Display| Error::invalid("table", error.to_string(), "text");
    let mut writer = csv::Writer::from_writer(Vec::new());
    let keys = shared().map(|facts| facts.key.to_owned());
    let biases = fleet.inspectors.iter().map(|(code, _)| format!("{BIAS}{code}"));
    let heads = std::iter::once("run".to_owned()).chain(keys).chain(biases);
    let heads = heads.chain(std::iter::once(LOG_LIKELIHOOD.to_owned()));
    writer.write_record(heads.collect::<Vec<String>>()).map_err(|error| refused(&error))?;
    for (number, run) in posterior.runs.iter().enumerate() {
        for SharedDraw { z, biases, ln_likelihood } in &run.draws {
            let mut cells = vec![(number + 1).to_string()];
            cells.extend(shared().map(|facts| fleet.columns.cell(facts.input, z)));
            cells.extend(biases.iter().chain([ln_likelihood]).map(f64::to_string));
            writer.write_record(cells).map_err(|error| refused(&error))?;
        }
    }
    let bytes = writer.into_inner().map_err(|error| refused(&error))?;
    String::from_utf8(bytes).map_err(|error| refused(&error))
}

/// Reads the draws of a table; an input without a column keeps its median.
///
/// # Errors
/// [`Error::Invalid`] naming file and line, the column, what was found and what is allowed; without a draw.
pub fn read_draws(text: &str, file: &str, columns: &Columns) -> Result<DrawsTable> {
    let unreadable = |error: csv::Error| Error::invalid(file, error.to_string(), "a table of draws");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().map_err(unreadable)?.clone();
    let known = |head: &str| {
        ["run", LOG_LIKELIHOOD].contains(&head)
            || head.starts_with(BIAS)
            || shared().any(|facts| facts.key == head)
    };
    if let Some(strange) = heads.iter().find(|head| !known(head)) {
        let allowed = "keys of shared inputs, run, bias_ with a code, log_likelihood";
        return Err(Error::invalid(file, format!("the column `{strange}`"), allowed));
    }
    let mut draws = Vec::new();
    for (number, row) in reader.records().enumerate() {
        let row = row.map_err(unreadable)?;
        let place = format!("{file}:{}", number + 2);
        draws.push(draw(&heads, &row, columns).map_err(|error| error.about("cell", &place))?);
    }
    if draws.is_empty() {
        return Err(Error::invalid(file, "no draw", "a row a draw"));
    }
    let codes = heads.iter().filter_map(|head| head.strip_prefix(BIAS)).map(str::to_owned).collect();
    Ok(DrawsTable { draws, codes })
}

fn draw(heads: &StringRecord, row: &StringRecord, columns: &Columns) -> Result<SharedDraw> {
    let mut draw = SharedDraw { z: [0.0; DIMENSIONS], biases: Vec::new(), ln_likelihood: 0.0 };
    let number = |head: &str, cell: &str| {
        let found = cell.trim().parse::<f64>().ok().filter(|number| number.is_finite());
        found.ok_or_else(|| Error::invalid(head, format!("`{cell}`"), "a number"))
    };
    for (head, cell) in heads.iter().zip(row) {
        if head == LOG_LIKELIHOOD {
            draw.ln_likelihood = number(head, cell)?;
        } else if head.starts_with(BIAS) {
            draw.biases.push(number(head, cell)?);
        } else if let Some(facts) = shared().find(|facts| facts.key == head) {
            draw.z[facts.input as usize] = columns.number(facts.input, cell)?;
        }
    }
    Ok(draw)
}
