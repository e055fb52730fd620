//! Where is a file of that name? In folders named, then below the folder that one is in.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};

/// How deep, and over how many names, files are looked for [-].
const DEPTH_MAX: usize = 8;
const NAMES_MAX: usize = 50_000;

/// Every file or folder of that name, those of the folders named first, then the nearest; links to folders and hidden folders
/// are left out.
pub(super) fn candidates(name: &str, folders: &[PathBuf]) -> impl Iterator<Item = PathBuf> {
    let here = Path::new(".").to_owned();
    let named: Vec<PathBuf> =
        folders.iter().map(|folder| folder.join(name)).filter(|path| path.exists()).collect();
    named.into_iter().chain(Below::new(here, name))
}

/// What stands below a folder under a name, level by level.
struct Below {
    name: String,
    waiting: VecDeque<(PathBuf, usize)>,
    found: VecDeque<PathBuf>,
    seen: usize,
}

impl Below {
    fn new(folder: PathBuf, name: &str) -> Self {
        let waiting = VecDeque::from([(folder, 0)]);
        Self { name: name.to_owned(), waiting, found: VecDeque::new(), seen: 0 }
    }

    /// Looks into the next folder.
    fn look(&mut self, folder: &Path, depth: usize) {
        let Ok(entries) = std::fs::read_dir(folder) else { return };
        let mut entries: Vec<_> = entries.flatten().take(NAMES_MAX.saturating_sub(self.seen)).collect();
        // the order of a folder is not the same on every machine
        entries.sort_by_key(std::fs::DirEntry::file_name);
        self.seen += entries.len();
        for entry in entries {
            let name = entry.file_name();
            if name.to_str() == Some(&self.name) {
                self.found.push_back(entry.path());
            }
            let is_hidden = name.as_encoded_bytes().starts_with(b".");
            if !is_hidden && depth < DEPTH_MAX && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
                self.waiting.push_back((entry.path(), depth + 1));
            }
        }
    }
}

impl Iterator for Below {
    type Item = PathBuf;

    fn next(&mut self) -> Option<PathBuf> {
        while self.found.is_empty() {
            let (folder, depth) = self.waiting.pop_front()?;
            self.look(&folder, depth);
        }
        self.found.pop_front()
    }
}
