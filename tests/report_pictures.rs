//! Pictures of the report: well-formed, named, complete, nothing clipped, nothing on top of words.
#![cfg(feature = "report")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a helper that fails is a failed test"
)]

#[path = "support/answers.rs"]
mod answers;
#[path = "support/forecast.rs"]
mod fixture;
#[path = "support/sheet.rs"]
mod sheet;

use ferrowane::case::vary::Vary;
use ferrowane::coating::RustGrade;
use ferrowane::exposure::ArrangementKind;
use ferrowane::forecast::exposure_year::{ExposureMonth, ExposureYear};
use ferrowane::forecast::observation::{Observation, Spot};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::inspection::Updated;
use ferrowane::report::band::band_plot;
use ferrowane::report::climate_plot::{ClimateMonth, ClimateYear, climate_year};
use ferrowane::report::compare_plot::compare_plot;
use ferrowane::report::cost_plot::cost_plot;
use ferrowane::report::dots::dot_plot;
use ferrowane::report::exposure_plot::exposure_plot;
use ferrowane::report::fan::loss_fan;
use ferrowane::report::grades::grade_by_year;
use ferrowane::report::notice::NOTICE;
use ferrowane::report::picture::{FOOTER, parsed, png};
use ferrowane::report::seen_plot::{SeenCar, seen_plot};
use ferrowane::report::shares::share_bars;
use ferrowane::report::shift_plot::shift_plot;
use ferrowane::report::update_plot::update_plot;
use ferrowane::report::waterfall::waterfall;
use std::sync::LazyLock;

