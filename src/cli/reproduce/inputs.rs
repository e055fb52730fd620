//! Is an input still what it was, and where?

use super::find::candidates;
use crate::cli::sources::Sources;
use crate::error::{Error, Result};
use crate::report::provenance::{Input, InputKind, Provenance};
use std::path::{Path, PathBuf};

/// The input with its bytes of then, looked for in these folders and below this one.
///
/// # Errors
/// [`Error::File`] where there is none of that name, or only ones that were changed.
pub(super) fn located(input: &Input, provenance: &Provenance, folders: &[PathBuf]) -> Result<PathBuf> {
    let Some(then) = &input.sha256 else {
        return Err(missing(input, "an input that was no file, such as a pipe".to_owned()));
    };
    let mut changed = None;
    // the name may come from anybody's file
    let is_name = Path::new(&input.name).file_name() == Some(input.name.as_ref());
    for path in candidates(&input.name, folders).filter(|_| is_name) {
        match difference(input, provenance, &path) {
            None => return Ok(path),
            Some(found) => changed = changed.or(Some((path, found))),
        }
    }
    let (path, found) =
        changed.ok_or_else(|| missing(input, format!("no file of that name (SHA-256 {then:.16}…)")))?;
    let allowed = format!("the same as then, SHA-256 {then:.16}…; --inputs DIR says where it is");
    Err(Error::File { path, found, allowed })
}

/// What is not as it was then.
fn difference(input: &Input, provenance: &Provenance, path: &Path) -> Option<String> {
    let words = &provenance.command;
    let after = |option: &str| {
        let pairs = words.iter().zip(words.iter().skip(1));
        pairs.filter(|(word, _)| *word == option).map(|(_, value)| value.clone()).collect::<Vec<_>>()
    };
    // a letter names its car first
    let is_letter = words.first().is_some_and(|word| word == "letter");
    let cars = if is_letter { words.get(1).cloned().into_iter().collect() } else { after("--car") };
    let until = after("--until").first().and_then(|day| day.parse().ok());
    let mut now = Sources::default();
    if let Err(error) = now.add(input.argument, (input.kind, path), (&cars, until)) {
        return Some(format!("what cannot be read ({error})"));
    }
    let sha256 = now.inputs.first().and_then(|input| input.sha256.clone());
    if sha256 != input.sha256 {
        let what = if input.kind == InputKind::Record { "other entries or cases" } else { "other contents" };
        return Some(format!("{what} than then (SHA-256 {:.16}…)", sha256.unwrap_or_default()));
    }
    let other = now.climates.into_iter().find(|climate| !provenance.climates.contains(climate))?;
    Some(format!("another climate than then: {} (SHA-256 {:.16}…)", other.name, other.sha256))
}

fn missing(input: &Input, found: String) -> Error {
    let allowed = "the file of then; --inputs DIR says where it is".to_owned();
    Error::File { path: PathBuf::from(&input.name), found, allowed }
}
