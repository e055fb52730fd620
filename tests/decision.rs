//! Do the figures of a decision agree with worked examples, closed forms and exhaustive search?
//!
//! Worked values: the project's table of statistical checks (COMPUTED from the formula named at each test).
#![cfg(feature = "report")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use ferrowane::case::{costs, read_path};
use ferrowane::decision::cost::{Interest, LaterPayment, mean};
use ferrowane::decision::options::OptionName;
use ferrowane::decision::planned::{PlannedJob, PlannedVisit, ReworkBooking, settings_for};
use ferrowane::decision::planner::ReworkPlanning;
use ferrowane::decision::regret::RegretTally;
use ferrowane::decision::replacement::{CycleCosts, best_age, renewal_rule, yearly_survival};
use ferrowane::decision::visits::{JobTiming, MAX_EXACT, VisitJob, VisitPlan, plan};
use ferrowane::decision::{Decision, decide};
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::inspection::{DecisionContext, prospect};
use ferrowane::model::Model;
use ferrowane::prior::Prior;
use ferrowane::report::decision_json::DecisionJson;
use ferrowane::report::json::json;
use proptest::prelude::*;
use std::ops::ControlFlow;
use std::path::Path;

fn assert_near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} is not {expected} ± {tolerance}");
}

fn interest(rate_pct: f64) -> Interest {
    Interest::from_pct(rate_pct).unwrap()
}

/// Lognormal life of median 16 a and spread 0.3.
const LIFE: Prior = Prior::LogNormal { median: 16.0, sd_ln: 0.3 };

/// Tolerance: half a unit of the last digit given.
#[test]
fn closed_form_money_over_time() {
    let three = interest(3.0);
    assert_near(1000.0 * three.factor(8.0), 789.409_234_3, 5e-8);
    assert_near(three.equivalent_annual(2500.0, 15.0), 209.416_451_2, 5e-8);
    assert_near(three.rate_pct(), 3.0, 1e-12);
}

const LATER: LaterPayment = LaterPayment { amount: 2400.0, due_a: 9.0 };

/// Argument for a coat: 150 now moves 2400 from year 9 to 12 at 4 %.
#[test]
fn closed_form_deferral_and_its_break_even() {
    let four = interest(4.0);
    assert_near(2400.0 * (four.factor(9.0) - four.factor(12.0)) - 150.0, 37.175_246_4, 5e-8);
    assert_near(four.break_even_shift_a(150.0, LATER).unwrap(), 2.375_407_319, 5e-10);
    assert_eq!(four.break_even_shift_a(2000.0, LATER), None);
    assert_eq!(interest(0.0).break_even_shift_a(1.0, LATER), None);
}

#[test]
fn closed_form_without_interest_money_only_adds_up() {
    let none = interest(0.0);
    assert_near(none.factor(17.0), 1.0, 1e-15);
    assert_near(none.flow(none.discounted(2.0), none.discounted(5.5)), 3.5, 1e-15);
    assert_near(none.equivalent_annual(300.0, 15.0), 20.0, 1e-12);
    assert_near(none.repeated(2.0, 5.0), 3.0, 1e-15);
    assert!(Interest::from_pct(-1.0).is_err() && Interest::from_pct(f64::NAN).is_err());
}

/// A flow is the limit of many small payments; tolerance from their step, 1e-4 a.
#[test]
fn closed_form_a_flow_is_many_small_payments() {
    let three = interest(3.0);
    assert_near(
        three.flow(three.discounted(2.0), three.discounted(7.0)),
        1e-4 * three.factor(2.0) * three.repeated(1e-4, 5.0),
        2e-4,
    );
}

/// Barlow & Proschan (1965), ch. 4: Weibull shape, scale; cp, cf; T*, least rate.
const AGE_REPLACEMENT: [[f64; 6]; 5] = [
    [2.0, 10.0, 1.0, 5.0, 5.106_552_239, 0.408_524_179_4],
    [3.0, 10.0, 1.0, 5.0, 5.026_095_746, 0.303_139_670_4],
    [2.0, 10.0, 1.0, 2.0, 10.907_969_4, 0.218_159_393_9],
    [3.0, 10.0, 1.0, 11.0, 3.691_713_23, 0.408_862_397_4],
    [4.0, 20.0, 800.0, 3500.0, 11.239_571_46, 95.841_374_22],
];

