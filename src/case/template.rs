//! A complete commented case to start from.

/// A case with every table, in TOML; it can be read as it is.
#[must_use]
pub fn template() -> &'static str {
    include_str!("template.toml")
}
