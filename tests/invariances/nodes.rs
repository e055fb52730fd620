//! Each node is a place of its own: what is seen of one speaks of that one, the worst of them decides, and names do not matter.
//! Grades of one inspector share his bias.

use crate::same::{demo, updated};
use ferrowane::coating::grading::Judgement;
use ferrowane::coating::{RustGrade, Scale, SeenGrade};
use ferrowane::forecast::draw::{Draw, Inputs};
use ferrowane::forecast::kernel::{Block, LANES, Lane, dimensions, run_block};
use ferrowane::forecast::likelihood::Likelihood;
use ferrowane::forecast::observation::{Inspector, Observation, Seen, Spot};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::inspection::Updated;
use ferrowane::model::DIMENSIONS;
use ferrowane::model::locations::Locations;

const NODES: u32 = 6;

fn graded(age_a: f64, spot: Spot, grade: usize) -> Observation {
    Observation::graded(age_a, spot, RustGrade::ALL[grade])
}

/// The street car with six nodes and what was seen on it.
fn seen(observations: &[Observation]) -> Scenario {
    let mut car = demo("street_daily.toml");
    car.member.nodes = NODES;
    car.observations = observations.to_vec();
    car
}

fn median_a(of: &Updated) -> f64 {
    of.forecast.time_to_rework_a.p50.unwrap()
}

/// Standard error of the difference of two medians [a].
fn error_a(one: &Updated, two: &Updated) -> f64 {
    [one, two]
        .map(|of| of.forecast.standard_error.p50.unwrap())
        .iter()
        .map(|error| error * error)
        .sum::<f64>()
        .sqrt()
}

/// Which number a node bears says nothing.
#[test]
fn property_numbers_of_nodes_are_only_names() {
    let with =
        |number| updated(&seen(&[graded(5.0, Spot::Node(number), 2), graded(8.0, Spot::Node(number), 3)]));
    assert_eq!(with(2).forecast, with(5).forecast);
    let two = |first, second| {
        updated(&seen(&[graded(5.0, Spot::Node(first), 1), graded(5.0, Spot::Node(second), 3)]))
    };
    let (one, other) = (two(1, 4), two(4, 1));
    // the same two grades at two nodes, only that they change places among the random numbers
    assert!((median_a(&one) - median_a(&other)).abs() < 4.0 * error_a(&one, &other));
}

/// The only node of a member is its worst.
#[test]
fn property_the_only_node_is_the_worst_one() {
    let with = |spot| {
        let mut car = seen(&[graded(6.0, spot, 3)]);
        car.member.nodes = 1;
        updated(&car)
    };
    let (by_number, worst) = (with(Spot::Node(1)), with(Spot::WorstNode));
    let apart_a = (median_a(&by_number) - median_a(&worst)).abs();
    println!("graded by number {:.2} a, as the worst {:.2} a", median_a(&by_number), median_a(&worst));
    assert!(apart_a < 4.0 * error_a(&by_number, &worst), "{apart_a} a");
}

/// Where nothing was seen, following nodes by themselves leaves the forecast what it was: a grade that hardly anything can
/// contradict (no rust on a new car) moves nothing.
#[test]
fn property_following_a_node_moves_nothing() {
    let (plain, followed) = (updated(&seen(&[])), updated(&seen(&[graded(0.01, Spot::Node(3), 0)])));
    println!("plain {:.2} a, followed {:.2} a", median_a(&plain), median_a(&followed));
    assert!((median_a(&plain) - median_a(&followed)).abs() < 4.0 * error_a(&plain, &followed));
}

/// A good node graded one day after a bad one: it is another node, so the answer hardly moves and nothing is in conflict; the
/// same good grade of the worst node itself would contradict the bad one.
#[test]
fn property_a_good_node_beside_a_bad_one_is_no_contradiction() {
    let bad = [graded(8.0, Spot::Node(1), 4), graded(8.0, Spot::OpenLength, 2)];
    let good = |spot| updated(&seen(&[&bad[..], &[graded(8.003, spot, 1)]].concat()));
    let alone = updated(&seen(&bad));
    let (other, itself) = (good(Spot::Node(2)), good(Spot::Node(1)));
    println!(
        "bad node {:.2} a, with a good one {:.2} a, the same called good next day {:.2} a",
        median_a(&alone),
        median_a(&other),
        median_a(&itself)
    );
    assert_eq!(other.evidence.conflicts().count(), 0);
    assert!((median_a(&other) - median_a(&alone)).abs() < 1.0);
    assert!(median_a(&itself) > median_a(&other));
}

