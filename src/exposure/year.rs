//! The hourly loop over the weather of one or more years: air of the room, steel, water film and salt of a member.
//!
//! The year runs from 1 July to 30 June so that no winter is cut in two. Order within an hour: room air, steel, film, salt.
//! A drive takes one hour (from 17:00), in which the member is in the outdoor air; a wet one leaves a film and brings
//! water into the room; a wash follows an hour later. The chloride left at the end is that at the start of the next storage
//! period.

use crate::climate::Series;
use crate::climate::humid_air::{saturation_density_g_m3, saturation_pressure_pa, vapour_density_g_m3};
use crate::exposure::arrangement::{ArrangementParameters, EnclosureParameters};
use crate::exposure::driving::{Day, DayWeather, is_winter};
use crate::exposure::enclosure::{VapourExchange, decay, relax};
use crate::exposure::film::{FilmExchange, HumidityResponse, Surface, film_after_hour_g_m2};
use crate::numeric::constants::{VAPOUR_GAS_CONSTANT, ZERO_C_IN_K};
use multiversion::multiversion;

const DRIVE_HOUR: u8 = 17;
const WASH_HOUR: u8 = 18;
/// Hour of the series at which the year starts: 1 July.
const FIRST_HOUR: usize = 181 * 24;

/// A climate made ready for the hourly loop.
#[derive(Debug, Clone)]
pub struct Weather {
    hours: Vec<Hour>,
    /// Winter, wet and cold days.
    pub days: DayWeather,
}

#[derive(Debug, Clone, Copy)]
struct Hour {
    temperature_c: f64,
    humidity_pct: f64,
    vapour_g_m3: f64,
    month: u8,
    hour_of_day: u8,
}

impl Hour {
    /// Whether the underside cools by radiation to the ground and sky: 20:00 to 6:00.
    #[inline(always)]
    fn is_night(&self) -> bool {
        self.hour_of_day < 6 || self.hour_of_day >= 20
    }
}

impl Weather {
    /// Prepares a series: vapour density of each hour, winter, wet and cold days.
    #[must_use]
    pub fn new(series: &Series) -> Self {
        let hour = |i: usize| {
            let (temperature_c, humidity_pct) = (series.temperature_c[i], series.humidity_pct[i]);
            let vapour_g_m3 = vapour_density_g_m3(temperature_c, humidity_pct);
            let (month, hour_of_day) = (series.month[i], series.hour_of_day[i]);
            Hour { temperature_c, humidity_pct, vapour_g_m3, month, hour_of_day }
        };
        Self { hours: (0..series.temperature_c.len()).map(hour).collect(), days: DayWeather::new(series) }
    }
}

/// Salt and water of one draw.
#[derive(Debug, Clone, Copy)]
pub struct Underside {
    /// Chloride on the member at the start [mg/m²].
    pub chloride_start_mg_m2: f64,
    /// Share of the chloride one wash removes [-].
    pub wash_removal: f64,
    /// Share of the chloride a drive on a wet unsalted road removes [-].
    pub wet_drive_rinse: f64,
    /// Water film after a wet drive or a wash [g/m²].
    pub film_after_wetting_g_m2: f64,
    /// Water brought into a room by a wet car [L].
    pub carried_water_l: f64,
    /// Lasting difference between steel and air [K].
    pub steel_offset_k: f64,
    /// Rate below -5 °C with brine relative to above 0 °C [-].
    pub brine_cold_factor: f64,
}

/// Sums over one calendar month.
#[derive(Debug, Clone, Copy, Default)]
pub struct Month {
    /// Hours counted [h].
    pub hours: f64,
    air_temperature: f64,
    air_humidity: f64,
    steel_temperature: f64,
    steel_humidity: f64,
    chloride: f64,
    wetness: f64,
    film: f64,
    active: f64,
}

