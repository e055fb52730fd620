//! What stands on the two pages of a letter: sections of paragraphs, lists, tables and pictures.

use serde::Serialize;

/// A document of two pages.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LetterDocument {
    /// Lines of the sender, as given.
    pub letterhead: Vec<String>,
    /// Its heading.
    pub title: String,
    /// Lines under the title.
    pub about: Vec<String>,
    /// Sections of each page.
    pub pages: [Vec<LetterSection>; 2],
    /// What stands at the foot of both pages.
    pub footer: String,
}

/// A heading and what stands beside it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LetterSection {
    /// Heading.
    pub heading: String,
    /// Its content.
    pub blocks: Vec<LetterBlock>,
}

/// A piece of a section.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LetterBlock {
    /// The paragraph that is read first.
    Lead(String),
    /// A paragraph.
    Paragraph(String),
    /// A paragraph in small letters.
    Small(String),
    /// A list.
    List(Vec<String>),
    /// A table.
    Table(LetterTable),
    /// A picture over the whole width.
    Picture(LetterPicture),
}

/// A table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LetterTable {
    /// Columns.
    pub columns: Vec<LetterColumn>,
    /// Rows, each with a cell a column.
    pub rows: Vec<LetterRow>,
}

/// A column.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LetterColumn {
    /// Its name, with the unit.
    pub head: String,
    /// Width against that of the other columns [-].
    pub width: f32,
}

/// A row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LetterRow {
    /// Cells; one alone goes over the whole width.
    pub cells: Vec<String>,
    /// Whether it stands out.
    pub strong: bool,
}

/// A picture.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LetterPicture {
    /// The question it answers.
    pub title: String,
    /// What a reader who cannot see it should know.
    pub description: String,
    /// The picture as SVG.
    #[serde(skip)]
    pub svg: String,
}

impl LetterTable {
    /// A table without rows; columns as name and width [-].
    #[must_use]
    pub fn with_columns(columns: &[(&str, f32)]) -> Self {
        let column = |(head, width): &(&str, f32)| LetterColumn { head: (*head).to_owned(), width: *width };
        Self { columns: columns.iter().map(column).collect(), rows: Vec::new() }
    }

    /// Adds a row.
    pub fn add<const N: usize>(&mut self, cells: [String; N], strong: bool) {
        self.rows.push(LetterRow { cells: cells.into(), strong });
    }
}
