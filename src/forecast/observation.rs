//! What was seen on a car, at what age and where: grades, wall readings, spots cleaned and found sound.

use crate::coating::{RustGrade, Scale, SeenGrade};
use crate::error::{Error, Result};
use crate::model::locations::GROUP_NAMES;

/// Where on the member somebody looked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spot {
    /// The open length of the tube.
    OpenLength,
    /// The worst of its nodes, whichever that is.
    WorstNode,
    /// One of its nodes, by its number from 1 on.
    Node(u32),
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

impl Spot {
    /// Where a location is on a member with so many nodes [-]: `run`, `node` for the worst of its nodes, `node 3` for one of
    /// them, or a side of the tube.
    ///
    /// # Errors
    /// [`Error::Invalid`] with what there is, where the member has no such location.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::forecast::observation::Spot;
    /// assert_eq!(Spot::of_member("Node 3", 6)?, Spot::Node(3));
    /// let error = Spot::of_member("node 99", 6).unwrap_err();
    /// assert!(error.to_string().ends_with("bottom, lower, side, upper, top, run, node (the worst of 6), node 1 to node 6"));
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    pub fn of_member(location: &str, nodes: u32) -> Result<Self> {
        let name = location.trim().to_lowercase();
        let group = GROUP_NAMES.iter().position(|group| *group == name).map(Self::Group);
        let number = |text: &str| text.trim().parse().ok().filter(|number| (1..=nodes).contains(number));
        let found = match name.as_str() {
            "run" => Some(Self::OpenLength),
            "node" => Some(Self::WorstNode),
            other => group.or_else(|| other.strip_prefix("node").and_then(number).map(Self::Node)),
        };
        found.ok_or_else(|| {
            let sides = GROUP_NAMES.join(", ");
            let allowed = format!("{sides}, run, node (the worst of {nodes}), node 1 to node {nodes}");
            Error::invalid("location", format!("`{}`", location.trim()), allowed)
        })
    }
}

/// Who graded; those without a code count as one.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Inspector(u64);

impl Inspector {
    /// The inspector of a code, the same on every car. Codes are distinguished by 64 bits of them (FNV-1a).
    #[must_use]
    pub fn from_code(code: &str) -> Self {
        let mixed = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        Self(code.trim().bytes().fold(0xcbf2_9ce4_8422_2325, mixed))
    }

    /// Another inspector for each.
    #[must_use]
    pub fn another(self) -> Self {
        Self(self.0 ^ 0x5bd1_e995_5bd1_e995)
    }
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
    /// By whom; it matters for grades only.
    pub inspector: Inspector,
}

impl Observation {
    /// Something seen at an age [a] by an inspector without a code.
    #[must_use]
    pub fn new(age_a: f64, spot: Spot, seen: Seen) -> Self {
        Self { age_a, spot, seen, inspector: Inspector::default() }
    }

    /// A degree of rusting by ISO 4628-3 at an age [a], given by an inspector without a code.
    #[must_use]
    pub fn graded(age_a: f64, spot: Spot, grade: RustGrade) -> Self {
        Self::new(age_a, spot, Seen::Grade(SeenGrade { scale: Scale::Ri, number: grade.number() }))
    }

    /// The same seen by another inspector.
    #[must_use]
    pub fn by(self, inspector: Inspector) -> Self {
        Self { inspector, ..self }
    }

    /// Whether another observation is of the same spot and day: of several such grades only one counts, that of the worst.
    #[must_use]
    pub fn is_beside(&self, other: &Self) -> bool {
        self.spot == other.spot && (self.age_a - other.age_a).abs() < f64::EPSILON
    }
}
