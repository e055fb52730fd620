//! Numbers in words, for every text, picture and page: ages to half years, shares as frequencies, likelihood words.
//!
//! Likelihood words: calibrated scale of the IPCC (Fourth Assessment Report, guidance on uncertainty, table 4); the
//! number always stands beside the word. Frequencies share the denominator 20. No digit finer than the standard error.

use jiff::civil::Date;

/// Digits of printed section tables [-].
const TABLE_DIGITS: i32 = 3;

/// A date as a decimal year.
pub(crate) fn decimal_year(date: Date) -> f64 {
    f64::from(date.year()) + (f64::from(date.day_of_year()) - 1.0) / f64::from(date.days_in_year())
}

/// Calendar year in which a car registered at `registration` reaches an age.
pub(crate) fn calendar_year(registration: f64, age_a: f64) -> i64 {
    (registration + age_a).floor() as i64
}

/// An age in half years, coarser when its standard error is coarser, in tenths below one year.
pub(crate) fn age(age_a: f64, standard_error_a: Option<f64>) -> String {
    let error = standard_error_a.unwrap_or(0.0);
    let finest = if age_a < 1.0 { 0.1 } else { 0.5 };
    let step = [finest, 0.5, 1.0, 2.0, 5.0].into_iter().find(|step| *step >= error).unwrap_or(10.0);
    let rounded = (age_a / step).round() * step;
    if rounded < step { format!("under {step} a") } else { format!("{} a", (rounded * 10.0).round() / 10.0) }
}

/// A share in whole per cent, open at both ends because a sample never proves "never" or "always".
pub(crate) fn percent(share: f64) -> String {
    match share {
        p if p < 0.01 => "< 1 %".to_owned(),
        p if p > 0.99 => "> 99 %".to_owned(),
        p => format!("{:.0} %", 100.0 * p),
    }
}

/// A share as a frequency out of twenty, with its per cent.
pub(crate) fn frequency(share: f64) -> String {
    let count = match share {
        p if p < 0.05 => "fewer than 1 in 20".to_owned(),
        p if p > 0.95 => "more than 19 in 20".to_owned(),
        p => format!("{:.0} in 20", 20.0 * p),
    };
    format!("{count} ({})", percent(share))
}

/// A share as a frequency, such as `13 of 20`, for sentences that name what is counted.
pub(crate) fn of_twenty(share: f64) -> String {
    match share {
        p if p < 0.05 => "fewer than 1 of 20".to_owned(),
        p if p > 0.95 => "more than 19 of 20".to_owned(),
        p => format!("{:.0} of 20", 20.0 * p),
    }
}

/// A share as a count out of twenty, for sentences that give no per cent.
pub(crate) fn out_of_twenty(share: f64) -> String {
    match (20.0 * share).round() as u32 {
        0 => "fewer than 1 in 20".to_owned(),
        20 => "nearly all".to_owned(),
        count => format!("{count} in 20"),
    }
}

/// A number of years in halves from one year on, in tenths below.
pub(crate) fn years(size_a: f64) -> String {
    let step = if size_a < 1.0 { 10.0 } else { 2.0 };
    let rounded = (size_a * step).round() / step;
    let unit = if (rounded - 1.0).abs() < 1e-9 { "year" } else { "years" };
    format!("{rounded} {unit}")
}

/// The calibrated word for a probability.
pub(crate) fn likelihood(probability: f64) -> &'static str {
    match probability {
        p if p > 0.99 => "virtually certain",
        p if p > 0.95 => "extremely likely",
        p if p > 0.90 => "very likely",
        p if p > 0.66 => "likely",
        p if p >= 0.33 => "about as likely as not",
        p if p >= 0.10 => "unlikely",
        p if p >= 0.05 => "very unlikely",
        p if p >= 0.01 => "extremely unlikely",
        _ => "exceptionally unlikely",
    }
}

/// A difference in tenths with its sign; one that rounds to nothing has none.
pub(crate) fn signed(difference: f64) -> String {
    let tenths = in_tenths(difference);
    if tenths > 0.0 { format!("+{tenths:.1}") } else { format!("{tenths:.1}") }
}

/// A difference in tenths, always with a sign: one that rounds to nothing is `+0.0`.
pub(crate) fn always_signed(difference: f64) -> String {
    format!("{:+.1}", in_tenths(difference))
}

/// Rounded to tenths; adding zero turns -0.0 into 0.0.
fn in_tenths(difference: f64) -> f64 {
    (difference * 10.0).round() / 10.0 + 0.0
}

/// A number rounded to `digits` significant digits, at least 1.
pub(crate) fn rounded(value: f64, digits: usize) -> f64 {
    format!("{value:.*e}", digits.saturating_sub(1)).parse().unwrap_or(value)
}

/// A number in `digits` significant digits, without exponent.
pub(crate) fn significant(value: f64, digits: usize) -> String {
    format!("{}", rounded(value, digits))
}

/// So many of a thing, in its singular or plural.
pub(crate) fn counted(count: usize, [one, more]: [&str; 2]) -> String {
    format!("{count} {}", if count == 1 { one } else { more })
}

