//! Does a case become the scenario it describes, and do TOML and JSON say the same?
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use ferrowane::case::{from_json, read_path, read_str, template};
use ferrowane::coating::RustGrade;
use ferrowane::exposure::{ArrangementKind, Wash};
use ferrowane::forecast::observation::{Inspector, Spot};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::model::Model;
use ferrowane::prior::Prior;
use ferrowane::section::{Corners, Tube};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

fn case() -> Value {
    json!({
        "title": "A",
        "first_registration": "2014-05-01",
        "member": { "tube": "round", "size_mm": "45x2", "nodes": 4 },
        "coating": { "system": "thin_factory_coat" },
        "climate": { "sample": "po-plain" },
        "use": { "days_per_week": 5, "winter_use": true, "salted_days": 58, "wash": "never" },
        "storage": [{ "arrangement": "street" }],
    })
}

/// The case with another value at a JSON pointer.
fn with(pointer: &str, value: &Value) -> Value {
    let mut case = case();
    let (table, key) = pointer.rsplit_once('/').unwrap();
    case.pointer_mut(table).unwrap()[key] = value.clone();
    case
}

fn resolved(pointer: &str, value: &Value) -> Scenario {
    from_json(&with(pointer, value), &Model::published().unwrap())
        .unwrap_or_else(|error| panic!("{pointer}: {error}"))
}

fn refused(pointer: &str, value: &Value) -> String {
    from_json(&with(pointer, value), &Model::published().unwrap()).unwrap_err().to_string()
}

#[test]
fn closed_form_template_says_what_it_says() {
    let scenario = read_str(template(), "template.toml", None, &Model::published().unwrap()).unwrap();
    assert_eq!(scenario.title, "Cradle of car 1");
    assert_eq!(scenario.member.tube, Tube::round(45.0, 2.0).unwrap());
    assert_eq!((scenario.climate.name.as_str(), scenario.member.nodes), ("port-angeles", 4));
    assert!((scenario.deposition.chloride_mg_m2_d - 25.0).abs() < 1e-12, "the sample's own");
    let [known] = scenario.observations.as_slice() else { panic!("one condition") };
    // 1 May 2014 to 12 June 2024 are 3695 days
    assert!((known.age_a - 3695.0 / 365.25).abs() < 1e-12 && known.spot == Spot::OpenLength);
    let [past, now] = scenario.storage_periods.as_slice() else { panic!("two storage_periods") };
    // 1 May 2014 to 1 October 2019 are 1979 days
    assert!((past.until_age_a - 1979.0 / 365.25).abs() < 1e-12);
    let weights: Vec<(ArrangementKind, f64)> =
        past.mixture.iter().map(|(w, s)| (s.arrangement.kind, *w)).collect();
    assert_eq!(
        weights,
        [
            (ArrangementKind::GarageLeaky, 0.3),
            (ArrangementKind::GarageTight, 0.2),
            (ArrangementKind::Street, 0.5)
        ]
    );
    let [(weight, garage)] = now.mixture.as_slice() else { panic!("one arrangement") };
    assert!((weight - 1.0).abs() < 1e-12 && garage.driving.wash == Wash::AfterSaltedDrives);
    assert!((garage.driving.days_per_week - 2.0).abs() < 1e-12 && garage.driving.winter_use);
    let room = garage
        .arrangement
        .parameters(&[0.0; ferrowane::exposure::arrangement::Parameter::ALL.len()])
        .room
        .unwrap();
    assert!((room.air_changes_per_h - 0.5).abs() < 1e-12 && (room.warmer_k - 2.0).abs() < 1e-12);
}

/// Every criterion and coating of the template is the usual one, so a case without them is the same member.
#[test]
fn property_what_the_template_shows_as_usual_is_what_absence_means() {
    let full = read_str(template(), "template.toml", None, &Model::published().unwrap()).unwrap();
    let bare = from_json(&case(), &Model::published().unwrap()).unwrap();
    assert_eq!((full.member.rework, full.member.assessment), (bare.member.rework, bare.member.assessment));
    assert_eq!(full.coating, bare.coating);
    assert!((full.member.yield_n_mm2 - bare.member.yield_n_mm2).abs() < 1e-12);
}

