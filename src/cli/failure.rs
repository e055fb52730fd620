//! How a command ends when it cannot answer: the message, and the exit code.

use super::Streams;
use super::kind::is_case;
use crate::error::{Error, SourceSpan};
use std::io::{ErrorKind, Read as _, Write};
use std::path::Path;

/// Exit code after Ctrl-C, as of a shell [-]: 128 and the number of the signal.
pub(super) const INTERRUPTED: u8 = 130;
/// Longest source line that is shown under an error [characters].
const LINE_MAX: usize = 110;
/// Largest file that is opened again to show a line of it [bytes].
const SIZE_MAX: u64 = 1 << 20;

/// Why there is no answer, or why it could not be written.
#[derive(Debug)]
pub(super) enum Failure {
    /// Arguments that do not fit; also the help and version that were requested.
    Usage(clap::Error),
    /// Bad input, or a run that was interrupted.
    Input(Error),
    /// Bad input that has been reported already.
    Reported,
    /// A file that could not be written.
    File(Error),
    /// Standard output that could not be written.
    Stream(std::io::Error),
    /// What was compared is not the same; the answer says what.
    Unequal,
}

impl From<Error> for Failure {
    fn from(error: Error) -> Self {
        Self::Input(error)
    }
}

impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Self {
        Self::Stream(error)
    }
}

impl Failure {
    /// An error of writing a file; anything else that goes wrong there is bad input.
    pub(super) fn writing(error: Error) -> Self {
        if matches!(error, Error::Io { .. }) { Self::File(error) } else { Self::Input(error) }
    }

    /// Says what is wrong and returns the exit code [-].
    pub(super) fn tell(self, streams: &mut Streams) -> u8 {
        let written = match &self {
            Self::Usage(message) if message.use_stderr() => write!(streams.notes, "{message}"),
            Self::Usage(message) => return help(message, streams),
            Self::Input(error) | Self::File(error) => tell(error, streams.notes),
            Self::Stream(error) if error.kind() == ErrorKind::BrokenPipe => return 0,
            Self::Stream(error) => writeln!(streams.notes, "error: standard output: {error}"),
            Self::Reported | Self::Unequal => Ok(()),
        };
        // where standard error is closed nobody reads it; the exit code still says it
        drop(written);
        match self {
            Self::Input(Error::Interrupted) => INTERRUPTED,
            Self::File(_) | Self::Stream(_) | Self::Unequal => 1,
            Self::Usage(_) | Self::Input(_) | Self::Reported => 2,
        }
    }
}

fn help(message: &clap::Error, streams: &mut Streams) -> u8 {
    let written = write!(streams.out, "{message}").and_then(|()| streams.out.flush());
    written.map_or_else(|error| Failure::Stream(error).tell(streams), |()| 0)
}

/// Writes an error, with the line of the file where its place is known.
pub(super) fn tell(error: &Error, notes: &mut dyn Write) -> std::io::Result<()> {
    match error {
        Error::OutOfRange { quantity, value, unit: "-", allowed } => {
            writeln!(notes, "error: {quantity} is {value}, allowed: {allowed}")
        }
        Error::Input { span, .. } => write!(notes, "error: {error}\n{}", quote(span).unwrap_or_default()),
        _ => writeln!(notes, "error: {error}"),
    }
}

/// The source line of a span with a caret under its column; nothing for packed, long or vanished files.
fn quote(span: &SourceSpan) -> Option<String> {
    let number = span.line?;
    let mut text = String::new();
    let file = std::fs::File::open(&span.file).ok()?;
    file.take(SIZE_MAX).read_to_string(&mut text).ok()?;
    let line = text.strip_prefix('\u{feff}').unwrap_or(&text).lines().nth(number.checked_sub(1)?)?;
    let shown: String = line.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if shown.chars().count() > LINE_MAX || shown.trim().is_empty() {
        return None;
    }
    let column = span.column.filter(|column| *column >= 1);
    // a weather file's columns are its cells
    let caret =
        column.map(|column| if is_case(Path::new(&span.file)) { column } else { cell_start(line, column) });
    let caret = caret.map_or_else(String::new, |column| format!("{:>6} | {:>column$}\n", "", "^"));
    Some(format!("{number:>6} | {shown}\n{caret}"))
}

/// Where the cell of that number starts in a comma-separated line [characters from 1].
fn cell_start(line: &str, cell: usize) -> usize {
    let before = line.split(',').take(cell - 1);
    1 + before.map(|cell| cell.chars().count() + 1).sum::<usize>()
}

#[cfg(test)]
mod tests {
    use super::cell_start;

    #[test]
    fn closed_form_cells_of_a_line() {
        assert_eq!([1, 2, 3].map(|cell| cell_start("1,hot,80", cell)), [1, 3, 7]);
    }
}
