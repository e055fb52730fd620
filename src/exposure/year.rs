//! The hourly loop over the weather of one or more years: air of the room, steel, water film and salt of a member.
//!
//! The year starts in the middle of the warm season, so that no winter is cut in two, and where the days before it have left
//! room, steel and film. Order within an hour: room air, steel, film, salt. While the car is away
//! the member is in the outdoor air, driven or standing; it is back at 18:00, from its last hour on the road (17:00), which
//! leaves a film if it was wet and brings water into the room; a wash follows an hour later.
//! Air and steel know nothing of the salt, so members that start the year with different salt go through it side by side; so do
//! draws of one arrangement and use, whose numbers differ but not what is done to them when: an hour waits for the one before,
//! and vector code does that of several draws in nearly the time of one. Every draw goes through the very operations it would
//! go through alone, so that its year is the same to the last bit whoever is beside it.

use crate::climate::HOURS_PER_YEAR;
use crate::climate::humid_air::saturation_pressure_pa;
use crate::exposure::arrangement::ArrangementParameters;
use crate::exposure::driving::{Calendar, Day};
use crate::exposure::enclosure::{decay, relax};
use crate::exposure::film::{FilmExchange, HumidityResponse, RoadSalt, Surface, film_after_hour_g_m2};
use crate::exposure::held_salt::{Salt, WaterBinding};
use crate::exposure::month::{Exposure, Month};
use crate::exposure::room::{Air, Airs, FLOOR_HOLDS_G, Store};
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

/// What differs between draws that go through a year side by side.
#[derive(Debug, Clone, Copy)]
pub struct Course<'a, const N: usize> {
    /// Its store; all have a room or none, wet ground or none.
    pub parameters: &'a ArrangementParameters,
    /// Salt and water of its member; all meet the same road salt.
    pub underside: &'a Underside,
    /// Use on each day of the weather; all are driven and washed on the same days, but for the share that is salted.
    pub daily_use: DailyUse<'a, N>,
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
    let [alone] = expose_each(weather, &[Course { parameters, underside, daily_use: *daily_use }], response);
    alone
}