/// An amount of money, three digits at most, thousands separated.
pub(crate) fn money(amount: f64) -> String {
    // adding zero turns -0 into 0
    grouped(rounded(amount, 3).round() + 0.0, 0)
}

/// A number with `decimals` decimals and its thousands separated by commas: `116,000`.
pub(crate) fn grouped(value: f64, decimals: usize) -> String {
    let plain = format!("{value:.decimals$}");
    let (sign, digits) = plain.strip_prefix('-').map_or(("", plain.as_str()), |rest| ("-", rest));
    let (whole, rest) = digits.split_at(digits.find('.').unwrap_or(digits.len()));
    let mut text = sign.to_owned();
    for (place, digit) in whole.chars().enumerate() {
        if place > 0 && (whole.len() - place).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text + rest
}

/// A number in three significant digits, as printed tables give it.
pub(crate) fn as_in_tables(value: f64) -> String {
    let kept: f64 = format!("{value:.*e}", TABLE_DIGITS as usize - 1).parse().unwrap_or(value);
    if kept.abs() < f64::MIN_POSITIVE {
        return "0".to_owned();
    }
    let decimals = (TABLE_DIGITS - 1 - kept.abs().log10().floor() as i32).clamp(0, 12);
    grouped(kept, decimals as usize)
}

/// A share in per cent with one decimal, for tables of many shares.
pub(crate) fn percent_in_tenths(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

/// A criterion in words.
pub(crate) fn criterion(name: &str) -> String {
    match name {
        "node_grade" => "grade of a node".to_owned(),
        "run_grade" => "grade of open length".to_owned(),
        "mean_wall_loss_pct" => "mean loss of wall".to_owned(),
        "deepest_wall_loss_pct" => "deepest loss of wall".to_owned(),
        "section_modulus_loss_pct" => "loss of section modulus".to_owned(),
        "perforated_pct" => "share rusted through".to_owned(),
        other => other.replace('_', " "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_ages_carry_no_digit_beyond_their_error() {
        assert_eq!(age(7.37, None), "7.5 a");
        assert_eq!(age(12.4, Some(0.8)), "12 a");
        assert_eq!(age(12.9, Some(1.7)), "12 a");
        assert_eq!(age(0.43, None), "0.4 a");
        assert_eq!(age(0.02, None), "under 0.1 a");
    }

    #[test]
    fn published_likelihood_words_at_their_bounds() {
        let words = [0.995, 0.96, 0.91, 0.7, 0.5, 0.2, 0.07, 0.03, 0.001].map(likelihood);
        assert_eq!(words[0], "virtually certain");
        assert_eq!(words[4], "about as likely as not");
        assert_eq!(words[8], "exceptionally unlikely");
        assert_eq!(words.iter().collect::<std::collections::BTreeSet<_>>().len(), 9);
    }

    #[test]
    fn closed_form_shares_as_frequencies() {
        assert_eq!(frequency(0.65), "13 in 20 (65 %)");
        assert_eq!(frequency(0.002), "fewer than 1 in 20 (< 1 %)");
        assert_eq!(frequency(0.97), "more than 19 in 20 (97 %)");
    }

    #[test]
    fn closed_form_differences_with_their_sign() {
        assert_eq!([0.26, -0.04, 0.0, -1.25].map(signed), ["+0.3", "0.0", "0.0", "-1.3"]);
        assert_eq!([0.26, -0.04, 0.0, -1.25].map(always_signed), ["+0.3", "+0.0", "+0.0", "-1.3"]);
    }

    #[test]
    fn closed_form_calendar_years() {
        let registered = decimal_year(jiff::civil::date(2014, 7, 2));
        assert!((registered - 2014.4986).abs() < 1e-3);
        assert_eq!(calendar_year(registered, 7.4), 2021);
        assert_eq!(calendar_year(registered, 7.6), 2022);
    }

    #[test]
    fn closed_form_amounts_of_money() {
        assert_eq!(
            [0.2, 149.6, 1234.0, 1_234_567.0, -987.0].map(money),
            ["0", "150", "1,230", "1,230,000", "-987"]
        );
    }

    #[test]
    fn closed_form_significant_digits() {
        assert_eq!(significant(1234.6, 2), "1200");
        assert_eq!(significant(0.034_56, 2), "0.035");
        assert_eq!(significant(31.4, 2), "31");
        assert_eq!(significant(99.6, 2), "100");
        assert_eq!(significant(0.0, 2), "0");
    }

    #[test]
    fn closed_form_thousands() {
        let cases =
            [(0.0, 0, "0"), (999.0, 0, "999"), (1000.0, 0, "1,000"), (1_234_567.891, 2, "1,234,567.89")];
        for (value, decimals, expected) in cases {
            assert_eq!(grouped(value, decimals), expected);
        }
        assert_eq!(grouped(-12_345.6, 1), "-12,345.6");
    }

    #[test]
    fn closed_form_three_digits() {
        let shown = [115_856.0, 4797.3, 453.4, 3.2, 0.012_34, 99.96, 0.0].map(as_in_tables);
        assert_eq!(shown, ["116,000", "4,800", "453", "3.20", "0.0123", "100", "0"]);
    }
}
