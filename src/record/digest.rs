//! One short text that stands for many bytes: SHA-256, in hexadecimal digits.

use sha2::{Digest as _, Sha256};

/// Bytes of a file read at a time [-].
const READ_AT_ONCE: usize = 1 << 16;

/// Digest of parts in their order; where one part ends and the next begins counts too.
pub(crate) fn digest<'a>(parts: impl IntoIterator<Item = &'a [u8]>) -> String {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update((part.len() as u64).to_le_bytes());
        hash.update(part);
    }
    hexadecimal(hash)
}

/// SHA-256 of the bytes of a file, as any other program computes it.
pub(crate) fn file_digest(bytes: &[u8]) -> String {
    hexadecimal(Sha256::new_with_prefix(bytes))
}

/// The same of a file that is too large to hold.
pub(crate) fn stream_digest(mut file: impl std::io::Read) -> std::io::Result<String> {
    let (mut hash, mut bytes) = (Sha256::new(), vec![0; READ_AT_ONCE]);
    loop {
        match file.read(&mut bytes)? {
            0 => return Ok(hexadecimal(hash)),
            read => hash.update(&bytes[..read]),
        }
    }
}

fn hexadecimal(hash: Sha256) -> String {
    hash.finalize().iter().fold(String::new(), |digits, byte| digits + &format!("{byte:02x}"))
}

/// Key of a computation that can be carried on: the version of the program and all that goes in.
pub(crate) fn question_key(parts: impl IntoIterator<Item = String>) -> String {
    let parts: Vec<String> = std::iter::once(env!("CARGO_PKG_VERSION").to_owned()).chain(parts).collect();
    digest(parts.iter().map(String::as_bytes))
}

#[cfg(test)]
mod tests {
    use super::{digest, file_digest, stream_digest};

    /// FIPS 180-4, SHA-256 of the empty message.
    #[test]
    fn published_digest_of_nothing() {
        let published = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        assert_eq!(digest([]), published);
        assert_eq!(file_digest(b""), published);
        // the same standard, one block
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(file_digest(b"abc"), abc);
        assert_eq!(stream_digest(&b"abc"[..]).unwrap(), abc);
    }

    #[test]
    fn property_where_a_part_ends_counts() {
        assert_ne!(digest([&b"ab"[..], b"c"]), digest([&b"a"[..], b"bc"]));
        assert_eq!(digest([&b"abc"[..]]), digest([&b"abc"[..]]));
    }
}
