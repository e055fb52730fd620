//! The weather of a climate, made ready for the hourly loop.

use crate::climate::Series;
use crate::climate::humid_air::vapour_density_g_m3;
use crate::exposure::driving::DayWeather;
use crate::exposure::ground::soil_wetness;

/// A climate made ready for the hourly loop.
#[derive(Debug, Clone)]
pub struct Weather {
    pub(super) hours: Vec<Hour>,
    /// Winter, wet and cold days.
    pub days: DayWeather,
}

/// One hour of the weather.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hour {
    pub(super) temperature_c: f64,
    pub(super) humidity_pct: f64,
    pub(super) vapour_g_m3: f64,
    /// Evaporation of soil over that of water [-].
    pub(super) soil_wetness: f64,
    pub(super) month: u8,
    pub(super) hour_of_day: u8,
}

impl Hour {
    /// Whether the underside cools by radiation to the ground and sky: 20:00 to 6:00.
    #[inline(always)]
    pub(super) fn is_night(&self) -> bool {
        self.hour_of_day < 6 || self.hour_of_day >= 20
    }
}

impl Weather {
    /// Prepares a series: vapour density of each hour, wetness of the soil, winter, wet and cold days.
    #[must_use]
    pub fn new(series: &Series) -> Self {
        let soil_wetness = soil_wetness(&series.wet_day);
        let hour = |i: usize| {
            let (temperature_c, humidity_pct) = (series.temperature_c[i], series.humidity_pct[i]);
            let vapour_g_m3 = vapour_density_g_m3(temperature_c, humidity_pct);
            let (month, hour_of_day) = (series.month[i], series.hour_of_day[i]);
            let soil_wetness = soil_wetness.get(i / 24).copied().unwrap_or(0.0);
            Hour { temperature_c, humidity_pct, vapour_g_m3, soil_wetness, month, hour_of_day }
        };
        Self { hours: (0..series.temperature_c.len()).map(hour).collect(), days: DayWeather::new(series) }
    }
}
