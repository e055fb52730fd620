//! Does the built program say what it should, with the right exit code?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
mod command;

use command::{Ran, ferrowane, file, folder, program};
use ferrowane::case::template;
use std::process::Stdio;

const RATE: [&str; 9] =
    ["rate", "--temperature", "10", "--humidity", "75", "--so2", "10", "--chloride", "10"];

fn with<'a>(first: &[&'a str], more: &[&'a str]) -> Ran {
    ferrowane(&[first, more].concat())
}

fn number(value: &serde_json::Value, pointer: &str) -> f64 {
    value
        .pointer(pointer)
        .and_then(serde_json::Value::as_f64)
        .unwrap_or_else(|| panic!("{pointer} in {value}"))
}

/// ISO 9223:2012 equation 1 worked by hand: 26.2673 + 7.5370.
#[test]
fn published_rate_in_words_and_json() {
    let ran = ferrowane(&RATE);
    for words in
        ["33.8042 µm/a", "C3", "so2 26.2673", "chloride 7.5370", "SAW-2", "ISO 9223:2012", "range flags"]
    {
        assert!(ran.out.contains(words), "no `{words}` in: {}", ran.out);
    }
    let answer = with(&RATE, &["--format", "json"]).json();
    // six significant digits are printed
    assert!((number(&answer, "/rate_um_per_a") - 33.8042).abs() < 5e-5);
    assert!((number(&answer, "/terms/so2") - 26.2673).abs() < 5e-5);
    assert_eq!(answer["category"], "C3");
    assert_eq!(answer["flags"].as_array().unwrap().len(), 0);
    assert!(answer["status"].is_string() && answer["source"].is_string());
}

#[test]
fn property_every_form_stands_in_the_comparison_when_it_has_its_inputs() {
    let all = with(&RATE, &["--form", "all", "--wetness-hours", "3000", "--format", "json"]).json();
    assert_eq!(all.as_array().unwrap().len(), 6);
    let fewer = with(&RATE, &["--form", "all"]);
    assert!(
        fewer.out.contains("multi_assess_2007") && fewer.out.contains("ask for --wetness-hours"),
        "{}",
        fewer.out
    );
    with(&RATE, &["--form", "klinesmith_2007"]).assert_refused(2, &["--wetness-hours", "0 to 8760 h/a"]);
}

#[test]
fn property_a_rate_outside_the_fitted_range_is_flagged() {
    let cold =
        ferrowane(&["rate", "--temperature", "-20", "--humidity", "75", "--so2", "10", "--chloride", "10"]);
    assert_eq!(cold.code, 0);
    assert!(cold.out.contains("temperature -20.0 C outside the range"), "{}", cold.out);
}

/// ISO 9224:2012 table: 240 µm at the top of C3 after 20 years.
#[test]
fn published_growth() {
    assert!(ferrowane(&["growth", "--rate", "50", "--years", "20"]).out.contains("239.6 µm"));
    let answer = ferrowane(&["growth", "--rate", "50", "--years", "20", "--format", "json"]).json();
    assert!((number(&answer, "/loss_um") - 239.557).abs() < 5e-4);
}

/// EN 10210 table row 48.3x3.2: 453 mm², 11.6 cm⁴, 4.80 cm³, 23.2 cm⁴.
#[test]
fn published_section() {
    let ran = ferrowane(&["section", "--round", "48.3x3.2"]).out;
    for words in ["453  mm²", "116,000  mm⁴", "4,800  mm³", "232,000  mm⁴", "3.20  mm"] {
        assert!(ran.contains(words), "no `{words}` in: {ran}");
    }
    let answer = ferrowane(&["section", "--round", "48.3x3.2", "--format", "json"]).json();
    let expected = [
        ("/area_mm2", 453.0),
        ("/i_min_mm4", 116_000.0),
        ("/w_el_mm3", 4800.0),
        ("/torsion_constant_mm4", 232_000.0),
    ];
    for (key, value) in expected {
        // printed to three digits
        assert!((number(&answer, key) / value - 1.0).abs() < 5e-3, "{key}");
    }
    for key in ["/least_wall_mm", "/class", "/remaining/axial", "/remaining/bending", "/remaining/torsion"] {
        number(&answer, key);
    }
}