/// Comments of the template that show a key hold when the key is used.
#[test]
fn property_commented_keys_of_the_template_can_be_switched_on() {
    let on = |key: &str| template().replacen(&format!("# {key} ="), &format!("{key} ="), 1);
    for key in
        ["film_um", "so2_mg_m2_d", "chloride_mg_m2_d", "rain_m_per_a", "rain_days", "rain_ph", "pm10_ug_m3"]
    {
        let text = on(key);
        assert_ne!(text, template(), "{key}");
        read_str(&text, "template.toml", None, &Model::published().unwrap())
            .unwrap_or_else(|error| panic!("{error}"));
    }
    let error =
        read_str(&on("file"), "template.toml", None, &Model::published().unwrap()).unwrap_err().to_string();
    assert!(error.contains("exactly one of"), "{error}");
}

#[test]
fn closed_form_members() {
    let square = |size: &str| resolved("/member", &json!({ "tube": "square", "size_mm": size, "nodes": 1 }));
    let expected = Tube::rectangular(40.0, 40.0, 2.0, Corners::ColdFormed).unwrap();
    assert_eq!(square("40x2").member.tube, expected);
    assert_eq!(square(" 40 × 2 ").member.tube, expected);
    let flat = json!({ "tube": "rectangular", "size_mm": "60x40x3", "corners": "hot_finished", "nodes": 2 });
    let expected = Tube::rectangular(60.0, 40.0, 3.0, Corners::HotFinished).unwrap();
    assert_eq!(resolved("/member", &flat).member.tube, expected);
}

/// A value of `shared/criteria.csv`.
fn usual(level: &str, criterion: &str) -> Option<f64> {
    let table = include_str!("../shared/criteria.csv");
    let row = table.lines().find(|line| line.starts_with(&format!("usual,{level},{criterion},")))?;
    row.split(',').nth(3)?.parse().ok()
}

#[test]
fn closed_form_criteria() {
    let member = from_json(&case(), &Model::published().unwrap()).unwrap().member;
    for (level, criteria) in [("rework", member.rework), ("caution", member.assessment)] {
        let grade = |grade: Option<RustGrade>| grade.map(|grade| f64::from(grade.number()));
        assert_eq!(grade(criteria.node_grade), usual(level, "node_grade"));
        assert_eq!(grade(criteria.run_grade), usual(level, "run_grade"));
        assert_eq!(criteria.mean_wall_loss_pct, usual(level, "mean_wall_loss_pct"));
        assert_eq!(criteria.deepest_wall_loss_pct, usual(level, "deepest_wall_loss_pct"));
        assert_eq!(criteria.section_modulus_loss_pct, usual(level, "section_modulus_loss_pct"));
        assert!(criteria.mean_wall_loss_pct.is_some(), "the table has a row for it");
    }
    let own = json!({ "node_grade": "Ri 3", "run_grade": "none", "mean_wall_loss_pct": "none",
        "section_modulus_loss_pct": 12.5 });
    let own = resolved("/member/rework", &own).member.rework;
    assert_eq!((own.node_grade.map(RustGrade::number), own.run_grade), (Some(3), None));
    assert_eq!((own.mean_wall_loss_pct, own.section_modulus_loss_pct), (None, Some(12.5)));
    assert_eq!(own.deepest_wall_loss_pct, member.rework.deepest_wall_loss_pct, "left out: the usual value");
}

#[test]
fn closed_form_use_and_washing() {
    let driving = |key: &str, value: Value| {
        resolved(&format!("/use/{key}"), &value).storage_periods[0].mixture[0].1.driving
    };
    assert_eq!(driving("salted_days", json!(58)).salted_days, Prior::Fixed(58.0));
    let nordic = driving("salted_days", json!("southern_nordic")).salted_days;
    assert!((nordic.median() - 80.0).abs() < 1e-12 && matches!(nordic, Prior::LogNormal { .. }));
    assert_eq!(driving("wash", json!({ "every_days": 14 })).wash, Wash::EveryDays(14));
    assert_eq!(driving("wash", json!("after_salted_drives")).wash, Wash::AfterSaltedDrives);
}

/// Drive 53 % and street 25 % stand in the open, garages 19 %, the rest under a roof (RAC Foundation 2012).
#[test]
fn published_usual_shares_of_an_unknown_past() {
    let period = &resolved("/storage/0/arrangement", &json!("unknown")).storage_periods[0];
    let share = |kind: ArrangementKind| {
        let of_kind =
            period.mixture.iter().filter(|(_, storage_and_use)| storage_and_use.arrangement.kind == kind);
        of_kind.map(|(weight, _)| weight).sum::<f64>()
    };
    assert!((share(ArrangementKind::Street) - 0.78).abs() < 1e-12);
    assert!((share(ArrangementKind::GarageLeaky) + share(ArrangementKind::GarageTight) - 0.19).abs() < 1e-12);
    assert!((share(ArrangementKind::Carport) - 0.03).abs() < 1e-12);
}

