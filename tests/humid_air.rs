//! Every row of `shared/checks_humid_air.csv` against the library.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use ferrowane::climate::humid_air;
use ferrowane::numeric::constants::{VAPOUR_GAS_CONSTANT, ZERO_C_IN_K};

#[derive(serde::Deserialize)]
struct Check {
    function: String,
    temperature_c: f64,
    humidity_pct: Option<f64>,
    surface_temperature_c: Option<f64>,
    pressure_pa: Option<f64>,
    expected: f64,
    unit: String,
    tolerance: Option<f64>,
    tolerance_kind: String,
    source: String,
    compared: String,
}

fn checks() -> Vec<Check> {
    let text = include_str!("../shared/checks_humid_air.csv");
    ferrowane::reference::rows("checks_humid_air.csv", text).unwrap()
}

/// The library's value.
fn computed(check: &Check) -> f64 {
    let (t, rh) = (check.temperature_c, check.humidity_pct);
    match check.function.as_str() {
        "saturation_pressure_pa" => humid_air::saturation_pressure_pa(t),
        "dew_point_c" => humid_air::dew_point_c(t, rh.unwrap()),
        "magnus_pressure_pa" => humid_air::MAGNUS_WMO.pressure_pa(t),
        "magnus_dew_point_c" => humid_air::MAGNUS_WMO.dew_point_c(t, rh.unwrap()),
        "surface_humidity_pct" => {
            humid_air::surface_humidity_pct(t, rh.unwrap(), check.surface_temperature_c.unwrap())
        }
        "humidity_ratio" => humidity_ratio(check, 3.46e-8f64.mul_add(check.pressure_pa.unwrap(), 1.0007)),
        "humidity_ratio_ideal" => humidity_ratio(check, 1.0),
        other => panic!("no function {other}"),
    }
}

/// Water over dry air by mass, 0.621945 f e/(p - f e) (ASHRAE form), from the library's vapour density. Factor `f` of moist
/// air: 1.0007 + 3.46e-6 p with p in hPa (Buck 1981, J. Appl. Meteorol. 20, 1527); 1 in tables of ideal air.
fn humidity_ratio(check: &Check, enhancement: f64) -> f64 {
    let (t, rh) = (check.temperature_c, check.humidity_pct.unwrap());
    let vapour_pa = humid_air::vapour_density_g_m3(t, rh) * 1e-3 * VAPOUR_GAS_CONSTANT * (t + ZERO_C_IN_K);
    let real_pa = enhancement * vapour_pa;
    0.621_945 * real_pa / (check.pressure_pa.unwrap() - real_pa)
}

/// Error as a share of the row's tolerance.
fn share_of_tolerance(check: &Check) -> f64 {
    let error = (computed(check) - check.expected).abs();
    let allowed = match check.tolerance_kind.as_str() {
        "absolute" => check.tolerance.unwrap(),
        "relative" => check.tolerance.unwrap() * check.expected.abs(),
        other => panic!("tolerance kind {other}"),
    };
    error / allowed
}

fn assert_all_within(select: impl Fn(&Check) -> bool, at_least: usize) {
    let rows: Vec<Check> = checks().into_iter().filter(|row| row.compared == "yes" && select(row)).collect();
    assert!(rows.len() >= at_least, "only {} rows", rows.len());
    for row in &rows {
        let share = share_of_tolerance(row);
        assert!(
            share <= 1.0,
            "{}: {} against {} ({share:.2} of tolerance)",
            row.source,
            computed(row),
            row.expected
        );
    }
}

#[test]
fn published_magnus_rows_to_their_rounding() {
    assert_all_within(|row| row.source.starts_with("Magnus"), 10);
}

/// 0.3 % of every one, or 0.05 K of dew point, which is as much.
#[test]
fn reference_other_libraries_and_forms() {
    let others = |row: &Check| !row.source.starts_with("Magnus");
    assert_all_within(others, 70);
    for row in checks().iter().filter(|row| others(row) && row.compared == "yes") {
        let allowed = (row.tolerance.unwrap(), row.tolerance_kind.as_str());
        let expected = if row.unit == "C" { (0.05, "absolute") } else { (0.003, "relative") };
        assert_eq!(allowed, expected, "{}", row.source);
    }
}

/// A library's figure for a call.
fn printed(call: &str) -> f64 {
    checks().iter().find(|row| row.source.contains(call)).unwrap_or_else(|| panic!("no {call}")).expected
}

/// Rows are left out for three stated reasons only, and each reason is real: an ice row would fail, and where the form of
/// `MetPy` is left out it is further from IAPWS-95 (`CoolProp`) than we may be.
#[test]
fn reference_rows_left_out_say_why() {
    let left: Vec<Check> = checks().into_iter().filter(|row| row.compared != "yes").collect();
    for row in &left {
        if let Some(call) = row.source.strip_prefix("MetPy 1.7.1: saturation_vapor_pressure(") {
            if !row.compared.starts_with("no: over ice") {
                let at = call.split(' ').next().unwrap();
                let iapws = printed(&format!("PropsSI('P','T',{at}+273.15,'Q',0,'Water')"));
                assert!((row.expected / iapws - 1.0).abs() > 0.003, "{}", row.source);
            }
            continue;
        }
        assert!(row.compared.starts_with("no: over ice") || row.function == "wet_bulb_c", "{}", row.source);
    }
    let coldest = left.iter().find(|row| row.source.contains("GetSatVapPres(-20)")).unwrap();
    assert!(share_of_tolerance(coldest) > 10.0);
}
