//! Climate: the same weather written in several ways.

use crate::same::{answer, case, demo, shift_a};
use crate::written::{PLAIN, Writing, daily, mirrored, written};
use ferrowane::climate::samples::{sample, samples};
use ferrowane::climate::wet_days::{RainDays, WetDays};
use ferrowane::climate::{ClimateRecord, summary};
use ferrowane::forecast::flag::Flag;
use ferrowane::forecast::scenario::Scenario;

/// A case at a climate, `[climate]` as given.
fn car_at(climate: &str) -> String {
    format!(
        "title = 'car'\nfirst_registration = 2015-01-01\n[member]\ntube = 'round'\nsize_mm = '45x2'\nnodes = 4\n\
         [coating]\nsystem = 'thin_factory_coat'\n[climate]\n{climate}\n[use]\ndays_per_week = 5\nwinter_use = true\n\
         salted_days = 40\nwash = 'never'\n[[storage]]\narrangement = 'street'\n"
    )
}

fn wet(climate: &ClimateRecord) -> usize {
    climate.series.wet_day.iter().filter(|flag| **flag).count()
}

/// Renton's rain is measured: without it the same number of days is drawn, and most of them are the right ones. By a limit
/// of 85 % for the daily mean humidity 83 days of 138 were wet, 53 of them right.
#[test]
fn reference_wet_days_drawn_from_a_count_are_mostly_the_measured_ones() {
    for (id, least_share) in [("renton", 0.65), ("new-york-coast-2013", 0.65), ("newark-2013", 0.70)] {
        let measured = sample(id).unwrap();
        assert_eq!(measured.wet_days, WetDays::Measured);
        let months = std::array::from_fn(|month| {
            let flags = measured.series.wet_day.iter().zip(measured.series.month.iter().step_by(24));
            flags.filter(|(wet, of)| **wet && usize::from(**of) == month + 1).count() as f64
        });
        let count = wet(&measured);
        let drawn = measured.clone().with_rain_days(&RainDays::by_month(months).unwrap(), "counted");
        assert_eq!(wet(&drawn), count);
        let both =
            drawn.series.wet_day.iter().zip(&measured.series.wet_day).filter(|(a, b)| **a && **b).count();
        println!("{id}: {count} wet days, {both} of those drawn are right");
        assert!(both as f64 > least_share * count as f64, "{id}: {both} of {count}");
    }
}

/// Every sample has its count: to within half a day of the sum of its months.
#[test]
fn property_every_sample_has_as_many_wet_days_as_its_count() {
    for info in samples().unwrap() {
        let climate = sample(&info.id).unwrap();
        let count = summary(&climate).wet_days_per_a;
        match &climate.wet_days {
            WetDays::Measured => assert!(climate.series.rain_mm.is_some(), "{}", info.id),
            WetDays::Drawn { days_per_a, source } => {
                assert!((count - days_per_a).abs() <= 0.5, "{}: {count} for {days_per_a}", info.id);
                assert!(!source.contains("assumed as at"), "{}: {source}", info.id);
            }
        }
    }
}

#[test]
fn property_an_answer_says_that_its_wet_days_are_drawn() {
    let drawn = |climate: &str| {
        let flags = answer(&case(&car_at(climate))).flags;
        flags.into_iter().find_map(|flag| match flag {
            Flag::WetDaysDrawn { days_per_a, source, .. } => Some((days_per_a.round(), source)),
            _ => None,
        })
    };
    assert_eq!(drawn("sample = 'renton'"), None);
    assert_eq!(drawn("sample = 'presque-isle'").unwrap().0 as i32, 161);
    let stated = drawn("sample = 'renton'\nrain_days = 100").unwrap();
    assert_eq!(stated, (100.0, "stated in the case".to_owned()));
}

#[test]
fn property_a_yearly_count_is_the_same_as_its_months() {
    let months: Vec<String> = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
        .map(|days| format!("{}", 146.0 * f64::from(days) / 365.0))
        .to_vec();
    let [year, months] = [
        "sample = 'casper'\nrain_days = 146".to_owned(),
        format!("sample = 'casper'\nrain_days = [{}]", months.join(", ")),
    ]
    .map(|climate| case(&car_at(&climate)).climate.series);
    assert_eq!(year.wet_day.iter().filter(|wet| **wet).count(), 146);
    assert_eq!(year, months);
}

/// Salt without frost is answered, with a remark; in a climate with frost there is none.
#[test]
fn property_salted_days_without_frost_get_a_remark() {
    for (id, remark) in [("miami", true), ("presque-isle", false)] {
        let flags = answer(&case(&car_at(&format!("sample = '{id}'")))).flags;
        assert_eq!(flags.iter().any(|flag| matches!(flag, Flag::SaltedWithoutFrost { .. })), remark, "{id}");
    }
}

fn place(id: &str) -> ClimateRecord {
    sample(id).unwrap()
}

