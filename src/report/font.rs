//! Which letters the pictures are set in: `DejaVu Sans`, regular and bold, carried inside the program.
//!
//! No system font is ever used, so a picture has the same letters and the same line lengths on every machine.
//! Licence of the fonts: `fonts/LICENSE.txt`.

use crate::error::{Error, Result};
use plotters::style::{FontFamily, FontStyle, register_font};
use resvg::usvg::fontdb::Database;
use std::sync::{Arc, LazyLock};

/// Family name, as the fonts themselves carry it.
pub const FAMILY: &str = "DejaVu Sans";

/// What an SVG asks for: the family, and any sans-serif where a viewer lacks it.
pub const FAMILY_WITH_FALLBACK: &str = "DejaVu Sans, sans-serif";

const REGULAR: &[u8] = include_bytes!("fonts/DejaVuSans.ttf");
const BOLD: &[u8] = include_bytes!("fonts/DejaVuSans-Bold.ttf");

static REGISTERED: LazyLock<bool> = LazyLock::new(|| {
    register_font(FAMILY, FontStyle::Normal, REGULAR).is_ok()
        && register_font(FAMILY, FontStyle::Bold, BOLD).is_ok()
});

static DATABASE: LazyLock<Arc<Database>> = LazyLock::new(|| {
    let mut fonts = Database::new();
    fonts.load_font_data(REGULAR.to_vec());
    fonts.load_font_data(BOLD.to_vec());
    fonts.set_sans_serif_family(FAMILY);
    Arc::new(fonts)
});

/// The two fonts for rasterising, and no other.
#[must_use]
pub fn database() -> Arc<Database> {
    Arc::clone(&DATABASE)
}

/// The file of a font.
#[must_use]
pub(crate) fn file(bold: bool) -> &'static [u8] {
    if bold { BOLD } else { REGULAR }
}

/// The family for drawing, registered with the drawing library on first use.
///
/// # Errors
/// [`Error::Invalid`] when the carried fonts cannot be read.
pub fn family() -> Result<FontFamily<'static>> {
    if *REGISTERED {
        return Ok(FontFamily::Name(FAMILY));
    }
    Err(Error::invalid("embedded font", "unreadable data", FAMILY))
}
