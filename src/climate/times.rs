//! A date and time in one cell: `2019-01-31 13:00`, `2019-01-31T13:00:00Z`, `20190131:1310`, `01/31/2019 13:00`, `31.01.2019 13:00`.
//!
//! A time stands for the hour that begins there; minutes say which rows share an hour. Zones are not read: a table in world
//! time is moved by its longitude or its zone where its header states one (`foreign.rs`).

use super::calendar::CalendarHour;
use super::calendar::days_in_file;
use super::cells::Cell;
use crate::error::Result;

/// A time of a row.
pub(super) struct RowTime {
    /// Calendar year.
    pub(super) year: i64,
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

fn parsed(text: &str) -> Option<RowTime> {
    let numbers: Vec<&str> =
        text.split(|c: char| !c.is_ascii_digit()).filter(|part| !part.is_empty()).collect();
    let two = |text: &str, from: usize| text.get(from..from + 2)?.parse::<u8>().ok();
    let number = |index: usize| numbers.get(index)?.parse::<u8>().ok();
    let (year, month, day, clock) = match numbers.first()?.len() {
        // 20190131:1310
        8 => {
            let date = numbers.first()?;
            (date.get(..4)?, two(date, 4)?, two(date, 6)?, 1)
        }
        4 => (*numbers.first()?, number(1)?, number(2)?, 3),
        _ if text.contains('/') => (*numbers.get(2)?, number(0)?, number(1)?, 3),
        _ => (*numbers.get(2)?, number(1)?, number(0)?, 3),
    };
    let (hour, minute) = match (numbers.get(clock)?.len(), numbers.get(clock + 1)) {
        (3..=4, _) => {
            let padded = format!("{:0>4}", numbers.get(clock)?);
            (two(&padded, 0)?, two(&padded, 2)?)
        }
        (_, None) => (number(clock)?, 0),
        (_, Some(_)) => (number(clock)?, number(clock + 1)?),
    };
    let year = year.parse().ok().filter(|year| (1800..=2200).contains(year))?;
    let valid =
        (1..=12).contains(&month) && (1..=days_in_file(month)).contains(&day) && hour < 24 && minute < 60;
    valid.then_some(RowTime { year, time: CalendarHour { month, day, hour }, minute })
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
            assert_eq!(
                (found.year, time.month, time.day, time.hour, found.minute),
                (2019, 1, 31, 13, 10),
                "{text}"
            );
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
