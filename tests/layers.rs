//! Each stage uses only stages that stand before it, and only the rim knows files, arguments and pictures.
//!
//! Read from the source itself: comments, strings and tests are left out, `main.rs` may use everything.

#[path = "support/source.rs"]
mod source;

use source::{code, files, line, name, read, strings, without_tests, words};

/// Stages in order; a stage may use those before it.
const STAGES: [&str; 24] = [
    "error",
    "user_file",
    "reference", // before the numerics: the Sobol points are read from a table
    "numeric",
    "prior",
    "climate",
    "exposure",
    "corrosivity",
    "coating",
    "section",
    "model",
    "forecast",
    "inspection",
    "tune",
    "explain",
    "decision",
    "validation",
    "case",
    "batch",
    "record",
    "report",
    "tables",
    "web",
    "cli",
];

/// Words from which a string counts as a sentence.
const SENTENCE_WORDS: usize = 4;
/// What a statement holds that may write a sentence below `report`: errors, checks and reasons for the programmer, SQL.
const NOT_FOR_READERS: [&str; 9] =
    ["Error::", "error(", "in_range(", "assert", "reason =", "schemars(", "refuse", "allowed", "sql"];
/// Files below `report` whose strings are errors throughout, or the words of a file format.
const SPEAKS_OF_FILES: [&str; 5] = ["src/case", "src/batch", "src/record", "src/climate", "src/error.rs"];

/// Who may use what lies outside the numbers: a path, and the files or stages that may name it.
const RIM: [(&str, &[&str]); 19] = [
    ("clap", &["src/cli"]),
    ("indicatif", &["src/cli"]),
    ("signal_hook", &["src/cli"]),
    ("axum", &["src/web"]),
    ("hyper", &["src/web"]),
    ("tokio", &["src/web"]),
    ("rusqlite", &["src/record"]),
    ("calamine", &["src/record/import_table"]),
    ("quick_xml", &["src/record/import_table"]),
    ("parquet", &["src/tables"]),
    ("plotters", &["src/report"]),
    ("resvg", &["src/report"]),
    ("krilla", &["src/report/document"]),
    ("krilla_svg", &["src/report/document"]),
    ("ttf_parser", &["src/report/document"]),
    ("std::fs", &["src/user_file.rs", "src/report/files", "src/tables", "src/cli"]),
    ("std::net", &["src/web", "src/cli"]),
    ("std::env", &["src/cli"]),
    ("std::time", &["src/web", "src/cli"]),
];

/// Functions the standard library hands to the platform, whose last bit differs between systems.
const PLATFORM_MATHS: [&str; 17] = [
    "exp", "exp2", "exp_m1", "ln", "ln_1p", "log2", "log10", "powf", "powi", "sin", "cos", "sin_cos", "tan",
    "atan", "atan2", "hypot", "cbrt",
];
/// First and last of the stages whose numbers reach a forecast.
const NUMBERS: (&str, &str) = ("numeric", "tune");

/// Calls that cannot change a forecast.
const OUTSIDE_THE_FORECAST: [(&str, &str); 2] = [
    ("src/section/ring.rs", ".sin_cos("), // rings of other widths; the edges of the forecast's ring are surds
    ("src/section/modulus.rs", ".hypot("), // properties of one worn section, never in the loop
];

/// Files that may read the published tables; everything else takes them from the model it is handed.
const READS_TABLES: [&str; 9] = [
    "src/model.rs",
    "src/model/defaults.rs",
    "src/cli/run.rs",              // the program begins with the published model
    "src/case/schema.rs",          // editors are offered the published names
    "src/case/resolve/climate.rs", // samples of weather are no part of the model
    "src/climate/samples.rs",      // the samples themselves
    "src/coating/grading.rs",      // short ways for tests and benches
    "src/coating/system.rs",       // short ways for tests and benches
    "src/exposure/arrangement.rs", // short ways for tests and benches
];

