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
    let (ratio, sd) = ratio_and_sd(&logs);
    println!("7 sites: geometric mean ratio {ratio:.3}, sd of ln {sd:.3}; 13 sites: {WHOLE_SET:?}");
    assert!((0.7..=1.2).contains(&ratio), "geometric mean ratio {ratio}");
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

/// Hours with humidity above 80 % and no frost at a site of which only means are known [h/a]: normal spreads of 13 % and
/// 9 K over the year (ASSUMPTION, about those of the temperate climate samples).
fn wetness_h_per_a(site: &Site) -> f64 {
    let above = |mean: f64, limit: f64, sd: f64| ferrowane::numeric::normal::cdf((mean - limit) / sd);
    8760.0 * above(site.humidity_pct, 80.0, 13.0) * above(site.temperature_c, 0.0, 9.0)
}

/// Functions that go on beyond their ranges make the average no worse than the average over those in range: paired over the
/// sites the two differ by less than the standard error of that difference, and their scatter by less than 2 %.
///
/// At four of the seven sites (chloride above 3) two to three more functions count. The bias is 1 % larger because a
/// site that was computed a fifth too high (Ahtari) now lies near what was measured and no longer makes up for the others.
#[test]
fn measured_losses_against_the_average_over_the_functions() {
    let text = include_str!("../shared/checks_isocorrag_first_year.csv");
    let sites: Vec<Site> = ferrowane::reference::rows("checks_isocorrag_first_year.csv", text).unwrap();
    let dose_responses = DoseResponses::published().unwrap();
    let extension =
        ferrowane::prior::Priors::published().unwrap().get("chloride_extension").unwrap().median();
    let of = |site: &Site, form| {
        let c = Conditions { wetness_h_per_a: wetness_h_per_a(site), ..conditions(site) };
        dose_responses.extended_rate_um_per_a(form, &c, extension)
    };
    let forms =
        DoseResponse::ALL.into_iter().filter(|form| dose_responses.facts(*form).unwrap().is_in_forecast());
    let forms: Vec<DoseResponse> = forms.collect();
    for form in &forms {
        let logs: Vec<f64> = sites.iter().map(|site| (of(site, *form) / site.measured_um).ln()).collect();
        let (ratio, sd) = ratio_and_sd(&logs);
        println!("{:<26} geometric mean ratio {ratio:.3}, sd of ln {sd:.3}", form.id());
    }
    let ends = |form: &DoseResponse| dose_responses.facts(*form).unwrap().chloride_edge_mg_m2_d;
    let logs = |counts: &dyn Fn(&Site, &DoseResponse) -> bool| -> Vec<f64> {
        let ratio = |site: &Site| {
            let rates = forms.iter().filter(|form| counts(site, form)).map(|form| of(site, *form));
            let rates: Vec<f64> = rates.collect();
            (rates.iter().sum::<f64>() / rates.len() as f64 / site.measured_um).ln()
        };
        sites.iter().map(ratio).collect()
    };
    let all = logs(&|_, _| true);
    let in_range = logs(&|site, form| ends(form).is_none_or(|edge| site.chloride_mg_m2_d <= edge));
    let differences: Vec<f64> = all.iter().zip(&in_range).map(|(all, in_range)| all - in_range).collect();
    let ((ratio, sd), (ratio_before, sd_before)) = (ratio_and_sd(&all), ratio_and_sd(&in_range));
    let (difference, spread) = ratio_and_sd(&differences);
    let error = spread / (sites.len() as f64).sqrt();
    println!("all functions {ratio:.3}, {sd:.3}; in range only {ratio_before:.3}, {sd_before:.3}");
    println!("all over in range only {difference:.3}, standard error of ln {error:.3}");
    assert!(difference.ln().abs() <= error, "all functions over those in range {difference}, error {error}");
    assert!(sd <= sd_before * 1.02, "sd of ln {sd} and {sd_before}");
}

/// Geometric mean and standard deviation of logarithms [-].
fn ratio_and_sd(logs: &[f64]) -> (f64, f64) {
    let n = logs.len() as f64;
    let mean = logs.iter().sum::<f64>() / n;
    let square = logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>();
    (mean.exp(), (square / (n - 1.0)).sqrt())
}
