//! Is a file a case or a weather file?

use std::io::Read as _;
use std::path::Path;

/// Bytes from the start of a file that tell what it is.
const START: u64 = 4096;

/// By its ending, else by its content: tables and keys are a case, anything else is weather. What comes on standard input is a case.
pub(super) fn is_case(file: &Path) -> bool {
    if file == Path::new("-") {
        return true;
    }
    let ending = file.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("toml") => true,
        Some("csv" | "epw" | "gz") => false,
        _ => {
            let mut start = Vec::new();
            let read =
                std::fs::File::open(file).and_then(|opened| opened.take(START).read_to_end(&mut start));
            let text = String::from_utf8_lossy(&start);
            let mut lines =
                text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
            read.is_ok() && lines.next().is_some_and(|line| line.starts_with('[') || line.contains(" ="))
        }
    }
}
