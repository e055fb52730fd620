//! Does an answer say what it rests on, and does that give the same bytes again, or say what differs?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod command;
#[path = "support/source.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod source;

use command::{Ran, ferrowane, finished, folder, program};
use ferrowane::report::provenance::{Provenance, found_in, tables_sha256};
use source::{files, read};
use std::path::{Path, PathBuf};
use std::process::Stdio;

const CASE: &str = "demo/cases/street_daily.toml";
const OTHER: &str = "demo/cases/tight_garage_fair_weather.toml";
const FEW: [&str; 2] = ["--histories", "32768"];

/// Runs a command with few histories into a folder.
fn written(words: &[&str], out: &Path) -> Ran {
    let ran = ferrowane(&[words, &["--out", out.to_str().unwrap()]].concat());
    assert_eq!(ran.code, 0, "{words:?}: {}", ran.notes);
    ran
}

fn reproduced(file: &Path, more: &[&str]) -> Ran {
    ferrowane(&[&["reproduce", file.to_str().unwrap()], more].concat())
}

/// A record with a car that was looked at.
fn record(folder: &Path, name: &str) -> String {
    let db = folder.join(name).to_str().unwrap().to_owned();
    let add = |words: &[&str]| {
        let ran = ferrowane(&[&["record", "--file", &db], words].concat());
        assert_eq!(ran.code, 0, "{}", ran.notes);
    };
    add(&["car", "add", "--ref", "A-1", "--case", CASE, "--owner", "somebody"]);
    let seen = ["--date", "2024-03-02", "--location", "run", "--grade", "Ri 2"];
    add(&[&["inspection", "add", "--car", "A-1"][..], &seen].concat());
    db
}

/// Every kind of answer, with the files that are computed again.
fn kinds(db: &str) -> Vec<(Vec<&str>, Vec<&'static str>)> {
    let few = |words: &[&'static str], more: &[&'static str]| [words, &FEW, more].concat();
    vec![
        (few(&["forecast", CASE], &[]), vec!["forecast.json", "band.svg", "dots.png"]),
        (few(&["compare", CASE, OTHER], &[]), vec!["compare.json", "shifts.svg"]),
        (few(&["explain", CASE, OTHER], &[]), vec!["difference.json"]),
        (few(&["decide", CASE, "--costs", "demo/costs.toml"], &[]), vec!["costs.json", "costs.svg"]),
        (vec!["exposure", CASE], vec!["exposure.json", "exposure.png"]),
        (
            [&["forecast", "--record", db, "--car", "A-1"][..], &FEW].concat(),
            vec!["forecast.json", "updated.svg"],
        ),
        (
            [&["compare", "--record", db, "--car", "A-1", "--vary", "wash"][..], &FEW].concat(),
            vec!["compare.json"],
        ),
        (vec!["due", "--record", db, "--by", "2099-01"], vec!["due.json", "due.html"]),
        ([&["letter", "A-1", "--record", db][..], &FEW].concat(), vec!["letter.html"]),
    ]
}

#[test]
fn property_every_kind_of_answer_gives_the_same_bytes_again() {
    let folder = folder("reproduce_kinds");
    let db = record(&folder, "shop.db");
    let mut count = 0;
    for (number, (words, names)) in kinds(&db).into_iter().enumerate() {
        let out = folder.join(format!("out-{number}"));
        written(&words, &out);
        for name in names {
            let ran = reproduced(&out.join(name), &["--inputs", folder.to_str().unwrap()]);
            assert_eq!(
                (ran.code, ran.out.trim_end().ends_with("same bytes")),
                (0, true),
                "{name}: {}{}",
                ran.out,
                ran.notes
            );
            count += 1;
        }
    }
    assert_eq!(count, 16);
}

