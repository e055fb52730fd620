//! A table that is text: which encoding, and what separates its cells?
//!
//! UTF-8 with or without its mark; what is not is read as Windows-1252, of which Latin-1 is the readable part. Of `;`, tab
//! and `,` the one separates that cuts most lines into as many cells as the first: a comma inside numbers does not.

use super::sheet::{CellAt, ReadAs, Sheet, unreadable};
use crate::error::Result;

/// Separators that are tried; of equals the first wins.
const SEPARATORS: [char; 3] = [';', '\t', ','];
/// Lines by which a separator is judged [-].
const JUDGED_LINES: usize = 50;
const ALLOWED: &str = "text in UTF-8 or Windows-1252 with cells between `;`, tab or `,`";

/// Windows-1252 from 0x80 to 0x9f; the places that are free there are `None`.
const HIGH: [Option<char>; 32] = [
    Some('€'),
    None,
    Some('‚'),
    Some('ƒ'),
    Some('„'),
    Some('…'),
    Some('†'),
    Some('‡'),
    Some('ˆ'),
    Some('‰'),
    Some('Š'),
    Some('‹'),
    Some('Œ'),
    None,
    Some('Ž'),
    None,
    None,
    Some('‘'),
    Some('’'),
    Some('“'),
    Some('”'),
    Some('•'),
    Some('–'),
    Some('—'),
    Some('˜'),
    Some('™'),
    Some('š'),
    Some('›'),
    Some('œ'),
    None,
    Some('ž'),
    Some('Ÿ'),
];

/// Reads a text; `separator` where it is known.
pub(super) fn read(bytes: &[u8], separator: Option<char>) -> Result<Sheet> {
    let decoded = decoded(bytes)?;
    let separator = separator.unwrap_or_else(|| separator_of(&decoded.text));
    let read_as = ReadAs {
        format: "text",
        encoding: Some(decoded.encoding),
        separator: Some(separator),
        ..ReadAs::default()
    };
    let mut sheet = Sheet::new(read_as);
    let mut reader = reader(&decoded.text, separator);
    let mut line = 1;
    for row in reader.records() {
        let row = row.map_err(|error| unreadable(CellAt { line, column: 1 }, error.to_string(), ALLOWED))?;
        line = row.position().map_or(line, |position| position.line() as usize);
        for (number, cell) in row.iter().enumerate() {
            sheet.put_text(CellAt { line, column: number + 1 }, cell)?;
        }
    }
    Ok(sheet)
}

struct Decoded {
    text: String,
    encoding: &'static str,
}

fn decoded(bytes: &[u8]) -> Result<Decoded> {
    let start = CellAt { line: 1, column: 1 };
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(unreadable(start, "text in UTF-16".to_owned(), ALLOWED));
    }
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        let line = bytes[..at].split(|byte| *byte == b'\n').count();
        return Err(unreadable(CellAt { line, column: 1 }, "binary data".to_owned(), ALLOWED));
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Ok(match text.strip_prefix('\u{feff}') {
            Some(text) => Decoded { text: text.to_owned(), encoding: "UTF-8 with its mark" },
            None => Decoded { text: text.to_owned(), encoding: "UTF-8" },
        });
    }
    let (mut text, mut line) = (String::with_capacity(bytes.len()), 1);
    for byte in bytes {
        let letter = match byte {
            0x80..=0x9f => HIGH[usize::from(byte - 0x80)],
            byte => Some(char::from(*byte)),
        };
        let Some(letter) = letter else {
            let found = format!("the byte {byte:#04x}, which is no letter of Windows-1252");
            return Err(unreadable(CellAt { line, column: 1 }, found, ALLOWED));
        };
        line += usize::from(letter == '\n');
        text.push(letter);
    }
    Ok(Decoded { text, encoding: "Windows-1252" })
}

fn reader(text: &str, separator: char) -> csv::Reader<&[u8]> {
    let delimiter = u8::try_from(separator).unwrap_or(b',');
    let mut builder = csv::ReaderBuilder::new();
    builder.has_headers(false).flexible(true).delimiter(delimiter).from_reader(text.as_bytes())
}

fn separator_of(text: &str) -> char {
    let score = |separator: char| {
        let counts = reader(text, separator)
            .into_records()
            .take(JUDGED_LINES)
            .map_while(|row| row.ok().map(|row| row.len()));
        let counts: Vec<usize> = counts.collect();
        let widest = counts.iter().copied().max().unwrap_or(0);
        let alike = |width: usize| counts.iter().filter(|count| **count == width).count();
        // the width that most lines have, if it is more than one cell
        let usual = (2..=widest.min(1000)).map(|width| (alike(width), width)).max().unwrap_or((0, 0));
        usual.0
    };
    let mut best = (0, ',');
    for separator in SEPARATORS {
        let found = score(separator);
        if found > best.0 {
            best = (found, separator);
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::{decoded, read, separator_of};

    #[test]
    fn property_the_separator_is_the_one_that_cuts_evenly() {
        assert_eq!(separator_of("a;b\n1,9;2,0\n1,8;x\n"), ';');
        assert_eq!(separator_of("a\tb\n1,9\t2\n"), '\t');
        assert_eq!(separator_of("a,b\n\"x;y\",2\n"), ',');
        assert_eq!(separator_of("alone\n1\n"), ',');
    }

    #[test]
    fn property_each_byte_is_read_or_refused() {
        assert_eq!(decoded(b"Pr\xfcfer \x80").unwrap().text, "Prüfer €");
        assert_eq!(decoded("\u{feff}ü".as_bytes()).unwrap().text, "ü");
        assert!(
            decoded(b"\xff\xfea\0").is_err() && decoded(b"a\0b").is_err() && decoded(b"\x81\xfc").is_err()
        );
    }

    #[test]
    fn property_bounds_of_a_text_hold() {
        assert!(read("x,".repeat(300).as_bytes(), None).is_err());
        assert!(read(format!("a,b\n{},1\n", "y".repeat(5000)).as_bytes(), None).is_err());
        assert!(read(b"a;\"never closed\n1;2\n", None).is_ok());
    }
}
