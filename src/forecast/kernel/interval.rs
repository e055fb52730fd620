//! The way of a block's values through time: from one row to the next, straight, a new coating starting at zero.

use crate::forecast::kernel::lane::on_the_way_alone;
use crate::forecast::kernel::{Block, Lane, ZERO};

/// Time between two neighbouring states of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Interval {
    /// Age of the car at its start and at its end [a].
    pub(crate) from_a: f64,
    pub(crate) until_a: f64,
    /// Rows of both.
    pub(crate) start: usize,
    pub(crate) end: usize,
    /// Whether it starts on the day of a rework: coatings start at zero, losses where they were.
    pub(crate) is_new_coat: bool,
}

/// Values of a block over time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum ValueOf {
    /// Of a coating: zero when it is new.
    Coating,
    /// Of the steel: what is lost stays lost.
    Steel,
}

impl Interval {
    /// Values at its start.
    #[inline(always)]
    pub(crate) fn start_of<'a>(&self, rows: &'a [Lane], of: ValueOf) -> &'a Lane {
        if self.is_new_coat && of == ValueOf::Coating { &ZERO } else { &rows[self.start] }
    }
}

/// Intervals of a life of `years` years with reworks at some ages [a], in order of time.
pub(super) fn intervals(years: usize, reworks: impl Iterator<Item = f64>, into: &mut Vec<Interval>) {
    into.clear();
    let mut reworks = reworks.enumerate().peekable();
    let mut at = Interval { from_a: 0.0, until_a: 0.0, start: 0, end: 0, is_new_coat: false };
    for year in 0..years {
        let end_a = (year + 1) as f64;
        while let Some((number, age_a)) = reworks.next_if(|(_, age_a)| *age_a <= end_a) {
            at = Interval { until_a: age_a, end: years + 1 + number, ..at };
            into.push(at);
            at = Interval { from_a: age_a, start: at.end, is_new_coat: true, ..at };
        }
        at = Interval { until_a: end_a, end: year + 1, ..at };
        into.push(at);
        at = Interval { from_a: end_a, start: at.end, is_new_coat: false, ..at };
    }
}

impl Block {
    /// Values at any age [a], clamped to the years of the block: on the day of a rework those before it.
    pub(crate) fn value_at(&self, rows: &[Lane], of: ValueOf, age_a: f64) -> Lane {
        let age_a = age_a.clamp(0.0, self.years() as f64);
        let interval = self.interval_at(age_a);
        let (from_a, length_a) = (interval.from_a, interval.until_a - interval.from_a);
        let way = if length_a > 0.0 { (age_a - from_a) / length_a } else { 1.0 };
        on_the_way_alone([interval.start_of(rows, of), &rows[interval.end]], way)
    }

    /// Values of the steel of one history at any age within the years of the block [a].
    pub(crate) fn steel_at(&self, age_a: f64, lane: usize) -> impl Fn(&[Lane]) -> f64 {
        let Interval { from_a, until_a, start, end, .. } = *self.interval_at(age_a);
        let way = if until_a > from_a { (age_a - from_a) / (until_a - from_a) } else { 1.0 };
        move |rows| rows[start][lane] + way * (rows[end][lane] - rows[start][lane])
    }

    /// The interval an age [a] falls in; its end belongs to it.
    pub(crate) fn interval_at(&self, age_a: f64) -> &Interval {
        let place = self.intervals.partition_point(|interval| interval.until_a < age_a);
        &self.intervals[place.min(self.intervals.len() - 1)]
    }
}

#[cfg(test)]
mod tests {
    use super::intervals;

    #[test]
    fn closed_form_reworks_cut_the_years_they_fall_in() {
        let mut found = Vec::new();
        intervals(3, [0.4, 2.0, 2.2].into_iter(), &mut found);
        let ends: Vec<(f64, usize, bool)> = found.iter().map(|s| (s.until_a, s.end, s.is_new_coat)).collect();
        assert_eq!(
            ends,
            [
                (0.4, 4, false),
                (1.0, 1, true),
                (2.0, 5, false),
                (2.0, 2, true),
                (2.2, 6, false),
                (3.0, 3, true)
            ]
        );
        assert!(found.windows(2).all(|pair| pair[0].end == pair[1].start));
    }
}
