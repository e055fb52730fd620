//! A file that is too large to hold: written bit by bit, by the same rules as any other.

use super::written::WrittenList;
use super::{Existing, sync_folder, unfinished};
use crate::error::{Error, Result};
use crate::record::stream_digest;
use std::fs;
use std::path::Path;

/// Whether a file of that name may be written, to be known before long work.
///
/// # Errors
/// As [`super::write_files`].
pub fn check_free(path: &Path, existing: Existing) -> Result<()> {
    let (folder, name) = parted(path);
    WrittenList::read(folder).check(&name, existing)
}

/// Writes a file under another name, puts it on the disk and renames it; its folder is made where it is missing.
///
/// # Errors
/// As [`super::write_files`], and those of `write`.
pub fn write_streamed(
    path: &Path,
    existing: Existing,
    write: &mut dyn FnMut(fs::File) -> Result<()>,
) -> Result<()> {
    let (folder, name) = parted(path);
    let io = |source| Error::Io { path: path.to_owned(), source };
    fs::create_dir_all(folder).map_err(io)?;
    let mut list = WrittenList::read(folder);
    list.check(&name, existing)?;
    let unfinished = unfinished(path);
    let mut finish = || {
        fs::File::create_new(&unfinished).map_err(io).and_then(&mut *write)?;
        let file = fs::File::open(&unfinished).map_err(io)?;
        file.sync_all().map_err(io)?;
        let digest = [(name.clone(), stream_digest(file).map_err(io)?)];
        list.announce(&digest)?;
        fs::rename(&unfinished, path).and_then(|()| sync_folder(path)).map_err(io)?;
        list.settle(&digest)
    };
    let finished = finish();
    if finished.is_err() {
        drop(fs::remove_file(&unfinished));
    }
    finished
}

/// Folder and name of a file.
fn parted(path: &Path) -> (&Path, String) {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    (folder, path.file_name().unwrap_or_default().to_string_lossy().into_owned())
}
