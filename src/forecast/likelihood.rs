//! How well do histories agree with what was seen on the car?
//!
//! Grades: [`Grading`] on the visible area. A wall reading is normal about the wall on a cleaned spot; on one left as it was
//! it may be too thick by a lognormal amount, or read true where there was little rust; one in a hundred is a slip.
//! "Cleaned and found sound" speaks of the deepest loss.
//! Given a history and the bias of each inspector, observations are independent. Priors: `shared/priors.csv`.

mod inspector;
pub(crate) mod known_bias;
pub(crate) mod simulate;
mod steel;

use crate::coating::SeenGrade;
use crate::coating::grading::{Grading, Judgement};
use crate::error::Result;
use crate::forecast::draw::Draw;
use crate::forecast::kernel::{Block, LANES, Lane, PerHistory};
use crate::forecast::observation::{Inspector, Observation, Seen, Spot};
use crate::forecast::scenario::Scenario;
use crate::forecast::visible::{visible_at, visible_group_at, visible_node_at};
use crate::model::Locations;
use crate::numeric::elementary::{exp_alone, exp_each, ln, ln_each};
use crate::numeric::normal::cdf_alone;
use crate::prior::Prior;
use std::collections::{BTreeMap, BTreeSet};

/// Room of a slip among wall readings [mm].
const READING_RANGE_MM: f64 = 10.0;
const SQRT_TAU: f64 = 2.506_628_274_631_000_5;

/// An observation in the light of all others, under each history of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GivenOthers {
    /// Logarithm of its likelihood [-].
    pub ln_likelihood: Lane,
    /// Probability of seeing at most, and at least, as much rust or loss as was seen [-].
    pub tails: [Lane; 2],
}

/// The observations of a car, ready to weigh histories.
#[derive(Debug, Clone)]
pub struct Likelihood {
    observations: Vec<Observation>,
    /// Grades by inspector, each with several; their indices among the observations.
    shared_bias: Vec<Vec<usize>>,
    /// Numbers of the nodes that were looked at by themselves, in order.
    nodes: Vec<u32>,
    grading: Grading,
    wall_mm: f64,
    slip_share: f64,
    reading_sd_mm: f64,
    rough_mm: Prior,
    smooth_share: f64,
    sound_loss_mm: f64,
}

impl Likelihood {
    /// The likelihood of what a scenario holds.
    ///
    /// # Errors
    /// When the model lacks a prior of it.
    pub fn new(scenario: &Scenario) -> Result<Self> {
        let priors = &scenario.model.priors;
        let wall_mm = scenario.member.tube.wall_mm();
        let observations = in_order(&scenario.observations);
        Ok(Self {
            shared_bias: of_one_inspector(&observations),
            nodes: looked_at(&observations),
            observations,
            grading: scenario.model.grading.clone(),
            wall_mm,
            slip_share: priors.get("grading_slip_share")?.median(),
            reading_sd_mm: priors.get("wall_reading_sd_mm")?.median(),
            rough_mm: priors.get("wall_reading_rough_mm")?,
            smooth_share: priors.get("wall_reading_smooth_share")?.median(),
            sound_loss_mm: 0.01 * priors.get("found_sound_loss_pct")?.median() * wall_mm,
        })
    }

    /// What was seen, in order of time.
    #[must_use]
    pub fn observations(&self) -> &[Observation] {
        &self.observations
    }

    /// How many nodes were looked at by themselves [-].
    #[must_use]
    pub fn graded_nodes(&self) -> usize {
        self.nodes.len()
    }

    /// Place of a node among those that are followed by themselves.
    fn place_of(&self, number: u32) -> usize {
        self.nodes.binary_search(&number).unwrap_or(usize::MAX)
    }

    /// Years of service up to the last observation, that one included; 1 without any [a].
    #[must_use]
    pub fn years(&self) -> u32 {
        let last_a = self.observations.iter().map(|observation| observation.age_a).fold(0.0, f64::max);
        last_a as u32 + 1
    }

    /// Logarithm of the likelihood of all observations under each history of a block [-].
    #[must_use]
    pub fn ln_all<V: PerHistory>(&self, block: &Block, draw: &Draw<V>, locations: &Locations) -> Lane {
        let mut sum = [0.0; LANES];
        let mut add = |terms: Lane| sum.iter_mut().zip(terms).for_each(|(sum, term)| *sum += term);
        for grades in &self.shared_bias {
            add(self.ln_of_inspector(&self.grades(grades), (block, draw), locations));
        }
        for (index, observation) in self.observations.iter().enumerate() {
            if !self.shares_bias(index) {
                add(self.ln_one(observation, (block, draw), locations));
            }
        }
        sum
    }

