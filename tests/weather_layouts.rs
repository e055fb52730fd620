//! Public layouts of weather files, as they are published and with the faults they are known for.
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

use ferrowane::climate::read::{read_bytes, read_bytes_mapped, read_path};
use ferrowane::climate::samples::sample;
use ferrowane::climate::wet_days::WetDays;
use ferrowane::climate::{ClimateRecord, ColumnMap, RainLeftOut, summary};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

const DAYS: [u8; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/weather_files").join(name)
}

fn read(name: &str) -> ClimateRecord {
    read_path(&file(name)).unwrap()
}

/// Every hour of a 365-day year as (month, day, hour from 0).
fn hours() -> impl Iterator<Item = (u8, u8, u8)> {
    (1..=12u8).zip(DAYS).flat_map(|(month, days)| {
        (1..=days).flat_map(move |day| (0..24u8).map(move |hour| (month, day, hour)))
    })
}

/// A table of the project's own; `cell` gives the temperature and the rain of an hour as written.
fn table(cell: impl Fn(usize) -> (String, String)) -> String {
    let mut text = String::from("month,day,hour,temperature_c,humidity_pct,rain_mm\n");
    for (index, (month, day, hour)) in hours().enumerate() {
        let (temperature, rain) = cell(index);
        writeln!(text, "{month},{day},{hour},{temperature},{},{rain}", 60 + hour).unwrap();
    }
    text
}

/// An EPW file in which the cells of rain and the hours it was gathered over are given.
fn epw(place: &str, rain: impl Fn(usize) -> (f64, f64)) -> String {
    let mut text = format!(
        "LOCATION,{place},-,XXX,made up,0,45,8,1,100\nDESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\n\
         GROUND TEMPERATURES,0\nHOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,x\nCOMMENTS 2,x\n\
         DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n",
    );
    for (index, (month, day, hour)) in hours().enumerate() {
        let (depth, period) = rain(index);
        let zeros = "0,".repeat(11);
        writeln!(
            text,
            "2001,{month},{day},{},60,A,10,5,{},101325,{zeros}2,{zeros}{depth},{period}",
            hour + 1,
            60 + hour
        )
        .unwrap();
    }
    text
}

fn assert_same_air(one: &ClimateRecord, other: &ClimateRecord) {
    let close = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-9);
    assert_eq!(one.series.years(), other.series.years());
    assert!(close(&one.series.temperature_c, &other.series.temperature_c), "temperatures of {}", one.name);
    assert!(close(&one.series.humidity_pct, &other.series.humidity_pct), "humidities of {}", one.name);
}

/// The same places were read by a script for the samples, with their times.
#[test]
fn reference_layouts_give_the_hours_of_the_samples() {
    for (name, id) in [
        ("po-plain-pvgis.csv.gz", "po-plain"),
        ("miami-tmy2.tm2.gz", "miami"),
        ("greensboro-tmy3.csv.gz", "greensboro"),
        ("sand-point-tmy3.csv.gz", "sand-point"),
    ] {
        assert_same_air(&read(name), &sample(id).unwrap());
    }
    assert_eq!(read("miami-tmy2.tm2.gz").title, "MIAMI, FL");
}

/// Mean, extremes and time of wetness of the columns worked out by a script.
#[test]
fn reference_a_psm_table_has_the_figures_of_its_columns() {
    let climate = read("utah-psm.csv.gz");
    let figures = summary(&climate);
    let close = |found: f64, printed: f64| assert!((found - printed).abs() < 5e-4, "{found}, {printed}");
    close(figures.temperature_c, 7.3672);
    close(figures.humidity_pct, 55.3539);
    close(figures.temperature_min_c, -22.2);
    close(figures.temperature_max_c, 37.1);
    close(figures.time_of_wetness_h_per_a, 454.0);
    assert_eq!(climate.gaps.missing_hours, 0);
    assert_eq!(climate.title, "NSRDB at 40.53, -108.54");
}

/// The rain of one station is 8,345 mm a year, of another mostly missing with a depth of 753 mm in 24 h: neither is rain, and both
/// are read. Before, the first was believed and the second refused.
#[test]
fn reference_rain_that_cannot_be_is_not_measured() {
    let greensboro = read("greensboro-tmy3.csv.gz");
    assert!(
        greensboro.gaps.rain_left_out == Some(RainLeftOut::Impossible) && greensboro.series.rain_mm.is_none()
    );
    assert_eq!(greensboro.gaps.doubtful_values, 2);
    let sand_point = read("sand-point-tmy3.csv.gz");
    assert!(sand_point.gaps.rain_left_out == Some(RainLeftOut::Gaps) && sand_point.series.rain_mm.is_none());
    for climate in [greensboro, sand_point] {
        assert!(matches!(climate.wet_days, WetDays::Drawn { .. }), "{}", climate.name);
    }
}

/// Files of the international series carry a rain column of zeros; a dry month with rain in another is measured.
#[test]
fn regress_zeros_are_not_measured_rain() {
    let zeros = read_bytes("zeros.epw", epw("Somewhere", |_| (0.0, 0.0)).as_bytes()).unwrap();
    assert!(zeros.gaps.rain_left_out == Some(RainLeftOut::AllZero) && zeros.series.rain_mm.is_none());
    assert!(summary(&zeros).wet_days_per_a > 30.0);
    let some = epw("Somewhere", |index| (if index == 5000 { 3.0 } else { 0.0 }, 1.0));
    let some = read_bytes("some.epw", some.as_bytes()).unwrap();
    assert_eq!((some.wet_days.clone(), summary(&some).wet_days_per_a as usize), (WetDays::Measured, 1));
}

