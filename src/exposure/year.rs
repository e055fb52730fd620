//! The hourly loop over the weather of one or more years: air of the room, steel, water film and salt of a member.
//!
//! The year starts in the middle of the warm season, so that no winter is cut in two, and where the days before it have left
//! room, steel and film. Order within an hour: room air, steel, film, salt. While the car is away
//! the member is in the outdoor air, driven or standing; it is back at 18:00, from its last hour on the road (17:00), which
//! leaves a film if it was wet and brings water into the room; a wash follows an hour later.
//! Air and steel know nothing of the salt, so members that start the year with different salt go through it side by side.

use crate::climate::HOURS_PER_YEAR;
use crate::climate::humid_air::saturation_pressure_pa;
use crate::exposure::arrangement::ArrangementParameters;
use crate::exposure::driving::Calendar;
use crate::exposure::enclosure::{decay, relax};
use crate::exposure::film::{
    FilmExchange, HumidityResponse, RoadSalt, Surface, film_after_hour_g_m2, salt_share,
};
use crate::exposure::month::{Exposure, Month};
use crate::exposure::room::{Air, FLOOR_HOLDS_G, Store};
use crate::exposure::salt::{SaltRemoval, SaltStep};
use crate::exposure::weather::{Hour, Weather};
use crate::numeric::constants::{VAPOUR_GAS_CONSTANT, ZERO_C_IN_K};
use multiversion::multiversion;

const DRIVE_HOUR: u8 = 17;
const WASH_HOUR: u8 = 18;
/// Hours before the start of the year in which steel and film settle [h]: wet steel dries within a day or two.
const SETTLING_H: usize = 72;
/// Shortest time in which a room settles [h], and its time constants [-]: its air temperature to a part in 10^9.
const ROOM_SETTLING_H: f64 = 336.0;
const ROOM_TIME_CONSTANTS: f64 = 20.0;
/// Salt and water of one draw.
#[derive(Debug, Clone, Copy)]
pub struct Underside {
    /// Shares of the chloride that washes and wet drives remove.
    pub removal: SaltRemoval,
    /// Salt on the roads.
    pub road_salt: RoadSalt,
    /// Chloride of sea salt the member always holds ([`InTheAir`](crate::exposure::airborne::InTheAir)) [mg/m²]. In a room it
    /// keeps the steel wet like any salt; in the open the functions were fitted on wet times of the air beside such deposits.
    pub sea_salt_mg_m2: f64,
    /// Water film after a wet drive or a wash [g/m²].
    pub film_after_wetting_g_m2: f64,
    /// Water brought into a room by a wet car [L].
    pub carried_water_l: f64,
    /// Lasting difference between steel and air [K].
    pub steel_offset_k: f64,
    /// Rate below -5 °C with brine relative to above 0 °C [-].
    pub brine_cold_factor: f64,
}

/// How the car is used on each day of the weather, and the salt on the steel of `N` members that differ in it.
#[derive(Debug, Clone, Copy)]
pub struct DailyUse<'a, const N: usize> {
    /// Chloride on each member at the start of each year of the weather [mg/m²].
    pub starts_mg_m2: &'a [[f64; N]],
    /// Drives and washes.
    pub calendar: &'a Calendar,
    /// Chloride that a drive on a salted road on that day leaves on the member, from 0, in the order of the weather [mg/m²].
    pub salt_taken_mg_m2: &'a [f64],
}

/// Exposure of members over all hours of the weather, one for each salt they start with; `daily_use` holds a value for each
/// of its days.
#[must_use]
pub fn expose<const N: usize>(
    weather: &Weather,
    parameters: &ArrangementParameters,
    underside: &Underside,
    daily_use: &DailyUse<'_, N>,
    response: &HumidityResponse,
) -> [Exposure; N] {
    let months = hourly_loop(weather, parameters, underside, daily_use, response);
    let winter = weather.days.winter;
    let exposures = months.map(|months| Exposure { months, winter });
    debug_assert!(exposures.iter().all(Exposure::is_plausible), "an exposure out of range");
    exposures
}

