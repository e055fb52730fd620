//! Why rows of `shared/checks_humid_air.csv` are left out, and how far others may be off. The rows: `tests/validation.rs`.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use ferrowane::climate::humid_air;

#[derive(serde::Deserialize)]
struct Row {
    function: String,
    temperature_c: f64,
    expected: f64,
    unit: String,
    tolerance: Option<f64>,
    tolerance_kind: String,
    source: String,
    compared: String,
}

fn rows() -> Vec<Row> {
    let text = ferrowane::reference::table("checks_humid_air.csv").unwrap();
    ferrowane::reference::rows("checks_humid_air.csv", text).unwrap()
}

/// 0.3 % of every one, or 0.05 K of dew point, which is as much.
#[test]
fn reference_other_libraries_may_be_off_by_as_much() {
    let rows = rows();
    let others = rows.iter().filter(|row| !row.source.starts_with("Magnus") && row.compared == "yes");
    for row in others {
        let allowed = (row.tolerance.unwrap(), row.tolerance_kind.as_str());
        let expected = if row.unit == "C" { (0.05, "absolute") } else { (0.003, "relative") };
        assert_eq!(allowed, expected, "{}", row.source);
    }
}

/// A library's figure for a call.
fn printed(rows: &[Row], call: &str) -> f64 {
    rows.iter().find(|row| row.source.contains(call)).unwrap_or_else(|| panic!("no {call}")).expected
}

/// Rows are left out for three stated reasons only, and each reason is real: an ice row would fail, and where the form of
/// `MetPy` is left out it is further from IAPWS-95 (`CoolProp`) than we may be.
#[test]
fn reference_rows_left_out_say_why() {
    let rows = rows();
    let left = || rows.iter().filter(|row| row.compared != "yes");
    for row in left() {
        if let Some(call) = row.source.strip_prefix("MetPy 1.7.1: saturation_vapor_pressure(") {
            if !row.compared.starts_with("no: over ice") {
                let at = call.split(' ').next().unwrap();
                let iapws = printed(&rows, &format!("PropsSI('P','T',{at}+273.15,'Q',0,'Water')"));
                assert!((row.expected / iapws - 1.0).abs() > 0.003, "{}", row.source);
            }
            continue;
        }
        assert!(row.compared.starts_with("no: over ice") || row.function == "wet_bulb_c", "{}", row.source);
    }
    let coldest = left().find(|row| row.source.contains("GetSatVapPres(-20)")).unwrap();
    let over_water = humid_air::saturation_pressure_pa(coldest.temperature_c);
    assert!((over_water / coldest.expected - 1.0).abs() > 10.0 * coldest.tolerance.unwrap());
}
