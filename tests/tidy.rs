//! House rules that a reader relies on, checked on the source itself: sizes, units, no panics on input, provenance.

#![allow(clippy::print_stdout, reason = "prints the sizes the rules are about")]

#[path = "support/functions.rs"]
mod functions;
#[path = "support/source.rs"]
mod source;

use functions::functions;
use source::{code, files, line, name, read, root, without_tests, words};
use std::path::Path;

const CODE: [&str; 4] = ["src", "tests", "benches", "python/src"];
/// Folders of code that answers: the library and the Python package over it.
const ANSWERS: [&str; 2] = ["src", "python/src"];
const MAX_FILE: usize = 500;
const MEDIAN_FILE: usize = 170;
const MAX_FUNCTION: usize = 60;
const MAX_PARAMETERS: usize = 5;

/// Endings of the files that hold words of ours: code, documents, tables, schemas, the page.
const WRITTEN_IN: [&str; 10] =
    [".rs", ".js", ".mjs", ".py", ".md", ".csv", ".json", ".html", ".css", ".toml"];

/// Names that are gone, in two pieces so that this list does not find itself.
const OLD_NAMES: [(&str, &str); 18] = [
    ("st", "ranger"),
    ("pa", "tient"),
    ("su", "rprise"),
    ("su", "rprises"),
    ("le", "dger"),
    ("cl", "oud"),
    ("sc", "rambling"),
    ("sc", "ramblings"),
    ("gi", "rth"),
    ("MO", "ST_"),
    ("LE", "AST_"),
    ("LO", "NGEST_"),
    ("to", "ld"),
    ("as", "ked"),
    ("sa", "id"),
    ("lu", "ck"),
    ("err", "and"),
    ("fn ", "of("),
];

fn code_files() -> Vec<std::path::PathBuf> {
    CODE.iter().flat_map(|folder| files(folder, &[".rs"])).collect()
}

/// Runs a rule over files and fails with everything it found.
fn assert_none(paths: &[std::path::PathBuf], rule: impl Fn(&str, &str) -> Vec<String>) {
    assert!(!paths.is_empty(), "no files found");
    let found: Vec<String> = paths.iter().flat_map(|path| rule(&name(path), &read(path))).collect();
    assert!(found.is_empty(), "\n{}", found.join("\n"));
}

#[test]
fn property_files_are_short() {
    let paths = code_files();
    let lengths: Vec<(usize, String)> =
        paths.iter().map(|path| (read(path).lines().count(), name(path))).collect();
    let long: Vec<_> = lengths.iter().filter(|(length, _)| *length > MAX_FILE).collect();
    let mut of_source: Vec<usize> =
        lengths.iter().filter(|(_, name)| name.starts_with("src/")).map(|(length, _)| *length).collect();
    of_source.sort_unstable();
    let median = of_source[of_source.len() / 2];
    println!("{} files in src, median {median} lines, longest {:?}", of_source.len(), of_source.last());
    assert!(long.is_empty(), "longer than {MAX_FILE} lines: {long:?}");
    assert!(median <= MEDIAN_FILE, "median of {median} lines");
}

#[test]
fn property_functions_are_short_and_take_few_parameters() {
    let mut lengths = Vec::new();
    for path in files("src", &[".rs"]) {
        lengths.extend(functions(&code(&read(&path))).iter().map(|f| f.lines));
    }
    lengths.sort_unstable();
    println!("{} functions in src, median {} lines", lengths.len(), lengths[lengths.len() / 2]);
    assert_none(&code_files(), |file, text| {
        let tell = |f: &functions::Function| {
            let (name, lines, parameters) = (&f.name, f.lines, f.parameters);
            format!("{file}:{}: `{name}` has {lines} lines and {parameters} parameters", f.line)
        };
        let found = functions(&code(text));
        let large = found.iter().filter(|f| f.lines > MAX_FUNCTION || f.parameters > MAX_PARAMETERS);
        large.map(tell).collect()
    });
}

/// Three things that travel together have a name.
#[test]
fn property_signatures_hold_no_long_tuples() {
    let mut found = Vec::new();
    for path in files("src", &[".rs"]) {
        let text = without_tests(&code(&read(&path)));
        let long = functions(&text).into_iter().filter(|f| f.longest_tuple > 2);
        found.extend(long.map(|f| format!("{}:{}: `{}`", name(&path), f.line, f.name)));
    }
    assert!(found.is_empty(), "\n{}", found.join("\n"));
}