/// Half the wall gone all round a thin round tube: area (D - 2 t/2 - t/2)/(D - t) x 1/2 with D 48.3, t 3.2.
#[test]
fn closed_form_section_with_loss() {
    let answer = ferrowane(&["section", "--round", "48.3x3.2", "--loss", "1.6/0", "--format", "json"]).json();
    let axial = 0.5 * (48.3 - 2.0 * 1.6 - 1.6) / (48.3 - 3.2);
    assert!((number(&answer, "/remaining/axial") - axial).abs() < 1e-6);
    let bottom =
        ferrowane(&["section", "--round", "48.3x3.2", "--loss", "1.6/0,0/0,0/0,0/0,0/0,0/0,0/0,0/0"]);
    assert!(bottom.out.contains("1.60  mm") && bottom.out.contains("capacity left"), "{}", bottom.out);
    ferrowane(&["section", "--round", "48.3x3.2", "--loss", "1/0,1/0"])
        .assert_refused(2, &["2 pairs", "eight"]);
}

#[test]
fn regress_slips_name_what_was_found_what_is_allowed_and_what_is_near() {
    with(&RATE, &["--form", "iso922"])
        .assert_refused(2, &["`iso922`", "klinesmith_2007", "all", "did you mean `iso9223`?"]);
    let damp = ["rate", "--temperature", "10", "--humidity", "175", "--so2", "10", "--chloride", "10"];
    ferrowane(&damp).assert_refused(2, &["relative humidity is 175 %", "0 to 100 %"]);
    ferrowane(&["section", "--round", "48x30"]).assert_refused(2, &["tube wall is 30 mm", "0.3 to 16 mm"]);
    ferrowane(&["growth", "--rate", "50", "--years", "-1"])
        .assert_refused(2, &["duration is -1 a", "0 to 200 a"]);
    ferrowane(&["growth", "--rate", "50", "--years", "1", "--exponent", "2"])
        .assert_refused(2, &["long-term exponent is 2, allowed: 0.1 to 1\n"]);
    ferrowane(&["climate", "miamy"]).assert_refused(2, &["`miamy`", "phoenix", "did you mean `miami`?"]);
    ferrowane(&["climate", "nowhere.csv"]).assert_refused(2, &["nowhere.csv", "No such file"]);
    ferrowane(&["forecast", "nowhere.toml"]).assert_refused(2, &["nowhere.toml", "No such file"]);
    ferrowane(&["growth", "--rate", "12,5", "--years", "1"])
        .assert_refused(2, &["'12,5'", "not a number", "12.5"]);
    ferrowane(&["section", "--round", "48.3x3.2", "--loss=-0.1/0"])
        .assert_refused(2, &["-0.1 mm", "0 to 500 mm"]);
    ferrowane(&["section"]).assert_refused(2, &["--round", "--rectangular", "Usage: ferrowane section"]);
    ferrowane(&["forcast"]).assert_refused(2, &["forcast", "forecast"]);
}

/// A level of a country: named on the command line, refused where the rule is for thicker walls.
#[test]
fn regress_levels_of_a_country() {
    let case = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/cases/street_daily.toml");
    let held_against = |set: &'static str, more: &[&'static str]| {
        with(&["forecast", case, "--whole-life", "--histories", "1", "--criteria", set], more)
    };
    let found = held_against("nl", &["--format", "json"]).json();
    assert_eq!(found["criteria_set"]["id"], "nl");
    let names: Vec<_> =
        found["levels"].as_array().unwrap().iter().map(|level| level["name"].clone()).collect();
    assert_eq!(names, ["rework", "caution", "advised", "fails"]);
    assert!((number(&found, "/levels/2/limits/perforated_pct") - 25.0).abs() < 1e-9);
    assert!(number(&found, "/levels/0/p50_a") < number(&found, "/levels/1/p50_a"));
    assert!(number(&found, "/levels/2/reached_by/40") > number(&found, "/levels/3/reached_by/40"));
    let words = held_against("nl", &[]).out;
    assert!(
        words.contains("advised (share rusted through 25 %)") && words.contains("inspects the car decides")
    );
    held_against("nl-frame", &[]).assert_refused(2, &["--criteria", "walls above 2 mm"]);
    held_against("nll", &[]).assert_refused(2, &["--criteria", "did you mean `nl`"]);
    let compared =
        with(&["compare", case, case, "--criteria", "nl", "--histories", "1"], &["--format", "json"]).json();
    assert!(number(&compared, "/cases/1/levels/2/reached_by/40") > 0.0);
}

