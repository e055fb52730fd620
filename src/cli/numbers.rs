//! Numbers for people: thousands separators, and as many digits as printed tables have.

/// Digits of printed section tables [-].
const TABLE_DIGITS: i32 = 3;

/// Reads a finite number from an argument.
pub(super) fn number(text: &str) -> Result<f64, String> {
    let read = text.parse().ok().filter(|number: &f64| number.is_finite());
    read.ok_or_else(|| "not a number; allowed: digits with a decimal point, such as 12.5".to_owned())
}

/// A number with `decimals` decimals and its thousands separated by commas: `116,000`.
pub(super) fn grouped(value: f64, decimals: usize) -> String {
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
pub(super) fn as_in_tables(value: f64) -> String {
    let kept: f64 = format!("{value:.*e}", TABLE_DIGITS as usize - 1).parse().unwrap_or(value);
    if kept.abs() < f64::MIN_POSITIVE {
        return "0".to_owned();
    }
    let decimals = (TABLE_DIGITS - 1 - kept.abs().log10().floor() as i32).clamp(0, 12);
    grouped(kept, decimals as usize)
}

/// A share in per cent with one decimal.
pub(super) fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

#[cfg(test)]
mod tests {
    use super::{as_in_tables, grouped};

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