/// [`expose`] of `D` draws, which come out as each would alone.
#[must_use]
pub fn expose_each<const N: usize, const D: usize>(
    weather: &Weather,
    draws: &[Course<'_, N>; D],
    response: &HumidityResponse,
) -> [[Exposure; N]; D] {
    let winter = weather.days.winter;
    let exposures = hourly_loop(weather, draws, response)
        .map(|members| members.map(|months| Exposure { months, winter }));
    debug_assert!(exposures.iter().flatten().all(Exposure::is_plausible), "an exposure out of range");
    exposures
}

#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn hourly_loop<const N: usize, const D: usize>(
    weather: &Weather,
    draws: &[Course<'_, N>; D],
    response: &HumidityResponse,
) -> [[[Month; 12]; N]; D] {
    let of_year = OfYear::new(draws);
    let count = weather.hours.len();
    let first = 24 * weather.days.first_day;
    let before = SETTLING_H.min(count);
    let start = (first + count - before) % count;
    let mut state = HourState::start(&settled_air(weather, &of_year, start));
    for (draw, course) in draws.iter().enumerate() {
        state.salt.set(draw, &chloride_before(weather, course, before), &of_year.binding);
    }
    for step in 0..before {
        let index = (start + step) % count;
        state.advance(&weather.hours[index], index / 24, &of_year);
    }
    let begun_g_m2 = state.film_g_m2;
    let mut sums = [MonthSums::NONE; 12];
    for step in 0..count {
        let index = (first + step) % count;
        if step.is_multiple_of(HOURS_PER_YEAR) {
            state.start_year(step / HOURS_PER_YEAR, &begun_g_m2, &of_year);
        }
        let hour = &weather.hours[index];
        state.advance(hour, index / 24, &of_year);
        state.count(&mut sums[usize::from(hour.month - 1)], response, &of_year);
    }
    std::array::from_fn(|draw| {
        std::array::from_fn(|member| sums.each_ref().map(|month| month.month_of(draw, member, &of_year)))
    })
}

/// Air at the start of an hour of the weather, settled: begun so long before that it is the same from a dry and from a
/// flooded floor, at the longest all the weather before.
#[inline(always)]
fn settled_air<const N: usize, const D: usize>(
    weather: &Weather,
    of_year: &OfYear<'_, N, D>,
    start: usize,
) -> Airs<D> {
    let count = weather.hours.len();
    let mut settled = Airs::all(&Air::outdoors(&weather.hours[(start + count - 1) % count]));
    let mut hours: [Option<usize>; D] = std::array::from_fn(|draw| {
        let time_constant_h = of_year.store.time_constant_h(draw)?;
        Some(ROOM_SETTLING_H.max(ROOM_TIME_CONSTANTS * time_constant_h).ceil() as usize)
    });
    while hours.iter().any(Option::is_some) {
        let before = hours.map(|hours| hours.unwrap_or(0).min(count));
        let dry = air_after(weather, of_year, (start, &before), 0.0);
        let flooded = air_after(weather, of_year, (start, &before), FLOOR_HOLDS_G);
        for draw in 0..D {
            let air = flooded.at(draw);
            if hours[draw].is_some() && (before[draw] == count || dry.at(draw).is_like(&air)) {
                settled.set(draw, &air);
                hours[draw] = None;
            }
            hours[draw] = hours[draw].map(|hours| 2 * hours);
        }
    }
    settled
}

/// Air at the start of an hour of the weather that was like that outdoors so many hours before, in each draw, over a floor
/// with so much water [g].
#[inline(always)]
fn air_after<const N: usize, const D: usize>(
    weather: &Weather,
    of_year: &OfYear<'_, N, D>,
    (start, before): (usize, &[usize; D]),
    floor_water_g: f64,
) -> Airs<D> {
    let count = weather.hours.len();
    let longest = before.iter().copied().max().unwrap_or(0);
    let mut airs = Airs::all(&Air::outdoors(&weather.hours[start % count]));
    for back in (1..=longest).rev() {
        let index = (start + count - back) % count;
        let hour = &weather.hours[index];
        for draw in 0..D {
            if before[draw] == back {
                airs.set(draw, &Air { floor_water_g, ..Air::outdoors(hour) });
            }
        }
        airs.advance(hour, &of_year.store);
        if of_year.is_back(hour, index / 24) {
            airs.take_in(&of_year.brought_g(index / 24));
        }
    }
    airs
}

/// Chloride that leads to that at the start of the year over the hours before it [mg/m²]; none on members that come to it
/// clean.
fn chloride_before<const N: usize>(weather: &Weather, course: &Course<'_, N>, hours: usize) -> [f64; N] {
    let Course { underside, daily_use: DailyUse { starts_mg_m2, calendar, salt_taken_mg_m2 }, .. } = *course;
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

/// What holds for all hours of a year, by draw.
struct OfYear<'a, const N: usize, const D: usize> {
    draws: &'a [Course<'a, N>; D],
    store: Store<D>,
    steel_decay: [f64; D],
    night_cooling_k: [f64; D],
    steel_offset_k: [f64; D],
    film_drying_m_per_h: [f64; D],
    film_after_wetting_g_m2: [f64; D],
    brine_cold_factor: [f64; D],
    activity_drop: f64,
    binding: WaterBinding<D>,
}

impl<'a, const N: usize, const D: usize> OfYear<'a, N, D> {
    fn new(draws: &'a [Course<'a, N>; D]) -> Self {
        let of_store = |of: fn(&ArrangementParameters) -> f64| draws.map(|draw| of(draw.parameters));
        let of_underside = |of: fn(&Underside) -> f64| draws.map(|draw| of(draw.underside));
        let road_salt = draws.first().map(|draw| draw.underside.road_salt).unwrap_or_default();
        let in_room = |draw: Course<'_, N>| {
            if draw.parameters.room.is_some() { draw.underside.sea_salt_mg_m2 } else { 0.0 }
        };
        Self {
            draws,
            store: Store::new(draws.map(|draw| draw.parameters)),
            steel_decay: of_store(|store| decay(1.0 / store.steel_time_constant_h)),
            night_cooling_k: of_store(|store| store.night_cooling_k),
            steel_offset_k: of_underside(|underside| underside.steel_offset_k),
            film_drying_m_per_h: of_store(|store| store.film_drying_m_per_h),
            film_after_wetting_g_m2: of_underside(|underside| underside.film_after_wetting_g_m2),
            brine_cold_factor: of_underside(|underside| underside.brine_cold_factor),
            activity_drop: road_salt.saturated_activity_drop(),
            binding: WaterBinding::new(road_salt, draws.map(in_room)),
        }
    }

    /// A day as the car of the first draw is used on it, which is as in all others but for the share that is salted.
    #[inline(always)]
    fn today(&self, day: usize) -> &Day {
        &self.draws[0].daily_use.calendar.days[day]
    }

    /// Whether the car comes back in an hour.
    #[inline(always)]
    fn is_back(&self, hour: &Hour, day: usize) -> bool {
        hour.hour_of_day == DRIVE_HOUR && self.today(day).driven
    }

    /// Water that the car brings into the room when it comes back [g].
    #[inline(always)]
    fn brought_g(&self, day: usize) -> [f64; D] {
        self.draws
            .map(|draw| 1000.0 * draw.daily_use.calendar.days[day].wetted() * draw.underside.carried_water_l)
    }
}

