//! What is left of a thin-wall tube when each sector of its wall has lost some depth outside and inside.
//!
//! Reading order: the tube, its ring of sectors, then the questions: full properties, remaining shares, the class of
//! EN 1993-1-1, and the polynomials the Monte Carlo evaluates. Closed forms throughout, exact for the stated geometry.
//! Sources stand in each file; axes: x to the right, y up, origin at the centre of the new tube.

mod class;
mod modulus;
mod moments;
mod polynomials;
mod properties;
mod remaining;
mod ring;
mod torsion;
mod tube;

pub use class::{SectionClass, section_class};
pub use polynomials::{
    FacePolynomial, GroupPolynomials, IntactMoments, Reach, bending_left, bending_left_lanes, intact_moments,
    loss_polynomials,
};
pub use properties::{Properties, properties};
pub use remaining::{Remaining, remaining};
pub use ring::{FaceLoss, Section};
pub use tube::{Corners, Tube};