/// Words that the field does not use for what they once named here.
#[test]
fn property_old_names_are_gone() {
    let is_ours = |path: &std::path::PathBuf| {
        !["tests/malformed/", "tests/equality/renames.csv"].iter().any(|gone| name(path).starts_with(gone))
    };
    let paths: Vec<_> = files(".", &WRITTEN_IN).into_iter().filter(is_ours).collect();
    let old = OLD_NAMES.map(|(first, second)| format!("{first}{second}"));
    assert_none(&paths, |file, text| {
        let found = old.iter().flat_map(|word| old_names(text, word).map(move |at| (at, word)));
        found.map(|(at, word)| format!("{file}:{}: {word}", line(text, at))).collect()
    });
}

/// Places of an old name: as a word, or as the beginning of one where it ends with `_`.
fn old_names<'a>(text: &'a str, old: &'a str) -> impl Iterator<Item = usize> + 'a {
    text.match_indices(old).map(|(at, _)| at).filter(move |at| {
        let free = |c: Option<char>| !c.is_some_and(|c| c.is_alphanumeric() || c == '_');
        free(text[..*at].chars().next_back())
            && (old.ends_with(['_', '(']) || free(text[at + old.len()..].chars().next()))
    })
}

#[test]
fn property_library_code_does_not_panic_on_input() {
    let calls = [".unwrap()", ".expect(", "panic!", "unreachable!", "todo!", "unimplemented!"];
    let paths: Vec<_> = ANSWERS.iter().flat_map(|folder| files(folder, &[".rs"])).collect();
    assert_none(&paths, |file, text| {
        let code = without_tests(&code(text));
        let found = calls.iter().flat_map(|call| code.match_indices(call));
        found.map(|(at, call)| format!("{file}:{}: `{call}`", line(&code, at))).collect()
    });
}

#[test]
fn property_every_test_asserts_something() {
    let mut count = 0;
    let paths: Vec<_> = ["src", "tests"].iter().flat_map(|folder| files(folder, &[".rs"])).collect();
    for path in &paths {
        count += functions(&code(&read(path))).iter().filter(|f| f.is_test).count();
    }
    println!("{count} tests");
    assert!(count > 100, "only {count} tests were found");
    assert_none(&paths, |file, text| {
        let code = code(text);
        let asserts =
            |body: &str| ["assert", "panic!", "check_", "prop_assert"].iter().any(|word| body.contains(word));
        let tests = functions(&code).into_iter().filter(|f| f.is_test);
        let silent = tests.filter(|f| !asserts(&code[f.body.clone()]));
        silent.map(|f| format!("{file}:{}: `{}` asserts nothing", f.line, f.name)).collect()
    });
}

/// Whether a doc text states a unit: in square brackets, or in words where it is another input's. Links such as
/// [`Block`] and [name](place) are no units, and standard normal numbers have none.
fn states_unit(doc: &str) -> bool {
    has_unit(doc) || words(doc, "unit").next().is_some() || doc.contains("standard normal number")
}

fn has_unit(doc: &str) -> bool {
    doc.match_indices('[').any(|(at, _)| {
        let inside = &doc[at + 1..];
        let Some(end) = inside.find(']') else { return false };
        let after = inside[end + 1..].chars().next();
        end > 0 && !inside.starts_with('`') && after != Some('(')
    })
}

/// Types that are numbers with a unit: `f64` alone or wrapped.
fn is_number(kind: &str) -> bool {
    let kind = kind.trim().trim_end_matches(',');
    words(kind, "f64").next().is_some()
        && kind.chars().all(|c| c.is_alphanumeric() || "_[]<>;(), :".contains(c))
        && !kind.contains("Map")
}

/// Doc lines and attributes right above a line, and the doc of the struct it stands in.
fn docs_of(lines: &[&str], at: usize) -> (String, String) {
    let above = |at: usize| -> Vec<&str> {
        let is_doc =
            |line: &&&str| line.trim_start().starts_with("///") || line.trim_start().starts_with("#[");
        let doc: Vec<&str> = lines[..at].iter().rev().take_while(is_doc).copied().collect();
        doc.into_iter().filter(|line| line.trim_start().starts_with("///")).collect()
    };
    let own = above(at).concat();
    let holder = (0..at).rev().find(|i| lines[*i].contains("struct ") && lines[*i].ends_with('{'));
    (own, holder.map_or_else(String::new, |i| above(i).concat()))
}