#[multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn hourly_loop<const N: usize>(
    weather: &Weather,
    parameters: &ArrangementParameters,
    underside: &Underside,
    daily_use: &DailyUse<'_, N>,
    response: &HumidityResponse,
) -> [[Month; 12]; N] {
    let of_year = OfYear {
        parameters,
        underside,
        daily_use,
        activity_drop: underside.road_salt.saturated_activity_drop(),
        steel_decay: decay(1.0 / parameters.steel_time_constant_h),
        store: Store::new(parameters),
    };
    let count = weather.hours.len();
    let first = 24 * weather.days.first_day;
    let before = SETTLING_H.min(count);
    let start = (first + count - before) % count;
    let air = settled_air(weather, &of_year, start);
    let wetting_mg_m2 = if parameters.room.is_some() { underside.sea_salt_mg_m2 } else { 0.0 };
    let binding = WaterBinding::new(underside.road_salt, wetting_mg_m2);
    let salt = Salt::new(chloride_before(weather, underside, daily_use, before), binding);
    let mut state = HourState::start(air, salt);
    for step in 0..before {
        let index = (start + step) % count;
        state.advance(&weather.hours[index], index / 24, &of_year);
    }
    let begun_g_m2 = state.film_g_m2;
    let mut sums = [MonthSums::NONE; 12];
    for step in 0..count {
        let index = (first + step) % count;
        let hour = &weather.hours[index];
        if step.is_multiple_of(HOURS_PER_YEAR)
            && let Some(start_mg_m2) = daily_use.starts_mg_m2.get(step / HOURS_PER_YEAR)
        {
            // the last member runs on; the film left on the others is that of another year's salt
            state.film_g_m2[..N - 1].copy_from_slice(&begun_g_m2[..N - 1]);
            state.salt = Salt::new(*start_mg_m2, state.salt.binding);
        }
        state.advance(hour, index / 24, &of_year);
        state.count(&mut sums[usize::from(hour.month - 1)], response, underside.brine_cold_factor);
    }
    std::array::from_fn(|member| {
        sums.each_ref().map(|month| month.of_member(member, underside.sea_salt_mg_m2))
    })
}

/// Air at the start of an hour of the weather, settled: begun so long before that it is the same from a dry and from a
/// flooded floor, at the longest all the weather before.
#[inline(always)]
fn settled_air<const N: usize>(weather: &Weather, of_year: &OfYear<'_, N>, start: usize) -> Air {
    let count = weather.hours.len();
    let Some(time_constant_h) = of_year.store.time_constant_h() else {
        return Air::outdoors(&weather.hours[(start + count - 1) % count]);
    };
    let mut hours = ROOM_SETTLING_H.max(ROOM_TIME_CONSTANTS * time_constant_h).ceil() as usize;
    loop {
        hours = hours.min(count);
        let begin = start + count - hours;
        let dry = air_after(weather, of_year, begin..start + count, 0.0);
        let flooded = air_after(weather, of_year, begin..start + count, FLOOR_HOLDS_G);
        if hours == count || dry.is_like(&flooded) {
            return flooded;
        }
        hours *= 2;
    }
}

/// Air after some hours of the weather that began like the air outdoors, over a floor with so much water [g].
#[inline(always)]
fn air_after<const N: usize>(
    weather: &Weather,
    of_year: &OfYear<'_, N>,
    hours: std::ops::Range<usize>,
    floor_water_g: f64,
) -> Air {
    let count = weather.hours.len();
    let mut air = Air { floor_water_g, ..Air::outdoors(&weather.hours[hours.start % count]) };
    for step in hours {
        let hour = &weather.hours[step % count];
        air.advance(hour, &of_year.store);
        air.take_in(of_year.brought_g(hour, step % count / 24));
    }
    air
}

/// Chloride that leads to that at the start of the year over the hours before it [mg/m²]; none on members that come to it
/// clean.
fn chloride_before<const N: usize>(
    weather: &Weather,
    underside: &Underside,
    daily_use: &DailyUse<'_, N>,
    hours: usize,
) -> [f64; N] {
    let DailyUse { starts_mg_m2, calendar, salt_taken_mg_m2 } = *daily_use;
    let days = calendar.days.len();
    let mut held = starts_mg_m2.first().copied().unwrap_or([0.0; N]);
    for back in 1..=hours / 24 {
        let index = (weather.days.first_day + days - back) % days;
        let day = &calendar.days[index];
        let drive = SaltStep::drive(day, salt_taken_mg_m2[index], &underside.removal);
        let wash = SaltStep::wash(day, &underside.removal);
        held = held.map(|held| drive.before(wash.before(held)));
    }
    held
}

/// What holds for all hours of a year.
struct OfYear<'a, const N: usize> {
    parameters: &'a ArrangementParameters,
    underside: &'a Underside,
    daily_use: &'a DailyUse<'a, N>,
    steel_decay: f64,
    store: Store,
    activity_drop: f64,
}

