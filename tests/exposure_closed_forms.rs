//! The hourly year and the salt balance against what can be worked out by hand: equal hours, one member, one thing at a time.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

#[path = "support/cars.rs"]
mod cars;
#[path = "support/close.rs"]
mod close;

use close::assert_close;
use ferrowane::climate::humid_air::saturation_density_g_m3;
use ferrowane::climate::quick::{AnnualMeans, HourlyShape, quick};
use ferrowane::climate::{ClimateRecord, SampleClimates, Series, summary};
use ferrowane::exposure::arrangement::{ArrangementParameters, EnclosureParameters};
use ferrowane::exposure::driving::{Calendar, DayWeather};
use ferrowane::exposure::film::HumidityResponse;
use ferrowane::exposure::salt::{SaltRemoval, SaltYears};
use ferrowane::exposure::weather::Weather;
use ferrowane::exposure::year::{DailyUse, Underside, expose};
use ferrowane::exposure::{Driving, Exposure, Month, RoadSalt, Season, Wash};
use ferrowane::prior::Prior;

const OPEN: ArrangementParameters = ArrangementParameters {
    room: None,
    steel_time_constant_h: 1.0,
    night_cooling_k: 0.0,
    film_drying_m_per_h: 8.0,
    outdoor_deposition_share: 1.0,
    ground: None,
};

const ROOM: EnclosureParameters = EnclosureParameters {
    air_changes_per_h: 0.5,
    volume_m3: 50.0,
    thermal_time_constant_h: 10.0,
    warmer_k: 0.0,
    heater_set_c: f64::NEG_INFINITY,
    heater_lift_k: f64::INFINITY,
    dehumidifier_set_pct: 100.0,
    dehumidifier_l_per_d: f64::INFINITY,
    floor_drying_m3_per_h: 20.0,
};

const CLEAN: Underside = Underside {
    removal: SaltRemoval { wash: 0.5, wet_drive: 0.04 },
    road_salt: RoadSalt::SodiumChloride,
    sea_salt_mg_m2: 0.0,
    film_after_wetting_g_m2: 55.0,
    carried_water_l: 0.0,
    steel_offset_k: 0.0,
    brine_cold_factor: 0.3,
};

fn in_room(room: EnclosureParameters) -> ArrangementParameters {
    ArrangementParameters { room: Some(room), ..OPEN }
}

/// A year of equal hours, without rain or with it on every day.
fn equal_hours(temperature_c: f64, humidity_pct: f64, wet: bool) -> ClimateRecord {
    let mut climate = cars::constant(temperature_c, humidity_pct);
    climate.series.wet_day.fill(wet);
    climate
}

fn calendar(series: &Series, driving: &Driving, salted_days: f64) -> Calendar {
    DayWeather::new(series).calendar(driving, salted_days)
}

/// A year of a member that starts with some chloride [mg/m²]; a salted road leaves 60 mg/m².
fn year(
    climate: &ClimateRecord,
    parameters: &ArrangementParameters,
    (driving, salted_days, start_mg_m2): (&Driving, f64, f64),
) -> Exposure {
    let calendar = calendar(&climate.series, driving, salted_days);
    let taken = vec![60.0; calendar.days.len()];
    let daily_use =
        DailyUse { starts_mg_m2: &[[start_mg_m2]], calendar: &calendar, salt_taken_mg_m2: &taken };
    let response = HumidityResponse::published().unwrap();
    let [year] = expose(&Weather::new(&climate.series), parameters, &CLEAN, &daily_use, &response);
    year
}

/// A year of a member that is never driven.
fn standing(climate: &ClimateRecord, parameters: &ArrangementParameters, chloride_mg_m2: f64) -> Exposure {
    year(climate, parameters, (&cars::never_driven(), 0.0, chloride_mg_m2))
}

/// ISO 9223, clause 3: time of wetness counts hours above 80 % at more than 0 °C, both as "greater than".
#[test]
fn published_time_of_wetness_counts_above_80_percent_and_freezing_point() {
    for (temperature_c, humidity_pct, hours) in
        [(10.0, 80.0, 0.0), (10.0, 80.1, 8760.0), (0.0, 95.0, 0.0), (0.1, 95.0, 8760.0), (-3.0, 99.0, 0.0)]
    {
        let climate = equal_hours(temperature_c, humidity_pct, false);
        assert_close("hours of wetness", standing(&climate, &OPEN, 0.0).year().wetness_h(), hours, 1e-9);
        assert_close("time of wetness", summary(&climate).time_of_wetness_h_per_a, hours, 1e-9);
    }
}