/// Tolerances as in the table: 1e-5 a on the age, where the cost is flat, and 1e-8 of the rate.
#[test]
fn published_age_replacement() {
    for [shape, scale, planned, late, age, rate] in AGE_REPLACEMENT {
        let survival = |t: f64| (-(t / scale).powf(shape)).exp();
        let best = best_age(&survival, CycleCosts { planned, late }, 4.0 * scale).unwrap();
        assert_near(best.age_a, age, 1e-5);
        assert_near(best.rate_per_a, rate, 1e-8 * late);
    }
}

/// Without wear-out it never pays to renew a part that still works.
#[test]
fn published_a_constant_hazard_has_no_best_age() {
    let survival = |t: f64| (-t / 10.0).exp();
    assert_eq!(best_age(&survival, CycleCosts { planned: 1.0, late: 5.0 }, 60.0), None);
}

/// A life that ends evenly through its fifth year: renewed at 4 a it costs 1/4 a year, waited for (1 + late) / 4.5, so the rule
/// saves 1 - (1/4) / (1.1/4.5), nothing, at 0.1, and 1 - (1/4) / (3/4.5) at 2. Tolerance: Simpson's rule at the two corners.
#[test]
fn closed_form_a_rule_only_where_it_saves() {
    let ended = [0.0, 0.0, 0.0, 0.0, 1.0];
    let rule = |late: f64| renewal_rule(&ended, CycleCosts { planned: 1.0, late: 1.0 + late }, 0.05);
    assert_eq!(rule(0.1), None);
    let found = rule(2.0).unwrap();
    assert_near(found.coat_age_a, 4.0, 0.01);
    assert_near(found.saving_share, 1.0 - 0.25 / (3.0 / 4.5), 0.002);
}

#[test]
fn closed_form_survival_from_a_yearly_curve() {
    let ended = [0.0, 0.1, 0.4];
    let left = [0.0, 1.5, 2.5, 3.0, 9.0].map(|age| yearly_survival(&ended, age));
    for (found, expected) in left.into_iter().zip([1.0, 0.95, 0.75, 0.6, 0.6]) {
        assert_near(found, expected, 1e-12);
    }
}

const SETUP: f64 = 900.0;

fn three_jobs(early_per_a: f64, late_per_a: f64) -> Vec<VisitJob> {
    let job = |cost: f64, due_a: f64| {
        VisitJob::due(JobTiming { cost, due_a, early_per_a, late_per_a }, 30, interest(4.0))
    };
    vec![job(400.0, 6.0), job(300.0, 7.0), job(350.0, 12.0)]
}

fn in_words(plan: &VisitPlan) -> String {
    let visits = plan.visits.iter().map(|visit| {
        let jobs: String = visit.jobs.iter().map(|job| ["A", "B", "C"][*job]).collect();
        format!("{jobs} {}", visit.year)
    });
    visits.collect::<Vec<_>>().join(" + ")
}

/// Set-up 900, A 400 due 6, B 300 due 7, C 350 due 12, 4 %: early, late; best, its cost, next, its cost.
const VISITS: [(f64, f64, &str, f64, &str, f64); 4] = [
    (40.0, 120.0, "ABC 7", 1_725.013_4, "AB 6 + C 12", 2_076.862_1),
    (70.0, 120.0, "ABC 7", 1_839.001_1, "AB 7 + C 12", 2_087.805_0),
    (220.0, 120.0, "ABC 12", 2_042.432_4, "AB 7 + C 12", 2_087.805_0),
    (220.0, 300.0, "AB 6 + C 12", 2_219.118_7, "ABC 7", 2_545.724_7),
];

/// Enumeration of the five partitions; tolerance: a unit of the last digit given.
#[test]
fn closed_form_visits_of_three_jobs() {
    for (early, late, best, cost, next, next_cost) in VISITS {
        let plans = plan(&three_jobs(early, late), SETUP, interest(4.0)).unwrap();
        let second = plans.next.unwrap();
        assert_eq!((in_words(&plans.best).as_str(), in_words(&second).as_str()), (best, next));
        assert_near(plans.best.present_cost, cost, 1e-4);
        assert_near(second.present_cost, next_cost, 1e-4);
        assert!(plans.exact && plans.alone.present_cost > plans.best.present_cost);
    }
}

