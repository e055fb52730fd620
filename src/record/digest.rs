//! One short text that stands for many bytes: SHA-256, in hexadecimal digits.

use sha2::{Digest as _, Sha256};

/// Digest of parts in their order; where one part ends and the next begins counts too.
pub(crate) fn digest<'a>(parts: impl IntoIterator<Item = &'a [u8]>) -> String {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update((part.len() as u64).to_le_bytes());
        hash.update(part);
    }
    hash.finalize().iter().fold(String::new(), |digits, byte| digits + &format!("{byte:02x}"))
}

#[cfg(test)]
mod tests {
    use super::digest;

    #[test]
    fn published_digest_of_abc() {
        // FIPS 180-4, example of SHA-256 for "abc", behind its length in eight bytes it is another
        let plain =
            sha2::Digest::finalize(sha2::Digest::chain_update(<sha2::Sha256 as sha2::Digest>::new(), b"abc"));
        assert_eq!(plain[..4], [0xba, 0x78, 0x16, 0xbf]);
        assert_ne!(digest([&b"ab"[..], b"c"]), digest([&b"a"[..], b"bc"]));
        assert_eq!(digest([&b"abc"[..]]), digest([&b"abc"[..]]));
    }
}