impl Month {
    /// Mean temperature of the air round the member [°C].
    #[must_use]
    pub fn air_temperature_c(&self) -> f64 {
        self.air_temperature / self.hours.max(1.0)
    }
    /// Mean humidity of that air [%].
    #[must_use]
    pub fn air_humidity_pct(&self) -> f64 {
        self.air_humidity / self.hours.max(1.0)
    }
    /// Mean temperature of the steel [°C].
    #[must_use]
    pub fn steel_temperature_c(&self) -> f64 {
        self.steel_temperature / self.hours.max(1.0)
    }
    /// Mean humidity at the steel [%].
    #[must_use]
    pub fn steel_humidity_pct(&self) -> f64 {
        self.steel_humidity / self.hours.max(1.0)
    }
    /// Mean chloride held [mg/m²].
    #[must_use]
    pub fn chloride_mg_m2(&self) -> f64 {
        self.chloride / self.hours.max(1.0)
    }
    /// Hours of wetness of the air, RH > 80 % and T > 0 °C [h] (ISO 9223).
    #[must_use]
    pub fn wetness_h(&self) -> f64 {
        self.wetness
    }
    /// Hours in which the steel carries a film, clean or salty [h].
    #[must_use]
    pub fn film_h(&self) -> f64 {
        self.film
    }
    /// Share of the time in which the steel corrodes at its full wet rate [-].
    #[must_use]
    pub fn activity(&self) -> f64 {
        self.active / self.hours.max(1.0)
    }

    fn add(self, other: &Self) -> Self {
        Self {
            hours: self.hours + other.hours,
            air_temperature: self.air_temperature + other.air_temperature,
            air_humidity: self.air_humidity + other.air_humidity,
            steel_temperature: self.steel_temperature + other.steel_temperature,
            steel_humidity: self.steel_humidity + other.steel_humidity,
            chloride: self.chloride + other.chloride,
            wetness: self.wetness + other.wetness,
            film: self.film + other.film,
            active: self.active + other.active,
        }
    }
}

/// The part of the year for which a rate is evaluated separately.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Season {
    /// November to March.
    Winter,
    /// April to October.
    Rest,
}

/// Exposure of the member by calendar month; several years are summed.
#[derive(Debug, Clone)]
pub struct Exposure {
    /// January to December.
    pub months: [Month; 12],
    /// Chloride on the member at the end [mg/m²].
    pub chloride_end_mg_m2: f64,
}

impl Exposure {
    /// Sums over a season.
    #[must_use]
    pub fn season(&self, season: Season) -> Month {
        let wanted = |month: u8| is_winter(month) == (season == Season::Winter);
        let months = (1..=12).zip(&self.months).filter(|(number, _)| wanted(*number));
        months.fold(Month::default(), |sum, (_, month)| sum.add(month))
    }

    /// Whether humidities, shares and chloride are within their ranges.
    fn is_plausible(&self) -> bool {
        let is_share = |part: f64, all: f64| part >= 0.0 && part <= all;
        self.chloride_end_mg_m2.is_finite()
            && self.chloride_end_mg_m2 >= 0.0
            && self.months.iter().all(|month| {
                (0.0..=100.0).contains(&month.steel_humidity_pct())
                    && is_share(month.wetness, month.hours)
                    && is_share(month.film, month.hours)
                    && is_share(month.active, month.film)
                    && month.chloride_mg_m2() >= 0.0
            })
    }

    /// Sums over the year.
    #[must_use]
    pub fn year(&self) -> Month {
        self.months.iter().fold(Month::default(), Month::add)
    }
}

/// How the car is used on each day of the weather, in its order.
#[derive(Debug, Clone, Copy)]
pub struct DailyUse<'a> {
    /// Drives and washes.
    pub calendar: &'a [Day],
    /// Chloride that a drive on a salted road on that day leaves on the member, from 0 [mg/m²].
    pub salt_taken_mg_m2: &'a [f64],
}

