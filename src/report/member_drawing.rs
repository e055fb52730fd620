//! Where on the member can somebody look? Its nodes along the tube and its sides round it, with the place of each.
//!
//! A sketch to find a place on, no drawing of any car: nodes stand in the order of their numbers, wherever they are. Lines
//! take the colour of the text round them, so that the sketch follows light and dark.

use crate::forecast::scenario::Member;
use crate::model::locations::GROUP_NAMES;
use crate::section::Tube;
use schemars::JsonSchema;
use serde::Serialize;
use std::f64::consts::FRAC_1_SQRT_2;
use std::fmt::Write as _;

/// Width of both drawings [px]: that of a phone.
const WIDTH_PX: f64 = 340.0;
/// Most nodes in a row, each with room for a thumb [-].
const IN_A_ROW: u32 = 6;
/// Left and right end of a row, its first height, and the distance to the next row; the first two hold words between them [px].
const ROW_PX: (f64, f64) = (26.0, 314.0);
const FIRST_PX: f64 = 34.0;
const APART_PX: [f64; 2] = [124.0, 72.0];
/// Centre and half width of the tube of the section, and where its places are named [px].
const CENTRE_PX: (f64, f64) = (112.0, 132.0);
const RADIUS_PX: f64 = 64.0;
const NAMED_PX: f64 = 258.0;

/// A drawing of the member with places on it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PlaceDrawing {
    /// What it shows.
    pub title: &'static str,
    /// The drawing, SVG.
    pub svg: String,
    /// Its width [px]
    pub width_px: f64,
    /// Its height [px]
    pub height_px: f64,
    /// The places on it.
    pub places: Vec<DrawnPlace>,
}

/// A place on a drawing.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DrawnPlace {
    /// As an inspection names it.
    pub location: String,
    /// For people.
    pub title: String,
    /// From the left edge of the drawing [px]
    pub x_px: f64,
    /// From its upper edge [px]
    pub y_px: f64,
}

/// The member along its tube, and round it.
#[must_use]
pub fn member_drawings(member: &Member) -> [PlaceDrawing; 2] {
    [along(member.nodes.max(1)), around(&member.tube)]
}

/// Nodes in rows along the tube, the open length and the worst node between the first two.
fn along(nodes: u32) -> PlaceDrawing {
    let in_a_row = nodes.div_ceil(2).clamp(1, IN_A_ROW);
    let rows = nodes.div_ceil(in_a_row).max(2);
    let (left, right) = ROW_PX;
    let mut places: Vec<DrawnPlace> = (0..nodes)
        .map(|node| {
            let (row, column) = (node / in_a_row, node % in_a_row);
            let across = (right - left) * (f64::from(column) + 0.5) / f64::from(in_a_row);
            // the tube runs to and fro
            let x_px = if row % 2 == 0 { left + across } else { right - across };
            let name = format!("node {}", node + 1);
            DrawnPlace { title: name.clone(), location: name, x_px, y_px: row_px(row) }
        })
        .collect();
    let mut svg = opened(
        "along",
        row_px(rows - 1) + FIRST_PX,
        "The tube with its nodes in the order of their numbers.",
    );
    let mut path = format!("M{left} {}", row_px(0));
    for row in 0..rows {
        let (end, down) = (if row % 2 == 0 { right } else { left }, row_px(row));
        let _ = write!(path, "V{down}H{end}");
    }
    let path = if rows == 2 { path + "Z" } else { path };
    svg += &tube(&format!("<path d=\"{path}\" stroke-linejoin=\"round\" stroke-linecap=\"round\"/>"), 15.0);
    for place in &places {
        let (x, y) = (place.x_px - 5.0, place.y_px - 15.0);
        let _ = write!(
            svg,
            "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"10\" height=\"30\" rx=\"2\" fill=\"currentColor\" fill-opacity=\"0.5\"/>"
        );
    }
    let between = f64::midpoint(row_px(0), row_px(1));
    let named = [("run", "open length", 0.3), ("node", "worst node", 0.72)];
    places.splice(
        0..0,
        named.map(|(location, title, share)| DrawnPlace {
            location: location.to_owned(),
            title: title.to_owned(),
            x_px: share * WIDTH_PX,
            y_px: between,
        }),
    );
    let height_px = row_px(rows - 1) + FIRST_PX;
    PlaceDrawing { title: "Along the tube", svg: svg + "</svg>", width_px: WIDTH_PX, height_px, places }
}