/// State of room and members from one hour to the next, by draw.
struct HourState<const N: usize, const D: usize> {
    airs: Airs<D>,
    /// Air round the member: outdoors while the car is away.
    around_c: [f64; D],
    around_pct: [f64; D],
    steel_c: [f64; D],
    steel_humidity_pct: [f64; D],
    film_g_m2: [[f64; D]; N],
    salt: Salt<N, D>,
}

impl<const N: usize, const D: usize> HourState<N, D> {
    #[inline(always)]
    fn start(airs: &Airs<D>) -> Self {
        let mut state = Self {
            airs: *airs,
            around_c: [0.0; D],
            around_pct: [0.0; D],
            steel_c: [0.0; D],
            steel_humidity_pct: [0.0; D],
            film_g_m2: [[0.0; D]; N],
            salt: Salt::NONE,
        };
        for draw in 0..D {
            state.steel_c[draw] = airs.at(draw).temperature_c;
        }
        state
    }

    /// Begins a year of the weather: the last member runs on; the film left on the others is that of another year's salt.
    #[inline(always)]
    fn start_year(&mut self, year: usize, begun_g_m2: &[[f64; D]; N], of_year: &OfYear<'_, N, D>) {
        let mut begins = false;
        for (draw, course) in of_year.draws.iter().enumerate() {
            if let Some(start_mg_m2) = course.daily_use.starts_mg_m2.get(year) {
                self.salt.set(draw, start_mg_m2, &of_year.binding);
                begins = true;
            }
        }
        if begins {
            self.film_g_m2[..N - 1].copy_from_slice(&begun_g_m2[..N - 1]);
        }
    }

    /// One hour of a day.
    #[inline(always)]
    fn advance(&mut self, hour: &Hour, day: usize, of_year: &OfYear<'_, N, D>) {
        let today = of_year.today(day);
        let out = hour.hour_of_day <= DRIVE_HOUR && hour.hour_of_day + today.away_h > DRIVE_HOUR;
        self.airs.advance(hour, &of_year.store);
        if out {
            self.advance_steel(&Airs::all(&Air::outdoors(hour)), hour, of_year);
        } else {
            let airs = self.airs;
            self.advance_steel(&airs, hour, of_year);
        }
        if of_year.is_back(hour, day) {
            for (draw, Course { underside, daily_use, .. }) in of_year.draws.iter().enumerate() {
                let today = &daily_use.calendar.days[day];
                let taken_mg_m2 = daily_use.salt_taken_mg_m2[day];
                let step = SaltStep::drive(today, taken_mg_m2, &underside.removal);
                self.salt.change(draw, step, &of_year.binding);
                self.wet(draw, today.wetted(), of_year);
            }
            self.airs.take_in(&of_year.brought_g(day));
        }
        if hour.hour_of_day == WASH_HOUR {
            for (draw, Course { underside, daily_use, .. }) in of_year.draws.iter().enumerate() {
                let today = &daily_use.calendar.days[day];
                if today.washed > 0.0 {
                    self.salt.change(draw, SaltStep::wash(today, &underside.removal), &of_year.binding);
                    self.wet(draw, today.washed, of_year);
                }
            }
        }
    }

    /// Leaves a film after a share of a wetting [-].
    #[inline(always)]
    fn wet(&mut self, draw: usize, share: f64, of_year: &OfYear<'_, N, D>) {
        for film in &mut self.film_g_m2 {
            film[draw] = share.mul_add(of_year.film_after_wetting_g_m2[draw] - film[draw], film[draw]);
        }
    }