/// Night cooling acts from 20:00 to 6:00: the mean of the steel lies 10/24 of it below the air, whatever its lag.
#[test]
fn closed_form_night_cooling_lowers_the_mean_by_its_share_of_the_day() {
    let climate = equal_hours(10.0, 60.0, false);
    for steel_time_constant_h in [0.2, 1.0, 6.0] {
        let steel = ArrangementParameters { night_cooling_k: 1.2, steel_time_constant_h, ..OPEN };
        let here = standing(&climate, &steel, 0.0).year();
        assert_close("air", here.air_temperature_c(), 10.0, 1e-9);
        assert_close("steel", here.steel_temperature_c(), 10.0 - 1.2 * 10.0 / 24.0, 1e-6);
    }
}

/// A film of 55 g/m² at 10 °C and 50 %: 8 m/h times half of 9.4 g/m³ is 37.6 g/m² an hour, so it is there in the hour of the
/// drive and one more; at 69 % it is 23.3 g/m², and there for two more.
#[test]
fn closed_form_a_film_lasts_as_long_as_the_air_needs_to_take_it() {
    for (humidity_pct, hours_a_day) in [(50.0, 2.0), (69.0, 3.0)] {
        let climate = equal_hours(10.0, humidity_pct, true);
        let deficit_g_m3 = saturation_density_g_m3(10.0) * (1.0 - humidity_pct / 100.0);
        assert_close("hours", (55.0 / (8.0 * deficit_g_m3)).floor() + 1.0, hours_a_day, 1e-9);
        let daily = cars::driven_daily(Prior::Fixed(0.0));
        let here = year(&climate, &OPEN, (&daily, 0.0, 0.0)).year();
        assert_close("film", here.film_h(), 365.0 * hours_a_day, 1e-6);
        assert_close("activity", here.activity(), hours_a_day / 24.0, 1e-9);
    }
}

/// Clean steel rests below 0 °C. Steel that holds S of chloride in wet air corrodes there at the share `S/(S + 48.5)` of
/// brine times its cold factor, from -5 °C down; half way at -2.5 °C.
#[test]
fn closed_form_frost_stops_clean_steel_and_slows_brine() {
    for (temperature_c, factor) in [(-10.0, 0.3), (-5.0, 0.3), (-2.5, 0.65)] {
        let climate = equal_hours(temperature_c, 95.0, false);
        assert_close("activity", standing(&climate, &OPEN, 0.0).year().activity(), 0.0, 1e-12);
        let salted = standing(&climate, &OPEN, 200.0).year();
        assert_close("chloride", salted.chloride_mg_m2(), 200.0, 1e-9);
        assert_close("activity", salted.activity(), factor * 200.0 / 248.5, 1e-9);
    }
}

/// A room without heater is as much warmer as stated; a heater lifts as far as its power reaches and no further than it is
/// set.
#[test]
fn closed_form_a_room_is_as_warm_as_its_heat_balance() {
    let climate = equal_hours(2.0, 70.0, false);
    for (heater_set_c, heater_lift_k, expected_c) in [
        (f64::NEG_INFINITY, f64::INFINITY, 3.5),
        (15.0, f64::INFINITY, 15.0),
        (15.0, 4.0, 7.5),
        (3.0, 4.0, 3.5),
    ] {
        let room = EnclosureParameters { warmer_k: 1.5, heater_set_c, heater_lift_k, ..ROOM };
        let here = standing(&climate, &in_room(room), 0.0).year();
        assert_close("air", here.air_temperature_c(), expected_c, 1e-6);
        let vapour_g_m3 = 0.7 * saturation_density_g_m3(2.0);
        assert_close(
            "humidity",
            here.air_humidity_pct(),
            100.0 * vapour_g_m3 / saturation_density_g_m3(expected_c),
            1e-6,
        );
    }
}

/// A drier that takes c out of the air each hour, which air changes bring back by `1 - e^-n` of what is missing, holds the
/// vapour at `w_out - c/(1 - e^-n)`; one that could do more holds its set point.
#[test]
fn closed_form_a_drier_holds_what_its_capacity_allows() {
    let climate = equal_hours(12.0, 85.0, false);
    let saturated_g_m3 = saturation_density_g_m3(12.0);
    for litres_a_day in [0.3, 1.0, 20.0] {
        let room =
            EnclosureParameters { dehumidifier_set_pct: 50.0, dehumidifier_l_per_d: litres_a_day, ..ROOM };
        let each_hour_g_m3 = 1000.0 * litres_a_day / 24.0 / room.volume_m3;
        let vapour_g_m3 = 0.85 * saturated_g_m3 - each_hour_g_m3 / (1.0 - (-room.air_changes_per_h).exp());
        let expected_pct = (100.0 * vapour_g_m3 / saturated_g_m3).max(50.0);
        let found_pct = standing(&climate, &in_room(room), 0.0).year().air_humidity_pct();
        println!("{litres_a_day} L/d: {found_pct:.2} %");
        assert_close("humidity", found_pct, expected_pct, 1e-6);
    }
}