/// C comes forward from year 12 to 7, where the member is out anyway: 110 a year early, one set-up of 900 saved.
#[test]
fn closed_form_pulling_a_job_forward() {
    let four = interest(4.0);
    let due = JobTiming { cost: 350.0, due_a: 12.0, early_per_a: 110.0, late_per_a: 0.0 };
    let job = VisitJob::due(due, 30, four);
    let saved = job.present_cost[12] + SETUP * four.factor(12.0) - job.present_cost[7];
    assert_near(saved, 96.820_280_09, 5e-9);
}

#[test]
fn property_more_jobs_than_can_be_enumerated_are_still_never_worse_than_alone() {
    let four = interest(4.0);
    let job = |n: usize| {
        let due = JobTiming { cost: 100.0, due_a: 3.0 + 2.0 * n as f64, early_per_a: 20.0, late_per_a: 60.0 };
        VisitJob::due(due, 30, four)
    };
    let jobs: Vec<VisitJob> = (0..MAX_EXACT + 4).map(job).collect();
    let plans = plan(&jobs, 500.0, four).unwrap();
    assert!(!plans.exact && plans.next.is_none());
    assert!(plans.best.present_cost < plans.alone.present_cost);
    let mut done: Vec<usize> = plans.best.visits.iter().flat_map(|visit| visit.jobs.clone()).collect();
    done.sort_unstable();
    assert_eq!(done, (0..jobs.len()).collect::<Vec<_>>());
}

#[test]
fn property_no_jobs_no_plan() {
    assert_eq!(plan(&[], 900.0, interest(4.0)), None);
}

/// Least cost over every assignment of years to jobs, a set-up for each year used.
fn exhaustive(jobs: &[VisitJob], setup: f64, interest: Interest) -> f64 {
    let years = jobs[0].present_cost.len();
    let count = years.pow(jobs.len() as u32);
    let cost = |number: usize| {
        let (mut rest, mut used, mut sum) = (number, 0_u64, 0.0);
        for job in jobs {
            let year = rest % years;
            rest /= years;
            sum += job.present_cost[year];
            if used >> year & 1 == 0 {
                used |= 1 << year;
                sum += setup * interest.factor(year as f64);
            }
        }
        sum
    };
    (0..count).map(cost).fold(f64::INFINITY, f64::min)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn property_visits_agree_with_exhaustive_search(
        rows in prop::collection::vec((1.0..900.0_f64, 0.0..8.0_f64, 0.0..300.0_f64, 0.0..300.0_f64), 1..=5),
        setup in 0.0..2000.0_f64,
        rate in 0.0..12.0_f64,
    ) {
        let interest = interest(rate);
        let jobs: Vec<VisitJob> = rows
            .into_iter()
            .map(|(cost, due_a, early_per_a, late_per_a)| {
                VisitJob::due(JobTiming { cost, due_a, early_per_a, late_per_a }, 7, interest)
            })
            .collect();
        let best = exhaustive(&jobs, setup, interest);
        let plans = plan(&jobs, setup, interest).unwrap();
        // sums of the same numbers in another order
        prop_assert!((plans.best.present_cost - best).abs() < 1e-9 * best.max(1.0), "{} {best}", plans.best.present_cost);
        prop_assert!(plans.alone.present_cost >= best * (1.0 - 1e-12));
    }
}

/// Savage's criterion: A costs 10 or 20, B 14 or 12; greatest regrets 8 and 4.
#[test]
fn published_regret() {
    let all = [[10.0, 14.0], [20.0, 12.0]].map(|costs| {
        let mut tally = RegretTally::new(2);
        tally.count(&costs, 1.0);
        tally.summaries()
    });
    let greatest = [0, 1].map(|option: usize| all.iter().map(|one| one[option].regret).fold(0.0, f64::max));
    assert_eq!(greatest.map(|regret| regret as i32), [8, 4]);
}

