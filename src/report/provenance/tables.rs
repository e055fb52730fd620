//! One digest of all tables that are compiled in.

use crate::record::file_digest;
use crate::reference::TABLES;
use std::sync::OnceLock;

/// SHA-256 of the list of all tables with the SHA-256 of each, as `sha256sum` prints it, in the order of their names.
pub fn tables_sha256() -> &'static str {
    static DIGEST: OnceLock<String> = OnceLock::new();
    DIGEST.get_or_init(|| {
        let mut tables = TABLES.to_vec();
        tables.sort_unstable();
        let lines = tables.iter().map(|(name, text)| format!("{}  {name}\n", file_digest(text.as_bytes())));
        file_digest(lines.collect::<String>().as_bytes())
    })
}
