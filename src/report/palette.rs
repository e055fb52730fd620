//! Which colours the pictures use, and how far they stand apart.
//!
//! Lines: colours of Okabe & Ito that keep 3:1 on white; they never carry a meaning without a dash, a shape or a
//! label. Text: ink or grey of at least 4.5:1 [WCAG 2.2, 1.4.3]. Grades: one rust-brown scale whose lightness falls
//! from Ri 0 to Ri 5, so it survives grey print and colour-blind eyes.

use plotters::style::RGBColor;

/// Text and axes.
pub const INK: RGBColor = RGBColor(0x1A, 0x1A, 0x1A);
/// Secondary text, 7:1 on white.
pub const MUTED: RGBColor = RGBColor(0x59, 0x59, 0x59);
/// Grid lines, which carry no meaning of their own.
pub const FAINT: RGBColor = RGBColor(0xE2, 0xE2, 0xE2);
/// Ground of past years.
pub const PAST: RGBColor = RGBColor(0xEF, 0xED, 0xEA);
/// Paper.
pub const PAPER: RGBColor = RGBColor(0xFF, 0xFF, 0xFF);
/// Okabe & Ito's blue.
pub const BLUE: RGBColor = RGBColor(0x00, 0x72, 0xB2);
/// Okabe & Ito's vermilion.
pub const VERMILION: RGBColor = RGBColor(0xD5, 0x5E, 0x00);
/// Okabe & Ito's purple.
pub const PURPLE: RGBColor = RGBColor(0xCC, 0x79, 0xA7);
/// Fill of a band: blue at a fifth of its strength on white, so that text on it keeps its contrast.
pub const BAND: RGBColor = RGBColor(0xD0, 0xE4, 0xF0);

/// Fills of Ri 0 to Ri 5.
pub const GRADES: [RGBColor; 6] = [
    RGBColor(0xF6, 0xF3, 0xEC),
    RGBColor(0xEB, 0xDA, 0xB2),
    RGBColor(0xE0, 0xB5, 0x6E),
    RGBColor(0xC9, 0x84, 0x36),
    RGBColor(0x8F, 0x4E, 0x1E),
    RGBColor(0x45, 0x23, 0x12),
];

/// Contrast ratio of two colours, 1 to 21 [-] [WCAG 2.2, relative luminance].
#[must_use]
pub fn contrast(a: RGBColor, b: RGBColor) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// Relative luminance of an sRGB colour, 0 to 1 [-].
#[must_use]
pub fn luminance(colour: RGBColor) -> f64 {
    let linear = |channel: u8| {
        let c = f64::from(channel) / 255.0;
        if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * linear(colour.0) + 0.7152 * linear(colour.1) + 0.0722 * linear(colour.2)
}

/// Ink or paper, whichever reads better on `fill`.
#[must_use]
pub fn text_on(fill: RGBColor) -> RGBColor {
    if contrast(INK, fill) >= contrast(PAPER, fill) { INK } else { PAPER }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_contrast_of_the_line_colours_on_white() {
        // Two decimals as tabulated from the WCAG formula: blue 5.19, vermilion 3.87, purple 3.06.
        for (colour, ratio) in [(BLUE, 5.19), (VERMILION, 3.87), (PURPLE, 3.06)] {
            assert!((contrast(colour, PAPER) - ratio).abs() < 0.006, "{colour:?}");
        }
        assert!((contrast(RGBColor(0, 0, 0), PAPER) - 21.0).abs() < 1e-12);
    }

    #[test]
    fn property_text_reads_on_every_fill() {
        for fill in [PAPER, BAND] {
            assert!(contrast(INK, fill) >= 4.5 && contrast(MUTED, fill) >= 4.5, "{fill:?}");
        }
        for fill in GRADES {
            assert!(contrast(text_on(fill), fill) >= 4.5, "{fill:?}");
        }
    }

    #[test]
    fn property_grades_darken_step_by_step() {
        // CIE lightness L*; 8 units is a step the eye tells apart in grey print.
        let lightness = |c| 116.0 * luminance(c).cbrt() - 16.0;
        for pair in GRADES.windows(2) {
            assert!(lightness(pair[0]) - lightness(pair[1]) > 8.0, "{pair:?}");
        }
    }
}
