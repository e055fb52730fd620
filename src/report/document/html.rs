//! The document as one HTML file: its own style and pictures inside, no script, nothing fetched.

use crate::report::palette::follow_dark;

use super::content::{LetterBlock, LetterColumn, LetterDocument, LetterSection, LetterTable};

const STYLE: &str = include_str!("letter.css");

/// The document as HTML, ending in a line break.
#[must_use]
pub fn html(document: &LetterDocument) -> String {
    html_with(document, "")
}

/// The same with more, already HTML, before the footer.
#[must_use]
pub(crate) fn html_with(document: &LetterDocument, more: &str) -> String {
    let title = escaped(&document.title);
    let lines = |lines: &[String]| lines.iter().map(|line| escaped(line)).collect::<Vec<_>>().join("<br>\n");
    let letterhead = match document.letterhead.as_slice() {
        [] => String::new(),
        given => format!("<p class=\"letterhead\">{}</p>\n", lines(given)),
    };
    let pages = document
        .pages
        .each_ref()
        .map(|sections| format!("<div class=\"page\">\n{}</div>\n", joined(sections.iter().map(section))));
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n\
         <style>\n{STYLE}{}</style>\n</head>\n<body>\n<main>\n<header>\n{letterhead}<h1>{title}</h1>\n\
         <p class=\"about\">{}</p>\n</header>\n{}{more}<footer><p>{}</p></footer>\n</main>\n</body>\n</html>\n",
        follow_dark(""),
        lines(&document.about),
        pages.concat(),
        escaped(&document.footer)
    )
}

fn section(section: &LetterSection) -> String {
    let blocks = joined(section.blocks.iter().map(block));
    format!("<section>\n<h2>{}</h2>\n{blocks}</section>\n", escaped(&section.heading))
}

fn block(block: &LetterBlock) -> String {
    match block {
        LetterBlock::Lead(words) => format!("<p class=\"lead\">{}</p>\n", escaped(words)),
        LetterBlock::Paragraph(words) => format!("<p>{}</p>\n", escaped(words)),
        LetterBlock::Small(words) => format!("<p class=\"small\">{}</p>\n", escaped(words)),
        LetterBlock::List(items) => {
            let items = joined(items.iter().map(|item| format!("<li>{}</li>\n", escaped(item))));
            format!("<ul>\n{items}</ul>\n")
        }
        LetterBlock::Table(table) => of_table(table),
        LetterBlock::Picture(picture) => format!(
            "<figure>\n<figcaption>{}</figcaption>\n<div class=\"wide\" tabindex=\"0\" role=\"group\" \
             aria-label=\"{}\">\n{}</div>\n</figure>\n",
            escaped(&picture.title),
            escaped(&picture.description),
            picture.svg
        ),
    }
}

fn of_table(table: &LetterTable) -> String {
    let heads = joined(
        table.columns.iter().map(|column| format!("<th scope=\"col\">{}</th>", escaped(&column.head))),
    );
    let rows = table.rows.iter().map(|row| {
        let span = if row.cells.len() == 1 { table.columns.len() } else { 1 };
        // the name of the column stands before the cell where a narrow page has no room for a table
        let cell = |(cell, column): (&String, &LetterColumn)| {
            let head = if span > 1 { String::new() } else { escaped(&column.head) };
            format!("<td colspan=\"{span}\" data-head=\"{head}\">{}</td>", escaped(cell))
        };
        let cells = joined(row.cells.iter().zip(&table.columns).map(cell));
        let class = if row.strong { " class=\"strong\"" } else { "" };
        format!("<tr{class}>{cells}</tr>\n")
    });
    let rows = joined(rows);
    format!("<table>\n<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n")
}

/// Parts one after the other.
pub(crate) fn joined(parts: impl Iterator<Item = String>) -> String {
    parts.collect::<Vec<_>>().concat()
}

/// Text as text, whatever it holds; letters that no page may hold are left out.
pub(crate) fn escaped(words: &str) -> String {
    let mut text = String::with_capacity(words.len());
    for letter in words.chars() {
        match letter {
            '&' => text.push_str("&amp;"),
            '<' => text.push_str("&lt;"),
            '>' => text.push_str("&gt;"),
            '"' => text.push_str("&quot;"),
            '\'' => text.push_str("&#39;"),
            letter if letter.is_control() => text.push(' '),
            letter => text.push(letter),
        }
    }
    text
}