impl<const N: usize> OfYear<'_, N> {
    /// Water that the car brings into the room in an hour [g].
    #[inline(always)]
    fn brought_g(&self, hour: &Hour, day: usize) -> f64 {
        let today = &self.daily_use.calendar.days[day];
        let is_back = hour.hour_of_day == DRIVE_HOUR && today.driven;
        if is_back { 1000.0 * today.wetted() * self.underside.carried_water_l } else { 0.0 }
    }
}

/// Air around the member in one hour.
#[derive(Clone, Copy)]
struct AirAround {
    temperature_c: f64,
    vapour_g_m3: f64,
    humidity_pct: f64,
}

/// Salt on each of the members, with what follows from it.
struct Salt<const N: usize> {
    /// Road salt.
    chloride_mg_m2: [f64; N],
    binding: WaterBinding,
    /// Weight of chloride-bearing rust [-].
    share: [f64; N],
    bound_water_g_m2: [f64; N],
}

/// Water that the salts on a member bind.
#[derive(Clone, Copy)]
struct WaterBinding {
    /// Water that road salt binds, over its chloride [g/mg].
    road_water_g_mg: f64,
    /// Chloride of the sea salt that holds water beside it, and the water it binds [g/m²].
    sea_mg_m2: f64,
    sea_water_g_m2: f64,
}

impl WaterBinding {
    /// Sea salt binds water as sodium chloride, which it is for the most part; in one film it dries where the road salt does.
    fn new(road_salt: RoadSalt, sea_mg_m2: f64) -> Self {
        let sea_water_g_m2 = RoadSalt::SodiumChloride.bound_water_g_mg() * sea_mg_m2;
        Self { road_water_g_mg: road_salt.bound_water_g_mg(), sea_mg_m2, sea_water_g_m2 }
    }
}

impl<const N: usize> Salt<N> {
    #[inline(always)]
    fn new(chloride_mg_m2: [f64; N], binding: WaterBinding) -> Self {
        let (mut share, mut bound) = ([0.0; N], [0.0; N]);
        for member in 0..N {
            share[member] = salt_share(chloride_mg_m2[member] + binding.sea_mg_m2);
            bound[member] = binding.road_water_g_mg.mul_add(chloride_mg_m2[member], binding.sea_water_g_m2);
        }
        Self { chloride_mg_m2, binding, share, bound_water_g_m2: bound }
    }

    #[inline(always)]
    fn change(&mut self, step: SaltStep) {
        let mut chloride = self.chloride_mg_m2;
        for held in &mut chloride {
            *held = step.after(*held);
        }
        *self = Self::new(chloride, self.binding);
    }
}

/// State of room and members from one hour to the next.
struct HourState<const N: usize> {
    air: Air,
    around: AirAround,
    steel_c: f64,
    steel_humidity_pct: f64,
    film_g_m2: [f64; N],
    salt: Salt<N>,
}

impl<const N: usize> HourState<N> {
    #[inline(always)]
    fn start(air: Air, salt: Salt<N>) -> Self {
        Self {
            steel_c: air.temperature_c,
            steel_humidity_pct: air.humidity_pct,
            air,
            film_g_m2: [0.0; N],
            around: AirAround {
                temperature_c: air.temperature_c,
                vapour_g_m3: air.vapour_g_m3,
                humidity_pct: air.humidity_pct,
            },
            salt,
        }
    }

    /// One hour of a day.
    #[inline(always)]
    fn advance(&mut self, hour: &Hour, day: usize, of_year: &OfYear<'_, N>) {
        let OfYear { parameters, underside, daily_use, .. } = *of_year;
        let today = &daily_use.calendar.days[day];
        let is_back = hour.hour_of_day == DRIVE_HOUR && today.driven;
        let out = hour.hour_of_day <= DRIVE_HOUR && hour.hour_of_day + today.away_h > DRIVE_HOUR;
        self.air.advance(hour, &of_year.store);
        let cooling_k = if hour.is_night() { parameters.night_cooling_k } else { 0.0 };
        self.around = self.air_around(hour, out);
        let around = self.around;
        let steel_target_c = around.temperature_c - cooling_k + underside.steel_offset_k;
        self.steel_c = relax(self.steel_c, steel_target_c, of_year.steel_decay);
        self.advance_film(&around, parameters.film_drying_m_per_h, of_year.activity_drop);
        if is_back {
            self.salt.change(SaltStep::drive(today, daily_use.salt_taken_mg_m2[day], &underside.removal));
            self.wet(today.wetted(), underside.film_after_wetting_g_m2);
        }
        self.air.take_in(of_year.brought_g(hour, day));
        if hour.hour_of_day == WASH_HOUR && today.washed > 0.0 {
            self.salt.change(SaltStep::wash(today, &underside.removal));
            self.wet(today.washed, underside.film_after_wetting_g_m2);
        }
    }

