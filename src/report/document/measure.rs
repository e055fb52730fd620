//! How wide are words, and where do lines break? Widths of the carried fonts without kerning, which only narrows.

use crate::error::{Error, Result};
use crate::report::font::{FAMILY, file};
use std::sync::LazyLock;
use ttf_parser::Face;

static FACES: LazyLock<[Option<Face<'static>>; 2]> =
    LazyLock::new(|| [false, true].map(|bold| Face::parse(file(bold), 0).ok()));

/// Units that are not parted from their number.
const UNITS: [&str; 5] = ["a", "%", "mm", "µm", "in"];
/// Words that are not parted from the number behind them.
const BEFORE: [&str; 3] = ["Ri", "D610", "St"];

/// A font of the letter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Font {
    /// Size of its letters [pt].
    pub(super) size: f32,
    pub(super) bold: bool,
}

/// Width of words [pt].
pub(super) fn width(words: &str, font: Font) -> Result<f32> {
    let unread = || Error::invalid("embedded font", "unreadable data", FAMILY);
    let face = FACES[usize::from(font.bold)].as_ref().ok_or_else(unread)?;
    let advance = |letter: char| {
        let glyph = face.glyph_index(letter).unwrap_or_default();
        f32::from(face.glyph_hor_advance(glyph).unwrap_or(0))
    };
    Ok(words.chars().map(advance).sum::<f32>() / f32::from(face.units_per_em()) * font.size)
}

/// Words broken at blanks into lines of at most `room` [pt]; a word that is wider alone is broken anywhere.
pub(super) fn lines(words: &str, font: Font, room: f32) -> Result<Vec<String>> {
    let mut lines: Vec<String> = Vec::new();
    for word in tied(words) {
        let joined = lines.last().map(|line| format!("{line} {word}"));
        match joined {
            Some(joined) if width(&joined, font)? <= room => {
                lines.pop();
                lines.push(joined);
            }
            _ if width(&word, font)? <= room => lines.push(word),
            _ => lines.extend(pieces(&word, font, room)?),
        }
    }
    Ok(lines)
}

/// Words with their units.
fn tied(words: &str) -> Vec<String> {
    let mut tied: Vec<String> = Vec::new();
    let mut before = "";
    for word in words.split_whitespace() {
        let bare = word.trim_end_matches(['.', ',', ';', ':', ')']);
        let is_number = before.ends_with(|letter: char| letter.is_ascii_digit());
        let holds = (is_number && UNITS.contains(&bare)) || BEFORE.contains(&before.trim_start_matches('('));
        match tied.last_mut().filter(|last| holds && last.chars().count() < 30) {
            Some(last) => *last = format!("{last} {word}"),
            None => tied.push(word.to_owned()),
        }
        before = word;
    }
    tied
}

fn pieces(word: &str, font: Font, room: f32) -> Result<Vec<String>> {
    let mut pieces = vec![String::new()];
    for letter in word.chars() {
        let last = pieces.last().map_or("", String::as_str);
        let longer = format!("{last}{letter}");
        if last.is_empty() || width(&longer, font)? <= room {
            pieces.pop();
            pieces.push(longer);
        } else {
            pieces.push(letter.to_string());
        }
    }
    Ok(pieces)
}

#[cfg(test)]
mod tests {
    use super::{Font, lines, width};

    /// Advances of the font's own table: space 651, `i` 569, `m` 1995 of 2048.
    #[test]
    fn published_widths_of_letters() {
        assert!((width("im ", Font { size: 20.48, bold: false }).unwrap() - 32.15).abs() < 0.01);
    }

    #[test]
    fn property_no_line_is_wider_than_its_room() {
        let words = format!("Ri 3 at 7.5 a, {} and µ-cracks 12 % of it (D610 6)", "W".repeat(90));
        let font = Font { size: 9.0, bold: false };
        for room in [60.0, 100.0, 240.0] {
            let lines = lines(&words, font, room).unwrap();
            assert!(lines.iter().all(|line| width(line, font).unwrap() <= room), "{lines:?}");
            let kept: String = lines.concat().split_whitespace().collect();
            assert_eq!(kept, words.split_whitespace().collect::<String>());
            assert!(!lines.iter().any(|line| line.ends_with("Ri") || line.starts_with('%')), "{lines:?}");
        }
    }
}
