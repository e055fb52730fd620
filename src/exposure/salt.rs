//! Salt held by the member: what a day does to it, the year it settles to, and the years between.
//!
//! Each event of a day changes the chloride held, S, by `S -> kept S + added`: a drive on a salted road adds, one on a wet
//! unsalted road rinses, a wash removes a share. A whole year is such a step too, `S_end = a S_0 + b`, known from one pass
//! over its days. Its settled start is `b / (1 - a)`; from any other start the difference shrinks by `a` in every year, so
//! a new car (clean) or one that moved goes through a transient: [`SaltCourse`] tells what it holds in each year of it.
//! `a` is 1 where nothing ever rinses; salt then gathers evenly. The course therefore runs to the greatest horizon rather
//! than to the settled year, which is the same wherever there is one to be reached.

use crate::climate::DAYS_PER_YEAR;
use crate::exposure::driving::{Calendar, Day};
use crate::exposure::film::{chloride_of_effect_mg_m2, salt_effect};
use crate::numeric::elementary::{exp_alone, ln_alone, pow_alone};

/// Longest time a member stays in one storage period, the greatest horizon of a forecast [a].
const COURSE_A: f64 = 60.0;
/// Share of the salt lost in a year below which a year is taken to lose none [-]: rounding of `1 - a`.
const NO_LOSS: f64 = 1e-9;
/// Difference of [`salt_effect`] between start and end below which a course is flat [-]: a thousandth more salt.
const FLAT: f64 = 1e-3;

/// Place from which a year counts as the last of its course [-]: a thousandth of the way is left.
const SETTLED: f64 = 0.999;

/// Years of a course that are run hour by hour; those between them are interpolated [-].
pub const KNOTS: usize = 4;
/// Numbers that a course is known by [-].
pub const COURSE_NUMBERS: usize = 5;
/// Least salt or removal whose logarithm differs from that of none [mg/m² or -].
const NONE_LEFT: f64 = 1e-9;

/// Shares of the salt that events remove.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SaltRemoval {
    /// Share of the chloride one wash removes [-].
    pub wash: f64,
    /// Share of the chloride a drive on a wet unsalted road removes [-].
    pub wet_drive: f64,
}

/// A change of the salt held: `S -> kept S + added`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SaltStep {
    /// Share kept [-].
    pub kept: f64,
    /// Chloride added [mg/m²].
    pub added_mg_m2: f64,
}

impl SaltStep {
    const NONE: Self = Self { kept: 1.0, added_mg_m2: 0.0 };

    /// What the drive of a day does; `taken_mg_m2` is what a salted road would leave [mg/m²].
    #[inline(always)]
    #[must_use]
    pub fn drive(day: &Day, taken_mg_m2: f64, removal: &SaltRemoval) -> Self {
        let rinsed = if day.wet { (1.0 - day.salted) * removal.wet_drive } else { 0.0 };
        Self { kept: 1.0 - rinsed, added_mg_m2: day.salted * taken_mg_m2 }
    }

    /// What the wash of a day does.
    #[inline(always)]
    #[must_use]
    pub fn wash(day: &Day, removal: &SaltRemoval) -> Self {
        Self { kept: 1.0 - day.washed * removal.wash, added_mg_m2: 0.0 }
    }

    /// Chloride held after it [mg/m²].
    #[inline(always)]
    #[must_use]
    pub fn after(self, held_mg_m2: f64) -> f64 {
        self.kept.mul_add(held_mg_m2, self.added_mg_m2)
    }

    /// Chloride held before it, from 0 [mg/m²].
    #[must_use]
    pub fn before(self, held_mg_m2: f64) -> f64 {
        ((held_mg_m2 - self.added_mg_m2) / self.kept.max(f64::MIN_POSITIVE)).max(0.0)
    }

    fn then(self, next: Self) -> Self {
        Self { kept: next.kept * self.kept, added_mg_m2: next.after(self.added_mg_m2) }
    }
}

/// The salt balance of each year of the weather as a function of its start.
#[derive(Debug, Clone, PartialEq)]
pub struct SaltYears(Vec<SaltYear>);