#[test]
fn closed_form_shares_and_means_of_a_comparison() {
    let mut comparison = RegretTally::new(3);
    comparison.count(&[10.0, 14.0, 15.0], 1.0);
    comparison.count(&[20.0, 12.0, 20.5], 2.0);
    comparison.count(&[0.0, 0.0, 1.0], 1.0);
    let summaries = comparison.summaries();
    assert_near(summaries.iter().map(|one| one.cheapest_share).sum(), 1.0, 1e-12);
    assert_near(summaries[0].cheapest_share, (1.0 + 0.5) / 4.0, 1e-12);
    assert_near(summaries[1].regret, 4.0 / 4.0, 1e-12);
    assert_near(summaries[0].mean, 50.0 / 4.0, 1e-12);
    for (option, ties) in [1.0, 1.0, 0.0].into_iter().enumerate() {
        assert_near(summaries[option].ties_share, ties / 4.0, 1e-12);
    }
    // always dearer than the first, so never cheapest
    assert_near(summaries[2].cheapest_share, 0.0, 0.0);
    assert_near(summaries[0].points[0], 0.0, 0.0);
}

#[test]
fn closed_form_mean_of_a_price() {
    assert_near(mean(&LIFE), 16.0 * 0.045_f64.exp(), 1e-12);
    assert_near(mean(&Prior::Fixed(7.0)), 7.0, 0.0);
}

fn demo(name: &str) -> Scenario {
    read_path(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/cases").join(name),
        &Model::published().unwrap(),
    )
    .unwrap()
}

fn decided(case: &str, changes: &[(&str, &str)], threads: usize) -> Decision {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/costs.toml");
    let mut text = std::fs::read_to_string(file).unwrap();
    for (from, to) in changes {
        assert!(text.contains(from), "no `{from}` in the demo's costs");
        text = text.replace(from, to);
    }
    let question = costs::read_str(&text, "costs.toml", 4.0, &Model::published().unwrap()).unwrap();
    let settings = Settings { histories: 32_768, ..Settings::default() };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    pool.install(|| decide(&demo(case), &question, &settings, &|_| ControlFlow::Continue(()))).unwrap()
}

fn share(decision: &Decision, name: &str) -> f64 {
    decision.options.iter().find(|option| String::from(option.name) == name).unwrap().cheapest_share
}

#[test]
fn property_the_same_bytes_for_any_number_of_threads() {
    let bytes =
        [1, 2].map(|threads| json(&DecisionJson::new(&decided("street_daily.toml", &[], threads))).unwrap());
    assert_eq!(bytes[0], bytes[1]);
}

#[test]
fn property_shares_add_up_and_costs_are_ordered() {
    let decision = decided("street_daily.toml", &[], 2);
    assert_near(decision.options.iter().map(|option| option.cheapest_share).sum(), 1.0, 1e-9);
    for option in &decision.options {
        let cost = option.net_present_cost;
        assert!(cost.p05 <= cost.p50 && cost.p50 <= cost.p95, "{option:?}");
        assert!(option.regret >= 0.0 && option.regret_p90 >= 0.0);
        // so a store at 60 a year, paid at the beginning of each, costs 60 a year
        let back = option.cost / interest(3.0).repeated(1.0, 20.0);
        assert_near(option.equivalent_annual_cost, back, 1e-9 * back);
    }
    // leaving it is the plan without a rework, reworking it now the first of those planned
    let mean = |name: OptionName| decision.option(name).unwrap().cost;
    assert_near(mean(OptionName::Leave), decision.no_rework.mean, 1e-9 * mean(OptionName::Leave));
    assert_near(
        mean(OptionName::ReworkNow),
        decision.cost_by_rework_age[0].mean,
        1e-9 * mean(OptionName::ReworkNow),
    );
    assert!(decision.visit_costs.plan <= decision.visit_costs.each_alone);
}

/// The year of the visit with the rework, what is done then, and what that saves.
fn with_rework(visits: &[PlannedVisit]) -> Option<&PlannedVisit> {
    visits.iter().find(|visit| visit.jobs.contains(&PlannedJob::Rework))
}

/// What is planned for a demo car over the few histories of a prospect, at a price of being late.
fn of_prospect(seed: u64, late_penalty: &str, booked: &[ReworkBooking]) -> Vec<Option<PlannedVisit>> {
    let text =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/costs.toml")).unwrap();
    let text = text.replace("late_penalty = 180", late_penalty);
    let question = costs::read_str(&text, "costs.toml", 4.0, &Model::published().unwrap()).unwrap();
    let settings = settings_for(&question, &Settings { seed, ..Settings::default() });
    let scenario = demo("street_daily.toml");
    let planning = ReworkPlanning::new(&scenario, question).unwrap();
    let stake = DecisionContext { inspection_a: 4.0, by_a: 5.0, late_cost: 0.5 };
    let planner = planning.planner(&settings).unwrap();
    let (_, planner) =
        prospect(&scenario, &settings, stake, &|_| ControlFlow::Continue(()), &|| planner.clone()).unwrap();
    booked.iter().map(|when| with_rework(&planner.visits(*when)).cloned()).collect()
}