/// Place of the stage a file belongs to, or `None` for the crate's own files.
fn stage_of(file: &str) -> Option<usize> {
    let within = file.strip_prefix("src/")?;
    let stage = within.split(['/', '.']).next()?;
    if matches!(stage, "lib" | "main") {
        return None;
    }
    let place = STAGES.iter().position(|known| *known == stage);
    assert!(place.is_some(), "{file}: `{stage}` is not one of the stages {STAGES:?}");
    place
}

/// What is wrong with the uses of one file.
fn misuses(file: &str, text: &str) -> Vec<String> {
    let Some(stage) = stage_of(file) else { return Vec::new() };
    let code = without_tests(&code(text));
    let mut found = Vec::new();
    let mut tell = |at: usize, what: String| found.push(format!("{file}:{}: {what}", line(&code, at)));
    for at in words(&code, "crate") {
        let Some(rest) = code[at..].strip_prefix("crate::") else { continue };
        let used: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
        match STAGES.iter().position(|known| *known == used) {
            Some(place) if place <= stage => {}
            Some(_) => tell(at, format!("`{}` may not use `{used}`, which stands after it", STAGES[stage])),
            None => {
                tell(at, format!("`crate::{used}` is no stage; write one `use crate::stage::...` a stage"));
            }
        }
    }
    for (at, _) in code.match_indices("super::super") {
        tell(at, "`super::super` hides where a name comes from".to_owned());
    }
    let is_top = !file["src/".len()..].contains('/');
    for at in words(&code, "super").filter(|_| is_top) {
        tell(at, "`super` in a stage's own file is the crate; name the stage".to_owned());
    }
    found
}

/// Uses of the rim where there may be none.
fn leaks(file: &str, text: &str) -> Vec<String> {
    if stage_of(file).is_none() {
        return Vec::new();
    }
    let code = without_tests(&code(text));
    let within = |place: &&str| {
        file.strip_prefix(*place).is_some_and(|rest| rest.is_empty() || rest.starts_with(['/', '.']))
    };
    let forbidden = RIM.iter().filter(|(_, allowed)| !allowed.iter().any(within));
    forbidden
        .flat_map(|(what, _)| words(&code, what).map(move |at| (what, at)))
        .map(|(what, at)| format!("{file}:{}: `{what}` belongs to the rim", line(&code, at)))
        .collect()
}

/// Calls of the platform's functions in files whose numbers reach a forecast.
fn platform_maths(file: &str, text: &str) -> Vec<String> {
    let place = |name: &str| STAGES.iter().position(|stage| *stage == name);
    let (stage, first, last) = (stage_of(file), place(NUMBERS.0), place(NUMBERS.1));
    assert!(first.is_some() && last.is_some(), "{NUMBERS:?} are not stages");
    if stage < first || stage > last {
        return Vec::new();
    }
    let code = without_tests(&code(text));
    let calls = PLATFORM_MATHS.iter().flat_map(|function| {
        let called = [format!(".{function}("), format!("f64::{function}")];
        let counted = called.into_iter().filter(|call| !OUTSIDE_THE_FORECAST.contains(&(file, call)));
        counted.flat_map(|call| code.match_indices(&call).map(|(at, _)| at).collect::<Vec<_>>())
    });
    calls.map(|at| format!("{file}:{}: use crate::numeric::elementary", line(&code, at))).collect()
}

/// Calls that read embedded tables where a model is handed in.
fn table_readings(file: &str, text: &str) -> Vec<String> {
    if stage_of(file).is_none() || READS_TABLES.contains(&file) {
        return Vec::new();
    }
    let code = without_tests(&code(text));
    let calls = code.match_indices("::published(");
    calls.map(|(at, _)| format!("{file}:{}: take it from the model", line(&code, at))).collect()
}