#[test]
fn closed_form_weights_are_made_to_add_up() {
    let thirds = json!([{ "arrangement": "unknown",
        "mixture": { "street": 0.333_333_3, "carport": 0.333_333_3, "cover": 0.333_333_3, "custom": 0 } }]);
    let mixture = &resolved("/storage", &thirds).storage_periods[0].mixture;
    assert_eq!(mixture.len(), 3, "a weight of nothing is left out");
    assert!((mixture.iter().map(|(weight, _)| weight).sum::<f64>() - 1.0).abs() < 1e-15);
}

/// pH 5 is 1e-5 mol/L of 1.008 g/mol.
#[test]
fn closed_form_climates_and_air() {
    let acid = resolved("/climate/rain_ph", &json!(5)).air.hydrogen_ion_mg_l;
    assert!((acid - 0.010_08).abs() < 1e-6, "{acid}");
    let means = json!({ "means": { "temperature_c": 9.5, "humidity_pct": 80, "shape": "constant" },
        "so2_mg_m2_d": 1.5, "chloride_mg_m2_d": 0 });
    let constant = resolved("/climate", &means);
    assert_eq!(constant.climate.name, "constant");
    assert!(constant.deposition.chloride_mg_m2_d.abs() < 1e-12);
    let recorded = resolved("/climate/sample", &json!("newark-2013"));
    let rain_mm = ferrowane::climate::summary(&recorded.climate).rain_mm_per_a.unwrap();
    assert!((recorded.air.rain_m_per_a - rain_mm / 1000.0).abs() < 1e-12);
    let given = resolved("/climate", &json!({ "sample": "newark-2013", "rain_m_per_a": 0.4 }));
    assert!((given.air.rain_m_per_a - 0.4).abs() < 1e-12);
}

#[test]
fn closed_form_conditions_come_oldest_first() {
    let two = json!([
        { "date": "2024-06-12", "part": "run", "grade": "Ri 2" },
        { "age_a": 4.5, "part": "node", "grade": "Ri 0" },
    ]);
    let known = resolved("/coating/condition", &two).observations;
    assert_eq!((known[0].spot, known[1].spot), (Spot::WorstNode, Spot::OpenLength));
    let same_day = json!([{ "date": "2014-05-01", "part": "run", "grade": "Ri 0" }]);
    assert!(resolved("/coating/condition", &same_day).observations[0].age_a.abs() < 1e-12);
}

/// A node graded by itself has its number, and its inspector a code; both are looked at.
#[test]
fn closed_form_a_condition_of_one_node() {
    let graded = |more: &Value| {
        let mut condition = json!({ "age_a": 4.5, "part": "node", "grade": "Ri 2" });
        condition.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        json!([condition])
    };
    let known = |more: &Value| resolved("/coating/condition", &graded(more)).observations[0];
    assert_eq!(known(&json!({ "node": 4 })).spot, Spot::Node(4));
    assert_eq!(known(&json!({ "inspector": "K" })).inspector, Inspector::from_code("K"));
    assert_eq!(known(&json!({})).inspector, Inspector::default());
    let wrong = |more: &Value| refused("/coating/condition", &graded(more));
    assert_eq!(
        wrong(&json!({ "node": 5 })),
        "coating.condition[0].node: found 5, allowed: 1 to 4, the nodes of the member"
    );
    assert!(wrong(&json!({ "node": 0 })).starts_with("coating.condition[0].node: found 0, allowed"));
    assert!(wrong(&json!({ "node": 1, "part": "run" })).contains("no number beside part = \"run\""));
}

#[test]
fn closed_form_coating_choices() {
    let brushed = json!({ "system": "brush_st2", "inside": "cavity_wax", "film_um": 30, "wax_over": true });
    let coating = resolved("/coating", &brushed).coating;
    // usual film 120 um, life 2.5 a; a quarter of it halves the life
    assert!((coating.outside.life_a.median() - 1.25).abs() < 1e-12);
    assert!(format!("{:?}", coating.inside).contains("cavity_wax"));
    assert_eq!(coating.over_film, ferrowane::coating::OverFilm::Renewed);
}

