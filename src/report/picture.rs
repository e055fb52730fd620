//! What every picture has in common: a sheet with title, description and the notice, as SVG and, from that, as PNG.
//!
//! There is one drawing path: plotters writes an SVG, resvg rasterises it with the carried fonts only. The SVG names
//! itself to screen readers (`role="img"`, `<title>`, `<desc>`).

use crate::error::{Error, Result, in_range};
use crate::report::{
    font,
    marks::{Canvas, GRID, drawn, fitted, lettering, write},
    palette::{INK, MUTED, PAPER, follow_dark},
};
use plotters::prelude::{IntoDrawingArea, SVGBackend};
use resvg::{tiny_skia, usvg};

/// Width of every picture that stands alone [px].
pub const WIDTH_PX: f64 = 860.0;
/// Width from which a picture has room for words in its right margin [px].
const ROOMY_PX: f64 = 700.0;

/// The notice in short, at the foot of every picture; its first sentence is that of the full notice.
pub const FOOTER: &str = "Planning estimate only: no structural or roadworthiness assessment. Local law and a licensed \
inspector decide.";

/// Left edge of titles, keys and footer [px].
pub(crate) const MARGIN: f64 = 24.0;

/// Height of what stands above and below the drawing of a sheet [px].
const HEAD_PX: f64 = 66.0;
const FOOT_PX: f64 = 34.0;

/// How much of a sheet is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Frame {
    /// With heading and footer, to stand alone.
    Whole,
    /// Without them, for a page that has its own, as wide as there is room for it [px].
    Bare(f64),
}

impl Frame {
    /// Width of the drawing [px].
    pub(crate) fn width_px(self) -> f64 {
        match self {
            Self::Whole => WIDTH_PX,
            Self::Bare(width_px) => width_px,
        }
    }

    /// Whether words have room beside the curves.
    pub(crate) fn is_roomy(self) -> bool {
        self.width_px() >= ROOMY_PX
    }
}

/// What a picture says about itself.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sheet<'a> {
    /// Name in the identifiers of the SVG, unique on a page.
    pub(crate) id: &'a str,
    /// Heading.
    pub(crate) title: &'a str,
    /// Line under the heading.
    pub(crate) subtitle: &'a str,
    /// What a reader who cannot see it should know.
    pub(crate) description: &'a str,
    /// Height [px].
    pub(crate) height: f64,
}

/// Draws a sheet: heading and footer, and between them what `draw` puts there.
///
/// # Errors
/// [`Error::Invalid`] when something cannot be drawn.
pub(crate) fn picture(sheet: &Sheet<'_>, draw: impl FnOnce(&Canvas<'_>) -> Result<()>) -> Result<String> {
    framed(sheet, Frame::Whole, draw)
}

/// Draws a sheet with its frame or without.
///
/// # Errors
/// As [`picture`].
pub(crate) fn framed(
    sheet: &Sheet<'_>,
    frame: Frame,
    draw: impl FnOnce(&Canvas<'_>) -> Result<()>,
) -> Result<String> {
    let mut svg = String::new();
    {
        let size = (frame.width_px() as u32 * GRID, sheet.height as u32 * GRID);
        let canvas = SVGBackend::with_string(&mut svg, size).into_drawing_area();
        drawn(canvas.fill(&PAPER))?;
        draw(&canvas)?;
        if frame == Frame::Whole {
            heading(&canvas, sheet)?;
            write(&canvas, (MARGIN, sheet.height - 16.0), lettering(12.0, MUTED), FOOTER)?;
        }
        drawn(canvas.present())?;
    }
    Ok(named(&svg, sheet, frame))
}

/// Parses an SVG with the carried fonts.
///
/// # Errors
/// [`Error::Invalid`] when the text is not an SVG.
pub fn parsed(svg: &str) -> Result<usvg::Tree> {
    let options = usvg::Options {
        fontdb: font::database(),
        font_family: font::FAMILY.to_owned(),
        ..Default::default()
    };
    usvg::Tree::from_str(svg, &options)
        .map_err(|reason| Error::invalid("picture", reason.to_string(), "an SVG"))
}

/// Pixels of a PNG to a pixel of the design [-].
pub const PNG_SCALE: f64 = 2.0;

/// Rasterises an SVG.
///
/// - `svg`: the picture
/// - `scale`: pixels of the PNG to a pixel of the design, 0.25 to 8 [-]
///
/// # Errors
/// [`Error::OutOfRange`] for the scale, [`Error::Invalid`] when the text is not an SVG.
pub fn png(svg: &str, scale: f64) -> Result<Vec<u8>> {
    let scale = in_range("scale of a picture", scale, "px", 0.25..=8.0)? as f32;
    let tree = parsed(svg)?;
    let (width, height) = ((tree.size().width() * scale).round(), (tree.size().height() * scale).round());
    let mut pixels = tiny_skia::Pixmap::new(width as u32, height as u32)
        .ok_or_else(|| Error::invalid("picture", format!("{width} x {height} px"), "at least one pixel"))?;
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixels.as_mut());
    drawn(pixels.encode_png())
}

fn heading(canvas: &Canvas<'_>, sheet: &Sheet<'_>) -> Result<()> {
    let room = WIDTH_PX - 2.0 * MARGIN;
    let (large, small) = (lettering(18.0, INK).bold(), lettering(13.0, MUTED));
    write(canvas, (MARGIN, 30.0), large, &fitted(large, sheet.title, room)?)?;
    write(canvas, (MARGIN, 54.0), small, &fitted(small, sheet.subtitle, room)?)
}

/// Scales the grid back to design pixels and adds what screen readers and viewers without the font need.
fn named(svg: &str, sheet: &Sheet<'_>, frame: Frame) -> String {
    let body = svg.split_once('>').map_or(svg, |(_, body)| body);
    let family = |name| format!("font-family=\"{name}\"");
    let body = body.replace(&family(font::FAMILY), &family(font::FAMILY_WITH_FALLBACK));
    let (top, height) = match frame {
        Frame::Whole => (0.0, sheet.height),
        Frame::Bare(_) => (HEAD_PX, sheet.height - HEAD_PX - FOOT_PX),
    };
    let style = match frame {
        Frame::Whole => format!("<style>{}</style>", follow_dark(":root{color-scheme:light dark}")),
        Frame::Bare(_) => String::new(),
    };
    let (id, width, grid) = (sheet.id, frame.width_px(), f64::from(GRID));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
         viewBox=\"0 {} {} {}\" role=\"img\" aria-labelledby=\"{id}-title {id}-desc\">\n\
         <title id=\"{id}-title\">{}: {}</title>\n<desc id=\"{id}-desc\">{} {FOOTER}</desc>{style}{body}",
        top * grid,
        width * grid,
        height * grid,
        escaped(sheet.title),
        escaped(sheet.subtitle),
        escaped(sheet.description),
    )
}

fn escaped(words: &str) -> String {
    words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
