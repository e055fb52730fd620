//! Functions in the forecast against measured first-year losses at seven open test sites of ISO CORRAG.
//!
//! A plausibility check: inputs are yearly means from elsewhere than the specimens, so the spread is partly theirs.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test that shows its figures")]

use ferrowane::model::Model;
use ferrowane::validation::sites::{Site, SiteScatter, scatter, sites};

/// Geometric mean ratio and spread of the set of 13 sites, of which six are not at hand.
const WHOLE_SET: (f64, f64) = (0.861, 0.439);

#[test]
fn measured_first_year_losses_at_open_sites() {
    assert_eq!(sites().unwrap().len(), 7);
    let all = scatter(&Model::published().unwrap()).unwrap();
    for SiteScatter { function, ratio, sd_ln, .. } in &all {
        println!("{function:<26} geometric mean ratio {ratio:.3}, sd of ln {sd_ln:.3}");
    }
    let iso = all.iter().find(|one| one.function == "iso9223").unwrap();
    println!("13 sites: {WHOLE_SET:?}");
    assert!((0.7..=1.2).contains(&iso.ratio) && iso.sd_ln < 0.6, "{iso:?}");
}

/// Functions that go on beyond their ranges make the average no worse than the average over those in range: paired over the
/// sites the two differ by less than the standard error of that difference, and their scatter by less than 2 %.
///
/// At four of the seven sites (chloride above 3) two to three more functions count. The bias is 1 % larger because a
/// site that was computed a fifth too high (Ahtari) now lies near what was measured and no longer makes up for the others.
#[test]
fn measured_losses_against_the_average_over_the_functions() {
    let model = Model::published().unwrap();
    let (sites, mut functions) = (sites().unwrap(), scatter(&model).unwrap());
    let all = functions.pop().unwrap();
    let ends = |one: &SiteScatter| {
        let function = ferrowane::corrosivity::DoseResponse::from_id(&one.function).unwrap();
        model.dose_responses.facts(function).unwrap().chloride_edge_mg_m2_d
    };
    let log_in_range = |(number, site): (usize, &Site)| {
        let counts = |one: &&SiteScatter| ends(one).is_none_or(|edge| site.chloride_mg_m2_d <= edge);
        let rates = functions.iter().filter(counts).map(|one| one.rates_um_per_a[number]);
        let rates: Vec<f64> = rates.collect();
        (rates.iter().sum::<f64>() / rates.len() as f64 / site.measured_um).ln()
    };
    let in_range: Vec<f64> = sites.iter().enumerate().map(log_in_range).collect();
    let of_all = sites.iter().zip(&all.rates_um_per_a).map(|(site, rate)| (rate / site.measured_um).ln());
    let differences: Vec<f64> = of_all.zip(&in_range).map(|(all, in_range)| all - in_range).collect();
    let ((ratio_before, sd_before), (difference, spread)) =
        (ratio_and_sd(&in_range), ratio_and_sd(&differences));
    let error = spread / (sites.len() as f64).sqrt();
    println!(
        "all functions {:.3}, {:.3}; in range only {ratio_before:.3}, {sd_before:.3}",
        all.ratio, all.sd_ln
    );
    println!("all over in range only {difference:.3}, standard error of ln {error:.3}");
    assert!(difference.ln().abs() <= error, "all functions over those in range {difference}, error {error}");
    assert!(all.sd_ln <= sd_before * 1.02, "sd of ln {} and {sd_before}", all.sd_ln);
}

/// Geometric mean and standard deviation of logarithms [-].
fn ratio_and_sd(logs: &[f64]) -> (f64, f64) {
    let n = logs.len() as f64;
    let mean = logs.iter().sum::<f64>() / n;
    let square = logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>();
    (mean.exp(), (square / (n - 1.0)).sqrt())
}
