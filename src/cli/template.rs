//! `new` and `schema`: what a case file looks like, for people and for editors.

use super::Streams;
use super::failure::Failure;
use crate::case::{costs, schema, template};
use crate::error::Error;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Write a commented case to start from; to standard output without a path, or with - for one.
#[derive(Debug, clap::Args)]
#[command(after_help = "Units end the names of the keys and stand in the comments, such as size_mm [mm].")]
pub(super) struct NewArguments {
    /// File to write; one that is already there is left alone
    path: Option<PathBuf>,
    /// Write a costs file instead, for `decide`
    #[arg(long)]
    costs: bool,
}

/// Print the JSON schema of case or costs files: every key with its unit, range and names.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Units stand in square brackets at the end of each description, such as [mm] or [mg/(m²·d)]."
)]
pub(super) struct SchemaArguments {
    /// The schema of costs files, for `decide`
    #[arg(long)]
    costs: bool,
}

impl NewArguments {
    pub(super) fn run(&self, streams: &mut Streams) -> Result<(), Failure> {
        let text = if self.costs { costs::template() } else { template() };
        let Some(path) = self.path.as_ref().filter(|path| path.as_path() != Path::new("-")) else {
            return Ok(write!(streams.out, "{text}")?);
        };
        create(path, text.as_bytes(), "file for the new case")?;
        let path = path.display();
        if self.costs {
            streams.note(&format!("wrote {path}; next: ferrowane decide CASE.toml --costs {path}"));
            return Ok(());
        }
        streams.note(&format!("wrote {path}; next: ferrowane check {path}, ferrowane forecast {path}"));
        Ok(())
    }
}

impl SchemaArguments {
    pub(super) fn run(&self, out: &mut dyn Write) -> Result<(), Failure> {
        let schema = if self.costs { costs::schema() } else { schema().clone() };
        Ok(writeln!(out, "{schema:#}")?)
    }
}

/// Writes a new file, which errors call `what`; one that is already there is left alone.
pub(super) fn create(path: &Path, bytes: &[u8], what: &str) -> Result<(), Failure> {
    let failed = |source: std::io::Error| match source.kind() {
        ErrorKind::AlreadyExists => {
            let found = format!("{}, which is already there", path.display());
            Failure::Input(Error::invalid(what, found, "a name that is not taken"))
        }
        _ => Failure::File(Error::Io { path: path.to_owned(), source }),
    };
    let mut file = std::fs::File::create_new(path).map_err(failed)?;
    file.write_all(bytes).map_err(failed)
}
