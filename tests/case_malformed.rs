//! Does every broken case end in a message that names file, line, key, what was found and what is allowed?
//!
//! Each file in `tests/malformed/case/` says in its first line what its message has to contain; where a line ends in `# <-`,
//! the message has to point at that line.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use ferrowane::case::{read_path, read_str};
use ferrowane::model::Model;
use std::path::{Path, PathBuf};

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/malformed/case");

fn files() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(FOLDER).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

/// Line number in a message that starts with the file's name.
fn line_of(message: &str, file: &Path) -> Option<usize> {
    let rest = message.strip_prefix(&file.display().to_string())?.strip_prefix(':')?;
    rest.split(':').next()?.parse().ok()
}

fn complaint(file: &Path) -> Option<String> {
    let bytes = std::fs::read(file).unwrap();
    let text = String::from_utf8_lossy(&bytes);
    let expected = text.lines().next().map_or("found nothing", |line| {
        line.strip_prefix("# expect: ").unwrap_or_else(|| panic!("{}: no `# expect: `", file.display()))
    });
    let message = match read_path(file, &Model::published().unwrap()) {
        Ok(_) => return Some(format!("{}: was accepted", file.display())),
        Err(error) => error.to_string(),
    };
    let marked = text.lines().position(|line| line.ends_with("# <-")).map(|index| index + 1);
    let line = line_of(&message, file);
    let placed = line.is_some_and(|line| line <= text.lines().count().max(1));
    let fine = message.contains(expected) && placed && marked.is_none_or(|marked| line == Some(marked));
    (!fine).then(|| format!("expected {expected:?}, line {marked:?}: {message}"))
}

#[test]
fn property_broken_cases_are_refused_with_their_place() {
    let files = files();
    assert!(files.len() >= 100, "{} files", files.len());
    let complaints: Vec<String> = files.iter().filter_map(|file| complaint(file)).collect();
    assert!(complaints.is_empty(), "{} of {}:\n{}", complaints.len(), files.len(), complaints.join("\n"));
}

#[test]
fn property_a_long_line_is_refused_with_a_short_message() {
    let long = format!("title = \"{}\"\n", "x".repeat(2 << 20));
    let message = read_str(&long, "long.toml", None, &Model::published().unwrap()).unwrap_err().to_string();
    assert_eq!(
        message,
        "long.toml:1: file: found more than 1 MiB, allowed: TOML text in UTF-8, at most 1 MiB"
    );
    let shorter = format!("title = \"{}\"\n", "x".repeat(900_000));
    let message =
        read_str(&shorter, "long.toml", None, &Model::published().unwrap()).unwrap_err().to_string();
    assert!(
        message.starts_with("long.toml:1:9: title: found text \"xxx") && message.len() < 200,
        "{message}"
    );
}

/// Cutting a good case, or dropping one byte, gives a scenario or a message, never a panic.
#[test]
fn property_a_damaged_case_never_panics() {
    let good = ferrowane::case::template();
    let keys: Vec<&str> = good.lines().filter(|line| !line.starts_with('#')).collect();
    let good = keys.join("\n");
    for at in (0..good.len()).step_by(3).filter(|at| good.is_char_boundary(*at)) {
        let dropped = format!("{}{}", &good[..at], good[at..].chars().skip(1).collect::<String>());
        for text in [&good[..at], dropped.as_str()] {
            if let Err(error) = read_str(text, "damaged.toml", None, &Model::published().unwrap()) {
                assert!(error.to_string().starts_with("damaged.toml:"), "{error}\n{text}");
            }
        }
    }
}

#[test]
fn property_a_file_that_is_not_there_is_named() {
    let message =
        read_path(Path::new("no/such/case.toml"), &Model::published().unwrap()).unwrap_err().to_string();
    assert!(message.starts_with("no/such/case.toml: "), "{message}");
}
