//! Dose-response functions: rates over salt, sulphur dioxide, humidity and seasons.

use crate::same::{demo, shift_a};
use ferrowane::climate::Deposition;
use ferrowane::forecast::draw::Inputs;
use ferrowane::forecast::scenario::Scenario;
use ferrowane::model::{DIMENSIONS, Point};
use ferrowane::numeric::normal::quantile;
use ferrowane::numeric::sobol::Sobol;

/// A car where the air brings so much salt, with none on the roads [mg/(m²·d)].
fn with_deposition(car: &Scenario, so2_mg_m2_d: f64, chloride_mg_m2_d: f64) -> Scenario {
    Scenario { deposition: Deposition::new(so2_mg_m2_d, chloride_mg_m2_d).unwrap(), ..car.clone() }
}

/// `count` points of standard normal numbers [-].
fn points(count: u32) -> Vec<Point> {
    let sobol = Sobol::scrambled(&(0..DIMENSIONS as u64).collect::<Vec<_>>()).unwrap();
    (0..count).map(|index| std::array::from_fn(|d| quantile(sobol.coordinate(index, d)))).collect()
}

/// Rate of the last storage period at a point [µm/a].
fn rate_um_per_a(car: &Scenario, z: &Point) -> f64 {
    let drawn = Inputs::new(car).unwrap().storage_periods(z, (1, 0)).unwrap();
    drawn.last().unwrap().rate.rate_um_per_a
}

/// A grid with equal ratios.
fn grid(from: f64, to: f64, steps: u32) -> impl Iterator<Item = f64> {
    (0..=steps).map(move |step| from * (to / from).powf(f64::from(step) / f64::from(steps)))
}

/// Fails where one value of a row is below the one before by more than the last bits of two exponentials.
fn assert_never_falls(what: &str, row: &[(f64, f64)]) {
    for pair in row.windows(2) {
        let [(from, low), (to, high)] = pair else { continue };
        assert!(*high >= low * (1.0 - 1e-9), "{what}: {low} at {from}, {high} at {to}");
    }
}

/// In paired histories: a saltier place, however little saltier, and whatever the functions' ranges, never puts a
/// rework off.
#[test]
fn property_more_chloride_in_the_air_never_gives_a_later_rework() {
    let mut car = demo("tight_garage_fair_weather.toml");
    car.storage_periods = demo("street_daily.toml").storage_periods;
    for period in &mut car.storage_periods {
        for (_, storage_and_use) in &mut period.mixture {
            storage_and_use.driving.salted_days = ferrowane::prior::Prior::Fixed(0.0);
        }
    }
    for pair in [2.0, 2.9, 3.1, 10.0, 28.0, 30.0, 100.0].windows(2) {
        let [first, second] = [0, 1].map(|i| with_deposition(&car, 3.0, pair[i]));
        let shift = shift_a(&first, &second);
        println!(
            "chloride {} to {}: rework {:+.2} ({:+.2} to {:+.2}) a",
            pair[0], pair[1], shift[1], shift[0], shift[2]
        );
        assert!(shift[2] <= 0.0, "{} to {}: {shift:?}", pair[0], pair[1]);
    }
}

/// The sampled rate at the same random numbers, on a grid of chloride and of sulphur dioxide.
#[test]
fn property_the_sampled_rate_never_falls_with_deposition() {
    let car = demo("street_daily.toml");
    for z in points(24) {
        let of = |so2: f64, chloride: f64| rate_um_per_a(&with_deposition(&car, so2, chloride), &z);
        let salt: Vec<_> = grid(0.1, 1000.0, 24).map(|chloride| (chloride, of(3.0, chloride))).collect();
        assert_never_falls("chloride", &salt);
        let soot: Vec<_> = grid(0.1, 200.0, 16).map(|so2| (so2, of(so2, 10.0))).collect();
        assert_never_falls("sulphur dioxide", &soot);
    }
}
