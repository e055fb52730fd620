//! `record verify`: is everything in the record as it was stored?

use super::files::sizes;
use crate::cli::failure::Failure;
use crate::cli::{Format, Streams};
use crate::record::{Examined, Record, Verified, examine};
use crate::report::json::json;

/// Says what was found; as JSON also where something is not in order.
pub(super) fn run(record: &Record, format: Format, streams: &mut Streams) -> Result<(), Failure> {
    let Examined { verified, fault } = examine(record)?;
    if format == Format::Json {
        write!(streams.out, "{}", json(&verified)?)?;
    }
    if let Some(fault) = fault {
        streams.out.flush()?;
        return Err(fault.into());
    }
    if format == Format::Text {
        let Verified { cars, entries, current, chain_ok, .. } = verified;
        let name = record.path().display();
        let sums = chain_ok.map_or(NO_SUMS, |_| "every checksum agrees");
        writeln!(streams.out, "{name}: whole; {}, {current} of them current; {sums}", sizes(cars, entries))?;
    }
    Ok(())
}

const NO_SUMS: &str = "no checksums yet, the next command that adds something computes them";
