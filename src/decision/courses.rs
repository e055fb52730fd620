//! The courses a car can go on, lived in every block of histories: when its criterion is met, and how long reworks would last.
//!
//! Wherever histories come from (a forecast, an update, moved particles), they come through [`CourseRunner::run`], one course of
//! a block after the other.

use crate::decision::lives::{MetalClock, ReworkLife, ReworkLives, rework_ages_a};
use crate::decision::options::{Course, DecisionProblem};
use crate::error::Result;
use crate::forecast::Histories;
use crate::forecast::kernel::{Block, LANES, Lane, run_block};
use crate::forecast::prepared::{Prepared, PreparedDraw};
use std::sync::Arc;

/// What a block of histories says of one course.
#[derive(Debug, Clone)]
pub(crate) struct LivedCourse {
    /// Age at which the criterion is met of a member left alone [a].
    pub(crate) alone_a: Lane,
    /// The same under each treatment [a].
    pub(crate) treated_a: Vec<Lane>,
    /// Reworks by the age they are lived at.
    reworks: Vec<[ReworkLife; LANES]>,
}

impl LivedCourse {
    /// Reworks of one history.
    pub(crate) fn lives(&self, lane: usize) -> ReworkLives {
        ReworkLives::new(self.reworks.iter().map(|of_lane| of_lane[lane]).collect())
    }
}

/// Reworks and treatments of a course, ready to be lived in any history.
#[derive(Debug)]
struct PreparedCourse<'a> {
    reworked: Vec<Prepared<'a>>,
    treated: Vec<Prepared<'a>>,
}

/// Lives through what may be done to a member.
#[derive(Debug, Clone)]
pub(crate) struct CourseRunner<'a> {
    courses: Arc<Vec<PreparedCourse<'a>>>,
    ages_a: Vec<f64>,
    keep_a: f64,
    block: Block,
    clock: MetalClock,
    /// Draws of the outer sample at hand by course, reworks first.
    draws: Vec<Vec<PreparedDraw>>,
}

impl<'a> CourseRunner<'a> {
    pub(crate) fn new(courses: &'a [Course], problem: &DecisionProblem, years: usize) -> Result<Self> {
        let all = |scenarios: &'a [_]| scenarios.iter().map(Prepared::new).collect::<Result<Vec<_>>>();
        let prepared = courses.iter().map(|course| {
            Ok(PreparedCourse { reworked: all(&course.reworked)?, treated: all(&course.treated)? })
        });
        Ok(Self {
            courses: Arc::new(prepared.collect::<Result<_>>()?),
            ages_a: rework_ages_a(problem),
            keep_a: problem.keep_a,
            block: Block::with_years(years),
            clock: MetalClock::default(),
            draws: vec![Vec::new(); courses.len()],
        })
    }

    /// Comes before the histories of an outer sample.
    pub(crate) fn start_sample(&mut self) {
        self.draws.iter_mut().for_each(Vec::clear);
    }

    /// Lives through a course in a block of histories.
    pub(crate) fn run(&mut self, histories: &Histories) -> LivedCourse {
        let courses = Arc::clone(&self.courses);
        let PreparedCourse { reworked, treated } = &courses[histories.case];
        let key = histories.key;
        if self.draws[histories.case].is_empty() {
            let draw = |prepared: &Prepared| prepared.draw(key.rates, key.z, self.block.years());
            self.draws[histories.case] = reworked.iter().chain(treated).map(draw).collect();
        }
        let (of_reworked, of_treated) = self.draws[histories.case].split_at(reworked.len());
        if let Some(of) = of_reworked.first() {
            self.clock.start(histories.block, &of.thresholds);
        }
        let mut reworks = Vec::with_capacity(reworked.len() + 1);
        for (age_a, (prepared, of)) in self.ages_a.iter().zip(reworked.iter().zip(of_reworked)) {
            run_block(&mut self.block, &of.draw, &prepared.locations, key.aleatory);
            reworks.push(self.clock.rework(*age_a, (&self.block, &of.thresholds), self.keep_a));
        }
        let last = reworks.last().map(|last| self.clock.last_rework(last));
        reworks.extend(last);
        let treated = treated.iter().zip(of_treated);
        LivedCourse {
            alone_a: histories.met.rework_a,
            treated_a: treated
                .map(|(prepared, of)| prepared.ages(&mut self.block, of, key.aleatory))
                .collect(),
            reworks,
        }
    }
}
