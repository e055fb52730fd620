//! How well do histories agree with what was seen on the car?
//!
//! Grades: [`Grading`] on the visible area. A wall reading is normal about the wall on a cleaned spot; on one left as it was
//! it may be too thick by a lognormal amount, or read true where there was little rust; one in a hundred is a slip.
//! "Cleaned and found sound" speaks of the deepest loss.
//! Given a history, observations are independent. Priors: `shared/priors.csv`.

use crate::coating::grading::Grading;
use crate::error::Result;
use crate::forecast::draw::Draw;
use crate::forecast::kernel::{Block, LANES, Lane, PerHistory, ValueOf};
use crate::forecast::observation::{Observation, Seen, Spot};
use crate::forecast::scenario::Scenario;
use crate::forecast::visible::{visible_at, visible_group_at};
use crate::model::Locations;
use crate::numeric::elementary::{exp, exp_each, ln, ln_each};
use crate::numeric::normal::cdf;
use crate::prior::Prior;

/// Room of a slip among wall readings [mm].
const READING_RANGE_MM: f64 = 10.0;
const SQRT_TAU: f64 = 2.506_628_274_631_000_5;

/// The observations of a car, ready to weigh histories.
#[derive(Debug, Clone)]
pub struct Likelihood {
    observations: Vec<Observation>,
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
        Ok(Self {
            observations: in_order(&scenario.observations),
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
        for observation in &self.observations {
            let one = self.ln_one(observation, (block, draw), locations);
            sum.iter_mut().zip(one).for_each(|(sum, one)| *sum += one);
        }
        sum
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

    /// Logarithm of the likelihood of one observation under each history of a block [-].
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
                self.grading.probabilities(seen, &mut likelihood, &sd_of(draw));
                ln_each(&mut likelihood);
                likelihood
            }
            Seen::Wall { reading_mm, cleaned } => {
                let left_mm = self.wall_left_mm(observation, block);
                by_lane(|lane| self.reading_density(reading_mm - left_mm[lane], cleaned))
            }
            Seen::Sound(sound) => {
                let deepest_um = block.value_at(&block.deepest_um, ValueOf::Steel, observation.age_a);
                by_lane(|lane| self.found_sound(sound, 1e-3 * deepest_um[lane]))
            }
        }
    }

    /// Probability of seeing at most, and at least, as much rust or loss as was seen, under each history of a block [-].
    #[must_use]
    pub fn tails(
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
                let tails = self.grading.tails(seen, &share, &sd_of(draw));
                of(&|lane| [tails[0][lane], tails[1][lane]])
            }
            Seen::Wall { reading_mm, cleaned } => {
                let left_mm = self.wall_left_mm(observation, block);
                of(&|lane| {
                    let thinner = self.reads_at_most(reading_mm - left_mm[lane], cleaned);
                    [1.0 - thinner, thinner]
                })
            }
            Seen::Sound(sound) => {
                let deepest_um = block.value_at(&block.deepest_um, ValueOf::Steel, observation.age_a);
                of(&|lane| {
                    let seen = self.found_sound(sound, 1e-3 * deepest_um[lane]);
                    if sound { [seen, 1.0] } else { [1.0, seen] }
                })
            }
        }
    }

    /// Wall left where a gauge was put [mm].
    fn wall_left_mm(&self, observation: &Observation, block: &Block) -> Lane {
        let losses = if observation.spot == Spot::OpenLength { &block.mean_um } else { &block.worst_um };
        let loss_um = block.value_at(losses, ValueOf::Steel, observation.age_a);
        std::array::from_fn(|lane| self.wall_mm * block.wall_factor[lane] - 1e-3 * loss_um[lane])
    }

    /// Probability that a reading is at most `over_mm` thicker than the wall [-].
    fn reads_at_most(&self, over_mm: f64, cleaned: bool) -> f64 {
        let rough = match self.rough_mm {
            Prior::LogNormal { median, sd_ln } if over_mm > 0.0 => cdf(ln(over_mm / median) / sd_ln),
            _ => 0.0,
        };
        let careful = self.mixed(cleaned, cdf(over_mm / self.reading_sd_mm), rough);
        (1.0 - self.slip_share).mul_add(careful, 0.5 * self.slip_share)
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
            Spot::Node => visible_at(block, draw, locations, (1, age_a)),
            Spot::Group(group) => visible_group_at(block, draw, locations, (group, age_a)),
        }
    }

    /// Density of a reading that is `over_mm` thicker than the wall [1/mm].
    fn reading_density(&self, over_mm: f64, cleaned: bool) -> f64 {
        let bell = |z: f64, sd: f64| exp(-0.5 * z * z) / (SQRT_TAU * sd);
        let rough = match self.rough_mm {
            Prior::LogNormal { median, sd_ln } if over_mm > 0.0 => {
                bell(ln(over_mm / median) / sd_ln, sd_ln) / over_mm
            }
            _ => 0.0,
        };
        let careful = self.mixed(cleaned, bell(over_mm / self.reading_sd_mm, self.reading_sd_mm), rough);
        (1.0 - self.slip_share).mul_add(careful, self.slip_share / READING_RANGE_MM)
    }

    /// Of a reading on smooth steel and one on rough rust, what a spot that was cleaned, or was not, leads to.
    fn mixed(&self, cleaned: bool, smooth: f64, rough: f64) -> f64 {
        let smooth_share = if cleaned { 1.0 } else { self.smooth_share };
        smooth_share.mul_add(smooth, (1.0 - smooth_share) * rough)
    }

    /// Probability that a spot whose deepest loss is `deepest_mm` is called sound, or not [-].
    fn found_sound(&self, sound: bool, deepest_mm: f64) -> f64 {
        let called = cdf((self.sound_loss_mm - deepest_mm) / self.reading_sd_mm);
        let careful = if sound { called } else { 1.0 - called };
        (1.0 - self.slip_share).mul_add(careful, 0.5 * self.slip_share)
    }
}

/// Observations in one order, whatever the order they came in: by age, then by what they are.
fn in_order(observations: &[Observation]) -> Vec<Observation> {
    let rank = |observation: &Observation| format!("{:?}{:?}", observation.spot, observation.seen);
    let mut ordered = observations.to_vec();
    ordered.sort_by(|a, b| a.age_a.total_cmp(&b.age_a).then_with(|| rank(a).cmp(&rank(b))));
    ordered
}

fn by_lane(likelihood: impl Fn(usize) -> f64) -> Lane {
    std::array::from_fn(|lane| ln(likelihood(lane).max(f64::MIN_POSITIVE)))
}

/// Scatter of the inspector in each history [grades].
fn sd_of<V: PerHistory>(draw: &Draw<V>) -> Lane {
    std::array::from_fn(|lane| draw.grade_sd.at(lane))
}
