//! The three weather layouts: complete years come back as written, broken files say what is wrong and where.
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

use ferrowane::climate::ClimateRecord;
use ferrowane::climate::read::{read_bytes, read_path};
use ferrowane::climate::{HOURS_PER_YEAR, summary};
use ferrowane::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

const DAYS: [u8; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// Every hour of a 365-day year as (month, day, hour from 0).
fn hours() -> impl Iterator<Item = (u8, u8, u8)> {
    (1..=12u8).zip(DAYS).flat_map(|(month, days)| {
        (1..=days).flat_map(move |day| (0..24u8).map(move |hour| (month, day, hour)))
    })
}

/// A made-up but unambiguous temperature of each hour.
fn temperature_c(month: u8, day: u8, hour: u8) -> f64 {
    f64::from(month) + f64::from(day) / 10.0 - f64::from(hour) / 4.0
}

fn table(skip: impl Fn(usize) -> bool) -> String {
    let mut text = String::from("# made up\nmonth,day,hour,temperature_c,humidity_pct,wind_m_s,rain_mm\n");
    for (_, (month, day, hour)) in hours().enumerate().filter(|(index, _)| !skip(*index)) {
        writeln!(text, "{month},{day},{hour},{},{},2,0.1", temperature_c(month, day, hour), 60 + hour)
            .unwrap();
    }
    text
}

fn epw(cell: impl Fn(usize, u8, u8, u8) -> [String; 5]) -> String {
    let mut text = String::from(
        "LOCATION,Somewhere,-,XXX,made up,0,45,8,1,100\nDESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\n\
         GROUND TEMPERATURES,0\nHOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,\"a, b\"\nCOMMENTS 2,x\n\
         DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n",
    );
    for (index, (month, day, hour)) in hours().enumerate() {
        let [dry, dew, humidity, wind, rain] = cell(index, month, day, hour);
        let zeros = "0,".repeat(11);
        let more = "0,".repeat(11);
        writeln!(
            text,
            "2001,{month},{day},{},60,A,{dry},{dew},{humidity},101325,{zeros}{wind},{more}{rain},1",
            hour + 1
        )
        .unwrap();
    }
    text
}

fn assert_as_written(climate: &ClimateRecord) {
    assert_eq!(climate.series.years(), 1);
    for (index, (month, day, hour)) in hours().enumerate() {
        let expected = temperature_c(month, day, hour);
        assert!((climate.series.temperature_c[index] - expected).abs() < 1e-9, "{month} {day} {hour}");
        assert!((climate.series.humidity_pct[index] - f64::from(60 + hour)).abs() < 1e-9);
        assert_eq!((climate.series.month[index], climate.series.hour_of_day[index]), (month, hour));
    }
}

#[test]
fn closed_form_table_comes_back_as_written() {
    let climate = read_bytes("t.csv", table(|_| false).as_bytes()).unwrap();
    assert_as_written(&climate);
    assert_eq!(climate.gaps, ferrowane::climate::GapReport::default());
    let rain = summary(&climate).rain_mm_per_a.unwrap();
    assert!((rain - 876.0).abs() < 1e-6, "{rain}");
}

#[test]
fn closed_form_epw_hours_end_where_ours_begin() {
    let text = epw(|_, month, day, hour| {
        let t = temperature_c(month, day, hour).to_string();
        [t, "99.9".into(), (60 + hour).to_string(), "2.5".into(), "999".into()]
    });
    let climate = read_bytes("somewhere.epw", text.as_bytes()).unwrap();
    assert_as_written(&climate);
    assert_eq!(climate.title, "Somewhere, -, XXX");
    assert!(climate.series.rain_mm.is_none());
    assert!(climate.series.wind_m_s.unwrap().iter().all(|wind| (wind - 2.5).abs() < 1e-12));
}

/// 10 °C and a dew point of 5.778 °C are 75 % (`PsychroLib`, `shared/checks_humid_air.csv`; 0.001 K is 0.005 %).
#[test]
fn closed_form_epw_humidity_from_dew_point_and_gaps() {
    let text = epw(|index, _, _, _| {
        let dry = if (100..103).contains(&index) { "99.9" } else { "10.0" };
        [dry.into(), "5.778".into(), "999".into(), "2".into(), "0.2".into()]
    });
    let climate = read_bytes("dew.epw", text.as_bytes()).unwrap();
    assert!(climate.series.humidity_pct.iter().all(|rh| (rh - 75.0).abs() < 0.02));
    assert_eq!((climate.gaps.missing_hours, climate.gaps.longest_gap_h), (3, 3));
    assert_eq!(climate.gaps.straight_line_values, 6);
    assert!((summary(&climate).rain_mm_per_a.unwrap() - 1752.0).abs() < 1e-6);
}

#[test]
fn closed_form_tmy3_comes_back_as_written() {
    let mut text = String::from(
        "000000,\"SOMEWHERE\",XX,-5.0,36.1,-79.9,273\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),Dry-bulb (C),\
         RHum (%),Wspd (m/s),Lprecip depth (mm)\n",
    );
    for (month, day, hour) in hours() {
        let (year, t) = (1980 + u32::from(month), temperature_c(month, day, hour));
        writeln!(text, "{month:02}/{day:02}/{year},{:02}:00,0,{t},{},1.5,-9900", hour + 1, 60 + hour)
            .unwrap();
    }
    let climate = read_bytes("station.csv", text.as_bytes()).unwrap();
    assert_as_written(&climate);
    assert_eq!(climate.title, "SOMEWHERE, XX");
    assert!(climate.series.rain_mm.is_none() && climate.gaps.rain_left_out.is_none());
}

#[test]
fn property_several_years_a_leap_day_and_damp_sensors() {
    let mut text = String::from("year,month,day,hour,temperature_c,humidity_pct\n");
    for year in 2019..=2021 {
        for (month, day, hour) in hours() {
            if (year, month, day, hour) == (2020, 3, 1, 0) {
                (0..24).for_each(|hour| writeln!(text, "2020,2,29,{hour},50,50").unwrap());
            }
            let humidity = if (month, day) == (1, 1) { 103 } else { 70 };
            writeln!(text, "{year},{month},{day},{hour},{},{humidity}", year - 2010).unwrap();
        }
    }
    let climate = read_bytes("three.csv", text.as_bytes()).unwrap();
    assert_eq!(climate.series.years(), 3);
    assert_eq!((climate.gaps.leap_day_rows, climate.gaps.clipped_humidity_values), (24, 72));
    let figures = summary(&climate);
    assert!((figures.temperature_c - 10.0).abs() < 1e-9 && figures.temperature_max_c < 12.0);
    assert!((figures.time_of_wetness_h_per_a - 24.0).abs() < 1e-9);
    let spread = ferrowane::climate::summary::year_to_year_sd_ln(&climate.series).unwrap();
    assert!((spread - 0.040).abs() < 1e-9, "{spread}");
}

#[test]
fn property_gaps_beyond_the_limits_are_refused_with_their_place() {
    let filled = read_bytes("week.csv", table(|index| (200..368).contains(&index)).as_bytes()).unwrap();
    assert_eq!((filled.gaps.missing_hours, filled.gaps.neighbour_day_values), (168, 336));
    let longer = read_bytes("longer.csv", table(|index| (200..369).contains(&index)).as_bytes());
    let message = longer.unwrap_err().to_string();
    assert!(message.starts_with("longer.csv:202: temperature_c: found no value for 169 h"), "{message}");
    // 437 scattered hours are 4.99 % of a year, 461 are 5.26 %
    assert!(read_bytes("sparse.csv", table(|index| index % 20 == 3 && index < 8743).as_bytes()).is_ok());
    let sparse = read_bytes("sparse.csv", table(|index| index % 19 == 3).as_bytes());
    let message = sparse.unwrap_err().to_string();
    assert!(message.contains("461 of 8760") && message.contains("at most 5 % missing"), "{message}");
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/malformed/climate")
}

/// Each line of `expected.txt`: file, line the error names, words in it.
fn expectations() -> Vec<(String, String, String)> {
    let text = std::fs::read_to_string(folder().join("expected.txt")).unwrap();
    let rows = text.lines().map(|line| line.split('\t').map(str::to_owned).collect::<Vec<_>>());
    rows.map(|row| (row[0].clone(), row[1].clone(), row[2].clone())).collect()
}

#[test]
fn property_malformed_files_give_clear_errors_at_their_line() {
    let expectations = expectations();
    assert!(expectations.len() >= 30);
    for (file, line, words) in &expectations {
        let error = read_path(&folder().join(file)).expect_err(file);
        assert!(
            matches!(error, Error::Input { .. } | Error::Invalid { .. } | Error::OutOfRange { .. }),
            "{file}"
        );
        let message = error.to_string();
        let place = if line == "-" { format!("{file}: ") } else { format!("{file}:{line}:") };
        assert!(message.contains(&place), "no `{place}` in: {message}");
        assert!(message.contains(words.as_str()), "no `{words}` in: {message}");
    }
}

#[test]
fn property_every_malformed_file_is_expected() {
    let mut listed: Vec<String> = expectations().into_iter().map(|(file, _, _)| file).collect();
    let mut found: Vec<String> = std::fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| Path::new(name).extension().is_some_and(|ext| ext == "csv" || ext == "epw"))
        .collect();
    listed.sort();
    found.sort();
    assert_eq!(listed, found);
}

