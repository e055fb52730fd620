//! Where does everything stand on two pages of A4? Headings in a column of their own at the left, text beside them.
//!
//! Lengths are points of 1/72 inch from the upper left corner of the page.

use super::measure::{lines, width};
use super::{Block, Document, Picture, Section, Size, Table};
use crate::error::{Error, Result};
use crate::report::picture::parsed;

/// A4, ISO 216: 210 mm by 297 mm [pt].
pub(super) const PAGE: (f32, f32) = (595.28, 841.89);
const LEFT: f32 = 51.0;
const RIGHT: f32 = PAGE.0 - LEFT;
const TOP: f32 = 40.0;
/// Lowest place of text above the footer, and the footer's first baseline.
const BOTTOM: f32 = PAGE.1 - 52.0;
const FOOT: f32 = PAGE.1 - 36.0;
/// Where text stands beside its heading, and the room of the heading.
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

/// How words look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    pub(super) size: f32,
    pub(super) bold: bool,
    pub(super) muted: bool,
}

/// Something with a place.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Mark {
    /// A line of words by the start of its baseline.
    Words((f32, f32), Style, String),
    /// A thin line to the right, its length, and whether it is light.
    Rule((f32, f32), f32, bool),
    /// An SVG by its upper left corner, with its size.
    Picture((f32, f32), (f32, f32), String),
}

/// What a part of a page is to a reader who hears it.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Role {
    Title,
    Heading,
    Paragraph,
    List,
    Item,
    Table,
    Row,
    Head,
    Cell,
    /// With its description.
    Figure(String),
    /// Nothing: ornament.
    Ornament,
}

/// A part of a page: marks, or smaller parts.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Part {
    pub(super) role: Role,
    pub(super) marks: Vec<Mark>,
    pub(super) parts: Vec<Part>,
}

/// Whether both pages hold the document.
pub(super) fn fits(document: &Document, size: Size) -> Result<bool> {
    Ok((0..2)
        .map(|page| Ok(flow(document, page, size)?.y <= BOTTOM))
        .collect::<Result<Vec<bool>>>()?
        .into_iter()
        .all(|fits| fits))
}

/// The parts of a page in reading order.
pub(super) fn page(document: &Document, page: usize, size: Size) -> Result<Vec<Part>> {
    let mut flow = flow(document, page, size)?;
    flow.footer(&document.footer, page)?;
    Ok(flow.parts)
}

/// A page as far as it is written.
struct Flow {
    /// Upper edge of what comes next.
    y: f32,
    size: Size,
    parts: Vec<Part>,
}

fn flow(document: &Document, page: usize, size: Size) -> Result<Flow> {
    let mut flow = Flow { y: TOP, size, parts: Vec::new() };
    if page == 0 {
        flow.opening(document)?;
    }
    for section in document.pages.get(page).into_iter().flatten() {
        flow.section(section)?;
    }
    Ok(flow)
}

fn leaf(role: Role, marks: Vec<Mark>) -> Part {
    Part { role, marks, parts: Vec::new() }
}

impl Flow {
    fn style(&self, size: f32) -> Style {
        Style { size: size * self.size.letters, bold: false, muted: false }
    }

    fn gap(&mut self, points: f32) {
        self.y += points * self.size.letters;
    }

    /// Words broken into lines from a place down; the part and its lower edge.
    fn text(
        (left, top): (f32, f32),
        room: f32,
        (style, role): (Style, Role),
        words: &str,
    ) -> Result<(Part, f32)> {
        let mut baseline = top + ASCENT * style.size;
        let mut marks = Vec::new();
        for line in lines(words, (style.size, style.bold), room)? {
            marks.push(Mark::Words((left, baseline), style, line));
            baseline += LEADING * style.size;
        }
        let end = top + marks.len() as f32 * LEADING * style.size;
        Ok((leaf(role, marks), end))
    }

    /// A paragraph in the column of a left edge.
    fn write(&mut self, left: f32, (style, role): (Style, Role), words: &str) -> Result<()> {
        let (part, end) = Self::text((left, self.y), RIGHT - left, (style, role), words)?;
        self.parts.push(part);
        self.y = end;
        Ok(())
    }

    fn rule(&mut self) {
        self.parts.push(leaf(Role::Ornament, vec![Mark::Rule((LEFT, self.y), RIGHT - LEFT, false)]));
    }

    /// Letterhead, title and what it is about.
    fn opening(&mut self, document: &Document) -> Result<()> {
        for (number, line) in document.letterhead.iter().enumerate() {
            let style = Style { bold: number == 0, muted: number > 0, ..self.style(TEXT) };
            self.write(LEFT, (style, Role::Paragraph), line)?;
        }
        if !document.letterhead.is_empty() {
            self.gap(5.0);
            self.rule();
            self.gap(9.0);
        }
        let title = Style { bold: true, ..self.style(15.0) };
        self.write(LEFT, (title, Role::Title), &document.title)?;
        self.gap(2.0);
        for line in &document.about {
            self.write(LEFT, (Style { muted: true, ..self.style(TEXT) }, Role::Paragraph), line)?;
        }
        self.gap(7.0);
        Ok(())
    }