/// Figures that a forecast takes from a climate, a name each.
fn figures(climate: &ClimateRecord) -> Vec<(&'static str, f64)> {
    let s = summary(climate);
    vec![
        ("mean temperature", s.temperature_c),
        ("coldest", s.temperature_min_c),
        ("warmest", s.temperature_max_c),
        ("mean humidity", s.humidity_pct),
        ("wetness", s.time_of_wetness_h_per_a),
        ("frost", s.hours_below_zero_h_per_a),
        ("rain", s.rain_mm_per_a.unwrap_or_default()),
        ("wet days", s.wet_days_per_a),
        ("frost days", climate.series.frost_days_per_a()),
    ]
}

fn same_figures(one: &ClimateRecord, other: &ClimateRecord, tolerance: f64) {
    for ((name, a), (_, b)) in figures(one).into_iter().zip(figures(other)) {
        assert!((a - b).abs() <= tolerance * a.abs().max(1.0), "{name} of {}: {a}, {b}", one.name);
    }
}

/// The demo car of the street at another climate.
fn street_car(climate: &ClimateRecord) -> Scenario {
    Scenario { climate: climate.clone(), ..demo("street_daily.toml") }
}

/// Median age at rework of the demo car at a climate [a].
fn median_a(climate: &ClimateRecord) -> f64 {
    answer(&street_car(climate)).time_to_rework_a.p50.unwrap()
}

/// Sums of four equal years differ by rounding only: 1e-9.
#[test]
fn property_a_year_written_four_times_is_that_year() {
    for id in ["renton", "casper", "newark-2013"] {
        let once = written(&place(id), PLAIN);
        let often = written(&place(id), Writing { times: 4, ..PLAIN });
        assert_eq!((once.series.years(), often.series.years()), (1, 4));
        same_figures(&once, &often, 1e-9);
        for year in 0..4 {
            assert_eq!(often.series.wet_day[365 * year..365 * (year + 1)], once.series.wet_day, "{id}");
        }
        let samples = street_car(&once).climate.wet_days;
        assert_eq!(samples, often.wet_days, "{id}");
    }
}

/// Rain comes in totals of three hours, so its days are the same; drawn days are those of nearly the same means. Straight
/// lines over three hours cut the extremes: tenths of a kelvin and some hours of wetness.
#[test]
fn property_three_hourly_rows_are_the_hourly_weather() {
    for id in ["renton", "port-angeles", "presque-isle"] {
        let hourly = written(&place(id), PLAIN);
        let coarser = written(&place(id), Writing { step_h: 3, ..PLAIN });
        let (a, b) = (summary(&hourly), summary(&coarser));
        assert!(
            (a.temperature_c - b.temperature_c).abs() < 0.05,
            "{id}: {} {}",
            a.temperature_c,
            b.temperature_c
        );
        assert!((a.humidity_pct - b.humidity_pct).abs() < 0.3, "{id}: {} {}", a.humidity_pct, b.humidity_pct);
        let wetness = b.time_of_wetness_h_per_a / a.time_of_wetness_h_per_a;
        assert!((wetness - 1.0).abs() < 0.06, "{id}: {wetness}");
        let same = hourly.series.wet_day.iter().zip(&coarser.series.wet_day).filter(|(a, b)| a == b).count();
        assert_eq!(wet(&hourly), wet(&coarser), "{id}");
        assert!(same >= if hourly.series.rain_mm.is_some() { 365 } else { 340 }, "{id}: {same} of 365");
        let shift = median_a(&coarser) - median_a(&hourly);
        println!("{id}: {same} days alike, wetness {wetness:.3}, median moved by {shift:.3} a");
        assert!(shift.abs() < 0.1, "{id}: {shift}");
    }
}

/// 1e-9: the conversions round.
#[test]
fn property_inches_and_fahrenheit_are_millimetres_and_celsius() {
    for id in ["renton", "casper"] {
        let metric = written(&place(id), PLAIN);
        let imperial = written(&place(id), Writing { imperial: true, ..PLAIN });
        same_figures(&metric, &imperial, 1e-9);
        assert_eq!(metric.series.wet_day, imperial.series.wet_day);
    }
    let air = "so2_mg_m2_d = 4\nchloride_mg_m2_d = 10";
    let [metric, imperial] = [
        format!("means = {{ temperature_c = 10, humidity_pct = 75 }}\nrain_m_per_a = 1.27\n{air}"),
        format!("means = {{ temperature_f = 50, humidity_pct = 75 }}\nrain_in_per_a = 50\n{air}"),
    ]
    .map(|climate| case(&car_at(&climate)));
    assert_eq!(metric.climate.series, imperial.climate.series);
    assert!((metric.air.rain_m_per_a - imperial.air.rain_m_per_a).abs() < 1e-12);
    assert_eq!(shift_a(&metric, &imperial).map(f64::to_bits), [0.0_f64.to_bits(); 3]);
}

