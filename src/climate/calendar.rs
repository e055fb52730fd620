//! The calendar of the model: every year has 365 days and 8760 hours, without 29 February.

/// Hours in every year of the model [h].
pub const HOURS_PER_YEAR: usize = 8760;
/// Days of the model's year [d].
pub const DAYS_PER_YEAR: usize = 365;

/// Days in each month of the model's year [d].
pub(super) const DAYS_IN_MONTH: [u8; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// Days a file may have in a month: February has 29, so that a leap day can be read and dropped.
pub(super) fn days_in_file(month: u8) -> u8 {
    match month {
        2 => 29,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Whether the date is the leap day.
pub(super) fn is_leap_day(month: u8, day: u8) -> bool {
    month == 2 && day == 29
}

/// An hour of the calendar; the order of its fields makes it compare as time does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct CalendarHour {
    /// Month, 1 to 12.
    pub(super) month: u8,
    /// Day of the month, from 1.
    pub(super) day: u8,
    /// Hour of the day, 0 to 23.
    pub(super) hour: u8,
}

impl CalendarHour {
    /// Whether it falls on 29 February.
    pub(super) fn is_on_leap_day(self) -> bool {
        is_leap_day(self.month, self.day)
    }

    /// Its index in the year, from 0.
    pub(super) fn hour_of_year(self) -> usize {
        let months_before = usize::from(self.month.saturating_sub(1));
        let days_before: usize =
            DAYS_IN_MONTH.iter().take(months_before).map(|days| usize::from(*days)).sum();
        (days_before + usize::from(self.day.saturating_sub(1))) * 24 + usize::from(self.hour)
    }
}

impl std::fmt::Display for CalendarHour {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "month {}, day {}, hour {}", self.month, self.day, self.hour)
    }
}

/// All dates of one year as (month, day).
pub(super) fn dates() -> impl Iterator<Item = (u8, u8)> {
    (1..=12).zip(DAYS_IN_MONTH).flat_map(|(month, days)| (1..=days).map(move |day| (month, day)))
}

/// Month and hour of day of every hour of `years` years.
pub(super) fn months_and_hours(years: usize) -> (Vec<u8>, Vec<u8>) {
    (0..years).flat_map(|_| dates()).flat_map(|(month, _)| (0..24).map(move |hour| (month, hour))).unzip()
}

/// The hour of the calendar with an index of [`CalendarHour::hour_of_year`]; an index past the year starts again.
pub(super) fn calendar_hour(hour_of_year: usize) -> CalendarHour {
    let (month, day) = dates().nth(hour_of_year % HOURS_PER_YEAR / 24).unwrap_or((12, 31));
    CalendarHour { month, day, hour: (hour_of_year % 24) as u8 }
}

#[cfg(test)]
mod tests {
    use super::{CalendarHour, HOURS_PER_YEAR, calendar_hour, dates, months_and_hours};

    #[test]
    fn closed_form_hours_count_through_the_year() {
        let hours =
            dates().flat_map(|(month, day)| (0..24).map(move |hour| CalendarHour { month, day, hour }));
        assert!(hours.map(CalendarHour::hour_of_year).eq(0..HOURS_PER_YEAR));
        assert!((0..HOURS_PER_YEAR).all(|hour| calendar_hour(hour).hour_of_year() == hour));
        assert_eq!(calendar_hour(59 * 24 + 5).to_string(), "month 3, day 1, hour 5");
    }

    #[test]
    fn property_two_years_repeat_the_calendar() {
        let (month, hour) = months_and_hours(2);
        assert_eq!(month.len(), 2 * HOURS_PER_YEAR);
        assert_eq!(month[..HOURS_PER_YEAR], month[HOURS_PER_YEAR..]);
        assert_eq!((month[0], hour[0], month[17_519], hour[17_519]), (1, 0, 12, 23));
    }
}
