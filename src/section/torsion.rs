//! Torsion of a worn ring: St Venant constant and the shear flow it can carry.
//!
//! Constant: open part plus Bredt, `sum of s t³/3 + 4 A_m²/(sum of s/t)`, the form of [EN10219-2] (MEMORY-H). For round
//! sectors both terms come from the radial solution of Prandtl's stress function in each sector, so any uniform wall
//! gives exactly It = 2I and a sector that is gone leaves the open section; between sectors of unlike wall the stress
//! function may jump, which makes it an upper estimate there. More loss never raises it. Rectangular tubes use
//! mid-lines as the standard does, about 0.2 % below finite elements on a 60x40x2.

use crate::section::ring::{CornerSize, Section, Span, Worn, corner_size};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

/// One sector's share of the open part, of the enclosed area and of the line integral of ds/t.
struct SectorTorsion {
    open_mm4: f64,
    enclosed_mm2: f64,
    path: f64,
}

/// St Venant torsion constant [mm⁴].
pub(super) fn torsion_constant_mm4(section: &Section, ring: &[Worn<'_>]) -> f64 {
    let (mut open, mut enclosed, mut path) = (0.0, core_mm2(section), 0.0);
    for worn in ring.iter().filter(|worn| worn.is_left()) {
        let share = share(section, worn);
        open += share.open_mm4;
        enclosed += share.enclosed_mm2;
        path += share.path;
    }
    let closed = ring.iter().all(Worn::is_left) && path.is_finite();
    open + if closed { 4.0 * enclosed * enclosed / path } else { 0.0 }
}

/// Torque per unit shear strength carried by an even shear flow round the ring, `2 A_m t_min` [mm³].
///
/// The flow runs in the outermost strip of the least wall: Bredt's mid-line for a uniform wall and a safe estimate
/// (static theorem) for any other.
pub(super) fn shear_capacity_mm3(section: &Section, ring: &[Worn<'_>], least_wall_mm: f64) -> f64 {
    let strip = |worn: &Worn<'_>| {
        let depth = worn.loss.outside_mm + 0.5 * least_wall_mm;
        let CornerSize { block_mm: block, outer_mm: ro, .. } = corner_size(section.tube());
        match worn.sector.span {
            Span::Arc { width_rad } => {
                let radius = 0.5 * section.tube().height_and_width_mm().0 - depth;
                0.5 * radius * radius * width_rad
            }
            Span::Flat { length_mm } => length_mm * (block - depth),
            Span::Corner => corner_area_mm2(block - ro, ro - depth),
        }
    };
    if least_wall_mm > 0.0 {
        2.0 * least_wall_mm * (core_mm2(section) + ring.iter().map(strip).sum::<f64>())
    } else {
        0.0
    }
}

fn share(section: &Section, worn: &Worn<'_>) -> SectorTorsion {
    let wall = worn.wall_mm;
    let shift = 0.5 * (worn.loss.inside_mm - worn.loss.outside_mm);
    let CornerSize { block_mm: block, outer_mm: ro, inner_mm: ri } = corner_size(section.tube());
    let thin = |length: f64, enclosed_mm2: f64| SectorTorsion {
        open_mm4: length * wall * wall * wall / 3.0,
        enclosed_mm2,
        path: length / wall,
    };
    match worn.sector.span {
        Span::Arc { width_rad } => {
            let outer = 0.5 * section.tube().height_and_width_mm().0 - worn.loss.outside_mm;
            arc_share(outer - 0.5 * wall, wall, width_rad)
        }
        Span::Flat { length_mm } => {
            let depth = block - 0.5 * section.tube().wall_mm() + shift;
            thin(length_mm, length_mm * depth)
        }
        Span::Corner => {
            let (end, radius) = (0.5 * (block - ro), 0.5 * (ro + ri) + shift);
            thin(2.0 * end + FRAC_PI_2 * radius, corner_area_mm2(end, radius))
        }
    }
}

/// Radial stress function: phi = -rho²/2 + C ln rho + D between the hole (constant phi) and the outside (zero).
fn arc_share(radius: f64, wall: f64, width_rad: f64) -> SectorTorsion {
    let z = 0.5 * wall / radius;
    let q = artanh_over(z);
    let open = 2.0 * radius * radius * radius * radius * z * (1.0 + z * z - 1.0 / q);
    SectorTorsion {
        open_mm4: width_rad * open.max(0.0),
        enclosed_mm2: width_rad * 0.5 * radius * radius / q,
        path: width_rad / (2.0 * z * q),
    }
}

/// artanh(z)/z for 0 <= z <= 1/2, to which the constructors hold the wall; 26 terms reach 1e-17.
fn artanh_over(z: f64) -> f64 {
    (0..26).rev().fold(0.0, |sum, k| sum * (z * z) + 1.0 / f64::from(2 * k + 1))
}

/// Area between the inner corner of a block and a line of two straight ends and an arc [mm²].
fn corner_area_mm2(end: f64, radius: f64) -> f64 {
    end * end + 2.0 * end * radius + FRAC_PI_4 * radius * radius
}

/// Area of the rectangle between the corner blocks; none in a round tube [mm²].
fn core_mm2(section: &Section) -> f64 {
    let (height, width) = section.tube().height_and_width_mm();
    let block = corner_size(section.tube()).block_mm;
    if block > 0.0 { (height - 2.0 * block) * (width - 2.0 * block) } else { 0.0 }
}
