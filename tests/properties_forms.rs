//! No function falls with salt, sulphur dioxide, humidity or wetness as the forecast takes it, and no loss with rate, time
//! or exponent.
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

use ferrowane::corrosivity::dose_response::AirChemistry;
use ferrowane::corrosivity::long_term::loss_um;
use ferrowane::corrosivity::{Conditions, DoseResponse, DoseResponses};
use proptest::prelude::*;

prop_compose! {
    /// Within the fitted range of ISO 9223:2012, the only one stated.
    fn conditions()(
        temperature_c in -17.1..28.7f64,
        humidity_pct in 34.0..93.0f64,
        so2_mg_m2_d in 0.7..150.4f64,
        chloride_mg_m2_d in 0.4..760.5f64,
        wetness_h_per_a in 0.0..8760.0f64,
        rain_m_per_a in 0.1..2.5f64,
        pm10_ug_m3 in 5.0..80.0f64,
    ) -> Conditions {
        let air = AirChemistry { rain_m_per_a, hydrogen_ion_mg_l: 0.01, pm10_ug_m3 };
        Conditions { temperature_c, humidity_pct, so2_mg_m2_d, chloride_mg_m2_d, wetness_h_per_a, air }
    }
}

/// The functions the forecast averages over.
fn in_forecast(dose_responses: &DoseResponses) -> impl Iterator<Item = DoseResponse> {
    DoseResponse::ALL.into_iter().filter(|form| dose_responses.facts(*form).unwrap().is_in_forecast())
}

/// A rate as the forecast takes it, at the median of the extension.
fn rate(dose_responses: &DoseResponses, dose_response: DoseResponse, c: &Conditions) -> f64 {
    dose_responses.extended_rate_um_per_a(dose_response, c, 0.65)
}

/// A hair for the last bits of exponentials that are added in another order.
const HAIR: f64 = 1.0 - 1e-12;

fn assert_never_falls(what: &str, row: &[(f64, f64)]) {
    for pair in row.windows(2) {
        assert!(pair[1].1 >= pair[0].1 * HAIR, "{what}: {:?} after {:?}", pair[1], pair[0]);
    }
}

/// Every function and their average, over a fine grid of one quantity at many others.
fn assert_rises_with(what: &str, values: &[f64], with: fn(Conditions, f64) -> Conditions) {
    let dose_responses = DoseResponses::published().unwrap();
    for ordinary in ordinary_conditions() {
        let mut average: Vec<(f64, f64)> = values.iter().map(|value| (*value, 0.0)).collect();
        for form in in_forecast(&dose_responses) {
            let at = |value: &f64| (*value, rate(&dose_responses, form, &with(ordinary, *value)));
            let row: Vec<(f64, f64)> = values.iter().map(at).collect();
            assert_never_falls(&format!("{what}, {}, {ordinary:?}", form.id()), &row);
            average.iter_mut().zip(&row).for_each(|(sum, (_, rate))| sum.1 += rate);
        }
        assert_never_falls(&format!("{what}, average, {ordinary:?}"), &average);
    }
}

/// Cold, temperate and hot, dry and wet, clean and sooty, and with little and much salt.
fn ordinary_conditions() -> Vec<Conditions> {
    let mut all = Vec::new();
    for temperature_c in [-10.0, 0.0, 9.0, 11.0, 25.0] {
        for (humidity_pct, wetness_h_per_a) in [(40.0, 300.0), (65.0, 1500.0), (80.0, 4000.0), (92.0, 8000.0)]
        {
            for (so2_mg_m2_d, chloride_mg_m2_d) in [(1.0, 1.0), (1.0, 100.0), (30.0, 20.0), (80.0, 400.0)] {
                let air = AirChemistry::default();
                all.push(Conditions {
                    temperature_c,
                    humidity_pct,
                    so2_mg_m2_d,
                    chloride_mg_m2_d,
                    wetness_h_per_a,
                    air,
                });
            }
        }
    }
    all
}

/// 200 values with equal ratios.
fn grid(from: f64, to: f64) -> Vec<f64> {
    (0..=200).map(|step| from * (to / from).powf(f64::from(step) / 200.0)).collect()
}

#[test]
fn property_no_function_nor_their_average_falls_with_chloride() {
    assert_rises_with("chloride", &grid(0.1, 1000.0), |c, chloride_mg_m2_d| Conditions {
        chloride_mg_m2_d,
        ..c
    });
}

#[test]
fn property_no_function_nor_their_average_falls_with_sulphur_dioxide() {
    assert_rises_with("sulphur dioxide", &grid(0.1, 200.0), |c, so2_mg_m2_d| Conditions { so2_mg_m2_d, ..c });
}