/// What an answer says of itself names neither folder nor machine, and every table beside it.
#[test]
fn property_an_answer_says_what_it_rests_on() {
    let folder = folder("reproduce_says");
    let case = folder.join("deep/in/here/car.toml");
    std::fs::create_dir_all(case.parent().unwrap()).unwrap();
    std::fs::copy(CASE, &case).unwrap();
    let [one, two] = ["one", "two"].map(|name| folder.join(name));
    let printed = written(
        &["forecast", case.to_str().unwrap(), FEW[0], FEW[1], "--format", "json", "--threads", "1"],
        &one,
    );
    let elsewhere = folder.join("car.toml");
    std::fs::copy(CASE, &elsewhere).unwrap();
    let words = ["forecast", "car.toml", FEW[0], FEW[1], "--threads", "2", "--out", two.to_str().unwrap()];
    let mut again = program(&words);
    let ran =
        finished(again.current_dir(&folder).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap());
    assert_eq!(ran.code, 0, "{}", ran.notes);
    for name in ["forecast.json", "forecast.csv", "band.svg", "grades.png"] {
        let [one, two] = [&one, &two].map(|out| std::fs::read(out.join(name)).unwrap());
        assert!(one == two, "{name}");
        assert!(name.ends_with("csv") || found_in(&one).unwrap().output == name, "{name}");
    }
    let bytes = std::fs::read(one.join("forecast.json")).unwrap();
    assert_eq!(printed.out.as_bytes(), bytes);
    let stated = found_in(&bytes).unwrap();
    assert_eq!(
        (stated.version.as_str(), stated.seed, stated.histories),
        (env!("CARGO_PKG_VERSION"), Some(1), Some(32768))
    );
    assert_eq!(stated.tables_sha256, tables_sha256());
    assert_eq!(stated.command[..2], ["forecast", "car.toml"]);
    // digests of other programs, where they are at hand
    if let Ok(done) =
        std::process::Command::new("sha256sum").args([&case, &one.join("forecast.csv")]).output()
    {
        let text = String::from_utf8(done.stdout).unwrap();
        let [case, table] = [0, 1].map(|line| text.lines().nth(line).unwrap()[..64].to_owned());
        assert_eq!((&stated.cases[0].sha256, &stated.inputs[0].sha256), (&case, &Some(case.clone())));
        assert_eq!((stated.beside[0].name.as_str(), &stated.beside[0].sha256), ("forecast.csv", &table));
    }
    let text = stated.to_line();
    assert!(!text.contains("deep") && !text.contains("threads") && !text.contains('/'), "{text}");
}

/// An answer about the record says nothing of the owner, and of the secrets of a server nothing at all.
#[test]
fn property_an_answer_says_nothing_of_people() {
    let folder = folder("reproduce_people");
    let (db, out) = (record(&folder, "shop.db"), folder.join("out"));
    written(&[&["letter", "A-1", "--record", &db, "--as-of", "2026-01-05"][..], &FEW].concat(), &out);
    let bytes = std::fs::read(out.join("letter.html")).unwrap();
    let stated = found_in(&bytes).unwrap();
    assert!(!stated.to_line().contains("somebody"), "{}", stated.to_line());
    assert!(String::from_utf8(bytes).unwrap().contains(&format!("case {:.8}", stated.cases[0].sha256)));
    let pdf = std::fs::read(out.join("letter.pdf")).unwrap();
    assert!(pdf.windows(13).any(|bytes| bytes == b"tables_sha256"), "in the metadata of the PDF");
}

/// A file with other words in place of some.
fn tampered(file: &Path, name: &str, old: &str, new: &str) -> PathBuf {
    let text = std::fs::read_to_string(file).unwrap();
    assert!(text.contains(old), "no `{old}`");
    let path = file.with_file_name(name);
    std::fs::write(&path, text.replacen(old, new, 1)).unwrap();
    path
}

#[test]
fn property_what_differs_is_told() {
    let folder = folder("reproduce_differs");
    let (case, out) = (folder.join("car.toml"), folder.join("out"));
    std::fs::copy(CASE, &case).unwrap();
    let here = ["--inputs", folder.to_str().unwrap()];
    written(&[&["forecast", case.to_str().unwrap()][..], &FEW].concat(), &out);
    let file = out.join("forecast.json");
    let stated: Provenance = found_in(&std::fs::read(&file).unwrap()).unwrap();
    let reported = |old: &str, new: &str, words: &[&str]| {
        let ran = reproduced(&tampered(&file, "tampered.json", old, new), &here);
        assert_eq!(ran.code, 1, "{}{}", ran.out, ran.notes);
        for word in words {
            assert!(ran.out.contains(word), "no `{word}` in {}", ran.out);
        }
        assert!(ran.out.lines().count() == 2, "only that: {}", ran.out);
    };
    let version = format!("\"version\": \"{}\"", stated.version);
    reported(&version, "\"version\": \"0.0.9\"", &["version: \"0.0.9\" then", env!("CARGO_PKG_VERSION")]);
    reported(&stated.tables_sha256, &"ab".repeat(32), &["tables_sha256: \"abab", "then"]);
    reported(&format!("\"commit\": \"{}", stated.commit), "\"commit\": \"0123456", &["commit: \"0123456"]);
    reported("\"horizon_a\": 40", "\"horizon_a\": 41", &["/horizon_a: 41 then, 40 now"]);
    reported("  \"seed\"", "   \"seed\"", &["line ", "letter "]);
    let picture = tampered(&out.join("band.svg"), "tampered.svg", "Planning estimate", "Planning guess");
    let ran = reproduced(&picture, &here);
    assert!(ran.code == 1 && ran.out.contains("line ") && ran.out.contains("Planning guess"), "{}", ran.out);
    let ran = reproduced(&picture, &["--inputs", here[1], "--format", "json"]);
    let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!((ran.code, &answer["same_bytes"]), (1, &false.into()));
}