#[test]
fn regress_help_of_each_command_names_its_units() {
    let units = [
        ("forecast", "[a]"),
        ("exposure", "[mg/m²]"),
        ("climate", "[mg/(m2 d)]"),
        ("rate", "[mg/(m2 d)]"),
        ("growth", "[µm/a]"),
        ("section", "[mm]"),
        ("record", "[mm]"),
        ("simulate", "[a]"),
        ("tune", "[-]"),
        ("score", "[-]"),
        ("serve", "[µm/a]"),
        ("check", "[°C]"),
        ("new", "[mm]"),
        ("schema", "[mm]"),
    ];
    for (name, unit) in units {
        let help = ferrowane(&[name, "--help"]);
        assert_eq!(help.code, 0);
        assert!(help.out.contains(unit), "no {unit} in: {}", help.out);
        let widest = help.out.lines().map(|line| line.chars().count()).max().unwrap();
        assert!(widest <= 110, "{widest} columns in the help of {name}");
    }
    assert!(ferrowane(&["--help"]).out.contains("ferrowane forecast my-car.toml"));
    assert_eq!(ferrowane(&["--version"]).out, format!("ferrowane {}\n", env!("CARGO_PKG_VERSION")));
}

#[test]
fn property_no_answer_is_wider_than_the_page() {
    let folder = folder("page");
    let case = file(&folder, "a.toml", template());
    let commands: [&[&str]; 4] =
        [&["climate"], &["climate", "newark-2013"], &["exposure", &case], &["rate", "--form", "all"]];
    for command in commands {
        let ran = if command[0] == "rate" { with(&RATE, &command[1..]) } else { ferrowane(command) };
        assert_eq!(ran.code, 0, "{}", ran.notes);
        let long = ran.out.lines().find(|line| line.chars().count() > 100);
        assert_eq!(long, None, "{command:?}");
    }
}

#[test]
fn regress_climates_are_listed_and_summarised() {
    let list = ferrowane(&["climate", "--format", "json"]).json();
    let miami = list.as_array().unwrap().iter().find(|row| row["id"] == "miami").unwrap().clone();
    for key in [
        "/temperature_c",
        "/humidity_pct",
        "/time_of_wetness_h_per_a",
        "/so2_mg_m2_d",
        "/chloride_mg_m2_d",
        "/years",
    ] {
        number(&miami, key);
    }
    let folder = folder("climate");
    let out = folder.to_str().unwrap();
    let one = ferrowane(&["climate", "newark-2013", "--out", out]);
    for words in ["58 hours without temperature or humidity", "1,964 h/a", "ASOS", "Dec"] {
        assert!(one.out.contains(words), "no `{words}` in: {}", one.out);
    }
    assert!(std::fs::read_to_string(folder.join("climate.svg")).unwrap().contains("<svg"));
    assert!(std::fs::read(folder.join("climate.png")).unwrap().starts_with(b"\x89PNG"));
    assert_eq!(one.notes.lines().filter(|line| line.starts_with("wrote ")).count(), 3);
}