#[test]
fn property_json_errors_carry_the_key_path() {
    for (pointer, value, expected) in [
        ("/use/days_per_week", json!(9), "use.days_per_week: found 9, allowed: a number from 0 to 7 d"),
        ("/use/day_per_week", json!(5), "use.day_per_week: found an unknown key, allowed: "),
        ("/use/day_per_week", json!(5), "; did you mean `days_per_week`?"),
        ("/member/nodes", Value::Null, "member.nodes: found nothing, allowed: a whole number from 1 to 100"),
        (
            "/storage/0/from",
            json!("2014-05-02"),
            "storage[0].from: found 2014-05-02, allowed: first registration",
        ),
        (
            "/climate",
            json!({ "file": "/etc/passwd" }),
            "climate.file: found `/etc/passwd`, allowed: `sample` or `means`",
        ),
        ("/storage", json!([]), "storage: found 0 entries, allowed: 1 to 100 entries"),
    ] {
        let message = refused(pointer, &value);
        assert!(message.contains(expected), "{message}");
    }
    for junk in [json!(null), json!([]), json!("case"), json!(3)] {
        let message = from_json(&junk, &Model::published().unwrap()).unwrap_err().to_string();
        assert!(message.contains("allowed: a table with climate, coating"), "{message}");
    }
}

#[test]
fn property_a_misspelt_key_is_told_before_the_one_that_is_missing() {
    let text = template().replace("size_mm =", "siz_mm =");
    let message = read_str(&text, "a.toml", None, &Model::published().unwrap()).unwrap_err().to_string();
    assert!(message.starts_with("a.toml:8:1: member.siz_mm: found an unknown key"), "{message}");
    assert!(message.ends_with("did you mean `size_mm`?"), "{message}");
}

/// Editors on some systems end lines with two characters and begin files with a mark.
#[test]
fn property_line_ends_and_byte_order_mark_do_not_matter() {
    let dos = format!("\u{feff}{}", template().replace('\n', "\r\n"));
    let (dos, plain) = (
        read_str(&dos, "a.toml", None, &Model::published().unwrap()).unwrap(),
        read_str(template(), "a.toml", None, &Model::published().unwrap()).unwrap(),
    );
    assert_eq!(format!("{dos:?}"), format!("{plain:?}"));
}

fn demo_cases() -> Vec<PathBuf> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/cases");
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

#[test]
fn property_demo_cases_resolve_and_the_readme_names_them() {
    let files = demo_cases();
    assert!(files.len() >= 6);
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/demo/README.md")).unwrap();
    for file in files {
        read_path(&file, &Model::published().unwrap()).unwrap_or_else(|error| panic!("{error}"));
        assert!(
            readme.contains(&format!("cases/{}", file.file_name().unwrap().display())),
            "{}",
            file.display()
        );
    }
}

#[test]
fn property_the_compared_demo_cars_differ_in_storage_and_use_only() {
    let read = |name: &str| {
        read_path(
            &Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/cases").join(name),
            &Model::published().unwrap(),
        )
        .unwrap()
    };
    let street = read("street_daily.toml");
    for other in [read("tight_garage_fair_weather.toml"), read("heated_garage_daily.toml")] {
        assert_eq!(street.first_registration, other.first_registration);
        assert_eq!((street.coating.clone(), street.climate.clone()), (other.coating, other.climate));
        assert_eq!((street.member.tube, street.member.rework), (other.member.tube, other.member.rework));
    }
}

/// A weather file is found beside its case, and its own errors name it.
#[test]
fn property_a_weather_file_is_relative_to_its_case() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("case_with_weather");
    std::fs::create_dir_all(&folder).unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("climate-samples");
    std::fs::copy(samples.join("reading.csv.gz"), folder.join("weather.csv.gz")).unwrap();
    std::fs::write(folder.join("broken.csv"), "month,day,hour,temperature_c,humidity_pct\n1,1,0,9,eighty\n")
        .unwrap();
    let write = |weather: &str| {
        let climate = format!("file = \"{weather}\"\nso2_mg_m2_d = 8\nchloride_mg_m2_d = 1");
        let text = template().replace("sample = \"port-angeles\"", &climate);
        std::fs::write(folder.join("case.toml"), text).unwrap();
        read_path(&folder.join("case.toml"), &Model::published().unwrap())
    };
    let scenario = write("weather.csv.gz").unwrap();
    let sample = ferrowane::climate::samples::sample("reading").unwrap();
    assert_eq!(scenario.climate.series, sample.series);
    let message = write("broken.csv").unwrap_err().to_string();
    assert!(message.contains("broken.csv:2"), "{message}");
}