/// A field states its unit; a field that needs no words of its own (`p05`, `C3`) may leave it to its struct.
#[test]
fn property_public_numbers_state_their_unit() {
    assert_none(&files("src", &[".rs"]), |file, text| {
        let lines: Vec<&str> = text.lines().collect();
        let mut found = Vec::new();
        for (at, line) in lines.iter().enumerate() {
            let Some((field, kind)) =
                line.trim_start().strip_prefix("pub ").and_then(|rest| rest.split_once(": "))
            else {
                continue;
            };
            let is_field = line.starts_with("    ") && field.chars().all(|c| c.is_alphanumeric() || c == '_');
            let (own, of_struct) = docs_of(&lines, at);
            let stated = states_unit(&own) || (own.is_empty() && states_unit(&of_struct));
            if is_field && is_number(kind) && !stated {
                found.push(format!("{file}:{}: `{field}` has no unit in square brackets", at + 1));
            }
        }
        found
    });
}

/// A public function that takes or gives a bare `f64` names a unit in its doc; in `numeric` numbers are only numbers.
#[test]
fn property_public_functions_state_units() {
    let numbers_only = |path: &std::path::PathBuf| name(path).starts_with("src/numeric");
    let paths: Vec<_> = files("src", &[".rs"]).into_iter().filter(|path| !numbers_only(path)).collect();
    assert_none(&paths, |file, text| {
        let lines: Vec<&str> = text.lines().collect();
        let mut found = Vec::new();
        for (at, line) in
            lines.iter().enumerate().filter(|(_, line)| line.trim_start().starts_with("pub fn "))
        {
            let signature: String = lines[at..].join(" ").split('{').next().unwrap_or_default().to_owned();
            if words(&signature, "f64").next().is_some() && !states_unit(&docs_of(&lines, at).0) {
                found.push(format!("{file}:{}: no unit in square brackets above {}", at + 1, line.trim()));
            }
        }
        found
    });
}

/// Status words a row may carry.
const STATUS: [&str; 8] =
    ["SAW", "SAW-2", "MEMORY-H", "MEMORY-M", "MEMORY-L", "COMPUTED", "ASSUMPTION", "COMMON"];

/// Every table opens with its provenance, and every row carries a source and a status unless the opening has both.
#[test]
fn property_tables_carry_source_and_status() {
    assert_none(&files("shared", &[".csv"]), |file, text| {
        let mut found = Vec::new();
        let opening: String = text.lines().take_while(|line| line.starts_with('#')).collect();
        let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
        let header = reader.headers().unwrap().clone();
        let column = |name: &str| header.iter().position(|column| column == name);
        let (Some(source), Some(status)) = (column("source"), column("status")) else {
            if !STATUS.iter().any(|word| words(&opening, word).next().is_some()) {
                found.push(format!(
                    "{file}: neither columns `source` and `status` nor a status in the opening `#` lines"
                ));
            }
            return found;
        };
        for record in reader.records() {
            let record = record.unwrap_or_else(|error| panic!("{file}: {error}"));
            let (source, status) = (&record[source], &record[status]);
            let known = status.split(['/', ' ', ';']).all(|word| STATUS.contains(&word) || word == "-");
            if source.is_empty() || !known {
                let line = record.position().map_or(0, csv::Position::line);
                found.push(format!("{file}:{line}: source `{source}`, status `{status}`"));
            }
        }
        found
    });
}

/// Nothing points outside the project: no path above its folder, no folder of the machine it was written on.
#[test]
fn property_nothing_points_outside_the_project() {
    let endings = [".rs", ".md", ".toml", ".csv", ".json", ".py", ".sh", ".txt", ".html", "run"];
    // some of the malformed files are no text at all
    let is_text = |path: &std::path::PathBuf| !name(path).starts_with("tests/malformed");
    let paths: Vec<_> = files("", &endings).into_iter().filter(is_text).collect();
    let machine = ["work", "tmp", "home", "root", "Users"].map(|folder| format!("/{folder}/"));
    assert_none(&paths, |file, text| {
        let mut found = Vec::new();
        for (number, text) in text.lines().enumerate() {
            let own = machine.iter().filter(|folder| starts_a_path(text, folder));
            found.extend(own.map(|folder| format!("{file}:{}: {folder}", number + 1)));
            if text.match_indices("../").any(|(at, _)| leaves_the_project(file, &text[at..])) {
                found.push(format!("{file}:{}: a path out of the project", number + 1));
            }
        }
        found
    });
}

