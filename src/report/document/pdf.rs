//! The document as PDF: two pages of A4, text as text in embedded fonts, pictures as vectors, tags for screen readers.
//!
//! Nothing in it depends on clock or machine, so the same document gives the same bytes.

use super::content::LetterDocument;
use super::fit::FittedLetter;
use super::layout::{Extent, PAGE, PageMark, PagePart, PartRole, Position, TextStyle, page};
use crate::error::{Error, Result};
use crate::report::font;
use crate::report::palette::{FAINT, INK, MUTED};
use crate::report::picture::parsed;
use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point, Size, Transform};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, ListNumbering, Node, SpanTag, TableHeaderScope};
use krilla::tagging::{Tag, TagGroup, TagKind, TagTree};
use krilla::text::{Font, TextDirection};
use krilla_svg::{SurfaceExt as _, SvgSettings};
use plotters::style::RGBColor;
use std::num::NonZeroU16;

/// Width of thin lines [pt].
const RULE: f32 = 0.5;

/// The document as PDF.
///
/// # Errors
/// [`Error::Invalid`] when something cannot be drawn.
pub fn pdf(fitted: &FittedLetter) -> Result<Vec<u8>> {
    let LetterDocument { title, .. } = &fitted.document;
    let pen = PdfPen::new()?;
    let mut file = krilla::Document::new();
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    for number in 0..fitted.document.pages.len() {
        let parts = page(&fitted.document, number, fitted.scale)?;
        let settings = PageSettings::from_wh(PAGE.width, PAGE.height).ok_or_else(undrawn)?;
        let mut sheet = file.start_page_with(settings);
        let mut surface = sheet.surface();
        for part in &parts {
            if let Some(node) = pen.part(&mut surface, part)? {
                tree.push(node);
            }
        }
        surface.finish();
        sheet.finish();
    }
    let keywords = fitted.keywords.iter().cloned().collect();
    file.set_metadata(Metadata::new().title(title.clone()).language("en".to_owned()).keywords(keywords));
    file.set_tag_tree(tree);
    file.finish()
        .map_err(|reason| Error::invalid("PDF", format!("{reason:?}"), "a document that can be written"))
}

fn undrawn() -> Error {
    Error::invalid("PDF", "a size that is none", "sizes above zero")
}

/// The fonts.
struct PdfPen {
    fonts: [Font; 2],
}

impl PdfPen {
    fn new() -> Result<Self> {
        let read = |bold| {
            let data: std::sync::Arc<dyn AsRef<[u8]> + Send + Sync> = std::sync::Arc::new(font::file(bold));
            Font::new(data.into(), 0)
                .ok_or_else(|| Error::invalid("embedded font", "unreadable data", font::FAMILY))
        };
        Ok(Self { fonts: [read(false)?, read(true)?] })
    }

    /// Draws a part; its place in the tree of tags, none for ornament.
    fn part(&self, surface: &mut Surface<'_>, part: &PagePart) -> Result<Option<Node>> {
        let Some(tag) = tag(&part.role) else {
            surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Other)));
            part.marks.iter().try_for_each(|mark| self.mark(surface, mark))?;
            surface.end_tagged();
            return Ok(None);
        };
        let mut group = TagGroup::new(tag);
        for mark in &part.marks {
            let content = match mark {
                PageMark::Words { .. } => ContentTag::Span(SpanTag::empty()),
                PageMark::Rule { .. } | PageMark::Picture { .. } => ContentTag::Other,
            };
            let identifier = surface.start_tagged(content);
            self.mark(surface, mark)?;
            surface.end_tagged();
            group.push(identifier);
        }
        for part in &part.parts {
            if let Some(node) = self.part(surface, part)? {
                group.push(node);
            }
        }
        Ok(Some(group.into()))
    }

    fn mark(&self, surface: &mut Surface<'_>, mark: &PageMark) -> Result<()> {
        match mark {
            PageMark::Words { at, style, words } => {
                self.words(surface, *at, *style, words);
                Ok(())
            }
            PageMark::Rule { from, length, light } => {
                rule(surface, *from, *length, if *light { FAINT } else { MUTED })
            }
            PageMark::Picture { at, extent, svg } => picture(surface, *at, *extent, svg),
        }
    }

    fn words(&self, surface: &mut Surface<'_>, at: Position, style: TextStyle, words: &str) {
        let colour = if style.muted { MUTED } else { INK };
        surface.set_stroke(None);
        surface.set_fill(Some(Fill { paint: paint(colour), ..Fill::default() }));
        let font = self.fonts[usize::from(style.bold)].clone();
        // a blank at the end keeps the last word of a line and the first of the next one apart
        let words = format!("{words} ");
        surface.draw_text(Point::from_xy(at.x, at.y), font, style.size, &words, false, TextDirection::Auto);
    }
}

fn paint(colour: RGBColor) -> krilla::paint::Paint {
    rgb::Color::new(colour.0, colour.1, colour.2).into()
}

fn rule(surface: &mut Surface<'_>, from: Position, length: f32, colour: RGBColor) -> Result<()> {
    let mut path = PathBuilder::new();
    path.move_to(from.x, from.y);
    path.line_to(from.x + length, from.y);
    surface.set_fill(None);
    surface.set_stroke(Some(Stroke { paint: paint(colour), width: RULE, ..Stroke::default() }));
    surface.draw_path(&path.finish().ok_or_else(undrawn)?);
    Ok(())
}

fn picture(surface: &mut Surface<'_>, at: Position, extent: Extent, svg: &str) -> Result<()> {
    let tree = parsed(svg)?;
    let size = Size::from_wh(extent.width, extent.height).ok_or_else(undrawn)?;
    surface.push_transform(&Transform::from_translate(at.x, at.y));
    let drawn = surface.draw_svg(&tree, size, SvgSettings::default());
    surface.pop();
    drawn.ok_or_else(undrawn)
}

/// What a role is called in a tagged PDF.
fn tag(role: &PartRole) -> Option<TagKind> {
    let heading = |level| Tag::Hn(level, None).into();
    Some(match role {
        PartRole::Title => heading(NonZeroU16::MIN),
        PartRole::Heading => heading(NonZeroU16::MIN.saturating_add(1)),
        PartRole::Paragraph => Tag::P.into(),
        PartRole::List => Tag::L(ListNumbering::Disc).into(),
        PartRole::Item => Tag::LI.into(),
        PartRole::Table => Tag::Table.into(),
        PartRole::Row => Tag::TR.into(),
        PartRole::Head => Tag::TH(TableHeaderScope::Column).into(),
        PartRole::Cell => Tag::TD.into(),
        PartRole::Figure(description) => Tag::Figure(Some(description.clone())).into(),
        PartRole::Ornament => return None,
    })
}
