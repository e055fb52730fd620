//! The program `ferrowane`: hands its arguments and streams to [`ferrowane::cli::run`] and ends with its exit code.

use std::io::BufWriter;
use std::process::ExitCode;

fn main() -> ExitCode {
    let mut out = BufWriter::new(std::io::stdout().lock());
    // not locked: the progress bar draws on it from other threads
    let mut notes = std::io::stderr();
    ExitCode::from(ferrowane::cli::run(std::env::args_os(), &mut out, &mut notes))
}
