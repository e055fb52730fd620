//! The data of the stage: the climate record, its hourly series, what was filled in it, and the deposition at the site.

use super::calendar;
use super::calendar::HOURS_PER_YEAR;
use super::wet_days;
use super::wet_days::RainDays;
use super::wet_days::WetDays;
use crate::error::Result;
use crate::error::in_range;

/// An hourly weather record and where it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct ClimateRecord {
    /// Short name: the id of a sample, or the file name.
    pub name: String,
    /// Place and period in words.
    pub title: String,
    /// Kind of climate or of file, in words.
    pub kind: String,
    /// Source, licence where known, and what was done to the numbers.
    pub provenance: String,
    /// The hours.
    pub series: Series,
    /// What was missing and how it was filled.
    pub gaps: GapReport,
    /// Where the wet days of the series come from.
    pub wet_days: WetDays,
}

impl ClimateRecord {
    /// The record with its wet days drawn anew from a count of rain days, in place of measured or assumed ones.
    ///
    /// * `source`: where the count comes from, in words
    #[must_use]
    pub fn with_rain_days(mut self, days: &RainDays, source: &str) -> Self {
        self.series.wet_day = wet_days::drawn(&self.series.humidity_pct, days);
        self.wet_days = WetDays::Drawn { days_per_a: days.per_a(), source: source.to_owned() };
        self
    }
}

/// Complete years of 8760 hours each, at least one; 29 February is dropped. All columns have the same length.
///
/// Index 0 is the hour from 00:00 on 1 January; each value stands for the hour that starts there.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Air temperature, -90 to 60 [°C]
    pub temperature_c: Vec<f64>,
    /// Relative humidity over water, 0 to 100 [%]
    pub humidity_pct: Vec<f64>,
    /// Rain in the hour, where the record has it, 0 to 500 [mm]
    pub rain_mm: Option<Vec<f64>>,
    /// Wind speed, where the record has it, 0 to 100 [m/s]
    pub wind_m_s: Option<Vec<f64>>,
    /// Whether roads are wet from rain, a flag a day: measured, or drawn from a count of rain days (`wet_days.rs`).
    pub wet_day: Vec<bool>,
    /// Month, 1 to 12 [-]
    pub month: Vec<u8>,
    /// Hour of the day by the record's clock, 0 to 23 [h]
    pub hour_of_day: Vec<u8>,
}

impl Series {
    /// Number of complete years [a].
    #[must_use]
    pub fn years(&self) -> usize {
        self.temperature_c.len() / HOURS_PER_YEAR
    }

    /// Days with an hour below 0 °C, in a mean year [d/a].
    #[must_use]
    pub fn frost_days_per_a(&self) -> f64 {
        let frost = self.temperature_c.chunks(24).filter(|day| day.iter().any(|t| *t < 0.0)).count();
        frost as f64 / self.years().max(1) as f64
    }

    /// A series from its columns of complete years, without a wet day; the calendar columns follow from the length.
    pub(super) fn from_columns(temperature_c: Vec<f64>, humidity_pct: Vec<f64>) -> Self {
        debug_assert_eq!(temperature_c.len(), humidity_pct.len(), "columns of one length");
        debug_assert!(temperature_c.len().is_multiple_of(HOURS_PER_YEAR), "complete years");
        debug_assert!(temperature_c.iter().all(|t| t.is_finite()), "no gap left in the temperature");
        debug_assert!(humidity_pct.iter().all(|rh| (0.0..=100.0).contains(rh)), "humidity within 0 to 100 %");
        let years = temperature_c.len() / HOURS_PER_YEAR;
        let (month, hour_of_day) = calendar::months_and_hours(years);
        let wet_day = vec![false; temperature_c.len() / 24];
        Self { temperature_c, humidity_pct, rain_mm: None, wind_m_s: None, wet_day, month, hour_of_day }
    }
}

