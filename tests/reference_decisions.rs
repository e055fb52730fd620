//! Writes decisions and the histories behind them for `tests/reference/decisions.py`, which counts every cost a second time.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

use std::path::{Path, PathBuf};
use std::process::Command;

/// Where the script looks.
fn folder() -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).parent().unwrap().join("decisions")
}

/// The demo's prices; but for one situation without rinsing and other stores, whose courses make a table five times as wide.
fn prices(is_whole: bool) -> String {
    let text =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/costs.toml")).unwrap();
    let left_out = ["wash_each", "carport", "garage_tight", "tent_dehumidified"];
    let is_kept = |line: &&str| is_whole || !left_out.iter().any(|key| line.starts_with(key));
    text.lines().filter(is_kept).map(|line| line.to_owned() + "\n").collect()
}

/// A situation: its name, the age of the car [a], and a change of the demo's street car.
struct Situation(&'static str, f64, [&'static str; 2]);

const SAME: [&str; 2] = ["nodes = 4", "nodes = 4"];
const THIN: [&str; 2] = ["45x2", "45x1"];
const BAD_GRADES: [&str; 2] = [
    "inside = \"bare\"\n",
    "inside = \"bare\"\n\n[[coating.condition]]\nage_a = 7.5\npart = \"node\"\ngrade = \"Ri 4\"\n\n\
     [[coating.condition]]\nage_a = 7.5\npart = \"run\"\ngrade = \"Ri 3\"\n",
];
const SITUATIONS: [Situation; 6] = [
    Situation("new", 0.0, SAME),
    Situation("after_4_years", 4.0, SAME),
    Situation("after_8_years", 8.0, SAME),
    Situation("after_16_years", 16.0, SAME),
    Situation("thin_after_35_years", 35.0, THIN),
    Situation("bad_grades", 8.0, BAD_GRADES),
];

/// The script needs numpy, so it runs apart (`.ci/run`); here it is seen that what it reads is whole.
#[test]
fn reference_dump_for_the_recount_of_decisions() {
    let (folder, root) = (folder(), Path::new(env!("CARGO_MANIFEST_DIR")));
    std::fs::create_dir_all(&folder).unwrap();
    let case = std::fs::read_to_string(root.join("demo/cases/street_daily.toml")).unwrap();
    for Situation(name, at_a, [from, to]) in SITUATIONS {
        assert!(case.contains(from), "no `{from}` in the demo");
        let costs = folder.join(name).with_extension("costs.toml");
        std::fs::write(&costs, prices(name == "after_4_years")).unwrap();
        let costs = costs.display().to_string();
        let [path, table] = ["toml", "csv"].map(|ending| folder.join(name).with_extension(ending));
        std::fs::write(&path, case.replace(from, to)).unwrap();
        let [path, table, at] = [path.display().to_string(), table.display().to_string(), at_a.to_string()];
        let arguments = ["decide", &path, "--costs", &costs, "--at", &at, "--format", "json"];
        let ran = Command::new(env!("CARGO_BIN_EXE_ferrowane"))
            .args(arguments)
            .args(["--histories", "1", "--histories-out", &table])
            .output()
            .unwrap();
        assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
        let answer: serde_json::Value = serde_json::from_slice(&ran.stdout).unwrap();
        std::fs::write(folder.join(name).with_extension("json"), &ran.stdout).unwrap();
        let rows = std::fs::read_to_string(&table).unwrap().lines().count() as u64 - 1;
        assert_eq!(Some(rows), answer["histories"].as_u64());
        assert!(answer["advice"]["cost"].is_number() && answer["advice"]["by"].is_string());
    }
}
