//! Does `decide` say what it should, write its picture and refuse what it cannot use?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
mod command;

use command::{ferrowane, file, folder, program};

const CASE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/cases/street_daily.toml");
const COSTS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/costs.toml");
const ARGUMENTS: [&str; 6] = ["decide", CASE, "--costs", COSTS, "--histories", "1"];

#[test]
fn regress_answer_in_json_with_files() {
    let folder = folder("decide");
    let out = folder.to_str().unwrap();
    let ran = ferrowane(&[&ARGUMENTS[..], &["--at", "4", "--format", "json", "--out", out]].concat());
    let answer = ran.json();
    for option in answer["options"].as_array().unwrap() {
        assert!(option["name"].is_string() && option["net_present_cost"]["p50"].is_number(), "{option}");
        assert!(
            ["equivalent_annual_cost", "cheapest_share", "ties_share", "regret"]
                .iter()
                .all(|key| option[*key].is_number())
        );
    }
    assert!(answer["visits"][0]["jobs"].is_array());
    assert_eq!(std::fs::read_to_string(folder.join("costs.json")).unwrap(), ran.out);
    assert!(std::fs::read_to_string(folder.join("costs.svg")).unwrap().contains("no rework"));
    assert!(std::fs::read(folder.join("costs.png")).unwrap().starts_with(b"\x89PNG"));
}

#[test]
fn regress_answer_in_words() {
    let ran = ferrowane(&[&ARGUMENTS[..], &["--from", "2018-05-01"]].concat());
    assert_eq!(ran.code, 0, "{}", ran.notes);
    for words in [
        "rework now",
        "Over-rust    the over-rust coat costs 150",
        "Visits",
        "never on a jack alone",
        "Planning estimate only",
    ] {
        assert!(ran.out.contains(words), "no `{words}` in: {}", ran.out);
    }
    let widest = ran.out.lines().map(|line| line.chars().count()).max().unwrap();
    assert!(widest <= 100, "{widest}");
}

#[test]
fn regress_what_cannot_be_used_is_refused() {
    let folder = folder("decide_refused");
    ferrowane(&[&ARGUMENTS[..], &["--at", "-1"]].concat()).assert_refused(2, &["--at", "0 to 59 a"]);
    ferrowane(&[&ARGUMENTS[..], &["--from", "2013-01-01"]].concat())
        .assert_refused(2, &["2013-01-01", "2014-05-01"]);
    ferrowane(&["decide", CASE]).assert_refused(2, &["--costs"]);
    let template = String::from_utf8(program(&["new", "--costs"]).output().unwrap().stdout).unwrap();
    let slip = file(&folder, "costs.toml", &template.replace("blast_and_coat", "blast_and_cote"));
    ferrowane(&["decide", CASE, "--costs", &slip, "--at", "4"])
        .assert_refused(2, &["costs.toml:", "did you mean `blast_and_coat`?"]);
}
