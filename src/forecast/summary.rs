//! From the sums of a run to its result: quantiles, band, shares, standard errors, remarks.

use crate::climate::wet_days::WetDays;
use crate::exposure::Season;
use crate::forecast::as_of::cautions;
use crate::forecast::draw::{PeriodDraw, Stay};
use crate::forecast::flag::Flag;
use crate::forecast::histogram::{LogHistogram, TimeHistogram, weighted_quantile};
use crate::forecast::levels;
use crate::forecast::median_year::MedianYear;
use crate::forecast::outcome::{
    AtRework, BandYear, CRITERIA, CorrosivityShares, Forecast, GradeShares, PeriodSummary, ProbabilityYear,
    Quantiles, TimeQuantiles, YearQuantiles,
};
use crate::forecast::pool::Pool;
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::{Criteria, Scenario, Settings};
use crate::forecast::standard_error;
use crate::forecast::tally::{Curve, Tally, YearTally};
use std::collections::BTreeMap;

const QUANTILES: [f64; 7] = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];
/// Effective share of the histories below which an answer is flagged [-] (common practice, no source).
const FEW_EFFECTIVE: f64 = 0.01;
/// Days of frost a year for each salted day below which the two are reported not to fit [-] (assumption).
const FROST_PER_SALTED_DAY: f64 = 0.1;

/// The result of a run; `median_year` is what its storage periods are described by.
pub(crate) fn summarise(
    case: &Prepared,
    settings: &Settings,
    median_year: &MedianYear,
    pool: &Pool,
) -> Forecast {
    let (tally, scenario) = (&pool.tally, case.scenario);
    let storage_periods = period_summaries(case, &median_year.storage_periods, tally);
    let band = band(tally);
    let per_year = |pick: fn(&YearTally) -> &LogHistogram| yearly(tally, |year| spread(pick(year)));
    let forecast = Forecast {
        title: scenario.title.clone(),
        first_registration: scenario.first_registration,
        seed: settings.seed,
        histories: pool.tally.histories,
        outer_draws: tally.curves.len() as u64,
        replicates: pool.draws.len() as u64,
        horizon_a: settings.horizon_a,
        first_year_rate_um_per_a: spread(&tally.rate.0),
        corrosivity_shares: corrosivity_shares(tally),
        time_to_rework_a: time_quantiles(&tally.time),
        share_beyond_horizon: tally.time.beyond(),
        band_standard_error: standard_error::of_band(pool, &band),
        band,
        assessment_by_year: cumulated(tally.assessment.by_year(), tally.weight),
        mean_loss_um: per_year(|year| &year.mean_um),
        deepest_loss_um: per_year(|year| &year.deepest_um),
        bending_capacity_left: yearly(tally, |year| left(spread(&year.modulus_loss))),
        loss_of_bared_steel_um: per_year(|year| &year.bared_um),
        true_grade_shares: grade_shares(tally, |year| year.above[0]),
        node_grade_shares: grade_shares(tally, |year| year.above[1]),
        visible_grade_shares: visible_shares(tally, 0),
        visible_node_grade_shares: visible_shares(tally, 1),
        first_criterion_shares: first_criterion_shares(tally, &scenario.member.rework),
        at_rework: at_rework(tally),
        standard_error: standard_error::of_ages(pool, QUANTILES),
        loss_standard_error: standard_error::of_losses(pool),
        epistemic_share: epistemic_share(&tally.curves),
        effective_sample_size: effective_sample_size(tally),
        thresholds: levels::thresholds(scenario),
        levels: levels::reached(scenario, tally),
        criteria_set: levels::set_used(scenario),
        flags: flags(scenario, median_year, pool, &storage_periods),
        cautions: Vec::new(),
        learned_from: scenario.model.learned_from(),
        as_of: None,
        age_at_rework: tally.time.clone(),
        storage_periods,
    };
    Forecast { cautions: cautions(&forecast, 0.0), ..forecast }
}

fn spread(histogram: &LogHistogram) -> Quantiles {
    let at = |p| histogram.quantile(p).unwrap_or(0.0);
    Quantiles { p05: at(0.05), p50: at(0.50), p95: at(0.95) }
}

/// What is left of one where `lost` is lost: the low end of what is left is the high end of the loss.
fn left(lost: Quantiles) -> Quantiles {
    // a section that is all gone lies in a bin that reaches past one
    let rest = |lost: f64| (1.0 - lost).max(0.0);
    Quantiles { p05: rest(lost.p95), p50: rest(lost.p50), p95: rest(lost.p05) }
}

fn yearly(tally: &Tally, of: impl Fn(&YearTally) -> Quantiles) -> Vec<YearQuantiles> {
    let row = |(index, year)| {
        let Quantiles { p05, p50, p95 } = of(year);
        YearQuantiles { year: index as u32 + 1, p05, p50, p95 }
    };
    tally.years.iter().enumerate().map(row).collect()
}