    /// Whether the inspector of an observation gave other grades, too.
    fn shares_bias(&self, index: usize) -> bool {
        self.shared_bias.iter().any(|grades| grades.contains(&index))
    }

    /// Grades by their indices.
    fn grades(&self, indices: &[usize]) -> Vec<(Observation, SeenGrade)> {
        let grade = |index: &usize| match self.observations[*index] {
            observation @ Observation { seen: Seen::Grade(seen), .. } => Some((observation, seen)),
            _ => None,
        };
        indices.iter().filter_map(grade).collect()
    }

    /// Each observation in the light of all others under each history of a block, in order.
    #[must_use]
    pub fn given_others(&self, block: &Block, draw: &Draw, locations: &Locations) -> Vec<GivenOthers> {
        let alone = |observation: &Observation| GivenOthers {
            ln_likelihood: self.ln_one(observation, (block, draw), locations),
            tails: self.tails(observation, (block, draw), locations),
        };
        let mut all: Vec<GivenOthers> = self.observations.iter().map(alone).collect();
        for indices in &self.shared_bias {
            let found = self.given_others_of_inspector(&self.grades(indices), (block, draw), locations);
            indices.iter().zip(found).for_each(|(index, found)| all[*index] = found);
        }
        all
    }

    /// Likelihood of all observations under each history of a block [-]; 1 without any.
    #[must_use]
    pub fn weights(&self, block: &Block, draw: &Draw, locations: &Locations) -> Lane {
        if self.observations.is_empty() {
            return [1.0; LANES];
        }
        let mut weights = self.ln_all(block, draw, locations);
        exp_each(&mut weights);
        weights
    }

    /// Logarithm of the likelihood of one observation by itself under each history of a block [-].
    #[must_use]
    pub fn ln_one<V: PerHistory>(
        &self,
        observation: &Observation,
        (block, draw): (&Block, &Draw<V>),
        locations: &Locations,
    ) -> Lane {
        match observation.seen {
            Seen::Grade(seen) => {
                let mut likelihood = self.seen_share(observation, (block, draw), locations);
                let judgement = Judgement { sd: &draw.grade_sd.lanes(), bias: &[0.0; LANES] };
                self.grading.probabilities(seen, &mut likelihood, judgement);
                ln_each(&mut likelihood);
                likelihood
            }
            Seen::Wall { reading_mm, cleaned } => {
                let left_mm = self.wall_left_mm(observation, (block, draw));
                by_lane(|lane| self.reading_density(reading_mm - left_mm[lane], cleaned))
            }
            Seen::Sound(sound) => {
                let deepest_um = self.deepest_um(observation, (block, draw));
                by_lane(|lane| self.found_sound(sound, 1e-3 * deepest_um[lane]))
            }
        }
    }

    /// Probability of seeing at most, and at least, as much rust or loss as was seen, by itself, under each history of a
    /// block [-].
    fn tails(
        &self,
        observation: &Observation,
        (block, draw): (&Block, &Draw),
        locations: &Locations,
    ) -> [Lane; 2] {
        let of = |tails: &dyn Fn(usize) -> [f64; 2]| {
            let both: [[f64; 2]; LANES] = std::array::from_fn(tails);
            [0, 1].map(|side| both.map(|tails| tails[side]))
        };
        match observation.seen {
            Seen::Grade(seen) => {
                let share = self.seen_share(observation, (block, draw), locations);
                let judgement = Judgement { sd: &draw.grade_sd.lanes(), bias: &[0.0; LANES] };
                let tails = self.grading.tails(seen, &share, judgement);
                of(&|lane| [tails[0][lane], tails[1][lane]])
            }
            Seen::Wall { reading_mm, cleaned } => {
                let left_mm = self.wall_left_mm(observation, (block, draw));
                of(&|lane| {
                    let thinner = self.reads_at_most(reading_mm - left_mm[lane], cleaned);
                    [1.0 - thinner, thinner]
                })
            }
            Seen::Sound(sound) => {
                let deepest_um = self.deepest_um(observation, (block, draw));
                of(&|lane| {
                    let seen = self.found_sound(sound, 1e-3 * deepest_um[lane]);
                    if sound { [seen, 1.0] } else { [1.0, seen] }
                })
            }
        }
    }

