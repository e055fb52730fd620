//! When each rework criterion and assessment level is met, and where the grades lie, in the numbers of one draw.

use crate::coating::RustGrade;
use crate::coating::breakdown::{ONE_PER_CENT, age_at_share};
use crate::coating::grade::GradeScale;
use crate::forecast::kernel::{Block, Interval, LANES, Lane, ValueOf};
use crate::forecast::outcome::CRITERIA;
use crate::forecast::scenario::{Criteria, Member};
use crate::model::locations::{GROUPS, Locations};
use crate::numeric::elementary::{exp, pow};
use multiversion::multiversion;

/// Never within the horizon.
const NEVER: Lane = [f64::INFINITY; LANES];

/// Criteria that read the coating; those of the steel follow [-].
const COATING_CRITERIA: usize = 2;

/// Thresholds of one draw: grades as coating ages, losses in µm.
#[derive(Debug, Clone, PartialEq)]
pub struct Thresholds {
    rework: LevelLimits,
    assessment: LevelLimits,
    of_set: Vec<LevelLimits>,
    grade_ages: [[f64; 5]; 2],
    /// Rusted shares at the class limits [-].
    pub share_limits: [f64; 5],
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct LevelLimits {
    node_age: f64,
    open_length_age: f64,
    mean_um: f64,
    deepest_um: f64,
    modulus_loss: f64,
    perforated: f64,
}

/// What a block's histories met.
#[derive(Debug, Clone)]
pub struct Met {
    /// Age at rework [a], infinite beyond the horizon.
    pub rework_a: Lane,
    /// Which criterion came first, in the order of [`crate::forecast::outcome::CRITERIA`].
    pub first: [usize; LANES],
    /// Age from which the steel alone meets a rework criterion, whatever is done to the coating [a], infinite beyond the
    /// horizon.
    pub steel_a: Lane,
    /// Age at the first assessment level [a], infinite beyond the horizon.
    pub assessment_a: Lane,
    /// Age at each level of the member's set [a], infinite beyond the horizon.
    pub of_set_a: Vec<Lane>,
    /// Coating ages at the class limits of the grades: open length, worst node [-].
    pub grade_ages: [[f64; 5]; 2],
}

impl Thresholds {
    /// Thresholds of a member for a draw of Weibull `shape` [-].
    #[must_use]
    pub fn new(member: &Member, locations: &Locations, scale: &GradeScale, shape: f64) -> Self {
        let wall_um = 1000.0 * locations.intact.wall_mm;
        let open_length = |share: f64| open_length_age_at_share(share, shape, locations);
        let limits = |criteria: &Criteria| {
            let grade = |grade: Option<RustGrade>| grade.map(|grade| scale.reached_share(grade));
            let loss = |pct: Option<f64>| pct.map_or(f64::INFINITY, |pct| 0.01 * pct);
            LevelLimits {
                node_age: grade(criteria.node_grade)
                    .map_or(f64::INFINITY, |share| age_at_share(share, shape)),
                open_length_age: grade(criteria.run_grade).map_or(f64::INFINITY, open_length),
                mean_um: wall_um * loss(criteria.mean_wall_loss_pct),
                deepest_um: wall_um * loss(criteria.deepest_wall_loss_pct),
                modulus_loss: loss(criteria.section_modulus_loss_pct),
                perforated: loss(criteria.perforated_pct),
            }
        };
        Self {
            rework: limits(&member.rework),
            assessment: limits(&member.assessment),
            of_set: member
                .set
                .iter()
                .flat_map(|set| &set.levels)
                .map(|level| limits(&level.criteria))
                .collect(),
            share_limits: scale.limits(),
            grade_ages: [
                scale.limits().map(open_length),
                scale.limits().map(|share| age_at_share(share, shape)),
            ],
        }
    }

    /// Coating ages at the class limits of the grades: open length, worst node [-].
    #[must_use]
    pub fn grade_ages(&self) -> [[f64; 5]; 2] {
        self.grade_ages
    }

    /// Share of the steel that a member may lose before a rework criterion is met, of the loss that is furthest [-]: lost for
    /// good, whatever is done to the coating.
    ///
    /// - `read`: reads a loss of history `lane` of the block at an age
    pub(crate) fn metal_used(&self, block: &Block, lane: usize, read: impl Fn(&[Lane]) -> f64) -> f64 {
        let wall = block.wall_factor[lane];
        let mean = read(&block.worst_um) / (self.rework.mean_um * wall);
        let deepest = read(&block.deepest_um) / (self.rework.deepest_um * wall);
        let modulus = (1.0 - read(&block.bending_left)) / self.rework.modulus_loss;
        let perforated = match self.rework.perforated {
            limit if limit.is_finite() => read(&block.perforated) / limit,
            _ => 0.0,
        };
        mean.max(deepest).max(modulus).max(perforated)
    }

