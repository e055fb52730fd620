//! How a file carries its provenance: JSON as an object, SVG as metadata, PNG as a text chunk, HTML as a `meta` element.

use super::Provenance;
use flate2::Crc;
use serde_json::Value;

/// Key of the object, name of the element, keyword of the chunk.
const KEY: &str = "provenance";
const SVG_AFTER: &str = "</desc>";
const SVG_START: &str = "<metadata>";
const SVG_END: &str = "</metadata>";
const HTML_AFTER: &str = "<meta charset=\"utf-8\">";
const HTML_START: &str = "<meta name=\"provenance\" content=\"";
const HTML_END: &str = "\">";
/// Signature and first chunk of a PNG [bytes], PNG 3rd edition, 5.2 and 11.2.1.
const PNG_HEAD: usize = 33;
const PNG_SIGNATURE: &[u8] = b"\x89PNG\r\n\x1a\n";
/// Type of a chunk of international text, 11.3.3.4, with what stands before the text: not compressed, no language, keyword
/// not translated.
const PNG_TYPE: &[u8] = b"iTXt";
const PNG_BEFORE: &[u8] = b"provenance\0\0\0\0\0";

/// A file with its provenance, where its kind can carry one: pictures and pages; JSON has it already, tables have none.
#[must_use]
pub fn marked(name: &str, bytes: Vec<u8>, provenance: &Provenance) -> Vec<u8> {
    let line = provenance.of_file(name).to_line();
    let text = || std::str::from_utf8(&bytes).unwrap_or_default();
    let after = |place: &str, mark: String| match text().split_once(place) {
        Some((before, rest)) => [before, place, &mark, rest].concat().into_bytes(),
        None => bytes.clone(),
    };
    match name.rsplit_once('.').map_or("", |(_, end)| end) {
        "svg" => after(SVG_AFTER, format!("{SVG_START}{}{SVG_END}", escaped(&line))),
        "html" => after(HTML_AFTER, format!("{HTML_START}{}{HTML_END}", escaped(&line))),
        "png" => with_chunk(&bytes, &line),
        _ => bytes,
    }
}

/// The provenance that a file carries.
#[must_use]
pub fn found_in(bytes: &[u8]) -> Option<Provenance> {
    if bytes.starts_with(PNG_SIGNATURE) {
        let (start, length) = chunk(bytes)?;
        return serde_json::from_slice(bytes.get(start + 8 + PNG_BEFORE.len()..start + 8 + length)?).ok();
    }
    let text = std::str::from_utf8(bytes).ok()?;
    if text.starts_with('{') {
        let mut answer: Value = serde_json::from_str(text).ok()?;
        return serde_json::from_value(answer.get_mut(KEY)?.take()).ok();
    }
    let within = |start: &str, end: &str| Some(text.split_once(start)?.1.split_once(end)?.0);
    let written = within(SVG_START, SVG_END).or_else(|| within(HTML_START, HTML_END))?;
    serde_json::from_str(&plain(written)).ok()
}

/// A file without its provenance, to be held against another: JSON loses the object, others the mark.
#[must_use]
pub fn without(bytes: &[u8]) -> Vec<u8> {
    if let Some((start, length)) = chunk(bytes) {
        return [&bytes[..start], &bytes[start + length + 12..]].concat();
    }
    let Ok(text) = std::str::from_utf8(bytes) else { return bytes.to_vec() };
    for (start, end) in [(SVG_START, SVG_END), (HTML_START, HTML_END)] {
        if let Some((before, (_, after))) =
            text.split_once(start).and_then(|(before, rest)| Some((before, rest.split_once(end)?)))
        {
            return [before, after].concat().into_bytes();
        }
    }
    bytes.to_vec()
}

/// Start and length of the data of the chunk with the provenance [bytes].
fn chunk(bytes: &[u8]) -> Option<(usize, usize)> {
    bytes.strip_prefix(PNG_SIGNATURE)?;
    let mut at = PNG_HEAD;
    loop {
        let length: [u8; 4] = bytes.get(at..at + 4)?.try_into().ok()?;
        let length = u32::from_be_bytes(length) as usize;
        let data = bytes.get(at + 4..at + 8 + length)?;
        bytes.get(at + 8 + length..at + 12 + length)?;
        if data.strip_prefix(PNG_TYPE).is_some_and(|data| data.starts_with(PNG_BEFORE)) {
            return Some((at, length));
        }
        at += 12 + length;
    }
}

/// The chunk stands right behind the first one, before the pixels.
fn with_chunk(png: &[u8], line: &str) -> Vec<u8> {
    if !png.starts_with(PNG_SIGNATURE) || png.len() < PNG_HEAD {
        return png.to_vec();
    }
    let data = [PNG_BEFORE, line.as_bytes()].concat();
    let mut sum = Crc::new();
    sum.update(PNG_TYPE);
    sum.update(&data);
    let length = (data.len() as u32).to_be_bytes();
    let (head, rest) = png.split_at(PNG_HEAD);
    [head, &length, PNG_TYPE, &data, &sum.sum().to_be_bytes(), rest].concat()
}

fn escaped(words: &str) -> String {
    words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

fn plain(words: &str) -> String {
    words.replace("&quot;", "\"").replace("&gt;", ">").replace("&lt;", "<").replace("&amp;", "&")
}

#[cfg(test)]
mod tests {
    use super::{PNG_SIGNATURE, Provenance, found_in, marked, without};

    fn provenance() -> Provenance {
        let command = ["forecast", "a & \"b\" <c>.toml"].map(str::to_owned).to_vec();
        Provenance { command, ..Provenance::of_this_program() }
    }

    /// CRC-32 of an empty last chunk, PNG 3rd edition: `IEND` has AE 42 60 82.
    #[test]
    fn published_sum_of_the_last_chunk() {
        let mut sum = flate2::Crc::new();
        sum.update(b"IEND");
        assert_eq!(sum.sum(), 0xae42_6082);
    }

    #[test]
    fn property_a_mark_is_found_and_taken_out_again() {
        let png = [PNG_SIGNATURE, &[0, 0, 0, 13], b"IHDR", &[7; 17], &[0, 0, 0, 0], b"IEND", &[1, 2, 3, 4]];
        let files = [
            ("a.svg", b"<svg><title>t</title>\n<desc>d</desc><g/></svg>".to_vec()),
            ("a.html", b"<head>\n<meta charset=\"utf-8\">\n<title>t</title></head>".to_vec()),
            ("a.png", png.concat()),
        ];
        for (name, bytes) in files {
            assert!(found_in(&bytes).is_none(), "{name}");
            let written = marked(name, bytes.clone(), &provenance());
            assert_eq!(found_in(&written), Some(provenance().of_file(name)), "{name}");
            assert_eq!(without(&written), bytes, "{name}");
        }
        assert_eq!(marked("a.csv", b"x".to_vec(), &provenance()), b"x");
    }
}