/// Why a rain column counts as not measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RainLeftOut {
    /// Nothing but zeros.
    AllZero,
    /// More than any place has.
    Impossible,
    /// More gaps than the allowed share.
    Gaps,
}

/// What was missing in a record and how it was filled.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct GapReport {
    /// Hours without temperature or humidity [h]
    pub missing_hours: usize,
    /// Longest series of hours without temperature or without humidity [h]
    pub longest_gap_h: usize,
    /// Values of temperature and humidity filled by a straight line [-]
    pub straight_line_values: usize,
    /// Values of temperature and humidity filled from the neighbouring days [-]
    pub neighbour_day_values: usize,
    /// Humidities between 100 and 105 % set to 100 [-]
    pub clipped_humidity_values: usize,
    /// Rows of 29 February left out [-]
    pub leap_day_rows: usize,
    /// Hours without a rain reading, taken as dry [h]
    pub rain_taken_dry_h: usize,
    /// Readings outside their plausible range, taken as missing [-]
    pub doubtful_values: usize,
    /// Month in which a record begins that is a year from another month than January; the months before it stand first.
    pub begins_in_month: Option<u8>,
    /// Why a rain column that was there was left out.
    pub rain_left_out: Option<RainLeftOut>,
    /// A wind column was there but could not be filled by the same rule, and was left out.
    pub wind_left_out: bool,
}

/// What a file reader returns: the series, its gaps, and the words that go into the record.
pub(super) struct ParsedFile {
    pub(super) series: Series,
    pub(super) gaps: GapReport,
    /// Place in words, or the file name.
    pub(super) title: String,
    /// Layout and step of the file, in words.
    pub(super) kind: &'static str,
    /// Days with rain by month, where the file counts them.
    pub(super) rain_days: Option<RainDays>,
    /// Whether its rain says on which day it fell.
    pub(super) rain_has_days: bool,
}

impl ParsedFile {
    /// A file of hourly rows without a count of rain days.
    pub(super) fn hourly((series, gaps): (Series, GapReport), title: String, kind: &'static str) -> Self {
        Self { series, gaps, title, kind, rain_days: None, rain_has_days: true }
    }
}

/// What settles on an openly exposed surface at the site, yearly means.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Deposition {
    /// Sulphur dioxide, 0 to 1000 [mg/(m²·d)]
    pub so2_mg_m2_d: f64,
    /// Chloride from the sea (road salt on the car is counted elsewhere), 0 to 5000 [mg/(m²·d)]
    pub chloride_mg_m2_d: f64,
}

impl Deposition {
    /// A checked pair of deposition rates.
    ///
    /// * `so2_mg_m2_d`: sulphur dioxide, 0 to 1000 [mg/(m²·d)]
    /// * `chloride_mg_m2_d`: chloride, 0 to 5000 [mg/(m²·d)]
    ///
    /// # Errors
    /// [`crate::error::Error::OutOfRange`] outside these ranges or not finite.
    pub fn new(so2_mg_m2_d: f64, chloride_mg_m2_d: f64) -> Result<Self> {
        Ok(Self {
            so2_mg_m2_d: in_range("SO2 deposition", so2_mg_m2_d, "mg/(m²·d)", 0.0..=1000.0)?,
            chloride_mg_m2_d: in_range("chloride deposition", chloride_mg_m2_d, "mg/(m²·d)", 0.0..=5000.0)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::Deposition;

    #[test]
    fn property_deposition_refuses_what_no_site_has_seen() {
        assert!(Deposition::new(0.0, 5000.0).is_ok());
        for (so2, chloride) in [(-0.1, 1.0), (1000.1, 1.0), (1.0, 5001.0), (f64::NAN, 1.0)] {
            let message = Deposition::new(so2, chloride).unwrap_err().to_string();
            assert!(message.contains("deposition is") && message.contains("allowed: 0 to"), "{message}");
        }
    }
}