fn corrosivity_shares(tally: &Tally) -> CorrosivityShares {
    let [c1, c2, c3, c4, c5, cx] = tally.rate.1.map(|weight| weight / tally.weight);
    CorrosivityShares { C1: c1, C2: c2, C3: c3, C4: c4, C5: c5, CX: cx }
}

fn time_quantiles(time: &TimeHistogram) -> TimeQuantiles {
    let [p05, p10, p25, p50, p75, p90, p95] = QUANTILES.map(|p| time.quantile(p));
    TimeQuantiles { p05, p10, p25, p50, p75, p90, p95 }
}

fn band(tally: &Tally) -> Vec<BandYear> {
    let mut reached = vec![0.0; tally.curves.len()];
    let mut pooled = 0.0;
    (0..tally.years.len())
        .map(|year| {
            for (sum, curve) in reached.iter_mut().zip(&tally.curves) {
                *sum += curve.reached[year];
                pooled += curve.reached[year];
            }
            let shares = reached.iter().zip(&tally.curves).filter(|(_, curve)| curve.weight.0 > 0.0);
            let shares: Vec<(f64, f64)> =
                shares.map(|(sum, curve)| (sum / curve.weight.0, curve.weight.0)).collect();
            let weight: f64 = shares.iter().map(|(_, weight)| weight).sum();
            let at = |p| weighted_quantile(&shares, p).unwrap_or(0.0);
            let (low, mid, high) = (at(0.05), at(0.50), at(0.95));
            BandYear { year: year as u32 + 1, low, mid, high, pooled: pooled / weight.max(f64::MIN_POSITIVE) }
        })
        .collect()
}

fn cumulated(weights: impl Iterator<Item = f64>, total: f64) -> Vec<ProbabilityYear> {
    let mut sum = 0.0;
    let mut row = |(index, weight): (usize, f64)| {
        sum += weight;
        ProbabilityYear { year: index as u32 + 1, probability: sum / total }
    };
    weights.enumerate().map(&mut row).collect()
}

/// Grades an inspector sees: the true ones unless an over-rust coat hides some.
fn visible_shares(tally: &Tally, part: usize) -> Vec<GradeShares> {
    grade_shares(tally, |year| if tally.shows_visible { year.visible_above[part] } else { year.above[part] })
}

fn grade_shares(tally: &Tally, above: impl Fn(&YearTally) -> [f64; 5]) -> Vec<GradeShares> {
    let row = |(index, year): (usize, &YearTally)| {
        let [a, b, c, d, e] = above(year).map(|weight| weight / tally.weight);
        let year = index as u32 + 1;
        GradeShares { year, ri0: 1.0 - a, ri1: a - b, ri2: b - c, ri3: c - d, ri4: d - e, ri5: e }
    };
    tally.years.iter().enumerate().map(row).collect()
}

/// Shares of the criteria; rusting through stands among them only where rework is called on it.
fn first_criterion_shares(tally: &Tally, rework: &Criteria) -> BTreeMap<String, f64> {
    let total: f64 = tally.first.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let applied = if rework.perforated_pct.is_some() { CRITERIA.len() } else { CRITERIA.len() - 1 };
    let shares = CRITERIA.iter().zip(tally.first).take(applied);
    shares.map(|(name, weight)| ((*name).to_owned(), weight / total)).collect()
}

fn at_rework(tally: &Tally) -> AtRework {
    let reached: f64 = tally.first.iter().sum();
    let some = |spread: Quantiles| (reached > 0.0).then_some(spread);
    AtRework {
        bending_capacity_left: some(left(spread(&tally.at_rework.0))),
        deepest_loss_um: some(spread(&tally.at_rework.1)),
        above_90_pct: (reached > 0.0).then(|| tally.at_rework.2 / reached),
    }
}

/// Share of the variance of the age at rework (right-censored at the horizon) that lies between outer draws [-]: the variance
/// between their means, less the variance within over the number of histories, over the whole.
fn epistemic_share(curves: &[Curve]) -> f64 {
    let used: Vec<&Curve> = curves.iter().filter(|curve| curve.weight.0 > 0.0).collect();
    let total: f64 = used.iter().map(|curve| curve.weight.0).sum();
    let mean_of = |value: &dyn Fn(&Curve) -> f64| {
        used.iter().map(|curve| curve.weight.0 * value(curve)).sum::<f64>() / total
    };
    let mean = |curve: &Curve| curve.moments.0 / curve.weight.0;
    let within = |curve: &Curve| (curve.moments.1 / curve.weight.0 - mean(curve) * mean(curve)).max(0.0);
    let grand = mean_of(&mean);
    let between = mean_of(&|curve| (mean(curve) - grand) * (mean(curve) - grand));
    let noise = mean_of(&|curve| within(curve) / curve.weight.1);
    let whole = between + mean_of(&within);
    if whole > 0.0 { ((between - noise) / whole).clamp(0.0, 1.0) } else { 0.0 }
}

