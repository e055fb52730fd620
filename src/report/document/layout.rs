//! Where does everything stand on two pages of A4? Headings in a column of their own at the left, text beside them.
//!
//! Lengths are points of 1/72 inch from the upper left corner of the page.

use super::content::{LetterBlock, LetterDocument, LetterPicture, LetterSection, LetterTable};
use super::measure::{Font, lines, width};
use crate::error::{Error, Result};
use crate::report::picture::parsed;

/// A4, ISO 216: 210 mm by 297 mm [pt].
pub(super) const PAGE: Extent = Extent { width: 595.28, height: 841.89 };
const LEFT: f32 = 51.0;
const RIGHT: f32 = PAGE.width - LEFT;
const TOP: f32 = 40.0;
/// Lowest edge of text above the footer, and upper edge of the footer.
const BOTTOM: f32 = PAGE.height - 52.0;
const FOOT: f32 = PAGE.height - 36.0;
/// Left edge of text beside its heading, and width of the heading.
const BODY: f32 = LEFT + 96.0;
const SIDE: f32 = 86.0;
/// Sizes of letters.
const TEXT: f32 = 9.0;
const LEAD: f32 = 10.5;
const SMALL: f32 = 7.6;
const FOOTER: f32 = 6.8;
/// Line height over size, and height of a letter over its baseline.
const LEADING: f32 = 1.36;
const ASCENT: f32 = 0.93;

/// Size of letters and of pictures as a share of the usual ones [-].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LetterScale {
    pub(super) letters: f32,
    pub(super) pictures: f32,
}

/// A place on a page, from its upper left corner [pt].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Position {
    pub(super) x: f32,
    pub(super) y: f32,
}

/// Width and height [pt].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extent {
    pub(super) width: f32,
    pub(super) height: f32,
}

/// How words look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TextStyle {
    pub(super) size: f32,
    pub(super) bold: bool,
    pub(super) muted: bool,
}

impl TextStyle {
    fn font(self) -> Font {
        Font { size: self.size, bold: self.bold }
    }
}

/// Something drawn at a place.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum PageMark {
    /// A line of words.
    Words {
        /// Start of its baseline.
        at: Position,
        style: TextStyle,
        words: String,
    },
    /// A thin line to the right.
    Rule { from: Position, length: f32, light: bool },
    /// An SVG.
    Picture {
        /// Its upper left corner.
        at: Position,
        extent: Extent,
        svg: String,
    },
}

/// What a part of a page is to a reader who hears it.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum PartRole {
    Title,
    Heading,
    Paragraph,
    List,
    Item,
    Table,
    Row,
    Head,
    Cell,
    /// A picture with its description.
    Figure(String),
    /// Nothing that is read out.
    Ornament,
}

/// A part of a page: marks, or smaller parts.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PagePart {
    pub(super) role: PartRole,
    pub(super) marks: Vec<PageMark>,
    pub(super) parts: Vec<PagePart>,
}

/// Whether both pages hold the document.
pub(super) fn fits(document: &LetterDocument, scale: LetterScale) -> Result<bool> {
    Ok((0..2)
        .map(|page| Ok(flow(document, page, scale)?.y <= BOTTOM))
        .collect::<Result<Vec<bool>>>()?
        .into_iter()
        .all(|fits| fits))
}

/// The parts of a page in reading order.
pub(super) fn page(document: &LetterDocument, page: usize, scale: LetterScale) -> Result<Vec<PagePart>> {
    let mut flow = flow(document, page, scale)?;
    flow.footer(&document.footer, page)?;
    Ok(flow.parts)
}

/// A page as far as it is written.
struct PageFlow {
    /// Upper edge of what comes next [pt].
    y: f32,
    scale: LetterScale,
    parts: Vec<PagePart>,
}

/// A column of text.
#[derive(Clone, Copy)]
struct TextColumn {
    /// Left edge [pt].
    left: f32,
    width: f32,
}

impl TextColumn {
    /// From a left edge to the right margin.
    const fn from(left: f32) -> Self {
        Self { left, width: RIGHT - left }
    }
}

/// How words look and what they are to a reader who hears them.
#[derive(Clone)]
struct TextRole {
    style: TextStyle,
    role: PartRole,
}

