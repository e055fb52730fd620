//! The document as PDF: two pages of A4, text as text in embedded fonts, pictures as vectors, tags for screen readers.
//!
//! Nothing in it depends on clock or machine, so the same document gives the same bytes.

use super::layout::{Mark, PAGE, Part, Role, Style, page};
use super::{Document, Fitted};
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
pub fn pdf(fitted: &Fitted) -> Result<Vec<u8>> {
    let Document { title, .. } = &fitted.document;
    let pen = Pen::new()?;
    let mut file = krilla::Document::new();
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    for number in 0..fitted.document.pages.len() {
        let parts = page(&fitted.document, number, fitted.size)?;
        let settings = PageSettings::from_wh(PAGE.0, PAGE.1).ok_or_else(undrawn)?;
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
    file.set_metadata(Metadata::new().title(title.clone()).language("en".to_owned()));
    file.set_tag_tree(tree);
    file.finish()
        .map_err(|reason| Error::invalid("PDF", format!("{reason:?}"), "a document that can be written"))
}

fn undrawn() -> Error {
    Error::invalid("PDF", "a size that is none", "sizes above zero")
}

/// The fonts.
struct Pen {
    fonts: [Font; 2],
}

impl Pen {
    fn new() -> Result<Self> {
        let read = |bold| {
            let data: std::sync::Arc<dyn AsRef<[u8]> + Send + Sync> = std::sync::Arc::new(font::file(bold));
            Font::new(data.into(), 0)
                .ok_or_else(|| Error::invalid("embedded font", "unreadable data", font::FAMILY))
        };
        Ok(Self { fonts: [read(false)?, read(true)?] })
    }

    /// Draws a part; its place in the tree of tags, none for ornament.
    fn part(&self, surface: &mut Surface<'_>, part: &Part) -> Result<Option<Node>> {
        let Some(tag) = tag(&part.role) else {
            surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Other)));
            part.marks.iter().try_for_each(|mark| self.mark(surface, mark))?;
            surface.end_tagged();
            return Ok(None);
        };
        let mut group = TagGroup::new(tag);
        for mark in &part.marks {
            let content = match mark {
                Mark::Words(..) => ContentTag::Span(SpanTag::empty()),
                Mark::Rule(..) | Mark::Picture(..) => ContentTag::Other,
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

    fn mark(&self, surface: &mut Surface<'_>, mark: &Mark) -> Result<()> {
        match mark {
            Mark::Words(at, style, words) => {
                self.words(surface, *at, *style, words);
                Ok(())
            }
            Mark::Rule(from, length, light) => {
                rule(surface, *from, *length, if *light { FAINT } else { MUTED })
            }
            Mark::Picture(at, size, svg) => picture(surface, *at, *size, svg),
        }
    }

    fn words(&self, surface: &mut Surface<'_>, (x, y): (f32, f32), style: Style, words: &str) {
        let colour = if style.muted { MUTED } else { INK };
        surface.set_stroke(None);
        surface.set_fill(Some(Fill { paint: paint(colour), ..Fill::default() }));
        let font = self.fonts[usize::from(style.bold)].clone();
        // a blank at the end keeps the last word of a line and the first of the next one apart
        let words = format!("{words} ");
        surface.draw_text(Point::from_xy(x, y), font, style.size, &words, false, TextDirection::Auto);
    }
}

fn paint(colour: RGBColor) -> krilla::paint::Paint {
    rgb::Color::new(colour.0, colour.1, colour.2).into()
}

fn rule(surface: &mut Surface<'_>, (x, y): (f32, f32), length: f32, colour: RGBColor) -> Result<()> {
    let mut path = PathBuilder::new();
    path.move_to(x, y);
    path.line_to(x + length, y);
    surface.set_fill(None);
    surface.set_stroke(Some(Stroke { paint: paint(colour), width: RULE, ..Stroke::default() }));
    surface.draw_path(&path.finish().ok_or_else(undrawn)?);
    Ok(())
}

fn picture(
    surface: &mut Surface<'_>,
    (x, y): (f32, f32),
    (width, height): (f32, f32),
    svg: &str,
) -> Result<()> {
    let tree = parsed(svg)?;
    let size = Size::from_wh(width, height).ok_or_else(undrawn)?;
    surface.push_transform(&Transform::from_translate(x, y));
    let drawn = surface.draw_svg(&tree, size, SvgSettings::default());
    surface.pop();
    drawn.ok_or_else(undrawn)
}

/// What a role is called in a tagged PDF.
fn tag(role: &Role) -> Option<TagKind> {
    let heading = |level| Tag::Hn(level, None).into();
    Some(match role {
        Role::Title => heading(NonZeroU16::MIN),
        Role::Heading => heading(NonZeroU16::MIN.saturating_add(1)),
        Role::Paragraph => Tag::P.into(),
        Role::List => Tag::L(ListNumbering::Disc).into(),
        Role::Item => Tag::LI.into(),
        Role::Table => Tag::Table.into(),
        Role::Row => Tag::TR.into(),
        Role::Head => Tag::TH(TableHeaderScope::Column).into(),
        Role::Cell => Tag::TD.into(),
        Role::Figure(description) => Tag::Figure(Some(description.clone())).into(),
        Role::Ornament => return None,
    })
}
