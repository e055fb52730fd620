//! Which hour of a 365-day year is it? The model's years are all alike: 8760 hours, no leap day.

/// Hours in every year of the model [h].
pub const HOURS_PER_YEAR: usize = 8760;

/// Days in each month of the model's year [d].
pub(super) const DAYS_IN_MONTH: [u8; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// Days in a month as a calendar may print them: February has 29, so that a leap day can be read and dropped.
pub(super) fn days_printed(month: u8) -> u8 {
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

/// Index of an hour in the year, for month 1 to 12, a day of that month and hour 0 to 23.
pub(super) fn hour_of_year(month: u8, day: u8, hour: u8) -> usize {
    let before: usize =
        DAYS_IN_MONTH.iter().take(usize::from(month.saturating_sub(1))).map(|days| usize::from(*days)).sum();
    (before + usize::from(day.saturating_sub(1))) * 24 + usize::from(hour)
}

/// All dates of one year as (month, day).
pub(super) fn dates() -> impl Iterator<Item = (u8, u8)> {
    (1..=12).zip(DAYS_IN_MONTH).flat_map(|(month, days)| (1..=days).map(move |day| (month, day)))
}

/// Month and hour of day of every hour of `years` years.
pub(super) fn months_and_hours(years: usize) -> (Vec<u8>, Vec<u8>) {
    (0..years).flat_map(|_| dates()).flat_map(|(month, _)| (0..24).map(move |hour| (month, hour))).unzip()
}

/// An hour of the year in words, for messages.
pub(super) fn hour_text(hour_of_year: usize) -> String {
    let (month, day) = dates().nth(hour_of_year % HOURS_PER_YEAR / 24).unwrap_or((12, 31));
    format!("month {month}, day {day}, hour {}", hour_of_year % 24)
}

#[cfg(test)]
mod tests {
    use super::{HOURS_PER_YEAR, dates, hour_of_year, hour_text, months_and_hours};

    #[test]
    fn closed_form_hours_count_through_the_year() {
        let counted: Vec<usize> =
            dates().flat_map(|(m, d)| (0..24).map(move |h| hour_of_year(m, d, h))).collect();
        assert_eq!(counted, (0..HOURS_PER_YEAR).collect::<Vec<_>>());
        assert_eq!(hour_text(hour_of_year(3, 1, 5)), "month 3, day 1, hour 5");
    }

    #[test]
    fn property_two_years_repeat_the_calendar() {
        let (month, hour) = months_and_hours(2);
        assert_eq!(month.len(), 2 * HOURS_PER_YEAR);
        assert_eq!(month[..HOURS_PER_YEAR], month[HOURS_PER_YEAR..]);
        assert_eq!((month[0], hour[0], month[17_519], hour[17_519]), (1, 0, 12, 23));
    }
}