/// 6 mm of six hours up to 12:00, every day: 1 mm in each of those hours, 2190 mm a year, every day wet.
#[test]
fn closed_form_rain_is_spread_over_the_hours_it_was_gathered_in() {
    let text = epw("Somewhere", |index| {
        if index % 24 == 11 {
            (6.0, 6.0)
        } else {
            (0.0, if (6..12).contains(&(index % 24)) { 99.0 } else { 1.0 })
        }
    });
    let climate = read_bytes("gathered.epw", text.as_bytes()).unwrap();
    let rain = climate.series.rain_mm.unwrap();
    assert!(
        (0..24).all(|hour| (rain[240 + hour] - f64::from(u8::from((6..12).contains(&hour)))).abs() < 1e-12)
    );
}

#[test]
fn regress_latin1_is_read() {
    let text = epw("Orléans", |_| (0.0, 1.0));
    let latin1: Vec<u8> = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    assert!(std::str::from_utf8(&latin1).is_err());
    assert_eq!(read_bytes("l.epw", &latin1).unwrap().title, "Orléans, -, XXX");
}

#[test]
fn property_few_doubtful_cells_are_gaps_and_many_refuse_the_file() {
    let with = |doubtful: usize| {
        let text = table(|index| {
            let bad = index % 100 == 7 && index / 100 < doubtful;
            (if bad { "77".into() } else { "7".into() }, "0.1".into())
        });
        read_bytes("t.csv", text.as_bytes())
    };
    let few = with(60).unwrap();
    assert_eq!(
        (few.gaps.doubtful_values, few.gaps.missing_hours, few.gaps.straight_line_values),
        (60, 60, 60)
    );
    assert!(few.series.temperature_c.iter().all(|t| (t - 7.0).abs() < 1e-12));
    let message = with(88).unwrap_err().to_string();
    assert!(message.starts_with("t.csv:9:4: temperature_c: found `77`"), "{message}");
    let word = table(|index| (if index == 50 { "warm".into() } else { "7".into() }, String::new()));
    assert!(read_bytes("t.csv", word.as_bytes()).unwrap_err().to_string().contains("`warm`"));
}

#[test]
fn property_columns_of_any_table_can_be_named() {
    let map = ColumnMap::parse("temperature_c=T2m,humidity_pct=RH,time=time(UTC)").unwrap();
    let bytes = std::fs::read(file("po-plain-pvgis.csv.gz")).unwrap();
    assert_same_air(&read_bytes_mapped("p.csv", &bytes, &map).unwrap(), &read("po-plain-pvgis.csv.gz"));
    let mut text = String::from("station 12\nwhen;where,stamp,Lufttemperatur,rel. Feuchte\n");
    for (month, day, hour) in hours() {
        writeln!(text, "x,2021-{month:02}-{day:02} {hour:02}:00,{hour},{}", 60 + hour).unwrap();
    }
    let map =
        ColumnMap::parse("time=stamp, temperature_c=Lufttemperatur, humidity_pct=rel. Feuchte").unwrap();
    let named = read_bytes_mapped("n.csv", text.as_bytes(), &map).unwrap();
    let own = table(|index| ((index % 24).to_string(), String::new()));
    assert_same_air(&named, &read_bytes("o.csv", own.as_bytes()).unwrap());
    let absent = ColumnMap::parse("temperature_c=T2m").unwrap();
    let message = read_bytes_mapped("n.csv", text.as_bytes(), &absent).unwrap_err().to_string();
    assert!(message.contains("a header naming T2m"), "{message}");
    for wrong in ["temperature_c", "temperature_c=", "temprature_c=T", "time=a,time=b"] {
        assert!(ColumnMap::parse(wrong).is_err(), "{wrong}");
    }
}

/// Two rows of an hour are their mean.
#[test]
fn closed_form_rows_of_half_hours_become_hours() {
    let mut text = String::from("month,day,hour,minute,temperature_c,humidity_pct\n");
    for (month, day, hour) in hours() {
        for (minute, more) in [(0, 0.0), (30, 1.0)] {
            writeln!(text, "{month},{day},{hour},{minute},{},{}", f64::from(hour) + more, 60 + hour).unwrap();
        }
    }
    let climate = read_bytes("half.csv", text.as_bytes()).unwrap();
    assert!(
        climate
            .series
            .temperature_c
            .iter()
            .enumerate()
            .all(|(i, t)| (t - (i % 24) as f64 - 0.5).abs() < 1e-12)
    );
}

/// A date in one cell is year, month and day, in daily and in hourly rows.
#[test]
fn property_dates_in_one_cell_are_their_parts() {
    let dates = || (1..=12u8).zip(DAYS).flat_map(|(month, days)| (1..=days).map(move |day| (month, day)));
    let daily = |head: &str, date: fn(u8, u8) -> String| {
        let rows = dates().map(|(month, day)| format!("{},{},7{}", date(month, day), day, month % 10));
        let text = format!("{head},temperature_c,humidity_pct\n{}", rows.collect::<Vec<_>>().join("\n"));
        read_bytes("d.csv", text.as_bytes()).unwrap()
    };
    let parts = daily("year,month,day", |month, day| format!("2021,{month},{day}"));
    assert_same_air(&parts, &daily("date", |month, day| format!("2021-{month:02}-{day:02}")));
    assert_same_air(&parts, &daily("date", |month, day| format!("{day}.{month}.2021")));
    let mut hourly = String::from("date,hour,temperature_c,humidity_pct\n");
    for (month, day, hour) in hours() {
        writeln!(hourly, "2021{month:02}{day:02},{hour},{hour},{}", 60 + hour).unwrap();
    }
    let own = table(|index| ((index % 24).to_string(), String::new()));
    assert_same_air(
        &read_bytes("h.csv", hourly.as_bytes()).unwrap(),
        &read_bytes("o.csv", own.as_bytes()).unwrap(),
    );
}