    /// Leaves a film after a share of a wetting [-].
    #[inline(always)]
    fn wet(&mut self, share: f64, film_g_m2: f64) {
        for film in &mut self.film_g_m2 {
            *film = share.mul_add(film_g_m2 - *film, *film);
        }
    }

    /// The air around the member: outdoors while the car is away.
    #[inline(always)]
    fn air_around(&self, hour: &Hour, out: bool) -> AirAround {
        let Hour { temperature_c, vapour_g_m3, humidity_pct, .. } = *hour;
        if out {
            return AirAround { temperature_c, vapour_g_m3, humidity_pct };
        }
        let Air { temperature_c, vapour_g_m3, humidity_pct, .. } = self.air;
        AirAround { temperature_c, vapour_g_m3, humidity_pct }
    }

    /// Humidity at the steel and water film, after the steel has its temperature of the hour.
    #[inline(always)]
    fn advance_film(&mut self, around: &AirAround, drying_m_per_h: f64, activity_drop: f64) {
        let pressure_pa =
            around.vapour_g_m3 * 1e-3 * VAPOUR_GAS_CONSTANT * (around.temperature_c + ZERO_C_IN_K);
        let saturation_pa = saturation_pressure_pa(self.steel_c);
        self.steel_humidity_pct = (100.0 * pressure_pa / saturation_pa).min(100.0);
        let exchange = FilmExchange {
            drying_m_per_h,
            saturated_g_m3: saturation_pa / (1e-3 * VAPOUR_GAS_CONSTANT * (self.steel_c + ZERO_C_IN_K)),
            vapour_g_m3: around.vapour_g_m3,
            activity_drop,
        };
        for (film, bound) in self.film_g_m2.iter_mut().zip(&self.salt.bound_water_g_m2) {
            *film = film_after_hour_g_m2(*film, *bound, &exchange);
        }
    }

    #[inline(always)]
    fn count(&self, month: &mut MonthSums<N>, response: &HumidityResponse, brine_cold_factor: f64) {
        month.air.hours += 1.0;
        month.air.air_temperature += self.around.temperature_c;
        month.air.air_humidity += self.around.humidity_pct;
        month.air.steel_temperature += self.steel_c;
        month.air.steel_humidity += self.steel_humidity_pct;
        month.air.wetness +=
            if self.around.humidity_pct > 80.0 && self.around.temperature_c > 0.0 { 1.0 } else { 0.0 };
        for member in 0..N {
            let surface = Surface {
                temperature_c: self.steel_c,
                humidity_pct: self.steel_humidity_pct,
                film_g_m2: self.film_g_m2[member],
                salted: self.salt.share[member],
            };
            let wet = surface.wet_share(response);
            month.chloride[member] += self.salt.chloride_mg_m2[member];
            month.film[member] += wet;
            month.active[member] += wet * surface.cold_factor(brine_cold_factor);
        }
    }
}

/// Sums over one calendar month: of the air and steel, the same for all members, and of what the salt of each makes of it.
#[derive(Clone, Copy)]
struct MonthSums<const N: usize> {
    air: Month,
    chloride: [f64; N],
    film: [f64; N],
    active: [f64; N],
}

impl<const N: usize> MonthSums<N> {
    const NONE: Self = Self {
        air: Month {
            hours: 0.0,
            air_temperature: 0.0,
            air_humidity: 0.0,
            steel_temperature: 0.0,
            steel_humidity: 0.0,
            chloride: 0.0,
            wetness: 0.0,
            film: 0.0,
            active: 0.0,
        },
        chloride: [0.0; N],
        film: [0.0; N],
        active: [0.0; N],
    };

    /// The month of a member that holds sea salt too [mg/m²].
    fn of_member(&self, member: usize, sea_salt_mg_m2: f64) -> Month {
        let Self { air, chloride, film, active } = self;
        let chloride = air.hours.mul_add(sea_salt_mg_m2, chloride[member]);
        Month { chloride, film: film[member], active: active[member], ..*air }
    }
}