#[test]
fn property_missing_and_changed_inputs_are_told() {
    let folder = folder("reproduce_inputs");
    // names that no other test uses: files are looked for below the folder of the sources, which may hold target/
    let (case, out, db) =
        (folder.join("missing_car.toml"), folder.join("out"), record(&folder, "changed.db"));
    std::fs::copy(CASE, &case).unwrap();
    let here = ["--inputs", folder.to_str().unwrap()];
    written(&[&["decide", case.to_str().unwrap(), "--costs", "demo/costs.toml"][..], &FEW].concat(), &out);
    written(&[&["forecast", "--record", &db, "--car", "A-1"][..], &FEW].concat(), &out);
    let costs = out.join("costs.json");
    assert_eq!(reproduced(&costs, &here).code, 0);
    let text = std::fs::read_to_string(&case).unwrap();
    std::fs::write(&case, text.clone() + "\n").unwrap();
    reproduced(&costs, &here)
        .assert_refused(2, &["missing_car.toml", "other contents than then", "--inputs"]);
    std::fs::remove_file(&case).unwrap();
    reproduced(&costs, &here).assert_refused(2, &["missing_car.toml", "no file of that name"]);
    // an entry more is another question to the record
    let note = ["note", "add", "--car", "A-1", "--date", "2024-03-03", "--remark", "x"];
    assert_eq!(ferrowane(&[&["record", "--file", &db][..], &note].concat()).code, 0);
    reproduced(&out.join("forecast.json"), &here)
        .assert_refused(2, &["changed.db", "other entries or cases"]);
    let plain = command::file(&folder, "plain.json", "{}\n");
    reproduced(Path::new(&plain), &[]).assert_refused(2, &["does not say how it was made"]);
    reproduced(&out.join("nothing.json"), &[]).assert_refused(2, &["nothing.json"]);
}

/// A file of somebody else cannot make the program do anything but answer.
#[test]
fn property_a_planted_command_is_not_followed() {
    let folder = folder("reproduce_planted");
    let out = folder.join("out");
    written(&[&["forecast", CASE][..], &FEW].concat(), &out);
    let stated = found_in(&std::fs::read(out.join("forecast.json")).unwrap()).unwrap();
    let target = folder.join("target");
    let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
    let target_text = target.to_str().unwrap();
    let plant = |planted: &Provenance| {
        let text = serde_json::json!({ "provenance": planted }).to_string();
        let path = command::file(&folder, "planted.json", &text);
        reproduced(Path::new(&path), &[])
    };
    for command in [
        words(&["new", target_text]),
        words(&["record", "--file", target_text, "verify"]),
        [stated.command.clone(), words(&["--out", target_text])].concat(),
        [stated.command.clone(), words(&["--force"])].concat(),
        Vec::new(),
    ] {
        plant(&Provenance { command, inputs: Vec::new(), ..stated.clone() })
            .assert_refused(2, &["planted.json"]);
    }
    for output in ["../forecast.json", "/etc/passwd", ""] {
        plant(&Provenance { output: output.to_owned(), ..stated.clone() })
            .assert_refused(2, &["planted.json"]);
    }
    let mut elsewhere = stated.clone();
    elsewhere.inputs[0].name = format!("../{}", elsewhere.inputs[0].name);
    plant(&elsewhere).assert_refused(2, &["no file of that name"]);
    assert!(!target.exists());
}

/// The digest of the tables leaves none out, and is that of other programs.
#[test]
fn property_the_digest_covers_every_table_that_is_compiled_in() {
    let mut names: Vec<&str> = ferrowane::reference::TABLES.iter().map(|(name, _)| *name).collect();
    names.sort_unstable();
    let mut found = 0;
    for path in files("src", &["rs"]) {
        let text = read(&path);
        for part in text.split("include_str!(").skip(1) {
            let Some((_, table)) = part.split(')').next().unwrap().split_once("shared/") else { continue };
            let table = table.trim_end_matches('"');
            if Path::new(table).extension() == Some("csv".as_ref()) {
                assert!(names.contains(&table), "{table} of {}", path.display());
                found += 1;
            }
        }
    }
    assert!(found >= 16, "{found}");
    let line = "cd shared && sha256sum \"$@\" | sha256sum";
    if let Ok(done) = std::process::Command::new("sh").args(["-c", line, "sh"]).args(names).output() {
        assert_eq!(String::from_utf8(done.stdout).unwrap()[..64], *tables_sha256());
    }
}
