//! Runs the built program and keeps what it printed.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// What a run left behind.
pub(crate) struct Ran {
    /// Exit code.
    pub(crate) code: i32,
    /// Standard output.
    pub(crate) out: String,
    /// Standard error.
    pub(crate) notes: String,
}

impl Ran {
    /// The output as JSON, after checking that the run was fine.
    pub(crate) fn json(&self) -> serde_json::Value {
        assert_eq!(self.code, 0, "{}", self.notes);
        serde_json::from_str(&self.out).unwrap()
    }

    /// Checks the exit code and that standard error holds all of the words.
    pub(crate) fn assert_refused(&self, code: i32, words: &[&str]) {
        assert_eq!(self.code, code, "{}{}", self.out, self.notes);
        assert!(self.notes.starts_with("error: "), "{}", self.notes);
        for word in words {
            assert!(self.notes.contains(word), "no `{word}` in: {}", self.notes);
        }
    }
}

/// The program, not yet started.
pub(crate) fn program(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ferrowane"));
    command.args(arguments).stdin(Stdio::null());
    command
}

/// Runs the program with these arguments.
pub(crate) fn ferrowane(arguments: &[&str]) -> Ran {
    finished(program(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap())
}

/// What a started program printed until it ended.
pub(crate) fn finished(child: Child) -> Ran {
    let done = child.wait_with_output().unwrap();
    Ran {
        code: done.status.code().unwrap_or(-1),
        out: String::from_utf8(done.stdout).unwrap(),
        notes: String::from_utf8(done.stderr).unwrap(),
    }
}

/// An empty folder of its own for a test.
pub(crate) fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("command_line").join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// A file with this content in such a folder, as text for an argument.
pub(crate) fn file(folder: &Path, name: &str, content: &str) -> String {
    let path = folder.join(name);
    std::fs::write(&path, content).unwrap();
    path.to_str().unwrap().to_owned()
}
