//! What does a grade look like? A square with spots of rust that together have the nominal area of the degree.
//!
//! Own drawings, made from numbers, to tell the degrees of ISO 4628-3 apart on a screen; the standard's own pictures decide.

use std::f64::consts::PI;
use std::fmt::Write as _;

/// Side of the square [px].
const SIDE_PX: f64 = 200.0;
/// Usual radius of a spot of Ri 0 to Ri 5 [px]: a grade of little area has small ones.
const RADIUS_PX: [f64; 6] = [1.0, 1.1, 2.0, 2.6, 5.0, 9.0];
/// Places that are tried for a spot [-].
const TRIES: usize = 4000;
/// Steps of an additive recurrence that fills line and plane evenly: the golden ratio, and its sister in two dimensions
/// (Roberts 2018, from memory).
const LINE_STEP: f64 = 0.618_033_988_749_895;
const PLANE_STEPS: (f64, f64) = (0.754_877_666_246_693, 0.569_840_290_998_053);

/// A round spot of rust [px].
struct RustSpot {
    x: f64,
    y: f64,
    radius: f64,
}

/// The square of a grade.
///
/// - `grade`: its number, 0 to 5 [-]
/// - `area_pct`: rusted area, 0 to 50 [%]
#[must_use]
pub fn grade_patch(grade: u8, area_pct: f64) -> String {
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {SIDE_PX} {SIDE_PX}\" aria-hidden=\"true\">\
         <rect width=\"{SIDE_PX}\" height=\"{SIDE_PX}\" fill=\"#efe9dd\"/>"
    );
    for RustSpot { x, y, radius } in spots(RADIUS_PX[usize::from(grade.min(5))], area_pct) {
        let _ = write!(svg, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.2}\" fill=\"#8f4e1e\"/>");
    }
    svg + "</svg>"
}

/// Spots whose areas add up; the largest are placed first, since small ones fit between them.
fn spots(usual_px: f64, area_pct: f64) -> Vec<RustSpot> {
    let mut placed: Vec<RustSpot> = Vec::new();
    let mut tried = 0;
    for radius in radii(usual_px, area_pct / 100.0 * SIDE_PX * SIDE_PX) {
        let spot = place(&placed, radius, &mut tried);
        placed.push(spot);
    }
    placed
}

/// Radii of varied spots of an area, the largest first [px].
fn radii(usual_px: f64, area_px2: f64) -> Vec<f64> {
    let mut radii = Vec::new();
    let mut sum = 0.0;
    while sum < area_px2 {
        let varied = (radii.len() as f64 * LINE_STEP).fract();
        let radius = usual_px * (0.45 + 1.1 * varied);
        sum += PI * radius * radius;
        radii.push(radius);
    }
    let scale = if sum > 0.0 { (area_px2 / sum).sqrt() } else { 1.0 };
    for radius in &mut radii {
        *radius *= scale;
    }
    radii.sort_by(|a, b| b.total_cmp(a));
    radii
}

/// A place where a spot overlaps none before it, else the one with the least overlap.
fn place(placed: &[RustSpot], radius: f64, tried: &mut usize) -> RustSpot {
    let gap = |spot: &RustSpot| {
        let apart = |other: &RustSpot| (other.x - spot.x).hypot(other.y - spot.y) - other.radius - radius;
        placed.iter().map(apart).fold(f64::INFINITY, f64::min)
    };
    let mut best = RustSpot { x: 0.5 * SIDE_PX, y: 0.5 * SIDE_PX, radius };
    for attempt in 0..TRIES {
        *tried += 1;
        let along = |step: f64| radius + (*tried as f64 * step).fract() * (SIDE_PX - 2.0 * radius);
        let spot = RustSpot { x: along(PLANE_STEPS.0), y: along(PLANE_STEPS.1), radius };
        if gap(&spot) >= 0.0 {
            return spot;
        }
        if attempt == 0 || gap(&spot) > gap(&best) {
            best = spot;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::{PI, RADIUS_PX, SIDE_PX, spots};

    #[test]
    fn closed_form_the_spots_have_the_area_and_stand_apart_inside() {
        for (usual_px, area_pct) in RADIUS_PX.into_iter().zip([0.0, 0.05, 0.5, 1.0, 8.0, 45.0]) {
            let spots = spots(usual_px, area_pct);
            let area: f64 = spots.iter().map(|spot| PI * spot.radius * spot.radius).sum();
            assert!((area / (SIDE_PX * SIDE_PX) - area_pct / 100.0).abs() < 1e-9, "{area_pct}");
            for (number, spot) in spots.iter().enumerate() {
                assert!([spot.x, spot.y].iter().all(|at| (spot.radius..=SIDE_PX - spot.radius).contains(at)));
                for other in &spots[..number] {
                    let gap = (other.x - spot.x).hypot(other.y - spot.y) - other.radius - spot.radius;
                    assert!(gap > -0.2, "{area_pct} %: {gap}");
                }
            }
        }
    }
}
