//! The files inside a workbook, which is a zip archive: unpacked within bounds, whatever its headers promise.

use crate::error::{Error, Result};
use flate2::read::DeflateDecoder;
use std::io::Read as _;

/// Most bytes of all files of a workbook together when unpacked [bytes].
const UNPACKED_MAX: u64 = 256 << 20;
/// Most files in it [-].
const FILES_MAX: usize = 10_000;
/// Longest end of an archive: its record and a comment [bytes].
const END_MAX: usize = 22 + 65_535;
const ALLOWED: &str = "a workbook (.xlsx, .ods) of at most 256 MiB when unpacked";

/// Where a file stands in an archive.
struct Place {
    name: Vec<u8>,
    is_packed: bool,
    packed: usize,
    header: usize,
}

/// Unpacks every file and drops what comes out: what a reader will unpack later lies within bounds.
pub(super) fn check(bytes: &[u8]) -> Result<()> {
    let mut left = UNPACKED_MAX;
    for place in places(bytes)? {
        left -= unpacked(bytes, &place, left, &mut std::io::sink())?;
    }
    Ok(())
}

/// The content of one file.
pub(super) fn file(bytes: &[u8], name: &str) -> Result<Vec<u8>> {
    let place = places(bytes)?.into_iter().find(|place| place.name == name.as_bytes());
    let place = place.ok_or_else(|| refused(format!("a workbook without {name}")))?;
    let mut content = Vec::new();
    unpacked(bytes, &place, UNPACKED_MAX, &mut content)?;
    Ok(content)
}

/// Whether there is a file of this name.
pub(super) fn has(bytes: &[u8], name: &str) -> Result<bool> {
    Ok(places(bytes)?.iter().any(|place| place.name == name.as_bytes()))
}

fn unpacked(bytes: &[u8], place: &Place, left: u64, into: &mut impl std::io::Write) -> Result<u64> {
    let broken = || refused("a damaged archive".to_owned());
    let lengths = [26, 28].map(|at| number(bytes, place.header + at, 2));
    let [Some(name), Some(extra)] = lengths else { return Err(broken()) };
    let from = place.header + 30 + name + extra;
    let packed = bytes.get(from..from.saturating_add(place.packed)).ok_or_else(broken)?;
    let read = if place.is_packed {
        std::io::copy(&mut DeflateDecoder::new(packed).take(left + 1), into)
    } else {
        std::io::copy(&mut packed.take(left + 1), into)
    };
    match read {
        Ok(read) if read <= left => Ok(read),
        Ok(_) => Err(refused("more than 256 MiB when unpacked".to_owned())),
        Err(_) => Err(broken()),
    }
}

/// The directory at the end of an archive.
fn places(bytes: &[u8]) -> Result<Vec<Place>> {
    let broken = || refused("a damaged archive".to_owned());
    let from = bytes.len().saturating_sub(END_MAX);
    let end = bytes[from..].windows(4).rposition(|four| four == b"PK\x05\x06").ok_or_else(broken)? + from;
    let [Some(count), Some(start)] = [(10, 2), (16, 4)].map(|(at, size)| number(bytes, end + at, size))
    else {
        return Err(broken());
    };
    if count > FILES_MAX {
        return Err(refused(format!("{count} files in one workbook")));
    }
    let (mut at, mut found) = (start, Vec::new());
    for _ in 0..count {
        let field = |offset: usize, size: usize| number(bytes, at + offset, size).ok_or_else(broken);
        let method = field(10, 2)?;
        if bytes.get(at..at + 4) != Some(b"PK\x01\x02") || field(8, 2)? & 1 == 1 || ![0, 8].contains(&method)
        {
            return Err(refused("an archive that is damaged, locked or packed in another way".to_owned()));
        }
        let name_length = field(28, 2)?;
        let name = bytes.get(at + 46..at + 46 + name_length).ok_or_else(broken)?.to_vec();
        let (packed, header) = (field(20, 4)?, field(42, 4)?);
        found.push(Place { name, is_packed: method == 8, packed, header });
        at += 46 + name_length + field(30, 2)? + field(32, 2)?;
    }
    Ok(found)
}

/// A number of `size` bytes, the least significant first.
fn number(bytes: &[u8], at: usize, size: usize) -> Option<usize> {
    let digits = bytes.get(at..at.checked_add(size)?)?;
    Some(digits.iter().rev().fold(0, |sum, byte| (sum << 8) | usize::from(*byte)))
}

fn refused(found: String) -> Error {
    Error::invalid("table", found, ALLOWED)
}
