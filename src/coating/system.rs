//! Coating systems on offer, their lives, and what can be laid over them.

use crate::error::{Error, Result, in_range, nearest};
use crate::prior::{Prior, Shape};
use crate::reference;

const TABLE: &str = include_str!("../../shared/coating_systems.csv");

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
    /// Usual film thickness [µm].
    pub film_um: Option<f64>,
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
    fn system(self) -> Result<Option<System>> {
        let (Some(median), Some(p05), Some(p95)) = (self.life_median_a, self.life_p05_a, self.life_p95_a)
        else {
            return Ok(None);
        };
        let life_a = Prior::from_points(Shape::Lognormal, median, p05, p95)?;
        let common_share = self.common_share.unwrap_or(0.5);
        Ok(Some(System { id: self.id, title: self.title, life_a, common_share, film_um: self.film_um }))
    }
}

fn row(face: &str, id: &str) -> Result<Row> {
    let rows: Vec<Row> = reference::rows("coating_systems.csv", TABLE)?;
    let ids: Vec<String> = rows.iter().filter(|row| row.face == face).map(|row| row.id.clone()).collect();
    rows.into_iter().find(|row| row.face == face && row.id == id).ok_or_else(|| {
        let near = nearest(id, ids.iter().map(String::as_str));
        let hint = near.map_or_else(String::new, |name| format!("; did you mean `{name}`?"));
        Error::invalid(format!("{face} coating system"), id, ids.join(", ") + &hint)
    })
}

/// Keys and names of the outside (`true`) or inside systems, in table order.
///
/// # Errors
/// When the embedded table cannot be read.
pub fn list(face: &str) -> Result<Vec<(String, String)>> {
    let rows: Vec<Row> = reference::rows("coating_systems.csv", TABLE)?;
    Ok(rows.into_iter().filter(|row| row.face == face).map(|row| (row.id, row.title)).collect())
}

impl System {
    /// The outside system of key `id`.
    ///
    /// # Errors
    /// [`Error::Invalid`] with the list of keys and the nearest one.
    pub fn outside(id: &str) -> Result<Self> {
        row("outside", id)?
            .system()?
            .ok_or_else(|| Error::invalid("coating system", id, "a system with a life"))
    }

    /// The same system with a film of `measured_um` [µm]: life grows with the square root of the thickness (ASSUMPTION;
    /// that thicker is better was seen on a Japanese coast over 5 years, SAW, direction only).
    ///
    /// # Errors
    /// [`Error::OutOfRange`] outside 2 to 2,000 µm.
    pub fn with_film_um(mut self, measured_um: f64) -> Result<Self> {
        let measured_um = in_range("film thickness", measured_um, "um", 2.0..=2_000.0)?;
        if let (Some(usual_um), Prior::LogNormal { median, sd_ln }) = (self.film_um, self.life_a) {
            self.life_a = Prior::LogNormal { median: median * (measured_um / usual_um).sqrt(), sd_ln };
        }
        Ok(self)
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
    /// The inside system of key `id`.
    ///
    /// # Errors
    /// [`Error::Invalid`] with the list of keys and the nearest one.
    pub fn new(id: &str) -> Result<Self> {
        Ok(row("inside", id)?.system()?.map_or(Self::Bare, Self::Coated))
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
pub struct Coating {
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

    #[test]
    fn systems_are_found_and_misspellings_named() {
        assert!((System::outside("thin_factory_coat").unwrap().life_a.median() - 5.0).abs() < 1e-12);
        assert_eq!(Inside::new("bare").unwrap(), Inside::Bare);
        let message = System::outside("thin_factory_cot").unwrap_err().to_string();
        assert!(message.contains("did you mean `thin_factory_coat`"), "{message}");
        assert!(System::outside("cavity_wax").is_err(), "an inside system is not an outside one");
    }

    #[test]
    fn property_a_thicker_film_lives_longer() {
        let life =
            |um| System::outside("thin_factory_coat").unwrap().with_film_um(um).unwrap().life_a.median();
        assert!(life(15.0) < life(28.0) && life(28.0) < life(60.0));
        assert!((life(28.0) - 5.0).abs() < 1e-12);
    }
}
