//! Tells the program from which commit it was built, where that is known: given by the builder, noted in the package, or read
//! from the repository. A build for development does not know it, so that a commit does not build everything anew.
#![allow(clippy::print_stdout, reason = "this is how a build script speaks to cargo")]

use std::env::var;
use std::fs::read_to_string;
use std::path::{Path, PathBuf};

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    println!("cargo:rerun-if-env-changed=FERROWANE_COMMIT");
    let is_release = var("PROFILE").is_ok_and(|profile| profile == "release");
    let found = var("FERROWANE_COMMIT").ok().or_else(packaged);
    let found = found.or_else(|| if is_release { checked_out() } else { None });
    let is_commit = |text: &String| text.len() >= 7 && text.bytes().all(|byte| byte.is_ascii_hexdigit());
    let commit = found.filter(is_commit).unwrap_or_else(|| "unknown".to_owned());
    println!("cargo:rustc-env=FERROWANE_COMMIT={commit}");
}

/// What `cargo package` noted.
fn packaged() -> Option<String> {
    let note = read_to_string(".cargo_vcs_info.json").ok()?;
    let (_, after) = note.split_once("\"sha1\"")?;
    after.split('"').nth(1).map(str::to_owned)
}

/// What is checked out, without a call of git.
fn checked_out() -> Option<String> {
    let folder = match read_to_string(".git") {
        // a second working copy names its folder
        Ok(link) => PathBuf::from(link.strip_prefix("gitdir:")?.trim()),
        Err(_) => PathBuf::from(".git"),
    };
    let head = watched(&folder.join("HEAD"))?;
    let Some(name) = head.strip_prefix("ref:").map(str::trim) else { return Some(head) };
    let common = read_to_string(folder.join("commondir")).map_or(folder.clone(), |up| folder.join(up.trim()));
    let own = [&folder, &common].into_iter().find_map(|folder| watched(&folder.join(name)));
    own.or_else(|| packed(&common, name))
}

fn packed(folder: &Path, name: &str) -> Option<String> {
    let refs = watched(&folder.join("packed-refs"))?;
    let line = refs.lines().find_map(|line| line.strip_suffix(name)?.strip_suffix(' '));
    line.map(str::to_owned)
}

/// The text of a file without the line break at its end; when it changes the program is built anew.
fn watched(path: &Path) -> Option<String> {
    let text = read_to_string(path).ok()?;
    println!("cargo:rerun-if-changed={}", path.display());
    Some(text.trim().to_owned())
}