/// Exposure of a member over all hours of the weather; `daily_use` holds a value for each of its days.
#[must_use]
pub fn expose(
    weather: &Weather,
    parameters: &ArrangementParameters,
    underside: &Underside,
    daily_use: &DailyUse<'_>,
    response: &HumidityResponse,
) -> Exposure {
    let exposure = hourly_loop(weather, parameters, underside, daily_use, response);
    debug_assert!(exposure.is_plausible(), "an exposure out of range");
    exposure
}

#[multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn hourly_loop(
    weather: &Weather,
    parameters: &ArrangementParameters,
    underside: &Underside,
    daily_use: &DailyUse<'_>,
    response: &HumidityResponse,
) -> Exposure {
    let DailyUse { calendar, salt_taken_mg_m2 } = *daily_use;
    let mut months = [Month::default(); 12];
    let count = weather.hours.len();
    let mut state = HourState::start(&weather.hours[FIRST_HOUR % count], underside);
    let steel_decay = decay(1.0 / parameters.steel_time_constant_h);
    let room_decay = parameters.room.map_or(0.0, |room| decay(1.0 / room.thermal_time_constant_h));
    for step in 0..count {
        let index = (FIRST_HOUR + step) % count;
        let (hour, day) = (&weather.hours[index], index / 24);
        let out = hour.hour_of_day == DRIVE_HOUR && calendar[day].driven;
        state.advance_air(hour, parameters.room.as_ref(), room_decay);
        let cooling_k = if hour.is_night() { parameters.night_cooling_k } else { 0.0 };
        let around = state.air_around(hour, out);
        state.steel_c =
            relax(state.steel_c, around.temperature_c - cooling_k + underside.steel_offset_k, steel_decay);
        state.advance_film(&around, parameters.film_drying_m_per_h);
        if out {
            state.drive(calendar[day], salt_taken_mg_m2[day], underside, parameters.room.is_some());
        }
        if hour.hour_of_day == WASH_HOUR && calendar[day].washed {
            state.chloride_mg_m2 *= 1.0 - underside.wash_removal;
            state.film_g_m2 = underside.film_after_wetting_g_m2;
        }
        state.count(&mut months[usize::from(hour.month - 1)], response, underside.brine_cold_factor);
    }
    Exposure { months, chloride_end_mg_m2: state.chloride_mg_m2 }
}

/// Air around the member in one hour.
struct AirAround {
    temperature_c: f64,
    vapour_g_m3: f64,
}

/// State of room and member from one hour to the next.
struct HourState {
    air_c: f64,
    vapour_g_m3: f64,
    floor_water_g: f64,
    steel_c: f64,
    steel_humidity_pct: f64,
    air_humidity_pct: f64,
    film_g_m2: f64,
    chloride_mg_m2: f64,
}

impl HourState {
    #[inline(always)]
    fn start(hour: &Hour, underside: &Underside) -> Self {
        Self {
            air_c: hour.temperature_c,
            vapour_g_m3: hour.vapour_g_m3,
            floor_water_g: 0.0,
            steel_c: hour.temperature_c,
            steel_humidity_pct: hour.humidity_pct,
            air_humidity_pct: hour.humidity_pct,
            film_g_m2: 0.0,
            chloride_mg_m2: underside.chloride_start_mg_m2,
        }
    }

