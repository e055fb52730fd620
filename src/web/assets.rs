//! The page's files, carried in the program; there is nothing else to be had under `/`.

use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;

macro_rules! carried {
    ($($name:literal => $kind:literal),* $(,)?) => {
        /// Name, content type and content of each file.
        const FILES: &[(&str, &str, &[u8])] =
            &[$(($name, $kind, include_bytes!(concat!("assets/", $name)))),*];
    };
}

carried! {
    "index.html" => "text/html; charset=utf-8",
    "icon.svg" => "image/svg+xml",
}

/// Address and file of everything the page consists of; the page itself is at the root.
pub(super) fn files() -> impl Iterator<Item = (String, impl IntoResponse + Clone)> {
    FILES.iter().map(|(name, kind, content)| {
        let path = if *name == "index.html" { "/".to_owned() } else { format!("/{name}") };
        (path, ([(CONTENT_TYPE, *kind)], *content))
    })
}
