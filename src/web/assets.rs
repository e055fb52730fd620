//! The page's files, compiled in; the server has no others.

use crate::report::palette::follow_dark;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;

macro_rules! compiled_in {
    ($($name:literal),* $(,)?) => {
        /// Name and content of each file.
        const FILES: &[(&str, &[u8])] = &[$(($name, include_bytes!(concat!("assets/", $name)))),*];
    };
}

compiled_in! {
    "index.html",
    "api.js",
    "app.js",
    "car.js",
    "cars.js",
    "changes.js",
    "choices.js",
    "compare.js",
    "controls.css",
    "controls.js",
    "decide.js",
    "downloads.js",
    "due.js",
    "entry.js",
    "fields.js",
    "figure.js",
    "form.js",
    "history.js",
    "icon.svg",
    "importtable.js",
    "levels.js",
    "newcar.js",
    "opened.js",
    "pictures.css",
    "pictures.js",
    "problems.js",
    "reading.js",
    "record.js",
    "style.css",
    "theme.js",
    "units.js",
    "visit.js",
    "why.js",
    "words.js",
}

/// Address and file of everything the page consists of; the page itself is at the root. The colours of the pictures are
/// those of the library.
pub(super) fn files() -> impl Iterator<Item = (String, impl IntoResponse + Clone)> {
    let compiled_in = FILES.iter().map(|(name, content)| (*name, content.to_vec()));
    compiled_in.chain([("palette.css", follow_dark("").into_bytes())]).map(|(name, content)| {
        let path = if name == "index.html" { "/".to_owned() } else { format!("/{name}") };
        (path, ([(CONTENT_TYPE, content_type(name))], content))
    })
}

fn content_type(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("html") => "text/html; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("svg") => "image/svg+xml",
        _ => "text/javascript; charset=utf-8",
    }
}
