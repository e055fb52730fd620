//! A posterior whose runs lie apart is refused before it narrows a band.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

use std::process::Command;

/// What the program answers to a forecast with a posterior of such runs.
fn refused(name: &str, r_hat: &str) -> String {
    let folder = std::env::temp_dir().join(format!("ferrowane-posterior-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let summary = format!(
        r#"{{"cars": 6, "observations": 40, "parameters": [{{"r_hat": 1.01}}, {{"r_hat": {r_hat}}}]}}"#
    );
    std::fs::write(folder.join("summary.json"), summary).unwrap();
    let path = folder.to_str().unwrap();
    let arguments = ["forecast", "demo/cases/street_daily.toml", "--posterior", path];
    let answer = Command::new(env!("CARGO_BIN_EXE_ferrowane")).args(arguments).output().unwrap();
    std::fs::remove_dir_all(&folder).unwrap();
    assert!(!answer.status.success() && answer.stdout.is_empty());
    String::from_utf8(answer.stderr).unwrap()
}

#[test]
fn property_runs_that_lie_apart_are_refused() {
    let words = refused("apart", "1.77");
    assert!(
        words.contains("summary.json") && words.contains("R-hat 1.77") && words.contains("1.1"),
        "{words}"
    );
    // runs that agree go on to the draws, which are not there
    assert!(refused("agree", "1.05").contains("posterior.csv"));
}