fn period_summaries(case: &Prepared, drawn: &[PeriodDraw], tally: &Tally) -> Vec<PeriodSummary> {
    let categories = &case.scenario.model.categories;
    let rows = case.inputs.stays().iter().zip(drawn).enumerate();
    let row = |(number, (stay, draw)): (usize, (&Stay, &PeriodDraw))| {
        let year = draw.exposure.year();
        let years = year.hours.max(1.0) / 8760.0;
        let rate = tally.period_rates.get(number).map_or(Quantiles { p05: 0.0, p50: 0.0, p95: 0.0 }, spread);
        Some(PeriodSummary {
            arrangement: stay.mixture.get(draw.chosen)?.1.arrangement.kind,
            is_known: stay.mixture.len() == 1,
            from_age_a: stay.from_age_a,
            until_age_a: Some(stay.until_age_a).filter(|age_a| age_a.is_finite()),
            steel_temperature_c: year.steel_temperature_c(),
            steel_humidity_pct: year.steel_humidity_pct(),
            film_h_per_a: year.film_h() / years,
            wetness_h_per_a: year.wetness_h() / years,
            winter_chloride_mg_m2: draw.exposure.season(Season::Winter).chloride_mg_m2(),
            rate_um_per_a: rate.p50,
            rate_quantiles_um_per_a: rate,
            category: categories.outdoor(rate.p50),
            indoor_category: categories.indoor(rate.p50).filter(|_| draw.sheltered_dry),
        })
    };
    rows.filter_map(row).collect()
}

/// Kish's effective sample size of the weighed histories [histories].
fn effective_sample_size(tally: &Tally) -> f64 {
    tally.weight * tally.weight / tally.weight_squared.max(f64::MIN_POSITIVE)
}

fn flags(
    scenario: &Scenario,
    median_year: &MedianYear,
    pool: &Pool,
    storage_periods: &[PeriodSummary],
) -> Vec<Flag> {
    let mut flags: Vec<Flag> = median_year.outside.iter().cloned().map(Flag::OutsideRange).collect();
    let hours = scenario.climate.gaps.missing_hours;
    if hours > 0 {
        flags.push(Flag::HoursFilled { climate: scenario.climate.name.clone(), hours });
    }
    flags.extend(weather_flags(scenario));
    let effective = effective_sample_size(&pool.tally);
    if effective < FEW_EFFECTIVE * pool.tally.histories as f64 {
        flags.push(Flag::FewEffectiveHistories { effective });
    }
    if storage_periods.iter().any(|period| !period.is_known) {
        flags.push(Flag::UnknownStorage);
    }
    flags
}

/// What was not measured in the weather, and what does not fit it.
fn weather_flags(scenario: &Scenario) -> Vec<Flag> {
    let climate = &scenario.climate;
    let name = || climate.name.clone();
    let mut flags = Vec::new();
    if let WetDays::Drawn { days_per_a, source } = &climate.wet_days {
        flags.push(Flag::WetDaysDrawn { climate: name(), days_per_a: *days_per_a, source: source.clone() });
    }
    let uses = scenario.storage_periods.iter().flat_map(|period| &period.mixture);
    let in_winter =
        uses.map(|(_, one)| &one.driving).filter(|driving| driving.winter_use && driving.days_per_week > 0.0);
    let salted = in_winter.map(|driving| driving.salted_days.median()).fold(0.0, f64::max);
    let frost = climate.series.frost_days_per_a();
    if frost < FROST_PER_SALTED_DAY * salted {
        flags.push(Flag::SaltedWithoutFrost {
            climate: name(),
            salted_days_per_a: salted,
            frost_days_per_a: frost,
        });
    }
    flags
}

#[cfg(test)]
mod tests {
    use super::epistemic_share;
    use crate::forecast::tally::Curve;

    /// Nested bias check: tau 0.5, sigma 1, n 25 gives between-variance 0.29 raw and 0.25 corrected, of 1.25 in all.
    #[test]
    fn closed_form_nested_bias_is_taken_out() {
        let curve = |mean: f64| Curve {
            reached: vec![],
            weight: (25.0, 25.0),
            moments: (25.0 * mean, 25.0 * (mean * mean + 1.0)),
        };
        let size = 0.29f64.sqrt();
        let share = epistemic_share(&[curve(10.0 - size), curve(10.0 + size)]);
        assert!((share - 0.25 / 1.29).abs() < 1e-12, "{share}");
    }
}
