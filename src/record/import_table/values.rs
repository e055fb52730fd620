//! What a cell of somebody else's table means: a number with a decimal point or comma, a date in some order, a grade.

use super::sheet::SheetCell;
use crate::coating::{Scale, SeenGrade};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Order of day, month and year in a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DateOrder {
    /// Day, month, year.
    Dmy,
    /// Month, day, year.
    Mdy,
    /// Year, month, day.
    Ymd,
}

impl DateOrder {
    /// All orders.
    pub const ALL: [Self; 3] = [Self::Dmy, Self::Mdy, Self::Ymd];

    /// Its key.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Dmy => "dmy",
            Self::Mdy => "mdy",
            Self::Ymd => "ymd",
        }
    }
}

/// What a bare number in a column of grades is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum GradeUnit {
    /// Degree of rusting of ISO 4628-3, 0 no rust to 5.
    Ri,
    /// Grade of ASTM D610, 10 no rust to 0.
    D610,
    /// Rusted area [%].
    Percent,
}

impl GradeUnit {
    /// All units.
    pub const ALL: [Self; 3] = [Self::Ri, Self::D610, Self::Percent];

    /// Its key.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Ri => "ri",
            Self::D610 => "d610",
            Self::Percent => "percent",
        }
    }
}

/// What is written for a grade.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum WrittenGrade {
    /// A number with its scale.
    Grade(SeenGrade),
    /// A rusted area [%].
    Percent(f64),
    /// A number whose scale the column has to say.
    Bare(f64),
}

/// A number of a cell, with a decimal point or comma, and `unit` behind it or not.
pub(super) fn number(cell: &SheetCell, unit: &str) -> Option<f64> {
    match cell {
        SheetCell::Number(number) => Some(*number).filter(|number| number.is_finite()),
        SheetCell::Text(text) => {
            let bare = text.strip_suffix(unit).unwrap_or(text).trim();
            let mut parts = bare.split([',', '.']);
            let digits =
                |part: &str| (1..=9).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
            let (whole, decimals) = (parts.next()?, parts.next());
            let is_plain = digits(whole) && decimals.is_none_or(digits) && parts.next().is_none();
            is_plain.then(|| bare.replace(',', ".").parse().ok()).flatten()
        }
        SheetCell::Date(_) => None,
    }
}

/// Whether a text holds a number with a decimal comma, or with a point.
pub(super) fn decimal(cell: &SheetCell) -> Option<char> {
    let SheetCell::Text(text) = cell else { return None };
    let digit = |at: usize| text.as_bytes().get(at).is_some_and(u8::is_ascii_digit);
    text.char_indices()
        .find(|(at, c)| [',', '.'].contains(c) && *at > 0 && digit(at - 1) && digit(at + 1))
        .map(|(_, c)| c)
}

/// The three numbers of a date, and the character between them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct DateParts {
    numbers: [i16; 3],
    between: char,
    /// Whether the year stands in front.
    year_first: bool,
}

impl DateParts {
    /// Of a text such as `17/04/2023`, a time behind it left out; the year has four digits.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let day = text.split([' ', 'T']).next()?;
        let between = day.chars().find(|c| !c.is_ascii_digit()).filter(|c| ['/', '.', '-'].contains(c))?;
        let parts: Vec<&str> = day.trim_end_matches('.').split(between).collect();
        let [a, b, c] = parts[..] else { return None };
        let year_first = a.len() == 4;
        let sizes = if year_first { [4, b.len(), c.len()] } else { [a.len(), b.len(), c.len()] };
        let fits = if year_first {
            sizes[1].max(sizes[2]) <= 2
        } else {
            sizes[0].max(sizes[1]) <= 2 && sizes[2] == 4
        };
        let number =
            |part: &str| part.parse::<i16>().ok().filter(|_| part.bytes().all(|byte| byte.is_ascii_digit()));
        let numbers = [number(a)?, number(b)?, number(c)?];
        fits.then_some(Self { numbers, between, year_first })
    }

    /// The date in an order, if it is one.
    pub(super) fn date(&self, order: DateOrder) -> Option<Date> {
        let [a, b, c] = self.numbers;
        let (year, month, day) = match order {
            _ if self.year_first => (a, b, c),
            DateOrder::Dmy => (c, b, a),
            DateOrder::Mdy => (c, a, b),
            DateOrder::Ymd => return None,
        };
        Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok()
    }

    /// Whether the order of its day and month has to be known.
    pub(super) fn needs_order(&self) -> bool {
        !self.year_first && self.date(DateOrder::Dmy) != self.date(DateOrder::Mdy)
    }
}