#[derive(Debug, Clone, Copy, PartialEq)]
struct SaltYear {
    /// From its start to its end.
    whole: SaltStep,
    /// Mean of the salt held in it.
    mean: SaltStep,
}

impl SaltYears {
    /// The balance of a calendar; `taken_mg_m2` holds what a salted road would leave on each of its days [mg/m²].
    #[must_use]
    pub fn new(calendar: &Calendar, taken_mg_m2: &[f64], removal: &SaltRemoval) -> Self {
        let order: Vec<usize> = calendar.in_order().collect();
        let year = |days: &[usize]| {
            let (mut whole, mut mean) = (SaltStep::NONE, SaltStep { kept: 0.0, added_mg_m2: 0.0 });
            for index in days {
                let day = &calendar.days[*index];
                whole = whole.then(SaltStep::drive(day, taken_mg_m2[*index], removal));
                whole = whole.then(SaltStep::wash(day, removal));
                mean.kept += whole.kept / days.len() as f64;
                mean.added_mg_m2 += whole.added_mg_m2 / days.len() as f64;
            }
            SaltYear { whole, mean }
        };
        Self(order.chunks(DAYS_PER_YEAR).map(year).collect())
    }

    /// The course of the years from a start on [mg/m²].
    #[must_use]
    pub fn course(&self, start_mg_m2: f64) -> SaltCourse {
        let cycle = self.0.iter().fold(SaltStep::NONE, |cycle, year| cycle.then(year.whole));
        let years = self.0.len().max(1) as f64;
        let mut course = SaltCourse {
            cycle,
            years,
            start_mg_m2,
            end_mg_m2: start_mg_m2,
            means_mg_m2: [0.0; 2],
            places: [0.0, 1.0, 1.0, 1.0],
        };
        course.end_mg_m2 = course.after(COURSE_A);
        for (year, end_mg_m2) in self.0.iter().zip(self.ends(course.end_mg_m2)) {
            course.means_mg_m2[0] += year.mean.after(start_mg_m2) / years;
            course.means_mg_m2[1] += year.mean.after(end_mg_m2) / years;
        }
        course.with_places()
    }

    /// Chloride at the start of each year of the weather in the years that are run hour by hour [mg/m²]. The last year runs
    /// on from one to the next; the others begin anew in each, as far on the way to it as they are.
    #[must_use]
    pub fn starts_mg_m2(&self, course: &SaltCourse) -> Vec<[f64; KNOTS]> {
        let way = course.places.map(|place| course.way(place));
        let start = |end_mg_m2: f64| {
            way.map(|way| way.mul_add(end_mg_m2 - course.start_mg_m2, course.start_mg_m2).max(0.0))
        };
        self.ends(course.end_mg_m2).map(start).collect()
    }

    /// Chloride at the start of each year of the weather once the salt has settled [mg/m²].
    fn ends(&self, end_mg_m2: f64) -> impl Iterator<Item = f64> {
        self.0.iter().scan(end_mg_m2, |held_mg_m2, year| {
            let start_mg_m2 = *held_mg_m2;
            *held_mg_m2 = year.whole.after(start_mg_m2);
            Some(start_mg_m2)
        })
    }
}

/// What a member holds in each year from a start on.
///
/// Its years lie at places from 0, the first, to 1, the last, even in the effect of salt on the steel. [`KNOTS`] of them are
/// run hour by hour: the first, the last, and two between, which are the second and the third year where most of the way is
/// gone by then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SaltCourse {
    /// Step of all years of the weather, and their number [a].
    cycle: SaltStep,
    years: f64,
    start_mg_m2: f64,
    end_mg_m2: f64,
    /// Mean salt of the first and of the last year [mg/m²].
    means_mg_m2: [f64; 2],
    places: [f64; KNOTS],
}

impl SaltCourse {
    /// The same with the places of the years that are run hour by hour.
    fn with_places(self) -> Self {
        if self.is_flat() {
            return Self { places: [0.0, 1.0, 1.0, 1.0], ..self };
        }
        let place = |years_a: f64, at_least: f64| self.place(years_a).max(at_least);
        Self { places: [0.0, place(1.0, 1.0 / 3.0), place(2.0, 2.0 / 3.0), 1.0], ..self }
    }