fn row_px(row: u32) -> f64 {
    FIRST_PX + if row == 0 { 0.0 } else { APART_PX[0] + APART_PX[1] * f64::from(row - 1) }
}

/// The sides of the tube, named beside it from the top down.
fn around(tube_shape: &Tube) -> PlaceDrawing {
    let (x, y) = CENTRE_PX;
    let height_px = 2.0 * y;
    let mut svg = opened("around", height_px, "The tube across, as it lies in the car.");
    svg += &tube(&outline(tube_shape), 13.0);
    let is_round = matches!(tube_shape, Tube::Round { .. });
    let corner = if is_round { FRAC_1_SQRT_2 } else { 1.0 };
    let at = [(0.0, 1.0), (corner, corner), (1.0, 0.0), (corner, -corner), (0.0, -1.0)];
    let mut places = Vec::new();
    for (group, (right, down)) in at.into_iter().enumerate() {
        let y_px = 25.0 + (height_px - 50.0) * (4 - group) as f64 / 4.0;
        let (from_x, from_y) = (x + right * RADIUS_PX, y + down * RADIUS_PX);
        let _ = write!(
            svg,
            "<path d=\"M{from_x:.1} {from_y:.1}L{NAMED_PX} {y_px:.1}\" stroke=\"currentColor\" stroke-opacity=\"0.45\" fill=\"none\"/>"
        );
        // both sides are one place
        for mirrored in [from_x, 2.0 * x - from_x] {
            let _ = write!(
                svg,
                "<circle cx=\"{mirrored:.1}\" cy=\"{from_y:.1}\" r=\"5\" fill=\"currentColor\"/>"
            );
        }
        let name = GROUP_NAMES[group];
        places.push(DrawnPlace { location: name.to_owned(), title: name.to_owned(), x_px: NAMED_PX, y_px });
    }
    PlaceDrawing { title: "Round the tube", svg: svg + "</svg>", width_px: WIDTH_PX, height_px, places }
}

/// The outline of a tube; a rectangular one is drawn as a square, whatever its sides.
fn outline(tube_shape: &Tube) -> String {
    let (x, y) = CENTRE_PX;
    match tube_shape {
        Tube::Round { .. } => format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{RADIUS_PX}\"/>"),
        Tube::Rectangular { .. } => {
            let (left, top, side) = (x - RADIUS_PX, y - RADIUS_PX, 2.0 * RADIUS_PX);
            format!("<rect x=\"{left}\" y=\"{top}\" width=\"{side}\" height=\"{side}\" rx=\"9\"/>")
        }
    }
}

fn opened(id: &str, height_px: f64, description: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH_PX} {height_px}\" role=\"img\" \
         aria-labelledby=\"places-{id}\"><title id=\"places-{id}\">{description}</title>"
    )
}

/// Strokes of the wall of a tube.
fn tube(shape: &str, width_px: f64) -> String {
    format!(
        "<g fill=\"none\" stroke=\"currentColor\" stroke-opacity=\"0.28\" stroke-width=\"{width_px}\">{shape}</g>"
    )
}

#[cfg(test)]
mod tests {
    use super::{IN_A_ROW, WIDTH_PX, along, around};
    use crate::forecast::observation::Spot;
    use crate::section::Tube;

    /// Side of a target for a thumb [px], WCAG 2.2, 2.5.5.
    const THUMB_PX: f64 = 44.0;

    #[test]
    fn property_every_place_is_one_of_the_member_and_apart_from_the_others() {
        for nodes in [1, 2, 3, 4, 5, 8, 12, 13, 24, 100] {
            let tube = Tube::Round { diameter_mm: 45.0, wall_mm: 2.0 };
            for drawing in [along(nodes), around(&tube)] {
                for (number, place) in drawing.places.iter().enumerate() {
                    assert!(Spot::of_member(&place.location, nodes).is_ok(), "{}", place.location);
                    assert!(
                        (0.0..=WIDTH_PX).contains(&place.x_px)
                            && (0.0..=drawing.height_px).contains(&place.y_px)
                    );
                    for other in &drawing.places[..number] {
                        let apart = (place.x_px - other.x_px).abs().max((place.y_px - other.y_px).abs());
                        assert!(apart >= THUMB_PX, "{} and {}: {apart}", place.location, other.location);
                    }
                }
            }
            assert_eq!(along(nodes).places.len() as u32, nodes + 2);
        }
        assert_eq!(IN_A_ROW, 6);
    }
}
