//! Coating systems, their lives, and the wax or oil film over them.
//!
//! Lives, sources and status: `shared/coating_systems.csv`.

use crate::error::{Error, Result, in_range};
use crate::numeric::elementary::ln_alone;
use crate::prior::{Prior, PriorFamily};
use crate::reference;

const TABLE: &str = include_str!("../../shared/coating_systems.csv");
/// Key of the outside system that a rework applies where none is named.
pub const DEFAULT_REWORK_SYSTEM: &str = "blasted_powder";

/// A coating system and its life.
#[derive(Debug, Clone, PartialEq)]
pub struct System {
    /// Key in tables and case files.
    pub id: String,
    /// Name for people.
    pub title: String,
    /// Life to 1 % rusted area at the middle of C3 [a].
    pub life_a: Prior,
    /// Share of the variance of ln life common to all cars with the system [-].
    pub common_share: f64,
    /// Usual dry film thickness [µm].
    pub dft_um: Option<f64>,
}

#[derive(serde::Deserialize)]
struct Row {
    face: String,
    id: String,
    title: String,
    life_median_a: Option<f64>,
    life_p05_a: Option<f64>,
    life_p95_a: Option<f64>,
    common_share: Option<f64>,
    film_um: Option<f64>,
}

impl Row {
    fn offer(self) -> Result<Offer> {
        let points = self.life_median_a.zip(self.life_p05_a).zip(self.life_p95_a);
        let life = |((median, p05), p95)| Prior::from_points(PriorFamily::Lognormal, median, p05, p95);
        let system = points.map(life).transpose()?.map(|life_a| System {
            id: self.id.clone(),
            title: self.title.clone(),
            life_a,
            common_share: self.common_share.unwrap_or(0.5),
            dft_um: self.film_um,
        });
        Ok(Offer { face: self.face, id: self.id, title: self.title, system })
    }
}

/// A row of the table of systems; a row without a life is bare steel.
#[derive(Debug, Clone, PartialEq)]
struct Offer {
    face: String,
    id: String,
    title: String,
    system: Option<System>,
}

/// Coating systems by the face of the tube they are for.
#[derive(Debug, Clone, PartialEq)]
pub struct CoatingSystems(Vec<Offer>);

impl CoatingSystems {
    /// The systems of `shared/coating_systems.csv`.
    ///
    /// # Errors
    /// As [`Self::from_csv`].
    pub fn published() -> Result<Self> {
        Self::from_csv(TABLE)
    }

    /// Reads a table with the columns of `shared/coating_systems.csv`.
    ///
    /// # Errors
    /// [`Error::Input`] naming line and problem, [`Error::Invalid`] for points that make no lognormal life.
    pub fn from_csv(text: &str) -> Result<Self> {
        let rows: Vec<Row> = reference::rows("coating_systems.csv", text)?;
        rows.into_iter().map(Row::offer).collect::<Result<_>>().map(Self)
    }

    /// Keys and names of the systems for a face, `outside` or `inside`, in table order.
    pub fn names(&self, face: &str) -> impl Iterator<Item = (&str, &str)> {
        let offers = self.0.iter().filter(move |offer| offer.face == face);
        offers.map(|offer| (offer.id.as_str(), offer.title.as_str()))
    }

    /// The outside system of key `id`.
    ///
    /// # Errors
    /// [`Error::Invalid`] with the list of keys and the nearest one.
    pub fn outside(&self, id: &str) -> Result<System> {
        let system = self.offer("outside", id)?.system.clone();
        system.ok_or_else(|| Error::invalid("coating system", id, "a system with a life"))
    }

    /// The inside protection of key `id`.
    ///
    /// # Errors
    /// [`Error::Invalid`] with the list of keys and the nearest one.
    pub fn inside(&self, id: &str) -> Result<Inside> {
        Ok(self.offer("inside", id)?.system.clone().map_or(Inside::Bare, Inside::Coated))
    }

    fn offer(&self, face: &str, id: &str) -> Result<&Offer> {
        self.0.iter().find(|offer| offer.face == face && offer.id == id).ok_or_else(|| {
            let ids: Vec<&str> = self.names(face).map(|(id, _)| id).collect();
            Error::unknown(format!("{face} coating system"), id, &ids)
        })
    }
}

