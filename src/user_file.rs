//! Bytes of a file that somebody named: of standard input where the name is `-`, and never more than can be held.

use crate::error::{Error, Result};
use std::io::Read;
use std::path::Path;

/// The name that stands for standard input.
const STANDARD_INPUT: &str = "-";
/// Largest table or case read [bytes].
const SIZE_MAX: u64 = 64 << 20;

/// What a file is called in errors.
#[must_use]
pub fn name(path: &Path) -> String {
    if path == Path::new(STANDARD_INPUT) { "standard input".to_owned() } else { path.display().to_string() }
}

/// The content of a file, or of standard input; of what is longer than `at_most` [bytes] one byte more, so that the caller sees it.
///
/// # Errors
/// [`Error::Io`] where it cannot be opened or read, [`Error::File`] for a folder.
pub fn read(path: &Path, at_most: u64) -> Result<Vec<u8>> {
    let io = |source| Error::Io { path: path.to_owned(), source };
    let mut bytes = Vec::new();
    if path == Path::new(STANDARD_INPUT) {
        std::io::stdin().lock().take(at_most + 1).read_to_end(&mut bytes).map_err(io)?;
        return Ok(bytes);
    }
    if path.is_dir() {
        let allowed = "a file, or - for standard input".to_owned();
        return Err(Error::File { path: path.to_owned(), found: "a folder".to_owned(), allowed });
    }
    std::fs::File::open(path).map_err(io)?.take(at_most + 1).read_to_end(&mut bytes).map_err(io)?;
    Ok(bytes)
}

/// The content of a file of at most 64 MiB, or of standard input.
///
/// # Errors
/// As [`read`]; [`Error::Invalid`] for a longer one.
pub fn read_bounded(path: &Path) -> Result<Vec<u8>> {
    let bytes = read(path, SIZE_MAX)?;
    if bytes.len() as u64 > SIZE_MAX {
        return Err(Error::invalid(name(path), "more than 64 MiB", "at most 64 MiB"));
    }
    Ok(bytes)
}

/// The same as text in UTF-8.
///
/// # Errors
/// As [`read_bounded`]; [`Error::Invalid`] for other bytes.
pub fn read_text(path: &Path) -> Result<String> {
    let refused = |_| Error::invalid(name(path), "bytes that are not UTF-8", "text in UTF-8");
    String::from_utf8(read_bounded(path)?).map_err(refused)
}