fn month(month: u32, damp: f64) -> ExposureMonth {
    let winter = (f64::from(month) / 12.0 * std::f64::consts::TAU).cos();
    ExposureMonth {
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

fn exposure() -> ExposureYear {
    ExposureYear {
        title: "Driven in winter".to_owned(),
        kind: ArrangementKind::GarageLeaky,
        is_known: true,
        period: 1,
        from_age_a: 0.0,
        until_age_a: None,
        climate: "a town".to_owned(),
        winter_rate_um_per_a: 60.0,
        rest_rate_um_per_a: 30.0,
        year: month(0, 0.55),
        year_in_open_air: month(0, 1.0),
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

/// Name, SVG and the words it must show, the units of its axes among them.
type Drawn = Vec<(&'static str, String, Vec<&'static str>)>;

static ALL: LazyLock<Drawn> = LazyLock::new(|| {
    let mut drawn = of_forecasts();
    drawn.extend(from_a_day_on());
    drawn.extend(of_comparisons());
    drawn.extend(of_questions());
    drawn
});

/// Pictures of a used car: what is past has a ground of its own, or a line, and the day is named.
fn from_a_day_on() -> Drawn {
    let used = fixture::ordinary().as_of(jiff::civil::date(2026, 11, 27)).unwrap();
    let past = vec!["until 2026-11-27"];
    vec![
        ("band_used", band_plot(&used).unwrap(), past.clone()),
        ("losses_used", loss_fan(&used).unwrap(), past.clone()),
        ("grades_used", grade_by_year(&used).unwrap(), vec!["upright line: 2026-11-27", "Ri 4"]),
        ("dots_used", dot_plot(&used).unwrap(), past),
    ]
}

fn of_comparisons() -> Drawn {
    let few = answers::compared(Vary::Treatment, &["over_rust_none", "wax_film", "rework"]);
    let many = answers::compared(Vary::Storage, &[]);
    assert!(few.paired.cases.len() <= 6 && many.paired.cases.len() > 6, "curves over each other, and panels");
    let [long_few, long_many] = [few.clone(), many.clone()].map(answers::long_names);
    let curves =
        vec!["[%]", "[a]", "2014", "do nothing", "over-rust coat, unprepared", "next rework: half by"];
    let panels = vec!["[%]", "[a]", "dehumidified tent", "the choice named", "half by"];
    let gained = vec!["years gained [a]", "a year or more later", "median"];
    let beyond = vec!["next rework: half beyond 40 a"];
    vec![
        ("compare", compare_plot(&few).unwrap(), curves),
        ("compare_panels", compare_plot(&many).unwrap(), panels),
        ("compare_long", compare_plot(&long_few).unwrap(), beyond.clone()),
        ("compare_panels_long", compare_plot(&long_many).unwrap(), beyond),
        ("shifts", shift_plot(&few).unwrap(), [gained.as_slice(), &["the next rework", "wax film"]].concat()),
        ("shifts_many", shift_plot(&many).unwrap(), gained.clone()),
        ("shifts_long", shift_plot(&long_many).unwrap(), gained),
    ]
}

fn of_questions() -> Drawn {
    let explained = answers::explained();
    let mut long_explained = explained.clone();
    (long_explained.title.a, long_explained.title.b) = (answers::LONG.to_owned(), answers::LONG.to_owned());
    let decided = answers::decided();
    let mut long_decided = decided.clone();
    answers::LONG.clone_into(&mut long_decided.title);
    let shared_out = answers::shared_out();
    let mut long_shared_out = shared_out.clone();
    answers::LONG.clone_into(&mut long_shared_out.title);
    let steps = vec!["first car", "second car", "how often it is driven", "rework [a]"];
    let costs = vec!["[currency of the prices]", "[a]", "no rework", "each rework when due"];
    let bars = vec!["[%]", "life of the coating", "alone"];
    let (scenario, updated) = (answers::looked_at_car(), answers::looked_at());
    let car = SeenCar { scenario: &scenario, forecast: &updated.forecast, prior: &updated.prior };
    let places =
        vec!["open length", "node", "wall [mm]", "Ri 5", "5 a", "2019", "18 of 20 futures", "rework"];
    let found = vec!["[%]", "[a]", "open length, Ri", "node, Ri", "other", "before anybody looked"];
    vec![
        ("difference", waterfall(&explained).unwrap(), steps),
        ("difference_long", waterfall(&long_explained).unwrap(), vec!["first car", "second car"]),
        ("costs", cost_plot(&decided).unwrap(), costs.clone()),
        ("costs_long", cost_plot(&long_decided).unwrap(), costs),
        ("shares", share_bars(&shared_out).unwrap(), bars),
        ("shares_long", share_bars(&long_shared_out).unwrap(), vec!["[%]", "alone"]),
        ("updated", update_plot(&updated).unwrap(), found),
        ("seen", seen_plot(&car).unwrap().unwrap(), places),
    ]
}

fn of_forecasts() -> Drawn {
    let (a, b, c) = (fixture::ordinary(), fixture::half_beyond(), fixture::hard());
    let band = vec!["[%]", "[a]", "calendar year", "2014"];
    let loss = vec!["[µm]", "[% of the wall]", "[a]", "rework 5 %, 100 µm"];
    let grade = vec!["[% of the histories]", "[a]", "Ri 0", "Ri 3", "Ri 5"];
    vec![
        ("dots", dot_plot(&a).unwrap(), vec!["1 in 20 each", "[a]", "2014", "> 40 a", "in 20"]),
        ("dots_beyond", dot_plot(&b).unwrap(), vec!["> 40 a", "in 20"]),
        ("dots_hard", dot_plot(&c).unwrap(), vec!["> 6 a", "in 20"]),
        ("band", band_plot(&a).unwrap(), band.clone()),
        ("band_beyond", band_plot(&b).unwrap(), band),
        ("band_hard", band_plot(&c).unwrap(), vec!["[%]", "[a]", "2015"]),
        ("losses", loss_fan(&a).unwrap(), loss.clone()),
        ("losses_beyond", loss_fan(&b).unwrap(), loss),
        ("losses_hard", loss_fan(&c).unwrap(), vec!["[µm]", "rework 20 %, 400 µm", "assess 21.5 %, 430 µm"]),
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
    for (name, svg, wanted) in ALL.iter() {
        assert!(parsed(svg).is_ok(), "{name}");
        for named in ["role=\"img\"", "<title id=", "<desc id=", FOOTER] {
            assert!(svg.contains(named), "{name} lacks {named}");
        }
        let words: Vec<String> = sheet::words(svg).into_iter().map(|w| w.text).collect();
        for wanted in wanted {
            assert!(words.iter().any(|word| word.contains(wanted)), "{name} lacks {wanted}: {words:?}");
        }
        assert!(words.iter().any(|w| w == FOOTER), "{name} has no visible notice");
        assert!(!svg.contains("font-family=\"DejaVu Sans\""), "{name} has no fallback family");
    }
    assert_eq!(NOTICE.split('.').next(), FOOTER.split('.').next());
}

#[test]
fn property_no_word_leaves_the_sheet() {
    for (name, svg, _) in ALL.iter() {
        let tree = parsed(svg).unwrap();
        for word in sheet::words(svg) {
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
    for (name, svg, _) in ALL.iter() {
        let words = sheet::words(svg);
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
    for (name, svg, _) in ALL.iter() {
        for (word, share) in sheet::unreadable(svg) {
            // A hairline may pass under a word, a line that carries a meaning may not.
            assert!(share <= 0.04, "{name}: {:.0} % of the ground under {word:?}", 100.0 * share);
        }
    }
}

#[test]
fn property_same_picture_same_bytes() {
    for (name, first, _) in ALL.iter() {
        assert_eq!(png(first, 1.0).unwrap(), png(first, 1.0).unwrap(), "{name}");
    }
    for ((name, first, _), (_, again, _)) in of_forecasts().into_iter().zip(of_forecasts()) {
        assert_eq!(first, again, "{name}");
    }
}

/// Every grade and reading is a mark, and a car that nobody looked at has no such picture.
#[test]
fn property_each_place_that_was_seen_has_a_cell_with_every_mark() {
    let (mut scenario, updated) = (answers::looked_at_car(), answers::looked_at());
    let Updated { forecast, prior, .. } = &updated;
    let drawn = |scenario: &Scenario| seen_plot(&SeenCar { scenario, forecast, prior }).unwrap();
    let svg = drawn(&scenario).unwrap();
    // a dot is an inside and an edge; the key has one, and the two readings are among them
    let dots = svg.matches("<circle").count();
    assert_eq!(dots, 2 * (scenario.observations.len() + 1));
    for place in ["open length: Ri 0 at 0.8 a", "node: Ri 0 at 0.8 a", "wall 1.9 mm, cleaned at 6.8 a"] {
        assert!(svg.contains(place), "{place}: {svg:.1500}");
    }
    let age_a = scenario.observations[0].age_a;
    scenario.observations.push(Observation::graded(age_a, Spot::Node(3), RustGrade::new(2).unwrap()));
    assert_eq!(drawn(&scenario).unwrap().matches("<circle").count(), dots + 2);
    scenario.observations.clear();
    assert!(drawn(&scenario).is_none());
}

#[test]
fn property_a_number_that_is_none_is_refused() {
    let mut forecast = fixture::ordinary();
    forecast.band[3].pooled = f64::NAN;
    assert!(band_plot(&forecast).is_err());
    assert!(png("<svg", 1.0).is_err());
    assert!(png(&band_plot(&fixture::ordinary()).unwrap(), 0.0).is_err());
}