#[test]
fn regress_the_template_passes_check_and_is_never_overwritten() {
    let folder = folder("new");
    let path = folder.join("car.toml");
    let path = path.to_str().unwrap();
    assert_eq!(ferrowane(&["new"]).out, template());
    assert_eq!(ferrowane(&["new", path]).code, 0);
    assert!(ferrowane(&["check", path]).out.contains("ok, a case"));
    std::fs::write(path, "kept").unwrap();
    ferrowane(&["new", path]).assert_refused(2, &["already there"]);
    assert_eq!(std::fs::read_to_string(path).unwrap(), "kept");
    ferrowane(&["new", folder.join("no/such/folder.toml").to_str().unwrap()])
        .assert_refused(1, &["No such file"]);
}

#[test]
fn regress_check_tells_every_file_and_points_at_the_place() {
    let folder = folder("check");
    let good = file(&folder, "good.toml", template());
    let slip = file(&folder, "slip.toml", &template().replace("\"garage_tight\"\n", "\"garage_tigt\"\n"));
    let range = file(&folder, "range", &template().replace("yield_n_mm2 = 355", "yield_n_mm2 = 3550"));
    let weather = file(&folder, "weather.csv", "month,temperature_c,humidity_pct\n1,hot,80\n");
    let ran = ferrowane(&["check", &good, &slip, &range, &weather, "nowhere.toml"]);
    ran.assert_refused(
        2,
        &[
            "did you mean `garage_tight`?",
            "found 3550",
            "100 to 1500 N/mm²",
            "weather.csv:2:2",
            "nowhere.toml",
        ],
    );
    assert_eq!(ran.out.lines().count(), 1);
    assert_eq!(ran.notes.matches("error: ").count(), 4);
    let caret = ran
        .notes
        .lines()
        .zip(ran.notes.lines().skip(1))
        .find(|(line, _)| line.contains("yield_n_mm2 = 3550"));
    let (line, caret) = caret.unwrap();
    assert!(line.get(caret.find('^').unwrap()..).unwrap().starts_with("3550"), "{line}\n{caret}");
}

#[test]
fn regress_exposure_of_both_periods() {
    let folder = folder("exposure");
    let case = file(&folder, "a.toml", template());
    let out = folder.to_str().unwrap();
    let first = ferrowane(&["exposure", &case, "--period", "1", "--format", "json"]).json();
    let last = ferrowane(&["exposure", &case, "--format", "json", "--out", out]).json();
    assert_eq!((first["period"].as_u64(), last["period"].as_u64()), (Some(1), Some(2)));
    for key in ["air_temperature_c", "steel_humidity_pct", "film_h", "chloride_mg_m2"] {
        number(&last, &format!("/arrangement/11/{key}"));
        number(&last, &format!("/open_air/0/{key}"));
    }
    // a garage dries the air, and a car washed after salt carries less of it
    assert!(number(&last, "/year/wetness_h") < number(&last, "/year_in_open_air/wetness_h"));
    assert!(number(&last, "/arrangement/1/chloride_mg_m2") < number(&first, "/arrangement/1/chloride_mg_m2"));
    assert!(folder.join("exposure.svg").exists());
    let text = ferrowane(&["exposure", &case]).out;
    assert!(text.contains("Planning estimate only") && text.contains("in the five coldest months"), "{text}");
    ferrowane(&["exposure", &case, "--period", "3"]).assert_refused(2, &["--period", "1 to 2"]);
}

#[test]
fn property_forecast_is_the_same_bytes_for_any_number_of_threads() {
    let folder = folder("threads");
    let case = file(&folder, "a.toml", template());
    let run = |threads| {
        ferrowane(&["forecast", &case, "--histories", "1", "--threads", threads, "--format", "json"])
    };
    let (one, two) = (run("1"), run("2"));
    assert_eq!(one.out, two.out);
    assert!(number(&one.json(), "/time_to_rework_a/p50") > 0.0);
    let again = ferrowane(&["forecast", &case, "--histories", "1", "--seed", "2", "--format", "json"]);
    assert_ne!(one.out, again.out);
    ferrowane(&["forecast", &case, "--threads", "0"]).assert_refused(2, &["--threads", "1 to 1024"]);
    ferrowane(&["forecast", &case, "--horizon", "61"]).assert_refused(2, &["horizon is 61 a", "1 to 60 a"]);
}