#[test]
fn property_a_missing_file_is_an_io_error() {
    let error = read_path(&folder().join("not_there.csv")).unwrap_err();
    assert!(matches!(error, Error::Io { .. }) && error.to_string().contains("not_there.csv"));
}

proptest::proptest! {
    /// Any bytes, and any damage to a good beginning, end in an error and never in a panic.
    #[test]
    fn property_random_bytes_never_panic(
        bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..400),
        text in "[-0-9,.:/ #\"a-z\n]{0,300}",
        start in 0usize..4,
    ) {
        let starts = [
            "", "month,day,hour,temperature_c,humidity_pct\n", "month,temperature_c,humidity_pct\n",
            "1,X\nDate (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C),RHum (%)\n",
        ];
        for name in ["x.csv", "x.epw", "x.csv.gz"] {
            proptest::prop_assert!(read_bytes(name, &bytes).is_err());
            let damaged = [starts[start], &text].concat();
            proptest::prop_assert!(read_bytes(name, damaged.as_bytes()).is_err());
        }
    }
}

#[test]
fn property_gzip_and_byte_order_mark_change_nothing() {
    use std::io::Write as _;
    let text = table(|_| false);
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(b"\xef\xbb\xbf").unwrap();
    packer.write_all(text.replace('\n', "\r\n").as_bytes()).unwrap();
    let packed = read_bytes("t.csv", &packer.finish().unwrap()).unwrap();
    assert_eq!(packed, read_bytes("t.csv", text.as_bytes()).unwrap());
    assert_eq!(packed.series.temperature_c.len(), HOURS_PER_YEAR);
}
