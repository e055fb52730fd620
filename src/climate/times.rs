//! A date and time in one cell: `2019-01-31 13:00`, `2019-01-31T13:00:00Z`, `20190131:1310`, `01/31/2019 13:00`, `31.01.2019 13:00`.
//!
//! A time stands for the hour that begins there; minutes say which rows share an hour. Zones are not read: a table in world
//! time is moved by its longitude or its zone where its header states one (`foreign.rs`).

use super::calendar::CalendarHour;
use super::calendar::days_in_file;
use super::cells::Cell;
use super::columns::RowDate;
use crate::error::Result;

/// A time of a row.
pub(super) struct RowTime {
    /// Calendar year; always there.
    pub(super) year: Option<i64>,
    /// Month, day and hour.
    pub(super) time: CalendarHour,
    /// Minute, 0 to 59.
    pub(super) minute: u8,
}

/// Reads a cell; an error names the forms that are understood.
pub(super) fn row_time(cell: &Cell) -> Result<RowTime> {
    parsed(cell.text()).ok_or_else(|| {
        cell.error(
            "a time such as 2019-01-31 13:00, 20190131:1300, 01/31/2019 13:00 or 31.01.2019 13:00, hours 0 to 23",
            None,
        )
    })
}

/// Reads a cell with a date alone, in the same forms.
pub(super) fn cell_date(cell: &Cell) -> Result<RowDate> {
    let numbers = numbers(cell.text());
    let found = date(cell.text(), &numbers).filter(|(_, rest)| rest.is_empty()).map(|(date, _)| date);
    found.ok_or_else(|| {
        cell.error("a date such as 2019-01-31, 20190131, 01/31/2019 (month first) or 31.01.2019", None)
    })
}

fn numbers(text: &str) -> Vec<&str> {
    text.split(|c: char| !c.is_ascii_digit()).filter(|part| !part.is_empty()).collect()
}

/// The date at the beginning, and the numbers after it.
fn date<'n, 't>(text: &str, numbers: &'n [&'t str]) -> Option<(RowDate, &'n [&'t str])> {
    let (first, rest) = numbers.split_first()?;
    let part = |index: usize| numbers.get(index).copied();
    let ((year, month, day), used) = match first.len() {
        // 20190131
        8 => ((first.get(..4)?, first.get(4..6)?, first.get(6..)?), 0),
        4 => ((*first, part(1)?, part(2)?), 2),
        _ if text.contains('/') => ((part(2)?, *first, part(1)?), 2),
        _ => ((part(2)?, part(1)?, *first), 2),
    };
    let year = year.parse().ok().filter(|year| (1800..=2200).contains(year))?;
    let month = month.parse().ok().filter(|month| (1..=12).contains(month))?;
    let day = day.parse().ok().filter(|day| (1..=days_in_file(month)).contains(day))?;
    Some((RowDate { year: Some(year), month, day }, rest.get(used..)?))
}

fn parsed(text: &str) -> Option<RowTime> {
    let numbers = numbers(text);
    let (date, clock) = date(text, &numbers)?;
    let (hour, minute) = match *clock {
        [hour] if hour.len() > 2 => hour.split_at_checked(hour.len() - 2)?,
        [hour] => (hour, "0"),
        [hour, minute, ..] => (hour, minute),
        [] => return None,
    };
    let hour = hour.parse().ok().filter(|hour| *hour < 24)?;
    let minute = minute.parse().ok().filter(|minute| *minute < 60)?;
    let time = CalendarHour { month: date.month, day: date.day, hour };
    Some(RowTime { year: date.year, time, minute })
}

#[cfg(test)]
mod tests {
    use super::parsed;

    #[test]
    fn closed_form_each_form_of_one_time() {
        for text in [
            "2019-01-31 13:10",
            "2019-01-31T13:10:00Z",
            "2019-01-31 13:10:00+00:00",
            "20190131:1310",
            "20190131T1310",
            "01/31/2019 13:10",
            "31.01.2019 13:10",
            "2019/01/31 13:10",
        ] {
            let found = parsed(text).unwrap();
            let time = found.time;
            assert_eq!((found.year, time.month, time.day), (Some(2019), 1, 31), "{text}");
            assert_eq!((time.hour, found.minute), (13, 10), "{text}");
        }
        assert_eq!(parsed("2019-01-31 07").unwrap().time.hour, 7);
    }

    #[test]
    fn property_what_is_no_time_is_refused() {
        for text in [
            "",
            "2019",
            "2019-01-31",
            "2019-02-30 01:00",
            "2019-01-31 24:00",
            "2019-13-01 00:00",
            "noon",
            "1,2",
        ] {
            assert!(parsed(text).is_none(), "{text}");
        }
    }
}