/// The worst node is at least as bad as any: a grade of one node brings rework at least as near as the same grade of the worst.
#[test]
fn property_a_bad_node_is_at_least_as_bad_as_a_bad_worst_node() {
    for grade in [3, 4] {
        let (one, worst) = (
            updated(&seen(&[graded(7.0, Spot::Node(2), grade)])),
            updated(&seen(&[graded(7.0, Spot::WorstNode, grade)])),
        );
        println!("Ri {grade}: a node {:.2} a, the worst {:.2} a", median_a(&one), median_a(&worst));
        assert!(median_a(&one) <= median_a(&worst) + 3.0 * error_a(&one, &worst));
    }
}

/// A wall read thin at any node is bad news: the worst is at least as thin.
#[test]
fn property_a_thin_wall_at_any_node_brings_rework_on() {
    let read = |spot| {
        let reading = Seen::Wall { reading_mm: 1.7, cleaned: true };
        median_a(&updated(&seen(&[Observation::new(9.0, spot, reading)])))
    };
    let plain = median_a(&updated(&seen(&[])));
    let (one, worst) = (read(Spot::Node(4)), read(Spot::WorstNode));
    println!("plain {plain:.2} a, thin at a node {one:.2} a, thin at the worst {worst:.2} a");
    assert!(one < plain - 0.5 && worst < plain - 0.5, "{plain} {one} {worst}");
}

/// Ten looks at one surface on one day: by ten inspectors they tell histories apart far better than by one, whose bias they share.
#[test]
fn property_one_inspector_tells_less_than_several() {
    let apart = |code: &dyn Fn(u32) -> String| {
        let look = |number: u32| graded(9.0, Spot::OpenLength, 2).by(Inspector::from_code(&code(number)));
        let ln_likelihood = Lived::new(&(0..10).map(look).collect::<Vec<_>>()).ln_all();
        let best = ln_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        ln_likelihood.iter().map(|ln| (ln - best).exp()).sum::<f64>()
    };
    let (one, several) = (apart(&|_| "A".to_owned()), apart(&|number| number.to_string()));
    println!(
        "histories of {LANES} that agree as the best one does: one inspector {one:.1}, ten inspectors {several:.1}"
    );
    assert!(one > 1.5 * several, "{one} {several}");
}

/// What an inspector is called says nothing, and grades without a code are those of one inspector.
#[test]
fn property_codes_of_inspectors_are_only_names() {
    let by = |inspector: Inspector| {
        let looks = [(3.0, 1), (6.0, 2), (7.5, 2)];
        updated(&seen(&looks.map(|(age_a, grade)| graded(age_a, Spot::OpenLength, grade).by(inspector))))
    };
    let named = by(Inspector::from_code("K-7"));
    assert_eq!(named.forecast, by(Inspector::from_code(" B ")).forecast);
    assert_eq!(named.forecast, by(Inspector::default()).forecast);
}

/// Histories of the median draw that differ in their aleatory numbers, with a car's observations.
struct Lived {
    likelihood: Likelihood,
    draw: Draw,
    locations: Locations,
    block: Block,
}

impl Lived {
    fn new(observations: &[Observation]) -> Self {
        let car = seen(observations);
        let likelihood = Likelihood::new(&car).unwrap();
        let draw = Inputs::new(&car).unwrap().draw(&[0.0; DIMENSIONS], (1, 0), 20).unwrap();
        let locations = Locations::new(&car.model.locations, car.member.tube, NODES)
            .unwrap()
            .following(likelihood.graded_nodes());
        let number = |dimension: usize, lane: usize| (1.7 * lane as f64 + 2.3 * dimension as f64).sin() * 1.5;
        let aleatory: Vec<Lane> = (0..dimensions(locations.followed_nodes, 20))
            .map(|dimension| std::array::from_fn(|lane| number(dimension, lane)))
            .collect();
        let mut block = Block::with_years(20);
        run_block(&mut block, &draw, &locations, &aleatory);
        Self { likelihood, draw, locations, block }
    }

    fn ln_all(&self) -> Lane {
        self.likelihood.ln_all(&self.block, &self.draw, &self.locations)
    }
}

