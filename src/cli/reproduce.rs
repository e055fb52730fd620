//! `reproduce`: computes a written answer again from what it says it rests on, and holds the two against each other.

mod differences;
mod find;
mod inputs;

use super::failure::Failure;
use super::question::Question;
use super::{Format, Streams};
use crate::error::{Error, Result};
use crate::report::json::json;
use crate::report::provenance::{Provenance, found_in};
use crate::user_file::read_bounded;
use differences::{Difference, differences};
use inputs::located;
use serde::Serialize;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Compute a written answer again: the same bytes, or what differs?
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Reads what the file says of itself: the question, its seed, and the SHA-256 of all it was answered from.
The JSON of forecast, compare, explain, decide, due and exposure says it, and so do their pictures (SVG, PNG),
the sheet of due and the HTML of a letter; a table (CSV) is named with its SHA-256 in the JSON beside it.
Inputs are known by name and SHA-256; they are looked for in --inputs, beside the file, here, and below here.

Examples:
  ferrowane forecast demo/cases/street_daily.toml --out out
  ferrowane reproduce out/forecast.json
  ferrowane reproduce out/band.svg --inputs archive/2026

Exit codes: 0 the same bytes, 1 something differs, 2 an input is missing or changed, or the file says nothing.")]
pub(super) struct Arguments {
    /// A file that ferrowane wrote
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Folder in which inputs are looked for first
    #[arg(long, value_name = "DIR")]
    inputs: Vec<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

/// What came of it.
#[derive(Debug, Serialize)]
struct Reproduced {
    /// Whether the bytes are the same.
    same_bytes: bool,
    /// What differs.
    differences: Vec<Difference>,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let then = read_bounded(&self.file)?;
        let provenance =
            found_in(&then).ok_or_else(|| self.refused("a file that does not say how it was made"))?;
        let command = self.command(&provenance)?;
        let now = answered_again(&command, &provenance.output)?;
        let found = Reproduced {
            same_bytes: then == now,
            differences: if then == now { Vec::new() } else { differences(&then, &now) },
        };
        match self.format {
            Format::Json => write!(streams.out, "{}", json(&found)?)?,
            Format::Text => self.tell(&found, streams)?,
        }
        streams.out.flush()?;
        if found.same_bytes { Ok(()) } else { Err(Failure::Unequal) }
    }

    /// The command with its inputs where they are now.
    fn command(&self, provenance: &Provenance) -> Result<Vec<OsString>> {
        let is_output = Path::new(&provenance.output).file_name() == Some(provenance.output.as_ref());
        let question = Question::again(&provenance.command).filter(|_| is_output);
        let question = question
            .ok_or_else(|| self.refused("an answer to a page, or a command that gives no such answer"))?;
        let mut places: Vec<usize> = provenance.inputs.iter().map(|input| input.argument).collect();
        places.sort_unstable();
        if places != question.places() {
            return Err(self.refused("a command without its own inputs"));
        }
        let mut command: Vec<OsString> = provenance.command.iter().map(OsString::from).collect();
        let mut folders = self.inputs.clone();
        folders.extend(self.file.parent().map(Path::to_owned));
        for input in &provenance.inputs {
            let path = located(input, provenance, &folders)?;
            if let Some(word) = command.get_mut(input.argument) {
                *word = path.into_os_string();
            }
        }
        Ok(command)
    }

    fn refused(&self, found: &str) -> Error {
        let allowed = "a file that ferrowane wrote and nobody changed".to_owned();
        Error::File { path: self.file.clone(), found: found.to_owned(), allowed }
    }

    fn tell(&self, found: &Reproduced, streams: &mut Streams) -> std::io::Result<()> {
        let file = self.file.display();
        if found.same_bytes {
            return writeln!(streams.out, "{file}: same bytes");
        }
        writeln!(streams.out, "{file}: not the same bytes")?;
        for Difference { what, then, now } in &found.differences {
            writeln!(streams.out, "  {what}: {then} then, {now} now")?;
        }
        Ok(())
    }
}

/// The file of that name which a command writes now.
fn answered_again(command: &[OsString], name: &str) -> std::result::Result<Vec<u8>, Failure> {
    let folder = std::env::temp_dir().join(format!("ferrowane-reproduce-{}", std::process::id()));
    let io = |source| Failure::File(Error::Io { path: folder.clone(), source });
    std::fs::create_dir(&folder).map_err(io)?;
    let mut words = vec![OsString::from(env!("CARGO_PKG_NAME"))];
    words.extend_from_slice(command);
    words.extend([OsString::from("--out"), folder.clone().into()]);
    let mut notes = Vec::new();
    let code = super::run(words, &mut std::io::sink(), &mut notes);
    let written = read_bounded(&folder.join(name));
    std::fs::remove_dir_all(&folder).map_err(io)?;
    match (code, written) {
        (0, Ok(written)) => Ok(written),
        (super::failure::INTERRUPTED, _) => Err(Error::Interrupted.into()),
        _ => {
            let stated = String::from_utf8_lossy(&notes).trim().replace('\n', " ");
            let question = command.iter().map(|word| word.to_string_lossy()).collect::<Vec<_>>().join(" ");
            Err(Error::invalid("command", format!("`{question}`, which ends with: {stated}"), "an answer")
                .into())
        }
    }
}