/// Whether a folder of the machine stands at the beginning of a path, not in the middle of one.
fn starts_a_path(text: &str, folder: &str) -> bool {
    text.match_indices(folder).any(|(at, _)| {
        let before = text[..at].chars().next_back();
        !before.is_some_and(|c| c.is_alphanumeric() || "._-/}$*".contains(c))
    })
}

/// Whether a relative path written in a file climbs above the project's folder, read from the file's own.
fn leaves_the_project(file: &str, path: &str) -> bool {
    let depth = Path::new(file).components().count() - 1;
    let mut ups = 0;
    let mut rest = path;
    while let Some(next) = rest.strip_prefix("../") {
        (ups, rest) = (ups + 1, next);
    }
    ups > depth
}

/// The command lines of the README that are marked to be run: ```` ```sh run ````.
fn commands(readme: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut inside = false;
    for line in readme.replace("\\\n", " ").lines() {
        if line.starts_with("```") {
            inside = line.starts_with("```sh") && line.contains("run");
        } else if inside && line.trim_start().starts_with("ferrowane ") {
            found.push(line.trim().to_owned());
        }
    }
    found
}

/// Runs the README's commands in a copy of what they read; nothing to run while there is no README.
#[cfg(feature = "cli")]
#[test]
fn property_readme_commands_run() {
    let Ok(readme) = std::fs::read_to_string(root().join("README.md")) else { return };
    let place = Path::new(env!("CARGO_TARGET_TMPDIR")).join("readme");
    let _ = std::fs::remove_dir_all(&place);
    for path in files("demo", &[""]).iter().chain(&files("climate-samples", &[""])) {
        let copy = place.join(name(path));
        std::fs::create_dir_all(copy.parent().unwrap()).unwrap();
        std::fs::copy(path, copy).unwrap();
    }
    let commands = commands(&readme);
    assert!(!commands.is_empty(), "the README has no ```sh run block");
    for command in commands {
        let words = command.split_whitespace().skip(1).map(|word| word.trim_matches(['\'', '"']));
        let run = std::process::Command::new(env!("CARGO_BIN_EXE_ferrowane"))
            .args(words)
            .current_dir(&place)
            .output();
        let output = run.unwrap();
        assert!(output.status.success(), "{command}\n{}", String::from_utf8_lossy(&output.stderr));
    }
}

/// The rules themselves bite.
#[test]
fn property_each_rule_bites() {
    let text = "fn a<F: Fn(f64, f64)>(f: F, b: (u8, u8), c: [f64; 2]) -> [u8; 2] {\n    \"}\";\n}\n#[test]\nfn b(&self) {}\n";
    let found = functions(&code(text));
    assert_eq!(found.len(), 2);
    assert_eq!((found[0].parameters, found[0].lines, found[0].is_test), (3, 3, false));
    assert_eq!((found[1].parameters, found[1].lines, found[1].is_test), (0, 1, true));
    assert!(
        has_unit("rate [µm/a]") && has_unit("[`Rate`] [-]") && !has_unit("see [`Rate`] and [this](there)")
    );
    assert!(
        is_number("Option<f64>,") && is_number("[f64; 2],") && !is_number("Prior,") && !is_number("u32,")
    );
    assert!(!without_tests(&code("#[cfg(test)]\nmod tests { fn x() { y.unwrap() } }")).contains("unwrap"));
    assert!(code("let a = 'x'; let b: &'static str = \"fn\"; // fn").contains("'static"));
    let long = functions("fn a(b: (u8, u8, u8), c: &dyn Fn(u8, u8, u8, u8)) -> (u8, u8) {\n}\n");
    assert_eq!(long[0].longest_tuple, 3);
    assert_eq!(old_names("a pluck, b_old, old, OLD_A", "old").count(), 1);
    assert_eq!(old_names("OLD_A, BOLD_A", "OLD_").count(), 1);
    let two_up = "../".repeat(2) + "shared";
    assert!(leaves_the_project("src/a.rs", &two_up) && !leaves_the_project("src/a/b.rs", &two_up));
    assert_eq!(
        commands("```sh run\nferrowane a \\\n  b\nls\n```\n```sh\nferrowane c\n```\n"),
        ["ferrowane a    b"]
    );
}
