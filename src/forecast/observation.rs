//! What was seen on a car, at what age and where: grades, wall readings, spots cleaned and found sound.

use crate::coating::{RustGrade, Scale, SeenGrade};

/// Where on the member somebody looked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spot {
    /// The open length of the tube.
    OpenLength,
    /// Its worst node.
    Node,
    /// A group of sectors round the circumference of the open length, in the order of `shared/locations.csv`.
    Group(usize),
}

/// What was seen there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seen {
    /// A degree of rusting of the visible surface.
    Grade(SeenGrade),
    /// A reading of the wall [mm], on a cleaned spot or on rust as it was.
    Wall {
        /// The reading [mm].
        reading_mm: f64,
        /// Whether the spot was cleaned to metal.
        cleaned: bool,
    },
    /// A spot cleaned by hand and found sound, or not.
    Sound(bool),
}

/// Something seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Age of the car then [a].
    pub age_a: f64,
    /// Where.
    pub spot: Spot,
    /// What.
    pub seen: Seen,
}

impl Observation {
    /// A degree of rusting by ISO 4628-3 at an age [a].
    #[must_use]
    pub fn graded(age_a: f64, spot: Spot, grade: RustGrade) -> Self {
        let seen = Seen::Grade(SeenGrade { scale: Scale::Ri, number: grade.number() });
        Self { age_a, spot, seen }
    }

    /// Whether another observation is of the same spot and day: of several such grades only one counts, that of the worst.
    #[must_use]
    pub fn is_beside(&self, other: &Self) -> bool {
        self.spot == other.spot && (self.age_a - other.age_a).abs() < f64::EPSILON
    }
}
