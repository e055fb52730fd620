//! What is paid in one history, from a first rework to the end of the keeping time?
//!
//! A criterion that is met costs until a rework ends it. A rework that is not planned is done at the first yearly inspection that
//! finds the criterion met, unless even a cure would cost more than lateness: for the rest of the keeping time, or for as long as
//! the last coat lasted, since metal lost stays lost. A rework whose own life is under [`MIN_LIFE_A`] is no cure: the member is
//! replaced where that has a price and is worth it, and otherwise the criterion stays met to the end. Present values of one unit
//! of each price; times from the day of the decision.

use crate::decision::cost::Interest;
use crate::decision::lives::{ReworkLife, ReworkLives};

/// A rework whose criterion is met again sooner than this did not help: the metal lost is the reason, and it stays
/// lost; ASSUMPTION [a].
pub const MIN_LIFE_A: f64 = 1.0;

/// The first rework, and how it is set off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FirstRework {
    /// There is none.
    Never,
    /// At an inspection that finds the criterion met: the first after so many years, then one a year [a].
    Found(f64),
    /// After so many years, whatever is found [a].
    Planned(f64),
    /// The member is replaced after so many years [a].
    NewMember(f64),
}

/// What does not differ between histories.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RenewalTerms {
    /// Interest.
    pub interest: Interest,
    /// Age of the car on the day of the decision [a].
    pub now_a: f64,
    /// How long it will be kept from then on [a].
    pub keep_a: f64,
    /// Years of lateness that cost as much as a rework; infinite where being late costs nothing [a].
    pub rework_a: f64,
    /// The same of a new member; infinite where there is none [a].
    pub new_member_a: f64,
}

/// Present value of one unit of each price, as often as it is paid [-].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Payments {
    /// Taking the member out and putting it back, with parts [-].
    pub removals: f64,
    /// Blasting and coating [-].
    pub coats: f64,
    /// A new member [-].
    pub new_members: f64,
    /// Years with the criterion met [a].
    pub late_a: f64,
    /// Share of the last coat that is left at the end of the keeping time [-].
    pub unused: f64,
}

impl RenewalTerms {
    /// What is paid in a history whose criterion is met after `due_a` [a].
    #[must_use]
    pub fn payments(&self, due_a: f64, lives: &ReworkLives, first: FirstRework) -> Payments {
        let mut paid = Payments::default();
        let mut met_a = due_a.max(0.0);
        let mut at_a = match first {
            FirstRework::Never => f64::INFINITY,
            FirstRework::Found(from_a) => {
                self.if_worth(from_a + (met_a - from_a).max(0.0).ceil(), self.rework_a, f64::INFINITY)
            }
            FirstRework::Planned(at_a) | FirstRework::NewMember(at_a) => at_a,
        };
        let mut is_new = matches!(first, FirstRework::NewMember(_));
        let mut metal_age_a = self.now_a + at_a;
        while at_a < self.keep_a {
            paid.late_a += self.late_a(met_a, at_a);
            let life =
                self.work(&mut paid, at_a, (!is_new).then(|| lives.at(metal_age_a)), lives.of_new_member());
            is_new = false;
            met_a = at_a + life.life_a;
            paid.unused =
                self.interest.factor(self.keep_a) * (1.0 - (self.keep_a - at_a) / life.life_a).max(0.0);
            at_a = if life.life_a < MIN_LIFE_A {
                f64::INFINITY
            } else {
                self.if_worth(at_a + life.life_a.ceil(), self.rework_a, life.life_a)
            };
            // between the end of the life and the inspection metal goes as it does of a member left alone
            metal_age_a = life.worn_age_a + (at_a - met_a);
        }
        paid.late_a += self.late_a(met_a, self.keep_a);
        paid
    }

    /// Pays for a rework, or for a new member where there is none to rework, and tells how long it lasts.
    fn work(
        &self,
        paid: &mut Payments,
        at_a: f64,
        rework: Option<ReworkLife>,
        of_new_member: ReworkLife,
    ) -> ReworkLife {
        let factor = self.interest.factor(at_a);
        paid.removals += factor;
        paid.coats += rework.map_or(0.0, |_| factor);
        match rework {
            Some(rework) if rework.life_a >= MIN_LIFE_A => rework,
            Some(rework) if self.if_worth(at_a, self.new_member_a, f64::INFINITY).is_infinite() => rework,
            _ => {
                paid.new_members += factor;
                of_new_member
            }
        }
    }

    /// A time at which work is done [a]; never where as much lateness, over what it may last at most, costs less.
    fn if_worth(&self, at_a: f64, work_in_late_a: f64, lasts_a: f64) -> f64 {
        let spared_a = self.late_a(at_a, at_a + lasts_a);
        if spared_a > 0.0 && spared_a >= work_in_late_a * self.interest.factor(at_a) {
            at_a
        } else {
            f64::INFINITY
        }
    }

    fn late_a(&self, met_a: f64, until_a: f64) -> f64 {
        let until_a = until_a.min(self.keep_a);
        if met_a >= until_a {
            return 0.0;
        }
        self.interest.flow(self.interest.discounted(met_a), self.interest.discounted(until_a))
    }

    /// Present value of the yearly inspections, one unit each: from the first one on, or from a year after the first rework.
    #[must_use]
    pub fn inspections(&self, first: FirstRework) -> f64 {
        let (from_a, left_out) = match first {
            FirstRework::Never => return 0.0,
            FirstRework::Found(from_a) => (from_a, 0.0),
            FirstRework::Planned(at_a) | FirstRework::NewMember(at_a) => (at_a, 1.0),
        };
        let looks = self.interest.repeated(1.0, self.keep_a - from_a) - left_out;
        self.interest.factor(from_a) * looks.max(0.0)
    }
}
