//! A tube, new or worn, and the shares of its capacity that are left: the JSON of `section`.

use crate::error::{Error, Result, in_range};
use crate::section::{
    FaceLoss, Properties, Remaining, Section, SectionClass, Tube, properties, remaining, section_class,
};
use serde_json::{Value, json};

/// Sectors of a tube [-].
pub const SECTORS: usize = 8;
/// Greatest loss accepted, the greatest outside dimension of a tube [mm].
const LOSS_MAX_MM: f64 = 500.0;

/// Properties of a tube, new and worn.
#[derive(Debug, Clone)]
pub struct SectionLeft {
    /// The tube.
    pub tube: Tube,
    /// As new.
    pub new: Properties,
    /// With its losses.
    pub worn: Properties,
    /// Class of the worn section.
    pub class: SectionClass,
    /// What is left of its capacity.
    pub remaining: Remaining,
    /// Whether anything is lost.
    pub has_loss: bool,
}

impl SectionLeft {
    /// Of a tube with losses of wall by sector and a yield strength, 100 to 1500 [N/mm²].
    ///
    /// # Errors
    /// Those of [`properties`] and [`section_class`].
    pub fn new(tube: Tube, losses: &[FaceLoss; SECTORS], yield_n_mm2: f64) -> Result<Self> {
        let section = Section::from(tube);
        Ok(Self {
            tube,
            new: properties(&section, &[FaceLoss::default(); SECTORS])?,
            worn: properties(&section, losses)?,
            class: section_class(&section, losses, yield_n_mm2)?,
            remaining: remaining(&section, losses)?,
            has_loss: *losses != [FaceLoss::default(); SECTORS],
        })
    }

    /// As JSON.
    #[must_use]
    pub fn to_value(&self) -> Value {
        let (worn, left) = (&self.worn, &self.remaining);
        json!({
            "tube": self.tube.to_string(),
            "area_mm2": worn.area_mm2,
            "i_min_mm4": worn.i_min_mm4,
            "i_x_mm4": worn.i_x_mm4,
            "i_y_mm4": worn.i_y_mm4,
            "w_el_mm3": worn.w_el_mm3,
            "w_x_mm3": worn.w_x_mm3,
            "w_y_mm3": worn.w_y_mm3,
            "torsion_constant_mm4": worn.torsion_constant_mm4,
            "least_wall_mm": worn.least_wall_mm,
            "class": self.class.class,
            "slenderness": self.class.slenderness,
            "remaining": { "axial": left.axial, "bending": left.bending, "torsion": left.torsion },
        })
    }
}

/// Losses of the sectors: one pair for all, or one a sector, counter-clockwise from the bottom.
///
/// # Errors
/// [`Error::Invalid`] about `loss` for another number of pairs, [`Error::OutOfRange`] for a loss outside 0 to 500 mm.
pub fn losses(pairs: &[FaceLoss]) -> Result<[FaceLoss; SECTORS]> {
    for depth_mm in pairs.iter().flat_map(|pair| [pair.outside_mm, pair.inside_mm]) {
        in_range("loss of wall", depth_mm, "mm", 0.0..=LOSS_MAX_MM)?;
    }
    match pairs {
        [all] => Ok([*all; SECTORS]),
        each => each.try_into().map_err(|_| {
            let allowed = "one pair OUT/IN, or eight, one a sector";
            Error::invalid("loss", format!("{} pairs", each.len()), allowed)
        }),
    }
}
