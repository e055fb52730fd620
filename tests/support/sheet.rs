//! Reads a finished picture the way an eye does: where its words stand, and what lies under them.

use ferrowane::report::palette::contrast;
use ferrowane::report::picture::parsed;
use plotters::style::RGBColor;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Group, Node, Paint, Text};

/// A piece of text, where it stands [px] and its colour.
#[derive(Debug, Clone)]
pub(crate) struct Word {
    pub(crate) text: String,
    pub(crate) left: f32,
    pub(crate) top: f32,
    pub(crate) right: f32,
    pub(crate) bottom: f32,
    pub(crate) colour: RGBColor,
}

/// Every piece of text of a picture.
pub(crate) fn words(svg: &str) -> Vec<Word> {
    let tree = parsed(svg).expect("an SVG");
    let mut found = Vec::new();
    collect(tree.root(), &mut found);
    assert!(!found.is_empty(), "a picture without words");
    found
}

fn collect(group: &Group, found: &mut Vec<Word>) {
    for node in group.children() {
        match node {
            Node::Group(inner) => collect(inner, found),
            Node::Text(text) => found.push(word(text)),
            _ => {}
        }
    }
}

fn word(text: &Text) -> Word {
    // The ink of the glyphs, not the box of the line.
    let ink = text.flattened().bounding_box().transform(text.abs_transform()).expect("a place");
    let paint = text.chunks()[0].spans()[0].fill().expect("a fill").paint();
    let Paint::Color(colour) = paint else { panic!("a plain colour") };
    Word {
        text: text.chunks().iter().map(|c| c.text().trim()).collect(),
        left: ink.left(),
        top: ink.top(),
        right: ink.right(),
        bottom: ink.bottom(),
        colour: RGBColor(colour.red, colour.green, colour.blue),
    }
}

/// For each word the share of the pixels under it against which it has less than 4.5:1.
pub(crate) fn unreadable(svg: &str) -> Vec<(Word, f64)> {
    let ground = without_words(svg);
    words(svg)
        .into_iter()
        .map(|word| {
            let share = share_under(&word, &ground);
            (word, share)
        })
        .collect()
}

fn without_words(svg: &str) -> Pixmap {
    let kept: Vec<&str> = svg
        .split("<text")
        .enumerate()
        .map(|(i, part)| if i == 0 { part } else { part.split_once("</text>").expect("a closed text").1 })
        .collect();
    let tree = parsed(&kept.concat()).expect("an SVG");
    let mut pixels = Pixmap::new(tree.size().width() as u32, tree.size().height() as u32).expect("a size");
    resvg::render(&tree, Transform::identity(), &mut pixels.as_mut());
    pixels
}

fn share_under(word: &Word, ground: &Pixmap) -> f64 {
    let (mut all, mut poor) = (0.0, 0.0);
    for x in word.left as u32..=word.right as u32 {
        for y in word.top as u32..=word.bottom as u32 {
            // What lies outside the sheet is for another test.
            let Some(pixel) = ground.pixel(x, y) else { continue };
            all += 1.0;
            if contrast(word.colour, RGBColor(pixel.red(), pixel.green(), pixel.blue())) < 4.5 {
                poor += 1.0;
            }
        }
    }
    poor / all
}