/// The order in which all dates of a table make sense: `None` where two do and points do not separate them, as they do where
/// the day stands first (COMMON).
pub(super) fn order_of(dates: &[DateParts]) -> Option<DateOrder> {
    let doubtful: Vec<&DateParts> = dates.iter().filter(|parts| parts.needs_order()).collect();
    let fitting = |order| doubtful.iter().filter(|parts| parts.date(order).is_some()).count();
    if doubtful.is_empty() {
        return Some(if dates.iter().all(|parts| parts.year_first) {
            DateOrder::Ymd
        } else {
            DateOrder::Dmy
        });
    }
    match (fitting(DateOrder::Dmy), fitting(DateOrder::Mdy)) {
        (days, months) if days > months => Some(DateOrder::Dmy),
        (days, months) if months > days => Some(DateOrder::Mdy),
        _ if doubtful.iter().all(|parts| parts.between == '.') => Some(DateOrder::Dmy),
        _ => None,
    }
}

/// What is written for a grade: `Ri 3`, `3`, `D610 6`, `1,5 %`.
pub(super) fn grade(cell: &SheetCell) -> Option<WrittenGrade> {
    let SheetCell::Text(text) = cell else { return number(cell, "").map(WrittenGrade::Bare) };
    let lower = text.to_lowercase();
    if lower.ends_with('%') {
        return number(cell, "%").map(WrittenGrade::Percent);
    }
    for (word, scale) in [("astm d610", Scale::D610), ("d610", Scale::D610), ("ri", Scale::Ri)] {
        if let Some(rest) = lower.strip_prefix(word) {
            let number = number(&SheetCell::Text(rest.trim_start_matches([' ', '-', ':']).to_owned()), "")?;
            return on_scale(scale, number).map(WrittenGrade::Grade);
        }
    }
    number(cell, "").map(WrittenGrade::Bare)
}

/// A whole number of a scale.
pub(super) fn on_scale(scale: Scale, number: f64) -> Option<SeenGrade> {
    let (_, most) = scale.word();
    let is_grade = number.fract().abs() < f64::EPSILON && (0.0..=f64::from(most)).contains(&number);
    is_grade.then_some(SeenGrade { scale, number: number as u8 })
}

#[cfg(test)]
mod tests {
    use super::{DateOrder, DateParts, SheetCell, WrittenGrade, grade, number, order_of};
    use crate::coating::{Scale, SeenGrade};

    fn text(text: &str) -> SheetCell {
        SheetCell::Text(text.to_owned())
    }

    #[test]
    fn property_numbers_with_point_or_comma_are_the_same() {
        for written in ["1.9", "1,9", "1,9 mm", "1.90mm"] {
            assert!((number(&text(written), "mm").unwrap() - 1.9).abs() < 1e-12, "{written}");
        }
        for written in ["1.9.2", "1,234.5", "-1", "", "x", ",5", "1e9", "12345678901234567890"] {
            assert_eq!(number(&text(written), "mm"), None, "{written}");
        }
    }

    #[test]
    fn property_the_order_of_dates_is_found_or_left_open() {
        let order = |dates: &[&str]| {
            order_of(&dates.iter().map(|date| DateParts::parse(date).unwrap()).collect::<Vec<_>>())
        };
        assert_eq!(order(&["03/04/2023", "17/04/2023"]), Some(DateOrder::Dmy));
        assert_eq!(order(&["03/04/2023", "04/17/2023"]), Some(DateOrder::Mdy));
        assert_eq!(order(&["03/04/2023", "04/03/2022"]), None);
        assert_eq!(order(&["3.4.2023"]), Some(DateOrder::Dmy));
        assert_eq!(order(&["2023-04-17", "2023/4/7"]), Some(DateOrder::Ymd));
        assert_eq!(order(&["04/04/2023"]), Some(DateOrder::Dmy));
        for refused in ["17/04/23", "2023-13", "today", "1/2/3/2023", "1.2/2023", "17042023", ""] {
            assert!(DateParts::parse(refused).is_none(), "{refused}");
        }
        assert_eq!(
            DateParts::parse("2023-04-17T00:00:00").unwrap().date(DateOrder::Mdy).unwrap().to_string(),
            "2023-04-17"
        );
    }

    #[test]
    fn property_grades_carry_their_scale_or_wait_for_it() {
        let seen = |scale, number| Some(WrittenGrade::Grade(SeenGrade { scale, number }));
        assert_eq!(grade(&text("Ri 3")), seen(Scale::Ri, 3));
        assert_eq!(grade(&text("ri3")), seen(Scale::Ri, 3));
        assert_eq!(grade(&text("D610 10")), seen(Scale::D610, 10));
        assert_eq!(grade(&text("1,5 %")), Some(WrittenGrade::Percent(1.5)));
        assert_eq!(grade(&SheetCell::Number(4.0)), Some(WrittenGrade::Bare(4.0)));
        assert_eq!([grade(&text("Ri 6")), grade(&text("much"))], [None, None]);
    }
}
