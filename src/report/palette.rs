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

/// Dark and light text on a fill that stays as it is in the dark: no colour that turns with the paper, to the eye the same.
const ON_LIGHT: RGBColor = RGBColor(0x1B, 0x1A, 0x1A);
const ON_DARK: RGBColor = RGBColor(0xFF, 0xFF, 0xFE);

/// What the colours become on dark paper; fills of grades stay.
const IN_THE_DARK: [(RGBColor, RGBColor); 9] = [
    (INK, RGBColor(0xF1, 0xEE, 0xE8)),
    (MUTED, RGBColor(0xBD, 0xB7, 0xAB)),
    (FAINT, RGBColor(0x3A, 0x37, 0x32)),
    (PAST, RGBColor(0x2B, 0x28, 0x24)),
    (PAPER, RGBColor(0x1F, 0x1D, 0x1A)),
    (BLUE, RGBColor(0x56, 0xB4, 0xE9)),
    (VERMILION, RGBColor(0xFF, 0x8F, 0x4A)),
    (PURPLE, RGBColor(0xE5, 0x9A, 0xC4)),
    (BAND, RGBColor(0x1D, 0x42, 0x58)),
];

/// Style by which pictures follow a screen that is light or dark, as its `color-scheme` says; paper stays light.
#[must_use]
pub fn follow_dark(begin: &str) -> String {
    let rules = IN_THE_DARK.iter().flat_map(|(light, dark)| {
        let (light, dark) = (hex(*light), hex(*dark));
        ["fill", "stroke"]
            .map(|what| format!("svg [{what}=\"{light}\"]{{{what}:light-dark({light},{dark})}}"))
    });
    format!("@media screen{{{begin}{}}}", rules.collect::<String>())
}

fn hex(colour: RGBColor) -> String {
    format!("#{:02X}{:02X}{:02X}", colour.0, colour.1, colour.2)
}

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

/// Dark or light, whichever reads better on `fill`.
#[must_use]
pub fn text_on(fill: RGBColor) -> RGBColor {
    if contrast(ON_LIGHT, fill) >= contrast(ON_DARK, fill) { ON_LIGHT } else { ON_DARK }
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
    fn property_in_the_dark_text_and_lines_keep_their_contrast() {
        let dark = |colour: RGBColor| IN_THE_DARK.iter().find(|(light, _)| *light == colour).unwrap().1;
        for ground in [PAPER, PAST, BAND] {
            for text in [INK, MUTED] {
                assert!(contrast(dark(text), dark(ground)) >= 4.5, "{text:?} on {ground:?}");
            }
            for line in [BLUE, VERMILION, PURPLE] {
                assert!(contrast(dark(line), dark(ground)) >= 3.0, "{line:?} on {ground:?}");
            }
        }
        let style = follow_dark("");
        assert!(style.contains("svg [fill=\"#1A1A1A\"]{fill:light-dark(#1A1A1A,#F1EEE8)}"), "{style}");
        assert!(GRADES.iter().chain([&ON_LIGHT, &ON_DARK]).all(|colour| !style.contains(&hex(*colour))));
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