#[test]
fn property_no_function_nor_their_average_falls_with_humidity_or_wetness() {
    assert_rises_with("humidity", &grid(34.0, 100.0), |c, humidity_pct| Conditions { humidity_pct, ..c });
    assert_rises_with("wetness", &grid(10.0, 8760.0), |c, wetness_h_per_a| Conditions {
        wetness_h_per_a,
        ..c
    });
}

/// No step at the edge of a function's range, a hundred-thousandth to either side of it.
#[test]
fn property_no_function_jumps_at_the_edge_of_its_range() {
    let dose_responses = DoseResponses::published().unwrap();
    for form in in_forecast(&dose_responses) {
        let Some(edge) = dose_responses.facts(form).unwrap().chloride_edge_mg_m2_d else { continue };
        for ordinary in ordinary_conditions() {
            let at = |share: f64| {
                rate(&dose_responses, form, &Conditions { chloride_mg_m2_d: edge * share, ..ordinary })
            };
            let (below, above) = (at(1.0 - 1e-5), at(1.0 + 1e-5));
            assert!((above - below).abs() <= 1e-4 * below.max(1.0), "{}: {below} to {above}", form.id());
        }
    }
}

/// The named exception: warmth above 10 °C dries steel where no salt holds water, so the standard's sulphur dioxide term
/// falls with it (slope -0.054 1/K, published), and the rate of a clean sooty place with it.
#[test]
fn property_the_exception_of_warmth_is_real() {
    let dose_responses = DoseResponses::published().unwrap();
    let at = |temperature_c, chloride_mg_m2_d| {
        let air = AirChemistry::default();
        let c = Conditions {
            temperature_c,
            humidity_pct: 75.0,
            so2_mg_m2_d: 20.0,
            chloride_mg_m2_d,
            wetness_h_per_a: 3800.0,
            air,
        };
        rate(&dose_responses, DoseResponse::Iso9223, &c)
    };
    assert!(at(20.0, 1.0) < at(10.0, 1.0) && at(20.0, 300.0) > at(10.0, 300.0));
}

/// The published forms themselves fall in two places: with wetness on heavily salted steel, and with sulphur dioxide on
/// salted steel that is seldom wet.
#[test]
fn property_the_exceptions_of_the_feliu_form_are_real() {
    let dose_responses = DoseResponses::published().unwrap();
    let published = |wetness_h_per_a, so2_mg_m2_d, chloride_mg_m2_d| {
        let air = AirChemistry::default();
        let c = Conditions {
            temperature_c: 15.0,
            humidity_pct: 75.0,
            so2_mg_m2_d,
            chloride_mg_m2_d,
            wetness_h_per_a,
            air,
        };
        dose_responses.rate(DoseResponse::FeliuMorcillo1993, &c).rate_um_per_a
    };
    assert!(published(3000.0, 1.0, 100.0) > published(4000.0, 1.0, 100.0));
    assert!(published(1000.0, 1.0, 28.0) > published(1000.0, 50.0, 28.0));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    /// Anywhere in the fitted range of the standard, by any share of what it adds.
    #[test]
    fn property_no_function_falls_with_salt_soot_humidity_or_wetness(
        c in conditions(), more in 0.0..500.0f64, extension in 0.2..2.0f64,
    ) {
        let dose_responses = DoseResponses::published().unwrap();
        let saltier = Conditions { chloride_mg_m2_d: c.chloride_mg_m2_d + more, ..c };
        let sootier = Conditions { so2_mg_m2_d: c.so2_mg_m2_d + 0.1 * more, ..c };
        let damper = Conditions { humidity_pct: (c.humidity_pct + 0.06 * more).min(100.0), ..c };
        let wetter = Conditions { wetness_h_per_a: (c.wetness_h_per_a + 8.0 * more).min(8760.0), ..c };
        for form in in_forecast(&dose_responses) {
            let rate = |c: &Conditions| dose_responses.extended_rate_um_per_a(form, c, extension);
            for worse in [saltier, sootier, damper, wetter] {
                prop_assert!(rate(&worse) >= rate(&c) * HAIR, "{} {c:?} {worse:?}", form.id());
            }
        }
    }

    #[test]
    fn property_loss_rises_with_rate_time_and_exponent(
        rate in 0.0..300.0f64, years in 0.0..60.0f64, b in 0.3..0.95f64, more in 0.0..1.0f64,
    ) {
        let loss = loss_um(rate, years, b).unwrap();
        prop_assert!(loss_um(rate + 50.0 * more, years, b).unwrap() >= loss);
        prop_assert!(loss_um(rate, years + 20.0 * more, b).unwrap() >= loss);
        // before one year a smaller exponent is ahead: t^b falls with b
        prop_assert!(years < 1.0 || loss_um(rate, years, b + 0.05 * more).unwrap() >= loss);
    }
}