    /// Probability that a reading is at most `over_mm` thicker than the wall [-].
    fn reads_at_most(&self, over_mm: f64, cleaned: bool) -> f64 {
        let rough = match self.rough_mm {
            Prior::LogNormal { median, sd_ln } if over_mm > 0.0 => cdf_alone(ln(over_mm / median) / sd_ln),
            _ => 0.0,
        };
        let careful = self.mixed(cleaned, cdf_alone(over_mm / self.reading_sd_mm), rough);
        (1.0 - self.slip_share) * careful + 0.5 * self.slip_share
    }

    /// Rusted share that was in sight [-].
    #[must_use]
    pub fn seen_share<V: PerHistory>(
        &self,
        observation: &Observation,
        (block, draw): (&Block, &Draw<V>),
        locations: &Locations,
    ) -> Lane {
        let age_a = observation.age_a;
        match observation.spot {
            Spot::OpenLength => visible_at(block, draw, locations, (0, age_a)),
            Spot::WorstNode => visible_at(block, draw, locations, (1, age_a)),
            Spot::Node(number) => visible_node_at(block, draw, locations, (self.place_of(number), age_a)),
            Spot::Group(group) => visible_group_at(block, draw, locations, (group, age_a)),
        }
    }

    /// Density of a reading that is `over_mm` thicker than the wall [1/mm].
    fn reading_density(&self, over_mm: f64, cleaned: bool) -> f64 {
        let bell = |z: f64, sd: f64| exp_alone(-0.5 * z * z) / (SQRT_TAU * sd);
        let rough = match self.rough_mm {
            Prior::LogNormal { median, sd_ln } if over_mm > 0.0 => {
                bell(ln(over_mm / median) / sd_ln, sd_ln) / over_mm
            }
            _ => 0.0,
        };
        let careful = self.mixed(cleaned, bell(over_mm / self.reading_sd_mm, self.reading_sd_mm), rough);
        (1.0 - self.slip_share) * careful + self.slip_share / READING_RANGE_MM
    }

    /// Of a reading on smooth steel and one on rough rust, what a spot that was cleaned, or was not, leads to.
    fn mixed(&self, cleaned: bool, smooth: f64, rough: f64) -> f64 {
        let smooth_share = if cleaned { 1.0 } else { self.smooth_share };
        smooth_share * smooth + (1.0 - smooth_share) * rough
    }

    /// Probability that a spot whose deepest loss is `deepest_mm` is called sound, or not [-].
    fn found_sound(&self, sound: bool, deepest_mm: f64) -> f64 {
        let called = cdf_alone((self.sound_loss_mm - deepest_mm) / self.reading_sd_mm);
        let careful = if sound { called } else { 1.0 - called };
        (1.0 - self.slip_share) * careful + 0.5 * self.slip_share
    }
}

/// Indices of the grades of each inspector who gave more than one.
fn of_one_inspector(observations: &[Observation]) -> Vec<Vec<usize>> {
    let mut grades: BTreeMap<Inspector, Vec<usize>> = BTreeMap::new();
    for (index, observation) in observations.iter().enumerate() {
        if matches!(observation.seen, Seen::Grade(_)) {
            grades.entry(observation.inspector).or_default().push(index);
        }
    }
    grades.into_values().filter(|grades| grades.len() > 1).collect()
}

/// Numbers of the nodes that were looked at by themselves, each once and in order.
fn looked_at(observations: &[Observation]) -> Vec<u32> {
    let number = |observation: &Observation| match observation.spot {
        Spot::Node(number) => Some(number),
        _ => None,
    };
    observations.iter().filter_map(number).collect::<BTreeSet<u32>>().into_iter().collect()
}

/// Observations in one order, whatever the order they came in: by age, then by what they are.
fn in_order(observations: &[Observation]) -> Vec<Observation> {
    let rank = |observation: &Observation| {
        format!("{:?}{:?}{:?}", observation.spot, observation.seen, observation.inspector)
    };
    let mut ordered = observations.to_vec();
    ordered.sort_by(|a, b| a.age_a.total_cmp(&b.age_a).then_with(|| rank(a).cmp(&rank(b))));
    ordered
}

/// Logarithm of a likelihood in each history [-].
fn by_lane(likelihood: impl Fn(usize) -> f64) -> Lane {
    let mut likelihood: Lane = std::array::from_fn(likelihood);
    ln_each(&mut likelihood);
    likelihood
}
