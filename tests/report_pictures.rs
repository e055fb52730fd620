//! Pictures of the report: well-formed, named, complete, nothing clipped, nothing on top of words.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a helper that fails is a failed test"
)]

#[path = "support/forecast.rs"]
mod fixture;
#[path = "support/sheet.rs"]
mod sheet;

use ferrowane::forecast::outcome::NOTICE;
use ferrowane::report::band::band_plot;
use ferrowane::report::climate_plot::{ClimateMonth, ClimateYear, climate_year};
use ferrowane::report::exposure_plot::{ExposureTable, MonthRow, exposure_plot};
use ferrowane::report::fan::loss_fan;
use ferrowane::report::grades::grade_by_year;
use ferrowane::report::picture::{FOOTER, parsed, png};

fn month(month: u32, damp: f64) -> MonthRow {
    let winter = (f64::from(month) / 12.0 * std::f64::consts::TAU).cos();
    MonthRow {
        month,
        air_temperature_c: 10.0 - 9.0 * winter,
        air_humidity_pct: 70.0 + 10.0 * winter,
        steel_temperature_c: 10.5 - 9.5 * winter * damp,
        steel_humidity_pct: 55.0 + 25.0 * damp + 9.0 * winter,
        film_h: 620.0 * damp * (0.6 + 0.4 * winter),
        wetness_h: 500.0 * damp * (0.6 + 0.4 * winter),
        chloride_mg_m2: 300.0 * damp * (0.3 + 0.7 * winter).max(0.02),
    }
}

fn exposure() -> ExposureTable {
    ExposureTable {
        title: "Unheated garage, leaky; driven in winter".to_owned(),
        arrangement: (1..=12).map(|m| month(m, 0.55)).collect(),
        open_air: (1..=12).map(|m| month(m, 1.0)).collect(),
    }
}

fn climate() -> ClimateYear {
    let daily = |mean: f64, swing: f64, noise: f64| {
        (0..365_u32).map(move |d| {
            let d = f64::from(d);
            mean - swing * (d / 365.0 * std::f64::consts::TAU).cos()
                + noise * (d * 1.7).sin() * (d * 0.31).cos()
        })
    };
    let months = (1..=12).map(|month| {
        let winter = (f64::from(month) / 12.0 * std::f64::consts::TAU).cos();
        ClimateMonth {
            month,
            temperature_mean_c: 10.0 - 9.0 * winter,
            temperature_min_c: -2.0 - 9.0 * winter,
            temperature_max_c: 22.0 - 9.0 * winter,
            humidity_mean_pct: 76.0 + 9.0 * winter,
            wetness_h: 340.0 + 180.0 * winter,
        }
    });
    ClimateYear {
        title: "An inland town, hourly sample year".to_owned(),
        months: months.collect(),
        daily_temperature_c: daily(10.0, 9.0, 4.0).collect(),
        daily_humidity_pct: daily(76.0, -9.0, 7.0).collect(),
    }
}

/// Name, SVG and the units its axes must show.
fn all() -> Vec<(&'static str, String, Vec<&'static str>)> {
    let (a, b, c) = (fixture::ordinary(), fixture::half_beyond(), fixture::hard());
    let band = vec!["[%]", "[a]", "calendar year", "2014"];
    let loss = vec!["[µm]", "[% of the wall]", "[a]", "rework 5 %, 100 µm"];
    let grade = vec!["[% of the histories]", "[a]", "Ri 0", "Ri 3", "Ri 5"];
    vec![
        ("band", band_plot(&a).unwrap(), band.clone()),
        ("band_beyond", band_plot(&b).unwrap(), band),
        ("band_hard", band_plot(&c).unwrap(), vec!["[%]", "[a]", "2015"]),
        ("losses", loss_fan(&a).unwrap(), loss.clone()),
        ("losses_beyond", loss_fan(&b).unwrap(), loss),
        ("losses_hard", loss_fan(&c).unwrap(), vec!["[µm]", "rework 20 %, 400 µm", "caution 21.5 %, 430 µm"]),
        ("grades_hard", grade_by_year(&c).unwrap(), vec!["[a]", "Ri 0", "Ri 4"]),
        ("grades", grade_by_year(&a).unwrap(), grade.clone()),
        ("grades_beyond", grade_by_year(&b).unwrap(), grade),
        (
            "exposure",
            exposure_plot(&exposure()).unwrap(),
            vec!["[°C]", "[%]", "[h a month]", "[mg/m²]", "80 %"],
        ),
        ("climate", climate_year(&climate()).unwrap(), vec!["[°C]", "[%]", "[h]"]),
    ]
}

#[test]
fn property_pictures_name_themselves_and_their_units() {
    for (name, svg, units) in all() {
        assert!(parsed(&svg).is_ok(), "{name}");
        for wanted in ["role=\"img\"", "<title id=", "<desc id=", FOOTER].iter().chain(&units) {
            assert!(svg.contains(wanted), "{name} lacks {wanted}");
        }
        let words: Vec<String> = sheet::words(&svg).into_iter().map(|w| w.text).collect();
        assert!(words.iter().any(|w| w == FOOTER), "{name} has no visible notice");
        assert!(!svg.contains("font-family=\"DejaVu Sans\""), "{name} has no fallback family");
    }
    assert_eq!(NOTICE.split('.').next(), FOOTER.split('.').next());
}

#[test]
fn property_no_word_leaves_the_sheet() {
    for (name, svg, _) in all() {
        let tree = parsed(&svg).unwrap();
        for word in sheet::words(&svg) {
            let inside = word.left >= 4.0
                && word.top >= 4.0
                && word.right <= tree.size().width() - 4.0
                && word.bottom <= tree.size().height() - 4.0;
            assert!(inside, "{name}: {word:?}");
        }
    }
}

#[test]
fn property_no_word_lies_on_another() {
    for (name, svg, _) in all() {
        let words = sheet::words(&svg);
        for (i, a) in words.iter().enumerate() {
            for b in &words[i + 1..] {
                let apart = a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top;
                assert!(apart, "{name}: {a:?} and {b:?}");
            }
        }
    }
}

#[test]
fn property_every_word_reads_against_what_lies_under_it() {
    for (name, svg, _) in all() {
        for (word, share) in sheet::unreadable(&svg) {
            // A hairline may pass under a word, a line that carries a meaning may not.
            assert!(share <= 0.04, "{name}: {:.0} % of the ground under {word:?}", 100.0 * share);
        }
    }
}

#[test]
fn property_same_picture_same_bytes() {
    for ((name, first, _), (_, again, _)) in all().into_iter().zip(all()) {
        assert_eq!(first, again, "{name}");
        assert_eq!(png(&first, 1.0).unwrap(), png(&again, 1.0).unwrap(), "{name}");
    }
}

#[test]
fn property_a_number_that_is_none_is_refused() {
    let mut forecast = fixture::ordinary();
    forecast.band[3].pooled = f64::NAN;
    assert!(band_plot(&forecast).is_err());
    forecast.first_registration = "last spring".to_owned();
    assert!(loss_fan(&forecast).is_err());
    assert!(png("<svg", 1.0).is_err());
    assert!(png(&band_plot(&fixture::ordinary()).unwrap(), 0.0).is_err());
}
