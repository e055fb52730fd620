//! What stands on the two pages of a letter, before anything is said about ink: sections, paragraphs, tables, pictures.
//!
//! [`html`] and [`pdf`] write the same document; [`fitted`] finds how much of it two pages hold.

pub mod html;
pub mod pdf;

mod layout;
mod measure;

use crate::error::{Error, Result};
use serde::Serialize;

/// Sizes that are tried, as a share of the usual ones: of letters, the least giving text of 8 points, and of pictures [-].
const LETTERS: [f32; 4] = [1.0, 0.96, 0.92, 0.88];
const PICTURES: [f32; 6] = [1.0, 0.94, 0.88, 0.8, 0.72, 0.62];

/// Size of letters and of pictures as a share of the usual ones [-].
#[derive(Debug, Clone, Copy, PartialEq)]
struct Size {
    letters: f32,
    pictures: f32,
}

/// A document of two pages.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Document {
    /// Lines of the sender, as given.
    pub letterhead: Vec<String>,
    /// What it is about.
    pub title: String,
    /// Lines under the title.
    pub about: Vec<String>,
    /// Sections of each page.
    pub pages: [Vec<Section>; 2],
    /// What stands at the foot of both pages.
    pub footer: String,
}

/// A heading and what stands beside it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Section {
    /// Heading.
    pub heading: String,
    /// What it heads.
    pub blocks: Vec<Block>,
}

/// A piece of a section.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Block {
    /// The paragraph that is read first.
    Lead(String),
    /// A paragraph.
    Paragraph(String),
    /// A paragraph in small letters.
    Small(String),
    /// A list.
    List(Vec<String>),
    /// A table.
    Table(Table),
    /// A picture over the whole width.
    Picture(Picture),
}

/// A table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Table {
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows, each with a cell a column.
    pub rows: Vec<Row>,
}

/// A column.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Column {
    /// Its name, with the unit.
    pub head: String,
    /// Width against that of the other columns [-].
    pub width: f32,
}

/// A row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Cells; one alone goes over the whole width.
    pub cells: Vec<String>,
    /// Whether it stands out.
    pub strong: bool,
}

/// A picture.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Picture {
    /// What it asks.
    pub title: String,
    /// What a reader who cannot see it should know.
    pub description: String,
    /// The picture as SVG.
    #[serde(skip)]
    pub svg: String,
}

impl Table {
    /// A table without rows; columns as name and width [-].
    #[must_use]
    pub fn with_columns(columns: &[(&str, f32)]) -> Self {
        let column = |(head, width): &(&str, f32)| Column { head: (*head).to_owned(), width: *width };
        Self { columns: columns.iter().map(column).collect(), rows: Vec::new() }
    }

    /// Adds a row.
    pub fn add<const N: usize>(&mut self, cells: [String; N], strong: bool) {
        self.rows.push(Row { cells: cells.into(), strong });
    }
}

/// A document and the sizes at which two pages hold it.
#[derive(Debug, Clone)]
pub struct Fitted {
    /// The document.
    pub document: Document,
    size: Size,
}

/// The first of several versions that two pages hold, each tried at all sizes, the fullest version first.
///
/// # Errors
/// Those of `versions`; [`Error::Invalid`] where not even the last one fits.
pub fn fitted(versions: impl IntoIterator<Item = Result<Document>>) -> Result<Fitted> {
    for version in versions {
        let document = version?;
        for letters in LETTERS {
            for pictures in PICTURES {
                let size = Size { letters, pictures };
                if layout::fits(&document, size)? {
                    return Ok(Fitted { document, size });
                }
            }
        }
    }
    Err(Error::invalid("letter", "more than two pages", "text that fits two pages of A4"))
}