/// A part of a page and its lower edge [pt].
struct SetText {
    part: PagePart,
    end: f32,
}

fn flow(document: &LetterDocument, page: usize, scale: LetterScale) -> Result<PageFlow> {
    let mut flow = PageFlow { y: TOP, scale, parts: Vec::new() };
    if page == 0 {
        flow.opening(document)?;
    }
    for section in document.pages.get(page).into_iter().flatten() {
        flow.section(section)?;
    }
    Ok(flow)
}

fn leaf(role: PartRole, marks: Vec<PageMark>) -> PagePart {
    PagePart { role, marks, parts: Vec::new() }
}

/// Words broken into lines from a place down.
fn set_text(top: f32, column: TextColumn, looks: TextRole, words: &str) -> Result<SetText> {
    let TextRole { style, role } = looks;
    let mut baseline = top + ASCENT * style.size;
    let mut marks = Vec::new();
    for words in lines(words, style.font(), column.width)? {
        marks.push(PageMark::Words { at: Position { x: column.left, y: baseline }, style, words });
        baseline += LEADING * style.size;
    }
    let end = top + marks.len() as f32 * LEADING * style.size;
    Ok(SetText { part: leaf(role, marks), end })
}

impl PageFlow {
    fn style(&self, size: f32) -> TextStyle {
        TextStyle { size: size * self.scale.letters, bold: false, muted: false }
    }

    fn gap(&mut self, points: f32) {
        self.y += points * self.scale.letters;
    }

    /// Words in the column of a left edge.
    fn write(&mut self, left: f32, style: TextStyle, role: PartRole, words: &str) -> Result<()> {
        let SetText { part, end } =
            set_text(self.y, TextColumn::from(left), TextRole { style, role }, words)?;
        self.parts.push(part);
        self.y = end;
        Ok(())
    }

    fn rule(&mut self, left: f32, light: bool) {
        let from = Position { x: left, y: self.y };
        self.parts.push(leaf(PartRole::Ornament, vec![PageMark::Rule { from, length: RIGHT - left, light }]));
    }

    /// Letterhead, title and the lines under it.
    fn opening(&mut self, document: &LetterDocument) -> Result<()> {
        for (number, line) in document.letterhead.iter().enumerate() {
            let style = TextStyle { bold: number == 0, muted: number > 0, ..self.style(TEXT) };
            self.write(LEFT, style, PartRole::Paragraph, line)?;
        }
        if !document.letterhead.is_empty() {
            self.gap(5.0);
            self.rule(LEFT, false);
            self.gap(9.0);
        }
        let title = TextStyle { bold: true, ..self.style(15.0) };
        self.write(LEFT, title, PartRole::Title, &document.title)?;
        self.gap(2.0);
        for line in &document.about {
            let style = TextStyle { muted: true, ..self.style(TEXT) };
            self.write(LEFT, style, PartRole::Paragraph, line)?;
        }
        self.gap(7.0);
        Ok(())
    }

    fn section(&mut self, section: &LetterSection) -> Result<()> {
        if self.y > TOP {
            self.rule(LEFT, false);
            self.gap(6.0);
        }
        let style = TextStyle { bold: true, ..self.style(TEXT) };
        let side = TextColumn { left: LEFT, width: SIDE };
        let looks = TextRole { style, role: PartRole::Heading };
        let heading = set_text(self.y, side, looks, &section.heading)?;
        self.parts.push(heading.part);
        for (number, block) in section.blocks.iter().enumerate() {
            if number > 0 {
                self.gap(4.0);
            }
            if matches!(block, LetterBlock::Picture(_)) {
                self.y = self.y.max(heading.end);
            }
            self.block(block)?;
        }
        self.y = self.y.max(heading.end);
        self.gap(7.0);
        Ok(())
    }

    fn block(&mut self, block: &LetterBlock) -> Result<()> {
        match block {
            LetterBlock::Lead(words) => self.write(BODY, self.style(LEAD), PartRole::Paragraph, words),
            LetterBlock::Paragraph(words) => self.write(BODY, self.style(TEXT), PartRole::Paragraph, words),
            LetterBlock::Small(words) => {
                let style = TextStyle { muted: true, ..self.style(SMALL) };
                self.write(BODY, style, PartRole::Paragraph, words)
            }
            LetterBlock::List(items) => self.list(items),
            LetterBlock::Table(table) => self.table(table),
            LetterBlock::Picture(picture) => self.picture(picture),
        }
    }

