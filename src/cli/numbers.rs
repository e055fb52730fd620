//! A number given as an argument.

/// Reads a finite number from an argument.
pub(super) fn number(text: &str) -> Result<f64, String> {
    let read = text.parse().ok().filter(|number: &f64| number.is_finite());
    read.ok_or_else(|| "not a number; allowed: digits with a decimal point, such as 12.5".to_owned())
}
