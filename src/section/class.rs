//! Cross-section class of EN 1993-1-1:2005 table 5.2: whether the wall yields before it buckles.
//!
//! Round tube: D/t up to 50, 70, 90 eps²; flats in compression: c/t up to 33, 38, 42 eps with c = side - 3 t (common
//! practice for hollow sections); eps² = 235/fy. Status MEMORY-H. Each sector is judged with its own remaining wall and
//! the outside dimension its loss leaves, and the worst one decides; the standard itself knows only uniform walls.

use crate::error::{Result, in_range};
use crate::section::ring::{FaceLoss, Section, Span, Worn};
use crate::section::tube::Tube;

const ROUND_LIMITS: [f64; 3] = [50.0, 70.0, 90.0];
const FLAT_LIMITS: [f64; 3] = [33.0, 38.0, 42.0];

/// Class and the slenderness it follows from.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct SectionClass {
    /// Class 1 (plastic hinge) to 4 (buckles before it yields) [-].
    pub class: u8,
    /// Greatest D/t or c/t of a sector; none when a sector is gone, which counts as class 4 [-].
    pub slenderness: Option<f64>,
}

/// Class for the given losses and a yield strength of 100 to 1500 [N/mm²].
///
/// # Examples
/// ```
/// use ferrowane::section::{FaceLoss, Section, Tube, section_class};
/// let section = Section::from(Tube::parse_round("45x2")?);
/// let new = section_class(&section, &[FaceLoss::default(); 8], 420.0)?;
/// assert_eq!((new.class, new.slenderness), (1, Some(22.5))); // D/t 22.5, limit of class 1: 50 · 235/420 = 28.0
/// # Ok::<(), ferrowane::error::Error>(())
/// ```
///
/// # Errors
/// As [`crate::section::properties`], and [`crate::error::Error::OutOfRange`] for the yield strength.
pub fn section_class(section: &Section, losses: &[FaceLoss], yield_n_mm2: f64) -> Result<SectionClass> {
    in_range("yield strength", yield_n_mm2, "N/mm²", 100.0..=1500.0)?;
    let ring = section.worn(losses)?;
    if ring.iter().any(|worn| !worn.is_left()) {
        return Ok(SectionClass { class: 4, slenderness: None });
    }
    let epsilon_squared = 235.0 / yield_n_mm2;
    let limits = match section.tube() {
        Tube::Round { .. } => ROUND_LIMITS.map(|limit| limit * epsilon_squared),
        Tube::Rectangular { .. } => FLAT_LIMITS.map(|limit| limit * epsilon_squared.sqrt()),
    };
    let slenderness = (0..ring.len()).map(|k| slenderness(section, &ring, k)).fold(0.0, f64::max);
    let passed = limits.iter().filter(|limit| slenderness > **limit).count();
    Ok(SectionClass { class: 1 + passed as u8, slenderness: Some(slenderness) })
}

fn slenderness(section: &Section, ring: &[Worn<'_>], k: usize) -> f64 {
    let (height, width) = section.tube().height_and_width_mm();
    let Worn { sector, loss, wall_mm } = ring[k];
    match sector.span {
        Span::Arc { .. } => (height - 2.0 * loss.outside_mm) / wall_mm,
        Span::Flat { .. } => {
            let side = if k.is_multiple_of(4) { width } else { height };
            let beside = [ring[(k + 2) % 8], ring[(k + 6) % 8]];
            (side - beside[0].loss.outside_mm - beside[1].loss.outside_mm) / wall_mm - 3.0
        }
        Span::Corner => 0.0,
    }
}