    fn list(&mut self, items: &[String]) -> Result<()> {
        let style = self.style(TEXT);
        let column = TextColumn::from(BODY + 10.0 * self.scale.letters);
        let mut parts = Vec::new();
        for item in items {
            let at = Position { x: BODY, y: self.y + ASCENT * style.size };
            let bullet = PageMark::Words { at, style, words: "•".to_owned() };
            let SetText { mut part, end } =
                set_text(self.y, column, TextRole { style, role: PartRole::Item }, item)?;
            part.marks.insert(0, bullet);
            parts.push(part);
            self.y = end;
            self.gap(1.0);
        }
        self.parts.push(PagePart { role: PartRole::List, marks: Vec::new(), parts });
        Ok(())
    }

    fn table(&mut self, table: &LetterTable) -> Result<()> {
        let heads: Vec<String> = table.columns.iter().map(|column| column.head.clone()).collect();
        let style = TextStyle { muted: true, ..self.style(SMALL) };
        let mut rows = vec![self.row(table, &heads, &TextRole { style, role: PartRole::Head })?];
        for row in &table.rows {
            self.rule(BODY, true);
            self.gap(1.6);
            let style = TextStyle { bold: row.strong, ..self.style(TEXT - 0.6) };
            rows.push(self.row(table, &row.cells, &TextRole { style, role: PartRole::Cell })?);
        }
        self.parts.push(PagePart { role: PartRole::Table, marks: Vec::new(), parts: rows });
        Ok(())
    }

    fn row(&mut self, table: &LetterTable, cells: &[String], looks: &TextRole) -> Result<PagePart> {
        let all: f32 = table.columns.iter().map(|column| column.width).sum();
        let (mut left, mut end) = (BODY, self.y);
        let mut parts = Vec::new();
        for (cell, column) in cells.iter().zip(&table.columns) {
            let share = if cells.len() == 1 { 1.0 } else { column.width / all };
            let room = share * (RIGHT - BODY);
            let set = set_text(self.y, TextColumn { left, width: room - 6.0 }, looks.clone(), cell)?;
            parts.push(set.part);
            (left, end) = (left + room, end.max(set.end));
        }
        self.y = end;
        self.gap(1.6);
        Ok(PagePart { role: PartRole::Row, marks: Vec::new(), parts })
    }

    fn picture(&mut self, picture: &LetterPicture) -> Result<()> {
        let style = TextStyle { bold: true, ..self.style(TEXT) };
        self.write(LEFT, style, PartRole::Paragraph, &picture.title)?;
        self.gap(2.0);
        let drawn = parsed(&picture.svg)?.size();
        let width = (RIGHT - LEFT) * self.scale.pictures;
        let extent = Extent { width, height: width * drawn.height() / drawn.width() };
        let at = Position { x: LEFT, y: self.y };
        let mark = PageMark::Picture { at, extent, svg: picture.svg.clone() };
        self.parts.push(leaf(PartRole::Figure(picture.description.clone()), vec![mark]));
        self.y += extent.height;
        Ok(())
    }

    /// At the foot; its size does not change with that of the text.
    fn footer(&mut self, words: &str, page: usize) -> Result<()> {
        let style = TextStyle { size: FOOTER, bold: false, muted: true };
        let number = format!("page {} of 2", page + 1);
        let room = width(&number, style.font())?;
        let column = TextColumn { left: LEFT, width: RIGHT - LEFT - room - 20.0 };
        let SetText { mut part, end } =
            set_text(FOOT, column, TextRole { style, role: PartRole::Ornament }, words)?;
        if end > PAGE.height - 8.0 {
            return Err(Error::invalid("footer", format!("{} letters", words.len()), "at most three lines"));
        }
        let at = Position { x: RIGHT - room, y: FOOT + ASCENT * FOOTER };
        part.marks.push(PageMark::Words { at, style, words: number });
        let from = Position { x: LEFT, y: FOOT - 5.0 };
        part.marks.push(PageMark::Rule { from, length: RIGHT - LEFT, light: false });
        self.parts.push(part);
        Ok(())
    }
}
