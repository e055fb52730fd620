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
    "answer.js" => "text/javascript; charset=utf-8",
    "api.js" => "text/javascript; charset=utf-8",
    "app.js" => "text/javascript; charset=utf-8",
    "band.js" => "text/javascript; charset=utf-8",
    "cars.js" => "text/javascript; charset=utf-8",
    "choices.js" => "text/javascript; charset=utf-8",
    "compare.js" => "text/javascript; charset=utf-8",
    "controls.css" => "text/css; charset=utf-8",
    "controls.js" => "text/javascript; charset=utf-8",
    "decide.js" => "text/javascript; charset=utf-8",
    "dots.js" => "text/javascript; charset=utf-8",
    "downloads.js" => "text/javascript; charset=utf-8",
    "due.js" => "text/javascript; charset=utf-8",
    "fields.js" => "text/javascript; charset=utf-8",
    "figure.js" => "text/javascript; charset=utf-8",
    "gradechart.js" => "text/javascript; charset=utf-8",
    "grades.js" => "text/javascript; charset=utf-8",
    "icon.svg" => "image/svg+xml",
    "inspection.js" => "text/javascript; charset=utf-8",
    "look.js" => "text/javascript; charset=utf-8",
    "losses.js" => "text/javascript; charset=utf-8",
    "opened.js" => "text/javascript; charset=utf-8",
    "pictures.css" => "text/css; charset=utf-8",
    "record.js" => "text/javascript; charset=utf-8",
    "style.css" => "text/css; charset=utf-8",
    "svg.js" => "text/javascript; charset=utf-8",
    "units.js" => "text/javascript; charset=utf-8",
    "updated.js" => "text/javascript; charset=utf-8",
    "wet.js" => "text/javascript; charset=utf-8",
    "why.js" => "text/javascript; charset=utf-8",
    "words.js" => "text/javascript; charset=utf-8",
}

/// Address and file of everything the page consists of; the page itself is at the root.
pub(super) fn files() -> impl Iterator<Item = (String, impl IntoResponse + Clone)> {
    FILES.iter().map(|(name, kind, content)| {
        let path = if *name == "index.html" { "/".to_owned() } else { format!("/{name}") };
        (path, ([(CONTENT_TYPE, *kind)], *content))
    })
}
