//! Central second moments and elastic moduli of a worn ring, and the plastic modulus of an evenly worn one.
//!
//! Elastic: W = I/c about a principal axis; about the tube's own axes the exact stress of unsymmetric bending,
//! `sigma = M (I_y y - I_xy x)/(I_x I_y - I_xy²)`, so the modulus stays continuous when a loss tilts the principal axes.
//! Plastic: (D³ - d³)/6 and the annex formulas of [EN10210-2]/[EN10219-2], status MEMORY-H.

use crate::section::moments::{Edge, Moments};
use crate::section::ring::{CornerSize, Section, Worn, corner_size};
use crate::section::tube::Tube;
use nalgebra::{Matrix2, SymmetricEigen};
use std::f64::consts::PI;

/// Relative difference of the principal values below which every axis is principal and the tube's own are used.
const ISOTROPIC: f64 = 1e-9;

/// Area, centroid and second moments about horizontal and vertical axes through the centroid.
#[derive(Debug, Clone, Copy)]
pub(super) struct Central {
    pub(super) area: f64,
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) i_x: f64,
    pub(super) i_y: f64,
    pub(super) i_xy: f64,
}

impl Central {
    pub(super) fn new(ring: &[Worn<'_>]) -> Self {
        let m: Moments = ring.iter().map(Worn::moments).sum();
        let area = m.area.max(0.0);
        let (x, y) = if area > 0.0 { (m.x / area, m.y / area) } else { (0.0, 0.0) };
        let i_x = (m.yy - y * m.y).max(0.0);
        let i_y = (m.xx - x * m.x).max(0.0);
        Self { area, x, y, i_x, i_y, i_xy: m.xy - x * m.y }
    }

    /// Principal values with the directions of their axes' normals, least first.
    pub(super) fn principal(&self) -> [(f64, Edge); 2] {
        // a moment about an axis weighs distances along its normal: i_x belongs to the upright normal
        let eigen = SymmetricEigen::new(Matrix2::new(self.i_y, self.i_xy, self.i_xy, self.i_x));
        let pair = |k: usize| {
            let normal = eigen.eigenvectors.column(k);
            (eigen.eigenvalues[k].max(0.0), Edge { cos: normal[0], sin: normal[1] })
        };
        let (a, b) = (pair(0), pair(1));
        if (a.0 - b.0).abs() <= ISOTROPIC * (a.0 + b.0) {
            return [(a.0.min(b.0), UP), (a.0.max(b.0), RIGHT)];
        }
        if a.0 <= b.0 { [a, b] } else { [b, a] }
    }

    /// Least elastic modulus over the principal axes and both extreme fibres [mm³].
    pub(super) fn least_modulus(&self, ring: &[Worn<'_>]) -> f64 {
        let moduli = self.principal().map(|(value, normal)| ratio(value, self.fibre(ring, normal)));
        moduli[0].min(moduli[1])
    }

    /// Elastic moduli for moments about the horizontal and the vertical axis [mm³].
    pub(super) fn own_moduli(&self, ring: &[Worn<'_>]) -> (f64, f64) {
        let determinant = (self.i_x * self.i_y - self.i_xy * self.i_xy).max(0.0);
        let modulus = |x: f64, y: f64| {
            let length = x.hypot(y);
            if length > 0.0 {
                let normal = Edge { cos: x / length, sin: y / length };
                ratio(determinant / length, self.fibre(ring, normal))
            } else {
                0.0
            }
        };
        (modulus(-self.i_xy, self.i_y), modulus(self.i_x, -self.i_xy))
    }

    /// Distance of the extreme fibre from the centroid, to either side along a normal [mm].
    fn fibre(&self, ring: &[Worn<'_>], normal: Edge) -> f64 {
        let offset = self.x * normal.cos + self.y * normal.sin;
        let reach = |to: Edge| ring.iter().filter_map(|worn| worn.reach(to)).fold(f64::MIN, f64::max);
        let opposite = Edge { sin: -normal.sin, cos: -normal.cos };
        (reach(normal) - offset).max(reach(opposite) + offset)
    }
}

const UP: Edge = Edge { sin: 1.0, cos: 0.0 };
const RIGHT: Edge = Edge { sin: 0.0, cos: 1.0 };

/// Quotient of two lengths' powers that is zero where nothing is left.
pub(super) fn ratio(value: f64, of: f64) -> f64 {
    if of > 0.0 { value / of } else { 0.0 }
}

/// Plastic modulus about the horizontal axis [mm³]; none unless every sector has the same loss.
pub(super) fn plastic_modulus(section: &Section, ring: &[Worn<'_>]) -> Option<f64> {
    let first = ring.first()?;
    if ring.iter().any(|worn| worn.loss != first.loss) {
        return None;
    }
    if !first.is_left() {
        return Some(0.0);
    }
    let (outside, wall) = (first.loss.outside_mm, first.wall_mm);
    let CornerSize { outer_mm: ro, inner_mm: ri, .. } = corner_size(section.tube());
    Some(match *section.tube() {
        Tube::Round { diameter_mm, .. } => {
            let outer = diameter_mm - 2.0 * outside;
            let inner = outer - 2.0 * wall;
            (outer * outer * outer - inner * inner * inner) / 6.0
        }
        Tube::Rectangular { height_mm, width_mm, .. } => {
            let (height, width) = (height_mm - 2.0 * outside, width_mm - 2.0 * outside);
            rounded_block(height, width, ro - outside)
                - rounded_block(height - 2.0 * wall, width - 2.0 * wall, ri + first.loss.inside_mm)
        }
    })
}

/// Plastic modulus of a solid rectangle with rounded corners [mm³].
fn rounded_block(height: f64, width: f64, radius: f64) -> f64 {
    let fillet = (1.0 - 0.25 * PI) * radius * radius; // A_g
    let arm = 0.5 * height - radius * (10.0 - 3.0 * PI) / (12.0 - 3.0 * PI); // h_g
    0.25 * width * height * height - 4.0 * fillet * arm
}