    /// When a block's histories meet them: rework counted from the last one planned, assessment from new.
    #[must_use]
    pub fn met(&self, block: &Block) -> Met {
        let since = block.intervals.iter().rposition(|interval| interval.is_new_coat).unwrap_or(0);
        let rework = meet(block, &self.rework, &block.intervals[since..]);
        let mut met = Met {
            rework_a: NEVER,
            first: [0; LANES],
            steel_a: NEVER,
            assessment_a: earliest(&meet(block, &self.assessment, &block.intervals)),
            of_set_a: self
                .of_set
                .iter()
                .map(|level| earliest(&meet(block, level, &block.intervals)))
                .collect(),
            grade_ages: self.grade_ages,
        };
        for (number, times) in rework.iter().enumerate() {
            for lane in 0..LANES {
                if number >= COATING_CRITERIA {
                    met.steel_a[lane] = met.steel_a[lane].min(times[lane]);
                }
                if times[lane] < met.rework_a[lane] {
                    met.rework_a[lane] = times[lane];
                    met.first[lane] = number;
                }
            }
        }
        met
    }
}

/// When the first of some criteria is met [a].
fn earliest(times: &[Lane; CRITERIA.len()]) -> Lane {
    let mut first = NEVER;
    for times in times {
        for lane in 0..LANES {
            first[lane] = first[lane].min(times[lane]);
        }
    }
    first
}

#[multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn meet(block: &Block, limits: &LevelLimits, intervals: &[Interval]) -> [Lane; CRITERIA.len()] {
    let wall = &block.wall_factor;
    let same = |factor: f64| [factor; LANES];
    let of_wall = |limit: f64| wall.map(|wall| limit * wall);
    let coating = |part: usize, limit: f64| {
        crossing((&block.relative_age[part], ValueOf::Coating), &same(limit), 1.0, intervals)
    };
    let steel =
        |rows: &[Lane], limit: &Lane, sign: f64| crossing((rows, ValueOf::Steel), limit, sign, intervals);
    [
        coating(1, limits.node_age),
        coating(0, limits.open_length_age),
        steel(&block.worst_um, &of_wall(limits.mean_um), 1.0),
        steel(&block.deepest_um, &of_wall(limits.deepest_um), 1.0),
        steel(&block.bending_left, &same(limits.modulus_loss - 1.0), -1.0),
        steel(&block.perforated, &same(limits.perforated), 1.0),
    ]
}

/// First time in some intervals at which `sign * rows` reaches `limit`, linear within each [a]; a limit that is already
/// passed at their start counts as reached at once.
#[inline(always)]
fn crossing((rows, of): (&[Lane], ValueOf), limit: &Lane, sign: f64, intervals: &[Interval]) -> Lane {
    let mut time = NEVER;
    if limit.iter().all(|limit| limit.is_infinite()) {
        return time;
    }
    for interval in intervals {
        let (start, end) = (interval.start_of(rows, of), &rows[interval.end]);
        let length_a = interval.until_a - interval.from_a;
        for lane in 0..LANES {
            let (before, after) = (sign * start[lane], sign * end[lane]);
            let crossed = after >= limit[lane];
            let within = ((limit[lane] - before) / (after - before)).max(0.0);
            let at = length_a.mul_add(within, interval.from_a);
            time[lane] = if crossed { time[lane].min(at) } else { time[lane] };
        }
    }
    time
}

/// Steps after which [`open_length_age_at_share`] has settled at the latest [-]; most shares take five.
const NEWTON_STEPS: usize = 40;

/// Coating age at which the open length has the rusted share `share` [-], from 0 to below 1.
///
/// With `y = ln(1/0.99) t^m` the share is the sum of `c (1 - exp(-k y))` over the places, `k = life^-m`: concave in `y`, so
/// that Newton's steps from the tangent at `y = 0` rise to the root and never pass it.
#[multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn open_length_age_at_share(share: f64, shape: f64, locations: &Locations) -> f64 {
    let (mut hazard, mut y) = ([0.0; GROUPS], 0.0);
    for place in 0..GROUPS {
        hazard[place] = pow(locations.life_factor[place], -shape);
    }
    for _ in 0..NEWTON_STEPS {
        let (mut rusted, mut slope) = (0.0, 0.0);
        for place in 0..GROUPS {
            let sound = locations.circumference_share[place] * exp(-hazard[place] * y);
            rusted += locations.circumference_share[place] - sound;
            slope += hazard[place] * sound;
        }
        let step = (share - rusted) / slope;
        y += step.max(0.0);
        if step <= f64::EPSILON * y {
            break;
        }
    }
    pow(y / ONE_PER_CENT, 1.0 / shape)
}

#[cfg(test)]
mod tests {
    use super::open_length_age_at_share;
    use crate::coating::breakdown::rusted_share;
    use crate::model::{LocationTable, Locations};
    use crate::section::Tube;

    #[test]
    fn closed_form_run_share_at_the_found_age() {
        let locations =
            Locations::new(&LocationTable::published().unwrap(), Tube::round(45.0, 2.0).unwrap(), 4).unwrap();
        for (expected, shape) in [0.0, 0.0005, 0.005, 0.01, 0.08, 0.40, 0.95]
            .into_iter()
            .flat_map(|share| [1.0, 2.2, 3.0, 8.0].map(|shape| (share, shape)))
        {
            let age = open_length_age_at_share(expected, shape, &locations);
            let parts = locations.circumference_share.iter().zip(&locations.life_factor);
            let share: f64 =
                parts.map(|(circumference, life)| circumference * rusted_share(age / life, shape)).sum();
            assert!((share - expected).abs() < 1e-13, "{expected} at shape {shape}: {share}");
        }
    }
}
