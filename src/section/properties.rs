//! All section properties of a worn ring of sectors.
//!
//! Area, centroid and second moments exactly (see `moments`), principal axes from the second-moment tensor, moduli and
//! torsion as their files state. Checked against published section tables within their printed rounding.
//! The elastic modulus alone may rise with loss: thinning wall near the neutral axis can draw the centroid back from the
//! extreme fibre of an already uneven tube. Everything else can only fall.

use crate::error::Result;
use crate::section::modulus::{Central, plastic_modulus};
use crate::section::ring::{FaceLoss, Section, Worn};
use crate::section::torsion::torsion_constant_mm4;

/// Section properties; every value is finite, zero where nothing is left.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Properties {
    /// Area [mm²].
    pub area_mm2: f64,
    /// Centroid above the centre of the new tube [mm].
    pub centroid_y_mm: f64,
    /// Centroid right of the centre of the new tube [mm].
    pub centroid_x_mm: f64,
    /// Least principal second moment [mm⁴].
    pub i_min_mm4: f64,
    /// Greatest principal second moment [mm⁴].
    pub i_max_mm4: f64,
    /// Second moment about the horizontal axis through the centroid [mm⁴].
    pub i_x_mm4: f64,
    /// Second moment about the vertical axis through the centroid [mm⁴].
    pub i_y_mm4: f64,
    /// Least elastic modulus over the principal axes and both extreme fibres; in a square tube a slightly lopsided loss
    /// turns these axes to the diagonals, where `w_x_mm3` and `w_y_mm3` stay continuous [mm³].
    pub w_el_mm3: f64,
    /// Elastic modulus for a moment about the horizontal axis [mm³].
    pub w_x_mm3: f64,
    /// Elastic modulus for a moment about the vertical axis [mm³].
    pub w_y_mm3: f64,
    /// Plastic modulus about the horizontal axis, where all sectors have the same loss [mm³].
    pub w_pl_mm3: Option<f64>,
    /// St Venant torsion constant [mm⁴].
    pub torsion_constant_mm4: f64,
    /// Least remaining wall, zero when a sector is gone [mm].
    pub least_wall_mm: f64,
}

/// Properties of a section whose sectors have the given losses, in the ring's order.
///
/// # Errors
/// [`crate::error::Error::Invalid`] unless there is one loss a sector, [`crate::error::Error::OutOfRange`] for a loss
/// that is negative or not finite.
///
/// # Examples
/// ```
/// use ferrowane::section::{FaceLoss, Section, Tube, properties};
/// let section = Section::from(Tube::parse_round("48.3x3.2")?);
/// let new = properties(&section, &[FaceLoss::default(); 8])?;
/// assert_eq!(new.w_el_mm3.round(), 4797.0); // published: 4.80 cm³
/// # Ok::<(), ferrowane::error::Error>(())
/// ```
pub fn properties(section: &Section, losses: &[FaceLoss]) -> Result<Properties> {
    let ring = section.worn(losses)?;
    let central = Central::new(&ring);
    let [(i_min_mm4, _), (i_max_mm4, _)] = central.principal();
    let (w_x_mm3, w_y_mm3) = central.own_moduli(&ring);
    Ok(Properties {
        area_mm2: central.area,
        centroid_y_mm: central.y,
        centroid_x_mm: central.x,
        i_min_mm4,
        i_max_mm4,
        i_x_mm4: central.i_x,
        i_y_mm4: central.i_y,
        w_el_mm3: central.least_modulus(&ring),
        w_x_mm3,
        w_y_mm3,
        w_pl_mm3: plastic_modulus(section, &ring),
        torsion_constant_mm4: torsion_constant_mm4(section, &ring),
        least_wall_mm: least_wall_mm(&ring),
    })
}

/// Least remaining wall [mm].
pub(super) fn least_wall_mm(ring: &[Worn<'_>]) -> f64 {
    ring.iter().map(|worn| worn.wall_mm).reduce(f64::min).unwrap_or(0.0)
}
