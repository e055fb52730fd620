//! The list in a folder of what the program wrote there: digests and names, as `sha256sum` writes them.

use super::{Existing, write_whole};
use crate::error::{Error, Result};
use crate::record::stream_digest;
use std::fs;
use std::path::{Path, PathBuf};

/// Name of the list.
const NAME: &str = ".ferrowane";

/// What the program wrote into a folder.
pub(super) struct WrittenList {
    folder: PathBuf,
    lines: Vec<String>,
}

impl WrittenList {
    /// That of a folder; empty where there is none.
    pub(super) fn read(folder: &Path) -> Self {
        let list = folder.join(NAME);
        // a list behind a link is somebody else's
        let is_own = fs::symlink_metadata(&list).is_ok_and(|list| list.is_file());
        let text = if is_own { fs::read_to_string(&list).unwrap_or_default() } else { String::new() };
        Self { folder: folder.to_owned(), lines: text.lines().map(str::to_owned).collect() }
    }

    /// Refuses a name where a file stands that the program did not write, or that was changed since, and anything that is
    /// no plain file; nothing where files are replaced anyway.
    ///
    /// # Errors
    /// [`Error::File`]; [`Error::Io`] where the file cannot be read.
    pub(super) fn check(&self, name: &str, existing: Existing) -> Result<()> {
        let path = self.folder.join(name);
        let Ok(there) = fs::symlink_metadata(&path) else { return Ok(()) };
        if existing == Existing::Replaced {
            return Ok(());
        }
        let found = if there.is_symlink() {
            "a link"
        } else if !there.is_file() {
            "no plain file"
        } else {
            let digest = fs::File::open(&path).and_then(stream_digest);
            let digest = digest.map_err(|source| Error::Io { path: path.clone(), source })?;
            if self.lines.contains(&line(name, &digest)) {
                return Ok(());
            }
            "a file that ferrowane did not write, or that was changed since"
        };
        let allowed = "a name that is not taken; --force replaces it".to_owned();
        Err(Error::File { path, found: found.to_owned(), allowed })
    }

    /// Names files that are about to be written, by name and SHA-256; what stands there so far is still known, so that a
    /// stop in between leaves nothing that looks like somebody else's.
    ///
    /// # Errors
    /// [`Error::Io`].
    pub(super) fn announce(&mut self, files: &[(String, String)]) -> Result<()> {
        self.lines.extend(files.iter().map(|(name, digest)| line(name, digest)));
        self.write()
    }

    /// Forgets what stood there before, once files are written.
    ///
    /// # Errors
    /// [`Error::Io`].
    pub(super) fn settle(&mut self, files: &[(String, String)]) -> Result<()> {
        let is_of = |line: &String| {
            let known = line.split_once("  ").map(|(_, name)| name);
            files.iter().any(|(name, _)| Some(name.as_str()) == known)
        };
        self.lines.retain(|line| !is_of(line));
        self.lines.extend(files.iter().map(|(name, digest)| line(name, digest)));
        self.write()
    }

    fn write(&self) -> Result<()> {
        write_whole(&self.folder.join(NAME), (self.lines.join("\n") + "\n").as_bytes()).map(drop)
    }
}

fn line(name: &str, digest: &str) -> String {
    format!("{digest}  {name}")
}