/// Winter and the rest are the year, five months of it and seven.
#[test]
fn closed_form_seasons_add_up_to_the_year() {
    let (climate, _) = cars::place("janesville");
    let here = year(&climate, &OPEN, (&cars::driven_daily(Prior::Fixed(58.0)), 58.0, 0.0));
    let (winter, rest, all) = (here.season(Season::Winter), here.season(Season::Rest), here.year());
    assert_close("hours", winter.hours, 24.0 * 151.0, 1e-9);
    assert_close("hours", winter.hours + rest.hours, 8760.0, 1e-9);
    assert_close("film", winter.film_h() + rest.film_h(), all.film_h(), 1e-6);
    let by_hours = |of: fn(&Month) -> f64| (winter.hours * of(&winter) + rest.hours * of(&rest)) / 8760.0;
    assert_close("chloride", by_hours(Month::chloride_mg_m2), all.chloride_mg_m2(), 1e-6);
    assert_close("activity", by_hours(Month::activity), all.activity(), 1e-12);
    assert!(winter.air_temperature_c() < rest.air_temperature_c());
}

/// The chloride held, hour by hour, against a recursion of its own: each day what the drive at 17:00 leaves or rinses, and
/// the wash at 18:00.
#[test]
fn closed_form_mean_salt_is_that_of_the_daily_recursion() {
    let (climate, _) = cars::place("port-angeles");
    for wash in [Wash::Never, Wash::AfterSaltedDrives, Wash::EveryDays(14)] {
        let driving = Driving { wash, ..cars::driven_daily(Prior::Fixed(58.0)) };
        let calendar = calendar(&climate.series, &driving, 58.0);
        let (mut held, mut sum, mut most) = (35.0_f64, 0.0, 0.0_f64);
        for index in calendar.in_order() {
            let day = &calendar.days[index];
            let rinse = if day.wet { 0.04 * (1.0 - day.salted) } else { 0.0 };
            let driven = (1.0 - rinse) * held + 60.0 * day.salted;
            let washed = (1.0 - 0.5 * day.washed) * driven;
            sum += 17.0 * held + driven + 6.0 * washed;
            held = washed;
            most = most.max(held);
        }
        let here = year(&climate, &OPEN, (&driving, 58.0, 35.0)).year();
        println!("{wash:?}: mean {:.1}, most {most:.1} mg/m2", here.chloride_mg_m2());
        assert_close("chloride", here.chloride_mg_m2(), sum / 8760.0, 1e-6);
    }
}

/// A year is a step `S -> a S + b`, so a member reaches `b/(1 - a)`, from any start, by the factor a in each year; and a
/// course that is begun anew after some years is the same course.
#[test]
fn closed_form_salt_settles_where_a_year_takes_what_it_brings() {
    let (climate, _) = cars::place("reading");
    let driving = cars::driven_daily(Prior::Fixed(58.0));
    let calendar = calendar(&climate.series, &driving, 58.0);
    let removal = SaltRemoval { wash: 0.5, wet_drive: 0.01 };
    let taken = vec![60.0; calendar.days.len()];
    let salt = SaltYears::new(&calendar, &taken, &removal);
    let unsalted_wet = calendar.days.iter().filter(|day| day.wet).map(|day| 1.0 - 0.01 * (1.0 - day.salted));
    let kept: f64 = unsalted_wet.product();
    let gained = salt.course(0.0).after(1.0);
    let settled = gained / (1.0 - kept);
    println!("kept a year {kept:.3}, gained {gained:.0}, settles at {settled:.0} mg/m2");
    assert!((0.2..0.6).contains(&kept));
    for start_mg_m2 in [0.0, 500.0, 9000.0] {
        let course = salt.course(start_mg_m2);
        for years_a in [1, 2, 5, 11] {
            let expected = settled + kept.powi(years_a) * (start_mg_m2 - settled);
            assert_close("salt after years", course.after(f64::from(years_a)), expected, 1e-6);
            let anew = salt.course(course.after(2.0)).after(f64::from(years_a));
            assert_close("salt after years", course.after(f64::from(years_a) + 2.0), anew, 1e-6);
        }
    }
    let never_rinsed = SaltYears::new(&calendar, &taken, &SaltRemoval { wash: 0.0, wet_drive: 0.0 });
    assert_close("salt never rinsed", never_rinsed.course(7.0).after(13.0), 7.0 + 13.0 * 60.0 * 58.0, 1e-6);
}

