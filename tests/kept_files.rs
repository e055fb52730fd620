//! Files of the user's own are left alone: nothing is written through links, over them, or half; questions change nothing.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod command;
#[path = "support/shop_record.rs"]
mod shop_record;

use command::{Ran, ferrowane, file, finished, program};
use shop_record::{record, with_car};
use std::path::{Path, PathBuf};
use std::process::Stdio;

const CASE: &str = "demo/cases/street_daily.toml";

fn folder(name: &str) -> PathBuf {
    command::folder(&format!("kept_{name}"))
}

/// Names in a folder, sorted.
fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

/// A command that writes files of these names into a folder.
fn writers(db: &Path) -> [(Vec<String>, &'static str); 3] {
    let words = |line: &str| line.split(' ').map(str::to_owned).collect::<Vec<String>>();
    [
        (words(&format!("record --file {} export", db.display())), "cars.csv"),
        (words(&format!("exposure {CASE} --out")), "exposure.json"),
        (words("man --out"), "ferrowane.1"),
    ]
}

fn written(words: &[String], out: &Path, more: &[&str]) -> Ran {
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    ferrowane(&[&words[..], &[out.to_str().unwrap()], more].concat())
}

#[test]
fn regress_files_of_somebody_else_are_replaced_only_when_asked() {
    let top = folder("own");
    let db = with_car(&top);
    for (number, (words, name)) in writers(&db).into_iter().enumerate() {
        let out = top.join(format!("out-{number}"));
        std::fs::create_dir_all(&out).unwrap();
        let own = out.join(name);
        std::fs::write(&own, "mine").unwrap();
        written(&words, &out, &[]).assert_refused(2, &[name, "did not write", "--force"]);
        assert_eq!(std::fs::read_to_string(&own).unwrap(), "mine");
        assert_eq!(names(&out), [name], "nothing else is written then");
        assert_eq!(written(&words, &out, &["--force"]).code, 0);
        // what it wrote it may write again, and not once somebody changed it
        assert_eq!(written(&words, &out, &[]).code, 0);
        std::fs::write(&own, "changed").unwrap();
        written(&words, &out, &[]).assert_refused(2, &[name, "was changed since"]);
        assert!(names(&out).iter().all(|name| Path::new(name).extension().is_none_or(|end| end != "part")));
    }
}

#[test]
#[cfg(unix)]
fn regress_nothing_is_written_through_a_link() {
    let top = folder("links");
    let db = with_car(&top);
    for (number, (words, name)) in writers(&db).into_iter().enumerate() {
        let out = top.join(format!("out-{number}"));
        std::fs::create_dir_all(&out).unwrap();
        let target = top.join(format!("target-{number}"));
        std::fs::write(&target, "mine").unwrap();
        for planted in [name.to_owned(), format!("{name}.part"), ".ferrowane".to_owned()] {
            std::os::unix::fs::symlink(&target, out.join(planted)).unwrap();
        }
        written(&words, &out, &[]).assert_refused(2, &[name, "a link"]);
        assert_eq!(written(&words, &out, &["--force"]).code, 0);
        assert_eq!(std::fs::read_to_string(&target).unwrap(), "mine");
        assert!(!std::fs::symlink_metadata(out.join(name)).unwrap().is_symlink());
    }
    let out = top.join("list");
    std::fs::create_dir_all(&out).unwrap();
    let target = top.join("target");
    std::fs::write(&target, "mine").unwrap();
    std::os::unix::fs::symlink(&target, out.join("due.part")).unwrap();
    let words = ["due", "--record", db.to_str().unwrap(), "--by", "2099-01", "--out", out.to_str().unwrap()];
    ferrowane(&words).assert_refused(2, &["due.part", "a link"]);
    assert_eq!(std::fs::read_to_string(&target).unwrap(), "mine");
}

/// A disk that is full leaves neither half a file nor an unfinished one.
#[test]
#[cfg(unix)]
fn regress_nothing_stays_of_a_file_that_could_not_be_written() {
    let top = folder("full");
    let out = top.join("out");
    // files longer than 8 blocks of 512 or 1024 bytes fail as on a full disk
    let line = format!("trap '' XFSZ; ulimit -f 8; exec \"$0\" exposure {CASE} --out \"$1\"");
    let mut shell = std::process::Command::new("sh");
    shell.args(["-c", &line, env!("CARGO_BIN_EXE_ferrowane"), out.to_str().unwrap()]);
    let ran = finished(shell.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap());
    assert_eq!(ran.code, 1, "{}", ran.notes);
    assert!(names(&out).iter().all(|name| Path::new(name).extension().is_none_or(|end| end != "part")));
}

/// Questions leave the bytes of a backup as they are.
#[test]
fn regress_questions_change_nothing_in_a_backup() {
    let top = folder("backup");
    let (db, copy) = (with_car(&top), top.join("copy.db"));
    assert_eq!(record(&db, &["backup", copy.to_str().unwrap()]).code, 0);
    let (bytes, before) = (std::fs::read(&copy).unwrap(), names(&top));
    let (export, again) = (top.join("export"), top.join("again.db"));
    for words in [
        &["verify"][..],
        &["show", "A-1"],
        &["car", "list"],
        &["export", export.to_str().unwrap()],
        &["backup", again.to_str().unwrap()],
    ] {
        assert_eq!(record(&copy, words).code, 0, "{words:?}");
        assert!(std::fs::read(&copy).unwrap() == bytes, "{words:?} changed the backup");
    }
    let left: Vec<String> = names(&top).into_iter().filter(|name| name.starts_with("copy")).collect();
    assert_eq!(left, ["copy.db"], "of {before:?}");
}

/// A record on a medium that nobody can write to is read, and restored from.
#[test]
#[cfg(unix)]
fn regress_a_record_on_a_read_only_medium_can_be_read() {
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
    use std::os::unix::process::CommandExt as _;
    let top = std::env::temp_dir().join(format!("ferrowane-medium-{}", std::process::id()));
    let medium = top.join("medium");
    std::fs::create_dir_all(&medium).unwrap();
    let db = with_car(&medium);
    // the program where another user reaches it: to root everything is writable
    let own = top.join("ferrowane");
    std::fs::copy(env!("CARGO_BIN_EXE_ferrowane"), &own).unwrap();
    let is_root = std::fs::metadata(&top).unwrap().uid() == 0;
    let mode = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    mode(&top, 0o777);
    mode(&db, 0o444);
    mode(&medium, 0o555);
    let run = |words: &[&str]| {
        let mut command = std::process::Command::new(&own);
        command.args(["record", "--file"]).args(words).stdout(Stdio::piped()).stderr(Stdio::piped());
        if is_root {
            command.uid(65_534).gid(65_534);
        }
        finished(command.spawn().unwrap())
    };
    let (path, made) = (db.display().to_string(), top.join("made.db").display().to_string());
    for words in [&[&path, "verify"][..], &[&path, "show", "A-1"], &[&made, "restore", &path]] {
        let ran = run(words);
        assert_eq!(ran.code, 0, "{words:?}: {}", ran.notes);
    }
    mode(&medium, 0o755);
    std::fs::remove_dir_all(&top).unwrap();
}

/// Work that was interrupted is no success, with or without an answer.
#[test]
#[cfg(unix)]
fn regress_interrupted_work_is_no_success() {
    let words = ["forecast", CASE, "--histories", "1000000000", "--threads", "1", "--horizon", "12"];
    for seconds in [0.5, 15.0] {
        let child = program(&words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        std::thread::sleep(std::time::Duration::from_secs_f64(seconds));
        let id = child.id().to_string();
        assert!(std::process::Command::new("kill").args(["-INT", &id]).status().unwrap().success());
        let ran = finished(child);
        assert_eq!(ran.code, 130, "{}", ran.notes);
    }
}

/// A folder or a pipe given as a record is refused in words that fit, at once.
#[test]
#[cfg(unix)]
fn regress_folders_and_pipes_are_no_records() {
    let top = folder("kinds");
    record(&top, &["verify"]).assert_refused(2, &["a folder"]);
    let pipe = top.join("pipe");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    record(&pipe, &["verify"]).assert_refused(2, &["a pipe or device"]);
    record(&pipe, &["car", "add", "--ref", "A-1", "--case", CASE]).assert_refused(2, &["a pipe or device"]);
    record(Path::new("/dev/null"), &["verify"]).assert_refused(2, &["a pipe or device"]);
    let empty = file(&top, "empty.db", "");
    record(Path::new(&empty), &["verify"]).assert_refused(2, &["an empty file"]);
}

/// Runs the program with a text on its standard input.
fn piped(arguments: &[&str], text: &str) -> command::Ran {
    use std::io::Write as _;
    let mut started = program(arguments);
    let started = started.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
    let mut child = started.unwrap();
    // what has refused its arguments reads nothing
    drop(child.stdin.take().unwrap().write_all(text.as_bytes()));
    finished(child)
}

/// Whatever is read as a file is read from standard input with `-`, and a new case goes to standard output.
#[test]
fn property_a_dash_is_standard_input() {
    let case = std::fs::read_to_string(CASE).unwrap();
    let few = ["--histories", "16384", "--format", "json"];
    let from_file = ferrowane(&[&["forecast", CASE][..], &few].concat()).json();
    let from_pipe = piped(&[&["forecast", "-"][..], &few].concat(), &case).json();
    assert_eq!(from_pipe["time_to_rework_a"], from_file["time_to_rework_a"]);
    let new = ferrowane(&["new", "-"]);
    assert_eq!(piped(&["check", "-"], &new.out).code, 0);
    piped(&["check", "-"], "titel = 'A'").assert_refused(2, &["standard input:1:1", "titel"]);
    ferrowane(&["check", "demo"]).assert_refused(2, &["a folder"]);
    let top = folder("dash");
    let db = top.join("shop.db");
    let added = ["record", "--file", db.to_str().unwrap(), "car", "add", "--ref", "A-1", "--case", "-"];
    assert_eq!(piped(&added, &case).code, 0);
    let table = "car,date,location,grade\nA-1,2020-05-01,run,Ri 1\n";
    let import = ["record", "--file", db.to_str().unwrap(), "inspection", "import", "-"];
    assert_eq!(piped(&import, table).code, 0);
    let costs = std::fs::read_to_string("demo/costs.toml").unwrap();
    let decide = ["decide", CASE, "--costs", "-", "--at", "4", "--histories", "16384"];
    assert_eq!(piped(&decide, &costs).code, 0);
}