/// Written from July on, a year is the same year.
#[test]
fn property_twelve_months_from_any_day_are_the_same_year() {
    for (id, from_day) in [("renton", 181), ("casper", 181), ("casper", 40)] {
        let whole = written(&place(id), PLAIN);
        let turned = written(&place(id), Writing { from_day, ..PLAIN });
        assert_eq!(whole.series, turned.series, "{id} from day {from_day}");
        assert!(turned.gaps.begins_in_month.is_some() && turned.gaps.missing_hours == 0);
    }
}

/// The mirror image has the same yearly figures, and its own months and counts draw nearly the same days: months do not fall
/// on months exactly, so some days at their ends change place.
#[test]
fn property_the_other_hemisphere_has_the_same_year() {
    for id in ["presque-isle", "casper", "port-angeles"] {
        let north = place(id);
        let south = mirrored(&north);
        same_figures(&north, &south, 1e-9);
        let counts = |shift: usize| {
            std::array::from_fn(|month| {
                let flags = north.series.wet_day.iter().zip(north.series.month.iter().step_by(24));
                let wanted = (month + shift) % 12 + 1;
                let count = flags.filter(|(wet, of)| **wet && usize::from(**of) == wanted).count();
                (count as f64).min(28.0)
            })
        };
        let drawn = south.clone().with_rain_days(&RainDays::by_month(counts(6)).unwrap(), "mirrored");
        let same = drawn.series.wet_day.iter().zip(&south.series.wet_day).filter(|(a, b)| a == b).count();
        println!("{id}: {same} of 365 days alike");
        assert!(wet(&drawn).abs_diff(wet(&south)) <= 1 && same >= 347, "{id}: {same}");
    }
}

/// The columns of a table of known layout may be named all the same, in a case as on the command line.
#[test]
fn property_named_columns_of_a_known_table_change_nothing() {
    let [known, named] = [
        "",
        "\ncolumns = { time = 'time(UTC)', temperature_c = 'T2m', humidity_pct = 'RH', wind_m_s = 'WS10m' }",
    ]
    .map(|columns| {
        let file =
            "file = 'tests/weather_files/po-plain-pvgis.csv.gz'\nso2_mg_m2_d = 4\nchloride_mg_m2_d = 10";
        case(&car_at(&format!("{file}{columns}"))).climate
    });
    assert_eq!(known.series, named.series);
}

/// Where no count is known, that of the nearest sample is taken; in the south its winter is that of the place.
#[test]
fn property_an_assumed_count_has_the_winter_of_its_hemisphere() {
    // 59 of the 71 rain days of the bay coast lie from November to April
    let north = written(&place("hayward"), PLAIN);
    let south = written(&mirrored(&place("hayward")), PLAIN);
    let november_to_april = |climate: &ClimateRecord| {
        let flags = climate.series.wet_day.iter().zip(climate.series.month.iter().step_by(24));
        flags.filter(|(wet, month)| **wet && !(5..=10).contains(*month)).count()
    };
    let (winter, summer) = (november_to_april(&north), november_to_april(&south));
    println!("{} and {} rain days, {winter} and {summer} from November to April", wet(&north), wet(&south));
    assert!(wet(&north).abs_diff(wet(&south)) <= 1);
    assert!((summer + winter).abs_diff(wet(&north)) <= 2 && winter > 4 * summer);
}

/// Every way to write a constant year gives the constant quick path to the bit.
#[test]
fn property_a_constant_year_is_one_however_it_is_written() {
    let quick = case(&car_at(
        "means = { temperature_c = 9.5, humidity_pct = 81.25, shape = 'constant' }\nso2_mg_m2_d = 4\nchloride_mg_m2_d = 10",
    ))
    .climate;
    for how in [PLAIN, Writing { step_h: 3, ..PLAIN }, Writing { from_day: 200, ..PLAIN }] {
        assert_eq!(written(&quick, how).series, quick.series);
    }
    assert_eq!(daily(&quick, false).series, quick.series);
    assert_eq!(daily(&quick, true).series, quick.series);
}

/// Means of days with their range bring back the hourly answer better than means alone do, where the day's own humidity is
/// kept. What is left, some tenths of a year, is the weather within the day.
#[test]
fn property_a_daily_table_with_its_range_stays_near_the_hourly_answer() {
    for id in ["port-angeles", "reading", "casper"] {
        let counted =
            |climate: ClimateRecord| climate.with_rain_days(&RainDays::by_year(140.0).unwrap(), "test");
        let hourly = counted(place(id));
        let [means, range] = [false, true].map(|with_range| counted(daily(&place(id), with_range)));
        let lost = summary(&hourly).humidity_pct - summary(&range).humidity_pct;
        assert!(lost.abs() < 0.1, "{id}: mean humidity {lost} % lower");
        let shifts = [&means, &range].map(|table| median_a(table) - median_a(&hourly));
        let wetness = [&hourly, &means, &range].map(|climate| summary(climate).time_of_wetness_h_per_a);
        println!("{id}: median moved by {shifts:.3?} a without and with the range; wetness {wetness:?}");
        assert!(shifts[1].abs() < 0.1, "{id}: {shifts:?}");
    }
}
