//! Corrosivity categories by first-year loss of carbon steel: ISO 9223 outdoors, ISO 11844-1 indoors.

use crate::error::{Error, Result};
use crate::reference;

const TABLE: &str = include_str!("../../shared/corrosivity_categories.csv");

/// Mass of 1 µm of steel of 7.86 g/cm³ [mg/m²].
const STEEL_MG_M2_PER_UM: f64 = 7860.0;

/// Category of ISO 9223:2012.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[allow(missing_docs, reason = "the names are the standard's")]
pub enum Category {
    C1,
    C2,
    C3,
    C4,
    C5,
    CX,
}

/// Category of ISO 11844-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[allow(missing_docs, reason = "the names are the standard's")]
pub enum IndoorCategory {
    IC1,
    IC2,
    IC3,
    IC4,
    IC5,
}

/// Upper bounds of both scales.
#[derive(Debug, Clone)]
pub struct Categories {
    outdoor_um_per_a: Vec<f64>,
    indoor_mg_m2_a: Vec<f64>,
}

#[derive(serde::Deserialize)]
struct Row {
    scale: String,
    upper: f64,
}

impl Categories {
    /// The bounds of `shared/corrosivity_categories.csv`.
    ///
    /// # Errors
    /// As [`Self::from_csv`].
    pub fn published() -> Result<Self> {
        Self::from_csv(TABLE)
    }

    /// Reads a table with the columns of `shared/corrosivity_categories.csv`.
    ///
    /// # Errors
    /// [`Error::Input`] naming line and problem, [`Error::Invalid`] unless it has 6 outdoor and 5 indoor rows.
    pub fn from_csv(text: &str) -> Result<Self> {
        let rows: Vec<Row> = reference::rows("corrosivity_categories.csv", text)?;
        let upper =
            |scale: &str| -> Vec<f64> { rows.iter().filter(|r| r.scale == scale).map(|r| r.upper).collect() };
        let (outdoor_um_per_a, indoor_mg_m2_a) = (upper("iso9223"), upper("iso11844"));
        if outdoor_um_per_a.len() != 6 || indoor_mg_m2_a.len() != 5 {
            return Err(Error::invalid(
                "corrosivity categories",
                "another count",
                "6 outdoor and 5 indoor rows",
            ));
        }
        Ok(Self { outdoor_um_per_a, indoor_mg_m2_a })
    }

    /// Category of a first-year rate [µm/a]; rates above CX count as CX.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::corrosivity::{Categories, Category};
    /// let categories = Categories::published()?;
    /// assert_eq!(categories.outdoor(50.0), Category::C3); // ISO 9223:2012 table 2: above 25 up to 50 µm/a
    /// assert_eq!(categories.outdoor(50.1), Category::C4);
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn outdoor(&self, rate_um_per_a: f64) -> Category {
        use Category::{C1, C2, C3, C4, C5, CX};
        let class = self.outdoor_um_per_a.iter().position(|upper| rate_um_per_a <= *upper);
        class.and_then(|i| [C1, C2, C3, C4, C5, CX].get(i).copied()).unwrap_or(CX)
    }

    /// Indoor category of a first-year rate [µm/a], or `None` above IC5.
    #[must_use]
    pub fn indoor(&self, rate_um_per_a: f64) -> Option<IndoorCategory> {
        use IndoorCategory::{IC1, IC2, IC3, IC4, IC5};
        let mass_mg_m2_a = STEEL_MG_M2_PER_UM * rate_um_per_a;
        let class = self.indoor_mg_m2_a.iter().position(|upper| mass_mg_m2_a <= *upper)?;
        [IC1, IC2, IC3, IC4, IC5].get(class).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::{Categories, Category, IndoorCategory};

    #[test]
    fn published_bounds_belong_to_the_lower_category() {
        let categories = Categories::published().unwrap();
        let cases = [
            (1.3, Category::C1),
            (25.0, Category::C2),
            (25.01, Category::C3),
            (200.0, Category::C5),
            (900.0, Category::CX),
        ];
        for (rate, category) in cases {
            assert_eq!(categories.outdoor(rate), category, "{rate}");
        }
    }

    /// Depths of the indoor bounds: 9 nm, 0.13, 1.27, 8.9 and 25.4 µm.
    #[test]
    fn published_indoor_bounds_in_depth() {
        let categories = Categories::published().unwrap();
        assert_eq!(categories.indoor(0.0089), Some(IndoorCategory::IC1));
        assert_eq!(categories.indoor(1.2), Some(IndoorCategory::IC3));
        assert_eq!(categories.indoor(25.0), Some(IndoorCategory::IC5));
        assert_eq!(categories.indoor(30.0), None);
    }
}