    fn section(&mut self, section: &Section) -> Result<()> {
        if self.y > TOP {
            self.rule();
            self.gap(6.0);
        }
        let style = Style { bold: true, ..self.style(TEXT) };
        let begun = (LEFT, self.y);
        let (heading, heading_end) = Self::text(begun, SIDE, (style, Role::Heading), &section.heading)?;
        self.parts.push(heading);
        for (number, block) in section.blocks.iter().enumerate() {
            if number > 0 {
                self.gap(4.0);
            }
            if matches!(block, Block::Picture(_)) {
                self.y = self.y.max(heading_end);
            }
            self.block(block)?;
        }
        self.y = self.y.max(heading_end);
        self.gap(7.0);
        Ok(())
    }

    fn block(&mut self, block: &Block) -> Result<()> {
        match block {
            Block::Lead(words) => self.write(BODY, (self.style(LEAD), Role::Paragraph), words),
            Block::Paragraph(words) => self.write(BODY, (self.style(TEXT), Role::Paragraph), words),
            Block::Small(words) => {
                let style = Style { muted: true, ..self.style(SMALL) };
                self.write(BODY, (style, Role::Paragraph), words)
            }
            Block::List(items) => self.list(items),
            Block::Table(table) => self.table(table),
            Block::Picture(picture) => self.picture(picture),
        }
    }

    fn list(&mut self, items: &[String]) -> Result<()> {
        let style = self.style(TEXT);
        let indent = 10.0 * self.size.letters;
        let mut parts = Vec::new();
        for item in items {
            let bullet = Mark::Words((BODY, self.y + ASCENT * style.size), style, "•".to_owned());
            let place = (BODY + indent, self.y);
            let (mut part, end) = Self::text(place, RIGHT - place.0, (style, Role::Item), item)?;
            part.marks.insert(0, bullet);
            parts.push(part);
            self.y = end;
            self.gap(1.0);
        }
        self.parts.push(Part { role: Role::List, marks: Vec::new(), parts });
        Ok(())
    }

    fn table(&mut self, table: &Table) -> Result<()> {
        let heads: Vec<String> = table.columns.iter().map(|column| column.head.clone()).collect();
        let mut rows = vec![self.row(table, &heads, (false, Role::Head))?];
        for row in &table.rows {
            self.parts.push(leaf(Role::Ornament, vec![Mark::Rule((BODY, self.y), RIGHT - BODY, true)]));
            self.gap(1.6);
            rows.push(self.row(table, &row.cells, (row.strong, Role::Cell))?);
        }
        self.parts.push(Part { role: Role::Table, marks: Vec::new(), parts: rows });
        Ok(())
    }

    fn row(&mut self, table: &Table, cells: &[String], (bold, role): (bool, Role)) -> Result<Part> {
        let is_head = role == Role::Head;
        let size = if is_head { SMALL } else { TEXT - 0.6 };
        let style = Style { bold, muted: is_head, ..self.style(size) };
        let all: f32 = table.columns.iter().map(|column| column.width).sum();
        let (mut left, mut end) = (BODY, self.y);
        let mut parts = Vec::new();
        for (cell, column) in cells.iter().zip(&table.columns) {
            let share = if cells.len() == 1 { 1.0 } else { column.width / all };
            let room = share * (RIGHT - BODY);
            let (part, cell_end) = Self::text((left, self.y), room - 6.0, (style, role.clone()), cell)?;
            parts.push(part);
            (left, end) = (left + room, end.max(cell_end));
        }
        self.y = end;
        self.gap(1.6);
        Ok(Part { role: Role::Row, marks: Vec::new(), parts })
    }

    fn picture(&mut self, picture: &Picture) -> Result<()> {
        let style = Style { bold: true, ..self.style(TEXT) };
        self.write(LEFT, (style, Role::Paragraph), &picture.title)?;
        self.gap(2.0);
        let drawn = parsed(&picture.svg)?.size();
        let across = (RIGHT - LEFT) * self.size.pictures;
        let size = (across, across * drawn.height() / drawn.width());
        let mark = Mark::Picture((LEFT, self.y), size, picture.svg.clone());
        self.parts.push(leaf(Role::Figure(picture.description.clone()), vec![mark]));
        self.y += size.1;
        Ok(())
    }

    /// At the foot; its size does not change with that of the text.
    fn footer(&mut self, words: &str, page: usize) -> Result<()> {
        let style = Style { size: FOOTER, bold: false, muted: true };
        let number = format!("page {} of 2", page + 1);
        let room = width(&number, (FOOTER, false))?;
        let (mut part, end) =
            Self::text((LEFT, FOOT), RIGHT - LEFT - room - 20.0, (style, Role::Ornament), words)?;
        if end > PAGE.1 - 8.0 {
            return Err(Error::invalid("footer", format!("{} letters", words.len()), "at most three lines"));
        }
        part.marks.push(Mark::Words((RIGHT - room, FOOT + ASCENT * FOOTER), style, number));
        part.marks.push(Mark::Rule((LEFT, FOOT - 5.0), RIGHT - LEFT, false));
        self.parts.push(part);
        Ok(())
    }
}
