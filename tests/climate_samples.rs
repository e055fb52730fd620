//! The embedded samples with gaps, and the quick path against its given means. Complete years: `tests/validation.rs`.
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

use ferrowane::climate::quick::{AnnualMeans, HourlyShape, quick};
use ferrowane::climate::samples::{sample, samples};
use ferrowane::climate::{ClimateRecord, SampleClimates, summary};

#[derive(serde::Deserialize)]
struct Check {
    id: String,
    valid_hours: usize,
    temperature_c: f64,
    humidity_pct: f64,
    wet_h: f64,
    rain_mm: Option<f64>,
}

fn checks() -> Vec<Check> {
    let text = include_str!("../shared/checks_climate_summary.csv");
    ferrowane::reference::rows("checks_climate_summary.csv", text).unwrap()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Filled hours count as wet or not on top of the measured ones, and cannot move a mean by more than their share (0.65 %) of
/// the distance between extreme and mean: 0.65 % of 25 K and of 50 %.
#[test]
fn reference_gap_filled_years_differ_by_no_more_than_their_gaps() {
    let gappy: Vec<Check> = checks().into_iter().filter(|check| check.valid_hours < 8760).collect();
    assert_eq!(gappy.len(), 2);
    for check in gappy {
        let climate = sample(&check.id).unwrap();
        let figures = summary(&climate);
        let missing = 8760 - check.valid_hours;
        assert_eq!(figures.missing_hours, missing, "{}", check.id);
        // the last 29 hours of December and, on the ring, the first of January
        assert_eq!(climate.gaps.longest_gap_h, 30);
        assert_eq!(climate.gaps.neighbour_day_values, 2 * 30);
        assert_eq!(climate.gaps.straight_line_values, 2 * (missing - 30));
        let more_wet = figures.time_of_wetness_h_per_a - check.wet_h;
        assert!((0.0..=missing as f64).contains(&more_wet), "{}: {more_wet}", check.id);
        let share = missing as f64 / 8760.0;
        assert!((figures.temperature_c - check.temperature_c).abs() <= share * 25.0);
        assert!((figures.humidity_pct - check.humidity_pct).abs() <= share * 50.0);
        assert!((figures.rain_mm_per_a.unwrap() - check.rain_mm.unwrap()).abs() <= 0.05 + 1e-9);
    }
}

#[test]
fn property_index_states_what_the_files_hold() {
    let known = samples().unwrap();
    assert_eq!(known.len(), 17);
    for info in known {
        let climate = sample(&info.id).unwrap();
        assert_eq!(climate.series.years(), info.years, "{}", info.id);
        assert!(
            (mean(&climate.series.temperature_c) - info.temperature_c).abs() < 0.000_5 + 1e-9,
            "{}",
            info.id
        );
        assert!(
            (mean(&climate.series.humidity_pct) - info.humidity_pct).abs() < 0.000_5 + 1e-9,
            "{}",
            info.id
        );
        assert!(climate.series.wind_m_s.is_some() && !climate.gaps.wind_left_out, "{}", info.id);
        assert!(
            info.deposition_status.contains("assumption")
                && info.deposition_status.contains("no measurement")
        );
        info.deposition().unwrap();
    }
}

#[test]
fn property_an_unknown_sample_names_the_nearest() {
    let message = sample("port-angles").unwrap_err().to_string();
    assert!(message.contains("did you mean `port-angeles`?"), "{message}");
}

fn quick_means(temperature_c: f64, humidity_pct: f64, shape: HourlyShape) -> ClimateRecord {
    quick(&SampleClimates::published().unwrap(), &AnnualMeans { temperature_c, humidity_pct }, shape).unwrap()
}

#[test]
fn closed_form_constant_year_is_constant_to_the_bit_and_equals_a_constant_record() {
    let constant = quick_means(9.7, 81.3, HourlyShape::Constant);
    assert!(constant.series.temperature_c.iter().all(|t| t.to_bits() == 9.7f64.to_bits()));
    assert!(constant.series.humidity_pct.iter().all(|rh| rh.to_bits() == 81.3f64.to_bits()));
    let rows: Vec<String> = (1..=12).map(|month| format!("{month},9.7,81.3")).collect();
    let table = format!("month,temperature_c,humidity_pct\n{}", rows.join("\n"));
    let read = ferrowane::climate::read::read_bytes("constant.csv", table.as_bytes()).unwrap();
    assert_eq!(read.series, constant.series);
}

#[test]
fn property_shifted_shapes_meet_their_means() {
    for (t, rh) in
        [(-10.0, 60.0), (9.0, 81.0), (12.0, 97.0), (25.0, 20.0), (27.0, 85.0), (10.0, 0.0), (10.0, 100.0)]
    {
        let climate = quick_means(t, rh, HourlyShape::NearestSample);
        assert!(climate.name.starts_with("shape of "));
        assert!((mean(&climate.series.temperature_c) - t).abs() < 1e-9, "{t} {rh}");
        assert!((mean(&climate.series.humidity_pct) - rh).abs() < 0.01, "{t} {rh}");
        assert!(climate.series.humidity_pct.iter().all(|value| (0.0..=100.0).contains(value)));
    }
}

#[test]
fn property_a_samples_own_means_find_it_again() {
    for info in samples().unwrap() {
        let climate = quick_means(info.temperature_c, info.humidity_pct, HourlyShape::NearestSample);
        assert_eq!(climate.name, format!("shape of {}", info.id));
    }
}

#[test]
fn property_impossible_means_are_refused() {
    for (temperature_c, humidity_pct) in [(41.0, 50.0), (-41.0, 50.0), (10.0, 101.0), (f64::NAN, 50.0)] {
        let refused = quick(
            &SampleClimates::published().unwrap(),
            &AnnualMeans { temperature_c, humidity_pct },
            HourlyShape::Constant,
        );
        assert!(refused.unwrap_err().to_string().contains("mean"));
    }
}
