//! Section properties of a thin-wall tube, each sector of which has its own loss outside and inside.
//!
//! Reading order: the tube, its ring of sectors, then section properties, remaining shares, the class of EN 1993-1-1, and
//! the polynomials for the Monte Carlo. Closed forms throughout, exact for the stated geometry. Sources: in each file.
//! Axes: x to the right, y up, origin at the centre of the new tube.

mod class;
mod modulus;
mod moments;
mod perforation;
mod polynomials;
mod properties;
mod remaining;
mod ring;
mod torsion;
mod tube;

pub use class::{SectionClass, section_class};
pub use perforation::perforated_share;
pub use polynomials::{
    FacePolynomial, GroupPolynomials, IntactMoments, Reach, bending_left, bending_left_lanes, intact_moments,
    loss_polynomials,
};
pub use properties::{Properties, properties};
pub use remaining::{Remaining, remaining};
pub use ring::{FaceLoss, Section};
pub use tube::{Corners, Tube};