/// Sentences in the stages below `report`, which compute and do not speak.
fn prose(file: &str, text: &str) -> Vec<String> {
    let report = STAGES.iter().position(|stage| *stage == "report");
    if stage_of(file).is_none_or(|_| stage_of(file) >= report)
        || SPEAKS_OF_FILES.iter().any(|at| file.starts_with(at))
    {
        return Vec::new();
    }
    let code = without_tests(&code(text));
    let is_sentence = |words: &str| {
        let word = |word: &&str| word.chars().filter(|c| c.is_alphabetic()).count() > 1;
        words.split_whitespace().filter(word).count() >= SENTENCE_WORDS
    };
    let for_readers = |at: usize| {
        let start = code[..at].rfind([';', '{', '}']).map_or(0, |before| before + 1);
        !code[start..at].trim().is_empty()
            && !NOT_FOR_READERS.iter().any(|word| code[start..at].contains(word))
    };
    let found = strings(text).into_iter().filter(|(at, words)| is_sentence(words) && for_readers(*at));
    found.map(|(at, words)| format!("{file}:{}: {words} belongs to report", line(text, at))).collect()
}

fn over_all(rule: fn(&str, &str) -> Vec<String>) -> String {
    let sources = files("src", &[".rs"]);
    assert!(sources.len() > 30, "the source was not found");
    sources.iter().flat_map(|path| rule(&name(path), &read(path))).collect::<Vec<_>>().join("\n")
}

#[test]
fn property_stages_use_only_what_stands_before_them() {
    let found = over_all(misuses);
    assert!(found.is_empty(), "\n{found}");
}

#[test]
fn property_only_the_rim_knows_files_arguments_and_pictures() {
    let found = over_all(leaks);
    assert!(found.is_empty(), "\n{found}");
}

#[test]
fn property_numbers_do_not_depend_on_the_platform() {
    let found = over_all(platform_maths);
    assert!(found.is_empty(), "\n{found}");
}

#[test]
fn property_tables_come_with_the_model() {
    let found = over_all(table_readings);
    assert!(found.is_empty(), "\n{found}");
}

#[test]
fn property_sentences_for_readers_stand_in_report() {
    let found = over_all(prose);
    assert!(found.is_empty(), "\n{found}");
}

/// The rules themselves: each bad line is found with its line number, and words in comments, strings and tests are not.
#[test]
fn property_each_rule_bites() {
    let one = |rule: fn(&str, &str) -> Vec<String>, file: &str, text: &str| rule(file, text).len();
    assert_eq!(one(misuses, "src/climate/a.rs", "use crate::forecast::Forecast;\n"), 1);
    assert_eq!(
        one(misuses, "src/climate/a.rs", "use crate::climate::Series;\nuse crate::error::Error;\n"),
        0
    );
    assert_eq!(one(misuses, "src/forecast.rs", "use crate::{climate, section};\n"), 1);
    assert_eq!(one(misuses, "src/report/a.rs", "use super::super::forecast;\n"), 1);
    assert_eq!(one(misuses, "src/coating.rs", "use super::report;\n"), 1);
    assert_eq!(
        one(misuses, "src/error.rs", "// crate::cli\nconst A: &str = \"crate::cli\"; /* crate::cli */\n"),
        0
    );
    assert_eq!(one(misuses, "src/error.rs", "#[cfg(test)]\nmod tests { use crate::cli::run; }\n"), 0);
    assert_eq!(misuses("src/error.rs", "\n\nfn f() { crate::cli::run() }\n")[0].split(':').nth(1), Some("3"));
    assert_eq!(one(leaks, "src/forecast/run.rs", "use indicatif::ProgressBar;\n"), 1);
    assert_eq!(one(leaks, "src/climate/table.rs", "std::fs::read(path)"), 1);
    assert_eq!(one(leaks, "src/user_file.rs", "std::fs::read(path)"), 0);
    assert_eq!(one(platform_maths, "src/coating/a.rs", "let x = y.powf(2.0) + f64::exp(1.0);"), 2);
    assert_eq!(one(table_readings, "src/forecast/a.rs", "let p = Priors::published()?;"), 1);
    assert_eq!(one(table_readings, "src/model.rs", "let p = Priors::published()?;"), 0);
    assert_eq!(one(platform_maths, "src/report/a.rs", "let x = y.powf(2.0);"), 0);
}