#[test]
fn regress_forecast_in_words_with_files() {
    let folder = folder("forecast");
    let case = file(&folder, "a.toml", template());
    let out = folder.join("answer");
    let ran = ferrowane(&[
        "forecast",
        &case,
        "--histories",
        "1",
        "--horizon",
        "15",
        "--whole-life",
        "--out",
        out.to_str().unwrap(),
    ]);
    assert_eq!(ran.code, 0, "{}", ran.notes);
    assert!(ran.out.contains("need rework by") && ran.out.contains("Planning estimate only"), "{}", ran.out);
    for line in ran.notes.lines() {
        assert!(std::path::Path::new(line.strip_prefix("wrote ").unwrap()).exists(), "{line}");
    }
    assert!(out.join("forecast.json").exists() && out.join("band.svg").exists());
    let taken = file(&folder, "taken", "");
    ferrowane(&["forecast", &case, "--histories", "1", "--out", &taken]).assert_refused(1, &["taken"]);
}

/// A reader that leaves after one byte is no error and no panic.
/// At the fifth birthday a day's figures are the rows of the fifth year.
#[test]
fn property_a_day_is_read_from_the_years_of_the_forecast() {
    const CASE: [&str; 4] = ["forecast", "demo/cases/street_daily.toml", "--histories", "32768"];
    let answer = with(&CASE, &["--as-of", "2019-05-01", "--format", "json"]).json();
    // a year of age has 365.25 days: the birthday falls up to a day off the whole year
    let close = |one: f64, two: f64| assert!((one - two).abs() < 0.01 * two.abs(), "{one} {two}");
    close(number(&answer, "/as_of/age_a"), 5.0);
    close(number(&answer, "/as_of/p_reached"), number(&answer, "/band/4/pooled"));
    close(
        number(&answer, "/as_of/p_assessment_level/1"),
        number(&answer, "/assessment_by_year/14/probability"),
    );
    close(number(&answer, "/as_of/deepest_loss_um/p95"), number(&answer, "/deepest_loss_um/4/p95"));
    close(
        number(&answer, "/as_of/bending_capacity_left/p05"),
        number(&answer, "/bending_capacity_left/4/p05"),
    );
    let ran = with(&CASE, &["--as-of", "2014-08-01"]).out;
    for words in ["0.3 a old on 2014-08-01", "not due yet", "Of these, from", "bending capacity left 100"] {
        assert!(ran.contains(words), "no `{words}` in: {ran}");
    }
    with(&CASE, &["--as-of", "2013-01-01"]).assert_refused(2, &["--as-of", "2014-05-01", "40 a after it"]);
}

/// The chance that the point is reached and the years left where it is not are those of the whole life: a conditional
/// distribution put together again; on the first day they are the same numbers.
#[test]
fn property_the_answer_from_a_day_on_is_that_of_the_whole_life() {
    const CASE: [&str; 5] = ["forecast", "demo/cases/street_daily.toml", "--histories", "32768", "--as-of"];
    let json = |day: &str| with(&CASE, &[day, "--format", "json"]).json();
    let new = json("2014-05-01");
    for p in ["p10", "p50", "p90"] {
        let [left, whole] =
            ["/as_of/remaining_a/", "/time_to_rework_a/"].map(|of| number(&new, &format!("{of}{p}")));
        assert!((left - whole).abs() < 1e-9, "{p}: {left} {whole}");
    }
    let later = json("2020-11-01");
    let (reached, age_a) = (number(&later, "/as_of/p_reached"), number(&later, "/as_of/age_a"));
    let half_of_the_rest_a = age_a + number(&later, "/as_of/remaining_a/p50");
    let band = |year: usize| number(&later, &format!("/band/{}/pooled", year - 1));
    let below = half_of_the_rest_a.floor();
    let (low, high) = (band(below as usize), band(below as usize + 1));
    let by_then = low + (half_of_the_rest_a - below) * (high - low);
    // the band is straight between years: a hundredth
    assert!((by_then - (reached + 0.5 * (1.0 - reached))).abs() < 0.01, "{by_then} {reached}");
}

