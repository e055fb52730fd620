//! The standard's form against measured first-year losses at seven open test sites of ISO CORRAG.
//!
//! A plausibility check: inputs are yearly means from elsewhere than the specimens, so the spread is partly theirs.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test that shows its figures")]

#[path = "support/close.rs"]
mod close;

use close::assert_close;
use ferrowane::corrosivity::dose_response::AirChemistry;
use ferrowane::corrosivity::{Conditions, DoseResponse, DoseResponses};

#[derive(serde::Deserialize)]
struct Site {
    site: String,
    temperature_c: f64,
    humidity_pct: f64,
    so2_mg_m2_d: f64,
    chloride_mg_m2_d: f64,
    measured_um: f64,
    iso9223_um: f64,
}

/// Geometric mean ratio and spread of the set of 13 sites, of which six are not at hand.
const WHOLE_SET: (f64, f64) = (0.861, 0.439);

#[test]
fn measured_first_year_losses_at_open_sites() {
    let text = include_str!("../shared/checks_isocorrag_first_year.csv");
    let sites: Vec<Site> = ferrowane::reference::rows("checks_isocorrag_first_year.csv", text).unwrap();
    assert_eq!(sites.len(), 7);
    let dose_responses = DoseResponses::published().unwrap();
    let mut logs = Vec::new();
    println!("{:<24} {:>9} {:>9} {:>6}", "site", "measured", "computed", "ratio");
    for site in &sites {
        let rate = dose_responses.rate(DoseResponse::Iso9223, &conditions(site)).rate_um_per_a;
        assert_close(&site.site, rate, site.iso9223_um, 0.005 + rate * input_rounding(site));
        println!("{:<24} {:>9.1} {rate:>9.2} {:>6.2}", site.site, site.measured_um, rate / site.measured_um);
        logs.push((rate / site.measured_um).ln());
    }
    let n = logs.len() as f64;
    let mean = logs.iter().sum::<f64>() / n;
    let sd = (logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    println!("7 sites: geometric mean ratio {:.3}, sd of ln {sd:.3}; 13 sites: {WHOLE_SET:?}", mean.exp());
    assert!((0.7..=1.2).contains(&mean.exp()), "geometric mean ratio {}", mean.exp());
    assert!(sd < 0.6, "sd of ln {sd}");
}

fn conditions(site: &Site) -> Conditions {
    Conditions {
        temperature_c: site.temperature_c,
        humidity_pct: site.humidity_pct,
        so2_mg_m2_d: site.so2_mg_m2_d,
        chloride_mg_m2_d: site.chloride_mg_m2_d,
        wetness_h_per_a: 0.0,
        air: AirChemistry::default(),
    }
}

/// Most that two printed decimals of the inputs move the rate [-]: half a digit times each exponent of the form.
fn input_rounding(site: &Site) -> f64 {
    0.005 * (0.150 + 0.033 + 0.52 / site.so2_mg_m2_d + 0.62 / site.chloride_mg_m2_d)
}