    /// All that differs between courses of one weather and calendar, as logarithms [-]: rate at which the years of the weather
    /// remove salt, salt they add, salt at the start, means of the first and the last year [mg/m²].
    #[must_use]
    pub fn numbers(&self) -> [f64; COURSE_NUMBERS] {
        let [first, last] = self.means_mg_m2;
        let removal = -ln_alone(self.cycle.kept.max(f64::MIN_POSITIVE));
        [removal, self.cycle.added_mg_m2, self.start_mg_m2, first, last]
            .map(|value| ln_alone(value.max(NONE_LEFT)))
    }

    /// The course of the same weather and calendar that has these numbers [-].
    #[must_use]
    pub fn with_numbers(&self, numbers: &[f64; COURSE_NUMBERS]) -> Self {
        let [removal, added_mg_m2, start_mg_m2, first, last] = numbers.map(exp_alone);
        let cycle = SaltStep { kept: exp_alone(-removal), added_mg_m2 };
        let changed = Self { cycle, start_mg_m2, means_mg_m2: [first, last], ..*self };
        Self { end_mg_m2: changed.after(COURSE_A), ..changed }.with_places()
    }

    /// Whether all its years are alike.
    #[must_use]
    pub fn is_flat(&self) -> bool {
        let [first, last] = self.means_mg_m2.map(salt_effect);
        (last - first).abs() < FLAT
    }

    /// Chloride held so many years after its start [mg/m²].
    #[must_use]
    pub fn after(&self, years_a: f64) -> f64 {
        let cycles = years_a / self.years;
        let left = pow_alone(self.cycle.kept.max(f64::MIN_POSITIVE), cycles);
        let lost = 1.0 - self.cycle.kept;
        let gathered = if lost > NO_LOSS { (1.0 - left) / lost } else { cycles };
        left.mul_add(self.start_mg_m2, gathered * self.cycle.added_mg_m2)
    }

    /// Between which knots the year lies that begins so many years [a] after the start.
    #[must_use]
    pub fn between(&self, years_a: f64) -> Between {
        if self.is_flat() {
            return Between::SETTLED;
        }
        let place = self.place(years_a);
        if place > SETTLED {
            return Between::SETTLED;
        }
        let above = (1..KNOTS - 1).find(|knot| place <= self.places[*knot]).unwrap_or(KNOTS - 1);
        let (from, to) = (self.places[above - 1], self.places[above]);
        let share = if to > from { ((place - from) / (to - from)).clamp(0.0, 1.0) } else { 1.0 };
        Between { above, share }
    }

    /// Place of the year that begins so many years after the start [-].
    fn place(&self, years_a: f64) -> f64 {
        let way = (self.after(years_a) - self.start_mg_m2) / (self.end_mg_m2 - self.start_mg_m2);
        let [from, to] = self.means_mg_m2;
        let [first, last] = self.means_mg_m2.map(salt_effect);
        ((salt_effect(way.mul_add(to - from, from)) - first) / (last - first)).clamp(0.0, 1.0)
    }

    /// How much of the salt between start and end has come or gone at a place [-].
    fn way(&self, place: f64) -> f64 {
        let [from, to] = self.means_mg_m2;
        let [first, last] = self.means_mg_m2.map(salt_effect);
        if place <= 0.0 || place >= 1.0 || to.to_bits() == from.to_bits() {
            return place.clamp(0.0, 1.0);
        }
        (chloride_of_effect_mg_m2(place.mul_add(last - first, first)) - from) / (to - from)
    }
}

/// A place between two knots of a course.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Between {
    /// Number of the knot above.
    above: usize,
    /// Share of the way to it from the one below [-].
    share: f64,
}

impl Between {
    /// The last year of a course.
    pub const SETTLED: Self = Self { above: KNOTS - 1, share: 1.0 };

    /// The value at this place of one that is known at the knots [its unit].
    #[must_use]
    pub fn value(self, knots: &[f64; KNOTS]) -> f64 {
        let (below, above) = (knots[self.above - 1], knots[self.above]);
        // exact at either knot
        if self.share >= 1.0 { above } else { self.share.mul_add(above - below, below) }
    }
}