    #[inline(always)]
    fn advance_air(&mut self, hour: &Hour, room: Option<&EnclosureParameters>, room_decay: f64) {
        let Some(room) = room else {
            self.air_c = hour.temperature_c;
            self.vapour_g_m3 = hour.vapour_g_m3;
            self.air_humidity_pct = hour.humidity_pct;
            return;
        };
        self.air_c = relax(self.air_c, hour.temperature_c + room.warmer_k, room_decay).max(room.heater_set_c);
        let saturated_g_m3 = saturation_density_g_m3(self.air_c);
        let could_dry_g = room.floor_drying_m3_per_h * (saturated_g_m3 - self.vapour_g_m3).max(1e-9);
        let wet_floor = (self.floor_water_g / could_dry_g.max(1e-9)).min(1.0);
        let exchange = VapourExchange {
            air_changes_per_h: room.air_changes_per_h,
            evaporation_per_h: wet_floor * room.floor_drying_m3_per_h / room.volume_m3,
            source_g_m3_h: 0.0,
        };
        let equilibrium = exchange.equilibrium_g_m3(hour.vapour_g_m3, saturated_g_m3);
        let left = decay(exchange.rate_per_h());
        let mean = equilibrium + (self.vapour_g_m3 - equilibrium) * (1.0 - left) / exchange.rate_per_h();
        let dried_g = exchange.evaporation_per_h * room.volume_m3 * (saturated_g_m3 - mean);
        self.floor_water_g = (self.floor_water_g - dried_g).max(0.0);
        let ceiling = saturated_g_m3 * room.dehumidifier_set_pct / 100.0;
        self.vapour_g_m3 = relax(self.vapour_g_m3, equilibrium, left).min(ceiling);
        self.air_humidity_pct = 100.0 * self.vapour_g_m3 / saturated_g_m3;
    }

    /// The air around the member: outdoors while it is driven.
    #[inline(always)]
    fn air_around(&self, hour: &Hour, out: bool) -> AirAround {
        if out {
            AirAround { temperature_c: hour.temperature_c, vapour_g_m3: hour.vapour_g_m3 }
        } else {
            AirAround { temperature_c: self.air_c, vapour_g_m3: self.vapour_g_m3 }
        }
    }

    /// Humidity at the steel and water film, after the steel has its temperature of the hour.
    #[inline(always)]
    fn advance_film(&mut self, around: &AirAround, drying_m_per_h: f64) {
        let pressure_pa =
            around.vapour_g_m3 * 1e-3 * VAPOUR_GAS_CONSTANT * (around.temperature_c + ZERO_C_IN_K);
        let saturation_pa = saturation_pressure_pa(self.steel_c);
        self.steel_humidity_pct = (100.0 * pressure_pa / saturation_pa).min(100.0);
        let exchange = FilmExchange {
            drying_m_per_h,
            saturated_g_m3: saturation_pa / (1e-3 * VAPOUR_GAS_CONSTANT * (self.steel_c + ZERO_C_IN_K)),
            vapour_g_m3: around.vapour_g_m3,
        };
        self.film_g_m2 = film_after_hour_g_m2(self.film_g_m2, self.chloride_mg_m2, &exchange);
    }

    #[inline(always)]
    fn drive(&mut self, day: Day, salt_taken_mg_m2: f64, underside: &Underside, in_room: bool) {
        if day.salted {
            self.chloride_mg_m2 += salt_taken_mg_m2;
        } else if day.wet {
            self.chloride_mg_m2 *= 1.0 - underside.wet_drive_rinse;
        }
        if day.wet {
            self.film_g_m2 = underside.film_after_wetting_g_m2;
            if in_room {
                self.floor_water_g += 1000.0 * underside.carried_water_l;
            }
        }
    }

    #[inline(always)]
    fn count(&self, month: &mut Month, response: &HumidityResponse, brine_cold_factor: f64) {
        let surface = Surface {
            temperature_c: self.steel_c,
            humidity_pct: self.steel_humidity_pct,
            film_g_m2: self.film_g_m2,
            chloride_mg_m2: self.chloride_mg_m2,
        };
        let wet = surface.wet_share(response);
        month.hours += 1.0;
        month.air_temperature += self.air_c;
        month.air_humidity += self.air_humidity_pct;
        month.steel_temperature += self.steel_c;
        month.steel_humidity += self.steel_humidity_pct;
        month.chloride += self.chloride_mg_m2;
        month.wetness += if self.air_humidity_pct > 80.0 && self.air_c > 0.0 { 1.0 } else { 0.0 };
        month.film += wet;
        month.active += wet * surface.cold_factor(brine_cold_factor);
    }
}