/// Simpson's rule over a standard normal number from -8 to 8.
fn mean_over_bias(of: impl Fn(f64) -> f64) -> f64 {
    const STEPS: usize = 4000;
    let width = 16.0 / STEPS as f64;
    let at = |step: usize| {
        let z = (step as f64).mul_add(width, -8.0);
        let simpson = if step == 0 || step == STEPS { 1.0 } else { 2.0 + 2.0 * (step % 2) as f64 };
        simpson * of(z) * (-0.5 * z * z).exp()
    };
    (0..=STEPS).map(at).sum::<f64>() * width / 3.0 / std::f64::consts::TAU.sqrt()
}

/// The likelihood of an inspector's grades is the integral over his bias, here by a rule of 4,000 steps. Histories that agree
/// less than a thousandth as well as the best one count for nothing.
#[test]
fn closed_form_the_bias_is_integrated_out() {
    let inspector = Inspector::from_code("A");
    let grades = [(2.5, 0), (5.5, 1), (8.5, 2), (11.5, 2), (14.5, 3), (17.5, 3)];
    let observations = grades.map(|(age_a, grade)| graded(age_a, Spot::OpenLength, grade).by(inspector));
    let of = Lived::new(&observations);
    let model = ferrowane::model::Model::published().unwrap();
    let grading = &model.grading;
    let [visit, bias] = grading.parted(of.draw.grade_sd);
    assert!((visit.hypot(bias) - of.draw.grade_sd).abs() < 1e-12, "both together are the published scatter");
    let shares: Vec<Lane> = observations
        .iter()
        .map(|one| of.likelihood.seen_share(one, (&of.block, &of.draw), &of.locations))
        .collect();
    let found = of.ln_all();
    let best = found.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let counted: Vec<usize> = (0..LANES).filter(|lane| found[*lane] > best - 7.0).collect();
    assert!(counted.len() > 5, "{}", counted.len());
    let mut worst = 0.0_f64;
    for lane in counted {
        let given = |z: f64| -> f64 {
            let chance = |(share, (_, grade)): (&Lane, &(f64, usize))| {
                let mut one = [share[lane]];
                let seen = SeenGrade { scale: Scale::Ri, number: *grade as u8 };
                grading.probabilities(seen, &mut one, Judgement { sd: &[visit], bias: &[z * bias] });
                one[0]
            };
            shares.iter().zip(&grades).map(chance).product()
        };
        worst = worst.max((found[lane] - mean_over_bias(given).ln()).abs());
    }
    println!("ln likelihood of six grades is off by {worst:.1e} at most");
    assert!(worst < 0.05, "{worst}");
}

/// The chance of all grades is that of the others times that of the last one in their light.
#[test]
fn closed_form_a_grade_in_the_light_of_the_others() {
    let inspector = Inspector::from_code("A");
    let all = [(4.0, 1), (7.0, 1), (9.0, 3)]
        .map(|(age_a, grade)| graded(age_a, Spot::WorstNode, grade).by(inspector));
    let (three, two) = (Lived::new(&all), Lived::new(&all[..2]));
    let given = three.likelihood.given_others(&three.block, &three.draw, &three.locations);
    let (with, without) = (three.ln_all(), two.ln_all());
    for lane in 0..LANES {
        assert!((given[2].ln_likelihood[lane] - (with[lane] - without[lane])).abs() < 1e-9);
        let [at_most, at_least] = given[2].tails.map(|tail| tail[lane]);
        // this grade is both at most and at least itself
        assert!((at_most + at_least - 1.0 - given[2].ln_likelihood[lane].exp()).abs() < 1e-9);
    }
}

/// A followed node of the same life as the worst is the worst; one that lives longer shows less rust, at any age.
#[test]
fn property_no_node_is_worse_than_the_worst() {
    let of = Lived::new(&[2.0, 6.0, 9.0, 15.0].map(|age_a| graded(age_a, Spot::Node(3), 2)));
    for one in of.likelihood.observations() {
        let given = (&of.block, &of.draw);
        let own = of.likelihood.seen_share(one, given, &of.locations);
        let worst =
            of.likelihood.seen_share(&Observation { spot: Spot::WorstNode, ..*one }, given, &of.locations);
        let is_worst = (0..LANES).filter(|lane| own[*lane] >= worst[*lane]).count();
        assert!((0..LANES).all(|lane| own[lane] <= worst[lane] + 1e-15));
        assert!((1..LANES).contains(&is_worst), "it is the worst in some histories, not in all: {is_worst}");
    }
}