const DEAR: &str = "late_penalty = 900";

/// A prospect has few histories: whatever its seed, the same jobs go with the rework, within a year.
#[test]
fn property_visits_of_a_prospect_hardly_depend_on_its_seed() {
    let found: Vec<PlannedVisit> = (1..=4)
        .map(|seed| of_prospect(seed, DEAR, &[ReworkBooking::Within(12)]).remove(0).unwrap())
        .collect();
    for visit in &found {
        assert_eq!(visit.jobs, found[0].jobs);
        assert_near(visit.age_a, found[0].age_a, 1.0);
    }
}

/// A booked rework is done in time, and one that is not to be is not; after the keeping time none is planned, nor where being
/// late costs less than any.
#[test]
fn property_a_booked_rework_is_in_time() {
    let booked = [ReworkBooking::Within(1), ReworkBooking::After(7), ReworkBooking::After(40)];
    let [soon, later, never] = of_prospect(1, DEAR, &booked).try_into().unwrap();
    assert!(soon.unwrap().age_a <= 5.0);
    assert!(later.unwrap().age_a > 11.0);
    assert!(never.is_none());
    assert!(of_prospect(1, "late_penalty = 0", &[ReworkBooking::Open])[0].is_none());
}

/// At a price above that of every rework within the keeping time.
#[test]
fn property_a_dominated_option_is_never_cheapest() {
    let dear =
        [("over_rust_coat = 150", "over_rust_coat = 1_000_000"), ("carport = 60", "carport = 900_000")];
    let decision = decided("street_daily.toml", &dear, 2);
    for name in ["over_rust_coat_now", "over_rust_coat_every_2_a", "move_to_carport"] {
        assert_near(share(&decision, name), 0.0, 0.0);
    }
    assert_near(decision.over_rust_coat.probability_pays, 0.0, 0.0);
    assert_eq!(decision.over_rust_coat.break_even_shift_a, None);
}

/// An over-rust coat on unprepared rust does not move the rework date (common practice): it hardly ever pays.
#[test]
fn property_the_brush_seldom_pays() {
    let decision = decided("street_daily.toml", &[], 2);
    let coat = decision.over_rust_coat;
    assert!(coat.median_shift_a < 0.5 && coat.probability_pays < 0.1, "{coat:?}");
    assert!(share(&decision, "over_rust_coat_now") < 0.1);
}

#[test]
fn property_costs_are_refused_with_place_and_hint() {
    let template = costs::template();
    assert!(costs::read_str(template, "costs.toml", 5.0, &Model::published().unwrap()).is_ok());
    let refused = |from: &str, to: &str| {
        assert!(template.contains(from), "{from}");
        costs::read_str(&template.replace(from, to), "costs.toml", 5.0, &Model::published().unwrap())
            .unwrap_err()
            .to_string()
    };
    for (from, to, words) in [
        (
            "keep_years = 15",
            "keep_years = 0",
            "costs.toml:4:14: keep_years: found 0, allowed: a number from 1 to 40 a",
        ),
        ("parts =", "part =", "did you mean `parts`?"),
        ("labour_per_h = 70", "", "labour_per_h: found no such key"),
        ("garage_tight =", "garage_tigth =", "did you mean `garage_tight`?"),
        (
            "wash_each = 8",
            "wash_each = -8",
            "wash_each: found -8, allowed: a number from 0 to 1000000000 currency",
        ),
        (
            "{ median = 60, p05 = 30, p95 = 120 }",
            "{ median = 60, p05 = 130, p95 = 120 }",
            "wax_per_year: found 60",
        ),
        (
            "labour_per_h = 70",
            "labour_per_h = 70\nremoval = 700",
            "either `removal`, or hours and their rate",
        ),
    ] {
        let message = refused(from, to);
        assert!(message.contains(words), "{message}");
    }
    assert!(
        costs::read_str(template, "costs.toml", 59.0, &Model::published().unwrap())
            .unwrap_err()
            .to_string()
            .contains("keeping time")
    );
}