/// Where the years of a course lie between those that are run: they never turn back, and the last has settled.
#[test]
fn property_the_years_of_a_course_follow_one_another() {
    let (climate, _) = cars::place("reading");
    let driving = cars::driven_daily(Prior::Fixed(58.0));
    let calendar = calendar(&climate.series, &driving, 58.0);
    let taken = vec![60.0; calendar.days.len()];
    for wet_drive in [0.002, 0.01, 0.04, 0.2] {
        let salt = SaltYears::new(&calendar, &taken, &SaltRemoval { wash: 0.5, wet_drive });
        for start_mg_m2 in [0.0, 20_000.0] {
            let course = salt.course(start_mg_m2);
            let place = |year: u32| course.between(f64::from(year)).value(&[0.0, 1.0, 2.0, 3.0]);
            let places: Vec<f64> = (0..60).map(place).collect();
            assert!(places[0] == 0.0 || course.is_flat(), "{places:?}");
            assert!(places.windows(2).all(|pair| pair[1] >= pair[0] - 1e-12), "{wet_drive}: {places:?}");
            if wet_drive >= 0.01 {
                assert_close("last place", places[59], 3.0, 1e-9);
            }
        }
    }
}

/// A year whose temperature is a cosine round 2 °C, 8 K to either side: it freezes for `acos(2/8)/pi` of the time, and the
/// mean of a month is that of the cosine over it.
#[test]
fn closed_form_figures_of_a_cosine_year() {
    let mut climate = equal_hours(2.0, 90.0, false);
    let turn = |hour: f64| std::f64::consts::TAU * hour / 8760.0;
    for (hour, temperature_c) in climate.series.temperature_c.iter_mut().enumerate() {
        *temperature_c = 2.0 - 8.0 * turn(hour as f64 + 0.5).cos();
    }
    let figures = summary(&climate);
    let frozen_h = 8760.0 * 0.25_f64.acos() / std::f64::consts::PI;
    assert_close("temperature", figures.temperature_c, 2.0, 1e-9);
    assert_close("temperature", figures.temperature_min_c, -6.0, 1e-5);
    assert_close("temperature", figures.temperature_max_c, 10.0, 1e-5);
    assert_close("hours", figures.hours_below_zero_h_per_a, frozen_h, 2.0);
    assert_close("time of wetness", figures.time_of_wetness_h_per_a, 8760.0 - frozen_h, 2.0);
    let mean = |from: f64, until: f64| {
        2.0 - 8.0 * (turn(until).sin() - turn(from).sin()) / (turn(until) - turn(from))
    };
    assert_close("month", figures.months[0].temperature_c, mean(0.0, 744.0), 1e-5);
    assert_close("month", figures.months[6].temperature_c, mean(181.0 * 24.0, 212.0 * 24.0), 1e-5);
    assert_close("month", figures.months[6].wet_h_per_a, 744.0, 1e-9);
}

/// A place of which only means are known has these means, and from hour to hour the swings of the place it is shaped after.
#[test]
fn property_yearly_means_come_back_from_their_hours() {
    let samples = SampleClimates::published().unwrap();
    for (temperature_c, humidity_pct) in [(9.0, 81.0), (24.0, 35.0), (4.0, 69.0), (15.0, 92.0)] {
        let means = AnnualMeans { temperature_c, humidity_pct };
        let climate = quick(&samples, &means, HourlyShape::NearestSample).unwrap();
        let figures = summary(&climate);
        println!("{}: {:.3} C, {:.3} %", climate.name, figures.temperature_c, figures.humidity_pct);
        assert_close("temperature", figures.temperature_c, temperature_c, 1e-9);
        assert_close("humidity", figures.humidity_pct, humidity_pct, 0.001);
        let sample = samples.climate(climate.name.trim_start_matches("shape of ")).unwrap();
        let swing = |climate: &ClimateRecord| {
            let figures = summary(climate);
            figures.temperature_max_c - figures.temperature_min_c
        };
        assert_close("swing", swing(&climate), swing(&sample), 1e-9);
    }
}