/// Keys and names of the published systems for a face, `outside` or `inside`, in table order.
///
/// # Errors
/// As [`CoatingSystems::from_csv`].
pub fn list(face: &str) -> Result<Vec<(String, String)>> {
    let systems = CoatingSystems::published()?;
    Ok(systems.names(face).map(|(id, title)| (id.to_owned(), title.to_owned())).collect())
}

impl System {
    /// The published outside system of key `id`.
    ///
    /// # Errors
    /// As [`CoatingSystems::outside`].
    pub fn outside(id: &str) -> Result<Self> {
        CoatingSystems::published()?.outside(id)
    }

    /// The same system with a measured dry film thickness [µm]: life in proportion to the square root of the thickness
    /// (ASSUMPTION; 5 years on a Japanese coast show only that a thicker film lasts longer, SAW).
    ///
    /// # Errors
    /// [`Error::OutOfRange`] outside 2 to 2,000 µm.
    pub fn with_dft_um(mut self, measured_um: f64) -> Result<Self> {
        let measured_um = in_range("film thickness", measured_um, "um", 2.0..=2_000.0)?;
        if let (Some(usual_um), Prior::LogNormal { median, sd_ln }) = (self.dft_um, self.life_a) {
            self.life_a = Prior::LogNormal { median: median * (measured_um / usual_um).sqrt(), sd_ln };
        }
        Ok(self)
    }

    /// Logarithm of the life of the middle car of the system, and standard deviation of ln life between its cars [-]: of the
    /// spread of the life one part is common to the system and moved by a standard normal number, the rest lies between cars.
    #[must_use]
    pub fn ln_life(&self, z: f64) -> (f64, f64) {
        match self.life_a {
            Prior::LogNormal { median, sd_ln } => {
                let common = sd_ln * self.common_share.sqrt();
                (common.mul_add(z, ln_alone(median)), sd_ln * (1.0 - self.common_share).sqrt())
            }
            other => (ln_alone(other.value(z).max(1e-3)), 0.0),
        }
    }
}

/// What protects the inside of the tube.
#[derive(Debug, Clone, PartialEq)]
pub enum Inside {
    /// Nothing: it corrodes from the first day.
    Bare,
    /// A coating with a life, such as cavity wax.
    Coated(System),
}

impl Inside {
    /// The published inside protection of key `id`.
    ///
    /// # Errors
    /// As [`CoatingSystems::inside`].
    pub fn new(id: &str) -> Result<Self> {
        CoatingSystems::published()?.inside(id)
    }

    /// Its coating system; `None` when bare.
    #[must_use]
    pub const fn system(&self) -> Option<&System> {
        match self {
            Self::Bare => None,
            Self::Coated(system) => Some(system),
        }
    }
}

/// A wax or oil film over the coating, renewed every few years.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OverFilm {
    /// None.
    None,
    /// Renewed throughout.
    Renewed,
}

/// The coating of a member as built.
#[derive(Debug, Clone, PartialEq)]
pub struct MemberCoating {
    /// System outside.
    pub outside: System,
    /// Protection inside.
    pub inside: Inside,
    /// Wax or oil over the outside.
    pub over_film: OverFilm,
}

#[cfg(test)]
mod tests {
    use super::{Inside, System};
    use crate::prior::Prior;

    #[test]
    fn closed_form_split_keeps_the_total_spread() {
        let life_a = Prior::LogNormal { median: 5.0, sd_ln: 0.49 };
        let system = System { life_a, common_share: 0.4, ..System::outside("thin_factory_coat").unwrap() };
        let (shifted, rest) = system.ln_life(1.0);
        let common = shifted - 5f64.ln();
        assert!((common.mul_add(common, rest * rest) - 0.49 * 0.49).abs() < 1e-12);
    }

    #[test]
    fn systems_are_found_and_misspellings_named() {
        assert!((System::outside("thin_factory_coat").unwrap().life_a.median() - 6.5).abs() < 1e-12);
        assert_eq!(Inside::new("bare").unwrap(), Inside::Bare);
        let message = System::outside("thin_factory_cot").unwrap_err().to_string();
        assert!(message.contains("did you mean `thin_factory_coat`"), "{message}");
        assert!(System::outside("cavity_wax").is_err(), "an inside system is not an outside one");
    }

    #[test]
    fn property_a_thicker_film_lives_longer() {
        let life =
            |um| System::outside("thin_factory_coat").unwrap().with_dft_um(um).unwrap().life_a.median();
        assert!(life(15.0) < life(28.0) && life(28.0) < life(60.0));
        assert!((life(28.0) - 6.5).abs() < 1e-12);
    }
}
