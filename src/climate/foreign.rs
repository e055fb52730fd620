//! Two public layouts that are tables with header lines of their own: PVGIS typical years and NSRDB's PSM tables.
//!
//! **PVGIS** (the European Commission's solar-radiation service): lines such as `Longitude (decimal degrees): 8.000`, a list of
//! months and years, `time(UTC),T2m,RH,...`, rows, a blank line and notes. Hours of world time are moved to the place's clock,
//! by the nearest hour to its longitude, 15° an hour. **PSM** (National Solar Radiation Database): a line of names, a line of
//! values with `Time Zone` and `Local Time Zone`, then `Year,Month,Day,Hour,Minute,...` every half hour or hour. Layouts read
//! off files of each as packaged with an open library (`tests/weather_files/README.md`). Neither has rain.

use super::column_map::ColumnMap;
use super::record::ParsedFile;
use super::table;
use super::table::Layout;
use crate::error::Result;

/// Lines among which a header of a foreign table may stand.
const HEADER_WITHIN: usize = 60;
const PVGIS: &str = "time(UTC),T2m,RH";
const PSM: &str = "Source,Location ID,";
const LONGITUDE: &str = "Longitude";

/// Reads the text if it has one of the two layouts.
pub(super) fn parse(file: &str, text: &str) -> Option<Result<ParsedFile>> {
    if text.starts_with(PSM) {
        return Some(psm(file, text));
    }
    let is_pvgis = text.lines().take(HEADER_WITHIN).any(|line| line.starts_with(PVGIS));
    is_pvgis.then(|| pvgis(file, text))
}

fn pvgis(file: &str, text: &str) -> Result<ParsedFile> {
    let mut pairs = vec![("time", "time(UTC)"), ("temperature_c", "T2m"), ("humidity_pct", "RH")];
    let header = text.lines().find(|line| line.starts_with(PVGIS)).unwrap_or_default();
    if header.split(',').any(|name| name == "WS10m") {
        pairs.push(("wind_m_s", "WS10m"));
    }
    let map = ColumnMap::new(pairs)?;
    let words = (file.to_owned(), "PVGIS table, hourly rows");
    table::parse(file, text, Layout { ahead_h: ahead_h(text, &map), map: &map, is_typical: true, words })
}

/// Hours by which the clock at the longitude in the lines before the header is ahead of a time column in UTC [h].
pub(super) fn ahead_h(text: &str, map: &ColumnMap) -> i64 {
    let is_utc = map.name_in_file("time").contains("UTC");
    let line = text.lines().take(HEADER_WITHIN).find(|line| line.starts_with(LONGITUDE) && is_utc);
    let degrees = line.and_then(|line| line.rsplit(':').next()?.trim().parse::<f64>().ok());
    degrees.filter(|degrees| degrees.abs() <= 180.0).map_or(0, |degrees| (degrees / 15.0).round() as i64)
}

fn psm(file: &str, text: &str) -> Result<ParsedFile> {
    let mut lines = text.lines().map(|line| line.split(',').map(str::trim).collect::<Vec<_>>());
    let (names, values) = (lines.next().unwrap_or_default(), lines.next().unwrap_or_default());
    let columns = lines.next().unwrap_or_default();
    let stated = |name: &str| values.get(names.iter().position(|known| *known == name)?).copied();
    let zone = |name: &str| stated(name)?.parse::<f64>().ok();
    let ahead = zone("Local Time Zone").zip(zone("Time Zone")).map_or(0.0, |(local, file)| local - file);
    let pairs = [
        ("year", "Year"),
        ("month", "Month"),
        ("day", "Day"),
        ("hour", "Hour"),
        ("minute", "Minute"),
        ("temperature_c", "Temperature"),
        ("humidity_pct", "Relative Humidity"),
        ("dew_point_c", "Dew Point"),
        ("wind_m_s", "Wind Speed"),
    ];
    // older tables carry a dew point and no humidity, and wind may have been left out; what is needed is required by name
    let optional = ["Minute", "Relative Humidity", "Dew Point", "Wind Speed"];
    let there = pairs.into_iter().filter(|(_, name)| columns.contains(name) || !optional.contains(name));
    let place = [stated("Latitude"), stated("Longitude")].map(Option::unwrap_or_default);
    let words = (format!("NSRDB at {}, {}", place[0], place[1]), "PSM table, rows of an hour or less");
    let map = ColumnMap::new(there)?;
    table::parse(file, text, Layout { map: &map, ahead_h: ahead.round() as i64, is_typical: true, words })
}