/// A used car is answered from today on, whatever day that is; a new one over its whole life, and so is any other on request.
#[test]
fn property_a_used_car_is_answered_from_today_on() {
    const CASE: [&str; 4] = ["forecast", "demo/cases/street_daily.toml", "--histories", "32768"];
    let today = with(&CASE, &["--format", "json"]).json();
    assert!(number(&today, "/as_of/age_a") > 12.0, "registered in 2014");
    let whole = with(&CASE, &["--whole-life", "--format", "json"]).json();
    assert!(whole.get("as_of").is_none() && whole["band"] == today["band"]);
    assert!(with(&CASE, &["--whole-life"]).out.contains("the planning age"));
    with(&CASE, &["--whole-life", "--as-of", "2020-01-01"]).assert_refused(2, &["--whole-life", "--as-of"]);
}

#[test]
fn regress_closed_standard_output_is_quiet() {
    for arguments in [&["schema"][..], &["man"], &["completions", "zsh"], &["climate"], &["--help"]] {
        let mut child = program(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let left = command::finished(child);
        assert_eq!((left.code, left.notes.as_str()), (0, ""), "{arguments:?}");
    }
}

#[test]
#[cfg(target_os = "linux")]
fn regress_a_full_disk_is_told() {
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let done = program(&["schema"]).stdout(full).output().unwrap();
    assert_eq!(done.status.code(), Some(1));
    assert!(String::from_utf8(done.stderr).unwrap().starts_with("error: standard output"));
}

/// Starts a run far too long to end, interrupts it after a while, and gives exit code, output and notes.
#[cfg(unix)]
fn interrupted_after(seconds: f64, years: &str, case: &str) -> Ran {
    let arguments = ["forecast", case, "--histories", "1000000000", "--threads", "1", "--horizon", years];
    let child = program(&arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    std::thread::sleep(std::time::Duration::from_secs_f64(seconds));
    let kill = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(kill.success());
    command::finished(child)
}

#[test]
#[cfg(unix)]
fn regress_interrupted_before_and_after_the_first_answer() {
    let folder = folder("interrupt");
    // a case without known grades, which a horizon of one year would cut off
    let case = file(&folder, "a.toml", &std::fs::read_to_string("demo/cases/street_daily.toml").unwrap());
    // the handler stands after 0.1 s; the first 131,072 histories of 60 years take seconds on one thread
    interrupted_after(0.5, "60", &case).assert_refused(130, &["stopped on request"]);
    // a slow machine is given more time for its first answer
    let waits = [3.0, 12.0, 48.0].into_iter().map(|seconds| interrupted_after(seconds, "1", &case));
    let early = waits.into_iter().find(|run| !run.out.is_empty()).unwrap();
    assert_eq!(early.code, 130, "{}", early.notes);
    assert!(
        early.out.contains("need rework by") && early.out.contains("Planning estimate only"),
        "{}",
        early.out
    );
    assert!(early.notes.contains("stopped early, "), "{}", early.notes);
}

#[test]
fn regress_schema_completions_and_manual() {
    assert_eq!(ferrowane(&["schema"]).json(), *ferrowane::case::schema());
    assert_eq!(ferrowane(&["schema", "--costs"]).json(), ferrowane::case::costs::schema());
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        assert!(ferrowane(&["completions", shell]).out.contains("exposure"), "{shell}");
    }
    let folder = folder("man");
    let pages = ferrowane(&["man", "--out", folder.to_str().unwrap()]);
    assert_eq!(pages.notes.lines().count(), 29);
    assert!(std::fs::read_to_string(folder.join("ferrowane-rate.1")).unwrap().contains(".TH"));
    assert!(ferrowane(&["man"]).out.contains("ferrowane\\-section"));
}
