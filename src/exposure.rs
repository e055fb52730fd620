//! Exposure of the member in a year: temperature, humidity, water film and salt on the steel, hour by hour.
//!
//! A climate, a storage arrangement and a pattern of use give an [`Exposure`]: monthly means of the air and the steel,
//! hours with a film, and the chloride held on the member. Equations: the project's model of storage microclimate and
//! salt balance; every parameter has a prior in `shared/arrangements.csv` or `shared/priors.csv`.

pub mod airborne;
pub mod arrangement;
pub mod driving;
pub mod enclosure;
pub mod film;
pub mod ground;
mod held_salt;
pub mod month;
mod room;
pub mod salt;
pub mod weather;
pub mod year;

pub use arrangement::{Arrangement, ArrangementKind, Arrangements};
pub use driving::{Driving, Wash};
pub use film::RoadSalt;
pub use ground::Ground;
pub use month::{Exposure, Month, Season};

/// A storage arrangement together with how the car is used from it.
#[derive(Debug, Clone, PartialEq)]
pub struct StorageAndUse {
    /// Where the car stands when it is not driven.
    pub arrangement: Arrangement,
    /// How it is driven and washed.
    pub driving: Driving,
}

impl StorageAndUse {
    /// The same car from another arrangement. What is put up where it stands in the open, a roof or a cover, stands on the same
    /// ground; a garage has its own floor, taken to be paved as that of every arrangement is where nothing is known.
    #[must_use]
    pub fn moved_to(&self, arrangement: &Arrangement) -> Self {
        let stays = self.arrangement.kind.is_outdoors() && arrangement.kind.is_outdoors();
        let ground = if stays { self.arrangement.ground() } else { arrangement.ground() };
        Self { arrangement: arrangement.clone().over(ground), driving: self.driving }
    }

    /// The same, washed otherwise.
    #[must_use]
    pub fn washed(&self, wash: Wash) -> Self {
        Self { arrangement: self.arrangement.clone(), driving: Driving { wash, ..self.driving } }
    }
}
