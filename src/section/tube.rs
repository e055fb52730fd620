//! The new tube: round or rectangular, with the corner radii of the product standard.
//!
//! Radii for section properties: [EN10210-2] hot-finished ro = 1.5 T, ri = 1.0 T; [EN10219-2] cold-formed ro = 2.0 T,
//! ri = 1.0 T up to 6 mm, 2.5 T and 1.5 T up to 10 mm, 3.0 T and 2.0 T above. Status MEMORY-H.
//! Valid for 5 to 500 mm outside and walls from 0.3 mm to a third of the least outside dimension; a rectangular tube also
//! needs a wall thin enough for its corners to fit.

use crate::error::in_range;
use crate::error::{Error, Result};

/// Accepted outside dimensions [mm].
const DIMENSION_MM: std::ops::RangeInclusive<f64> = 5.0..=500.0;
/// Thinnest wall accepted [mm].
const MIN_WALL_MM: f64 = 0.3;

/// How a square or rectangular tube was made, which sets its corner radii.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all(deserialize = "snake_case"))]
pub enum Corners {
    /// EN 10210-2.
    HotFinished,
    /// EN 10219-2.
    ColdFormed,
}

impl Corners {
    /// Outer and inner corner radius of a wall [mm].
    #[must_use]
    pub fn radii_mm(self, wall_mm: f64) -> (f64, f64) {
        match self {
            Self::HotFinished => (1.5 * wall_mm, wall_mm),
            Self::ColdFormed if wall_mm <= 6.0 => (2.0 * wall_mm, wall_mm),
            Self::ColdFormed if wall_mm <= 10.0 => (2.5 * wall_mm, 1.5 * wall_mm),
            Self::ColdFormed => (3.0 * wall_mm, 2.0 * wall_mm),
        }
    }
}

/// A new tube; build it with the checked constructors.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub enum Tube {
    /// Round tube.
    Round {
        /// Outside diameter [mm].
        diameter_mm: f64,
        /// Wall [mm].
        wall_mm: f64,
    },
    /// Rectangular tube, square with equal sides.
    Rectangular {
        /// Outside height [mm].
        height_mm: f64,
        /// Outside width [mm].
        width_mm: f64,
        /// Wall [mm].
        wall_mm: f64,
        /// How it was made.
        corners: Corners,
    },
}

impl Tube {
    /// A round tube of outside diameter 5 to 500 and wall 0.3 to a third of it [mm].
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a dimension outside those ranges.
    pub fn round(diameter_mm: f64, wall_mm: f64) -> Result<Self> {
        in_range("tube diameter", diameter_mm, "mm", DIMENSION_MM)?;
        in_range("tube wall", wall_mm, "mm", MIN_WALL_MM..=diameter_mm / 3.0)?;
        Ok(Self::Round { diameter_mm, wall_mm })
    }

    /// A rectangular tube of sides 5 to 500 and a wall from 0.3 up to where its inner corners would meet [mm].
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a dimension outside those ranges.
    pub fn rectangular(height_mm: f64, width_mm: f64, wall_mm: f64, corners: Corners) -> Result<Self> {
        in_range("tube height", height_mm, "mm", DIMENSION_MM)?;
        in_range("tube width", width_mm, "mm", DIMENSION_MM)?;
        let least_side_mm = height_mm.min(width_mm);
        in_range("tube wall", wall_mm, "mm", MIN_WALL_MM..=least_side_mm / 3.0)?;
        let (_, ri) = corners.radii_mm(wall_mm);
        in_range("two walls and inner corner radii", 2.0 * (wall_mm + ri), "mm", 0.0..=least_side_mm)?;
        Ok(Self::Rectangular { height_mm, width_mm, wall_mm, corners })
    }

    /// Reads a round tube written as `48.3x3.2`, diameter by wall [mm].
    ///
    /// # Examples
    /// ```
    /// use ferrowane::section::Tube;
    /// assert_eq!(Tube::parse_round("48.3x3.2")?, Tube::round(48.3, 3.2)?);
    /// assert!(Tube::parse_round("48x20").is_err()); // the wall is more than a third of the diameter
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Error::Invalid`] for other wording, [`Error::OutOfRange`] for a size [`Tube::round`] refuses.
    pub fn parse_round(text: &str) -> Result<Self> {
        match numbers(text)[..] {
            [Some(diameter_mm), Some(wall_mm)] => Self::round(diameter_mm, wall_mm),
            _ => Err(Error::invalid("round tube", text, "diameter x wall in mm, for example 48.3x3.2")),
        }
    }

    /// Reads a rectangular tube written as `60x40x2`, height by width by wall [mm].
    ///
    /// # Errors
    /// [`Error::Invalid`] for other wording, [`Error::OutOfRange`] for a size [`Tube::rectangular`] refuses.
    pub fn parse_rectangular(text: &str, corners: Corners) -> Result<Self> {
        match numbers(text)[..] {
            [Some(height_mm), Some(width_mm), Some(wall_mm)] => {
                Self::rectangular(height_mm, width_mm, wall_mm, corners)
            }
            _ => Err(Error::invalid(
                "rectangular tube",
                text,
                "height x width x wall in mm, for example 60x40x2",
            )),
        }
    }

    /// Wall of the new tube [mm].
    #[must_use]
    pub fn wall_mm(&self) -> f64 {
        match *self {
            Self::Round { wall_mm, .. } | Self::Rectangular { wall_mm, .. } => wall_mm,
        }
    }

    /// Outside height and width of the new tube, the diameter twice for a round one [mm].
    #[must_use]
    pub fn height_and_width_mm(&self) -> (f64, f64) {
        match *self {
            Self::Round { diameter_mm, .. } => (diameter_mm, diameter_mm),
            Self::Rectangular { height_mm, width_mm, .. } => (height_mm, width_mm),
        }
    }
}

fn numbers(text: &str) -> Vec<Option<f64>> {
    text.split(['x', 'X', '×']).map(|part| part.trim().parse().ok()).collect()
}

impl std::fmt::Display for Tube {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Round { diameter_mm, wall_mm } => write!(f, "{diameter_mm}x{wall_mm}"),
            Self::Rectangular { height_mm, width_mm, wall_mm, .. } => {
                write!(f, "{height_mm}x{width_mm}x{wall_mm}")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Corners, Tube};

    #[test]
    fn property_what_is_written_can_be_read_back() {
        let round = Tube::round(48.3, 3.2).unwrap();
        assert_eq!(Tube::parse_round(&round.to_string()).unwrap(), round);
        let flat = Tube::rectangular(60.0, 40.0, 2.0, Corners::ColdFormed).unwrap();
        assert_eq!(Tube::parse_rectangular(" 60 x 40 x 2 ", Corners::ColdFormed).unwrap(), flat);
        assert_eq!(flat.to_string(), "60x40x2");
    }

    #[test]
    fn property_unbuildable_tubes_are_refused_with_the_range() {
        for text in ["48.3", "48.3x3.2x1", "ax2", "", "x", "3x0.5", "48.3x0.1", "40x14", "NaNx2", "40xinf"] {
            assert!(Tube::parse_round(text).is_err(), "{text}");
        }
        for text in ["60x40", "60x40x11", "60x-40x2", "600x40x2"] {
            assert!(Tube::parse_rectangular(text, Corners::HotFinished).is_err(), "{text}");
        }
        let message = Tube::parse_round("48x20").unwrap_err().to_string();
        assert!(message.contains("tube wall is 20 mm, allowed: 0.3 to 16 mm"), "{message}");
    }
}
