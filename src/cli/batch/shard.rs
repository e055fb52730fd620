//! Part K of N of the rows of a table.

use std::fmt;
use std::ops::Range;
use std::str::FromStr;

/// Most parts [-].
const PARTS_MAX: u64 = 1_000_000;

/// A part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Shard {
    number: u64,
    of: u64,
}

impl Shard {
    /// Everything.
    pub(super) const WHOLE: Self = Self { number: 1, of: 1 };

    /// Numbers of its rows, from 1: parts follow one another, and their sizes differ by one at most.
    pub(super) fn rows(self, count: u64) -> Range<u64> {
        let until = |parts: u64| (u128::from(parts) * u128::from(count) / u128::from(self.of)) as u64;
        until(self.number - 1) + 1..until(self.number) + 1
    }
}

impl FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parts =
            text.split_once('/').and_then(|(number, of)| Some((number.parse().ok()?, of.parse().ok()?)));
        let parts = parts.filter(|(number, of)| (1..=*of).contains(number) && *of <= PARTS_MAX);
        parts
            .map(|(number, of)| Self { number, of })
            .ok_or_else(|| "a part as 1/4, the first of four".to_owned())
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

#[cfg(test)]
mod tests {
    use super::Shard;

    #[test]
    fn property_parts_hold_every_row_once() {
        for count in [0, 1, 7, 100] {
            let mut next = 1;
            for number in 1..=4 {
                let rows = format!("{number}/4").parse::<Shard>().unwrap().rows(count);
                assert_eq!(rows.start, next);
                next = rows.end;
            }
            assert_eq!(next, count + 1);
        }
        for text in ["0/4", "5/4", "1", "a/b", "1/0"] {
            assert!(text.parse::<Shard>().is_err(), "{text}");
        }
    }
}