    /// Temperature of the steel, humidity at it and water film, in the air round the members.
    #[inline(always)]
    fn advance_steel(&mut self, airs: &Airs<D>, hour: &Hour, of_year: &OfYear<'_, N, D>) {
        let is_night = hour.is_night();
        for draw in 0..D {
            let air = airs.at(draw);
            let cooling_k = if is_night { of_year.night_cooling_k[draw] } else { 0.0 };
            let target_c = air.temperature_c - cooling_k + of_year.steel_offset_k[draw];
            let steel_c = relax(self.steel_c[draw], target_c, of_year.steel_decay[draw]);
            let pressure_pa =
                air.vapour_g_m3 * 1e-3 * VAPOUR_GAS_CONSTANT * (air.temperature_c + ZERO_C_IN_K);
            let saturation_pa = saturation_pressure_pa(steel_c);
            let exchange = FilmExchange {
                drying_m_per_h: of_year.film_drying_m_per_h[draw],
                saturated_g_m3: saturation_pa / (1e-3 * VAPOUR_GAS_CONSTANT * (steel_c + ZERO_C_IN_K)),
                vapour_g_m3: air.vapour_g_m3,
                activity_drop: of_year.activity_drop,
            };
            for member in 0..N {
                let bound = self.salt.bound_water_g_m2[member][draw];
                self.film_g_m2[member][draw] =
                    film_after_hour_g_m2(self.film_g_m2[member][draw], bound, &exchange);
            }
            self.steel_humidity_pct[draw] = (100.0 * pressure_pa / saturation_pa).min(100.0);
            self.steel_c[draw] = steel_c;
            self.around_c[draw] = air.temperature_c;
            self.around_pct[draw] = air.humidity_pct;
        }
    }

    /// Adds the hour to its month.
    #[inline(always)]
    fn count(&self, month: &mut MonthSums<N, D>, response: &HumidityResponse, of_year: &OfYear<'_, N, D>) {
        month.hours += 1.0;
        for draw in 0..D {
            let (around_c, around_pct) = (self.around_c[draw], self.around_pct[draw]);
            month.air_temperature[draw] += around_c;
            month.air_humidity[draw] += around_pct;
            month.steel_temperature[draw] += self.steel_c[draw];
            month.steel_humidity[draw] += self.steel_humidity_pct[draw];
            month.wetness[draw] += if around_pct > 80.0 && around_c > 0.0 { 1.0 } else { 0.0 };
            for member in 0..N {
                let surface = Surface {
                    temperature_c: self.steel_c[draw],
                    humidity_pct: self.steel_humidity_pct[draw],
                    film_g_m2: self.film_g_m2[member][draw],
                    salted: self.salt.share[member][draw],
                };
                let wet = surface.wet_share(response);
                month.chloride[member][draw] += self.salt.chloride_mg_m2[member][draw];
                month.film[member][draw] += wet;
                month.active[member][draw] += wet * surface.cold_factor(of_year.brine_cold_factor[draw]);
            }
        }
    }
}

/// Sums over one calendar month by draw: of the air and steel, the same for all members, and of what the salt of each makes
/// of it.
#[derive(Clone, Copy)]
struct MonthSums<const N: usize, const D: usize> {
    hours: f64,
    air_temperature: [f64; D],
    air_humidity: [f64; D],
    steel_temperature: [f64; D],
    steel_humidity: [f64; D],
    wetness: [f64; D],
    chloride: [[f64; D]; N],
    film: [[f64; D]; N],
    active: [[f64; D]; N],
}

impl<const N: usize, const D: usize> MonthSums<N, D> {
    const NONE: Self = Self {
        hours: 0.0,
        air_temperature: [0.0; D],
        air_humidity: [0.0; D],
        steel_temperature: [0.0; D],
        steel_humidity: [0.0; D],
        wetness: [0.0; D],
        chloride: [[0.0; D]; N],
        film: [[0.0; D]; N],
        active: [[0.0; D]; N],
    };

    /// The month of a member of a draw, with the sea salt it holds.
    fn month_of(&self, draw: usize, member: usize, of_year: &OfYear<'_, N, D>) -> Month {
        let sea_salt_mg_m2 = of_year.draws[draw].underside.sea_salt_mg_m2;
        Month {
            hours: self.hours,
            air_temperature: self.air_temperature[draw],
            air_humidity: self.air_humidity[draw],
            steel_temperature: self.steel_temperature[draw],
            steel_humidity: self.steel_humidity[draw],
            chloride: self.hours.mul_add(sea_salt_mg_m2, self.chloride[member][draw]),
            wetness: self.wetness[draw],
            film: self.film[member][draw],
            active: self.active[member][draw],
        }
    }
}
