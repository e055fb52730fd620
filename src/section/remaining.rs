//! The shares of axial, bending and torsional capacity that a worn tube keeps.
//!
//! Axial: area. Bending: elastic modulus; of a round tube the least about the principal axes, of a rectangular one the
//! lesser share about its own two axes (its weak axis would hide what the strong one loses). Torsion: Bredt's shear flow
//! `2 A_m t_min`. Strength only: joints, buckling and fatigue are not covered.

use crate::error::Result;
use crate::section::modulus::{Central, ratio};
use crate::section::properties::least_wall_mm;
use crate::section::ring::{FaceLoss, Section, Worn};
use crate::section::torsion::shear_capacity_mm3;
use crate::section::tube::Tube;

/// Remaining capacity as shares of the new section.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Remaining {
    /// Axial capacity, 0 to 1 [-].
    pub axial: f64,
    /// Bending capacity, from 0 [-].
    pub bending: f64,
    /// Torsional capacity, 0 to 1 [-].
    pub torsion: f64,
    /// Least remaining wall, zero when a sector is gone [mm].
    pub least_wall_mm: f64,
}

struct Capacity {
    axial: f64,
    bending: [f64; 2],
    torsion: f64,
}

/// Remaining shares for the given losses, in the ring's order.
///
/// # Examples
/// ```
/// use ferrowane::section::{FaceLoss, Section, Tube, remaining};
/// // 45x2 with a fifth of the wall lost outside all round: closed forms on the reduced dimensions
/// let section = Section::from(Tube::parse_round("45x2")?);
/// let left = remaining(&section, &[FaceLoss { outside_mm: 0.4, inside_mm: 0.0 }; 8])?;
/// assert!((left.axial - 0.7926).abs() < 1e-4 && (left.bending - 0.7914).abs() < 1e-4);
/// # Ok::<(), ferrowane::error::Error>(())
/// ```
///
/// # Errors
/// As [`crate::section::properties`].
pub fn remaining(section: &Section, losses: &[FaceLoss]) -> Result<Remaining> {
    let ring = section.worn(losses)?;
    let new = capacity(section, &section.worn(&vec![FaceLoss::default(); section.len()])?);
    let left = capacity(section, &ring);
    debug_assert!(
        (0.0..=new.axial * (1.0 + 1e-9)).contains(&left.axial),
        "a worn section with more area than the new one"
    );
    let [first, second] = [0, 1].map(|k| ratio(left.bending[k], new.bending[k]));
    Ok(Remaining {
        axial: ratio(left.axial, new.axial),
        bending: first.min(second),
        torsion: ratio(left.torsion, new.torsion),
        least_wall_mm: least_wall_mm(&ring),
    })
}

fn capacity(section: &Section, ring: &[Worn<'_>]) -> Capacity {
    let central = Central::new(ring);
    let bending = match section.tube() {
        Tube::Round { .. } => [central.least_modulus(ring); 2],
        Tube::Rectangular { .. } => <[f64; 2]>::from(central.own_moduli(ring)),
    };
    let torsion = shear_capacity_mm3(section, ring, least_wall_mm(ring));
    Capacity { axial: central.area, bending, torsion }
}
