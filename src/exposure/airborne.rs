//! Sea salt and sulphur dioxide from the air: what of them reaches a member that stands in a store and is driven now and then.
//!
//! Away from its store a member gets what an openly exposed specimen gets; in it a share
//! ([`outdoor_deposition_share`](crate::exposure::arrangement::ArrangementParameters)). Sea salt lies as loosely as on that
//! specimen and goes at its rinse, by drip and dust where rain does not reach, so that an unwashed member in the open has
//! exactly the salt that belongs to its deposition; a wash takes what it takes of any salt.

use crate::climate::Deposition;
use crate::exposure::driving::Day;

/// How a member is in the air.
#[derive(Debug, Clone, Copy)]
pub struct InTheAir {
    /// Share of the time it is away from its store [-].
    pub away_share: f64,
    /// Share of the outdoor deposition that settles in the store [-].
    pub share_in_store: f64,
    /// Share of loose salt that washes remove in a day, on average [1/d].
    pub washed_per_d: f64,
}

impl InTheAir {
    /// Of the days of a calendar; `share_in_store` of the deposition settles in the store [-], `wash_removal` of the salt
    /// goes with a wash [-].
    #[must_use]
    pub fn new(calendar: &[Day], share_in_store: f64, wash_removal: f64) -> Self {
        let days = calendar.len().max(1) as f64;
        let of_days = |share: fn(&Day) -> f64| calendar.iter().map(share).sum::<f64>() / days;
        Self {
            away_share: of_days(|day| f64::from(day.away_h)) / 24.0,
            share_in_store,
            washed_per_d: wash_removal * of_days(|day| day.washed),
        }
    }

    /// Deposition that reaches the member [mg/(m²·d)].
    #[must_use]
    pub fn reaching(&self, deposition: Deposition) -> Deposition {
        let share = (1.0 - self.away_share).mul_add(self.share_in_store, self.away_share);
        Deposition {
            so2_mg_m2_d: deposition.so2_mg_m2_d * share,
            chloride_mg_m2_d: deposition.chloride_mg_m2_d * share,
        }
    }

    /// Sea salt the member holds, as chloride [mg/m²], where an open specimen loses `rinse_per_d` of its own in a day [1/d].
    #[must_use]
    pub fn sea_salt_mg_m2(&self, deposition: Deposition, rinse_per_d: f64) -> f64 {
        self.reaching(deposition).chloride_mg_m2_d / (rinse_per_d + self.washed_per_d)
    }
}

#[cfg(test)]
mod tests {
    use super::InTheAir;
    use crate::climate::Deposition;
    use crate::exposure::driving::Day;

    fn sea() -> Deposition {
        Deposition { so2_mg_m2_d: 4.0, chloride_mg_m2_d: 60.0 }
    }

    #[test]
    fn closed_form_an_open_unwashed_member_holds_what_belongs_to_its_deposition() {
        let open = InTheAir::new(&[Day::default(); 7], 1.0, 0.5);
        assert_eq!(open.reaching(sea()), sea());
        assert!((0.2 * open.sea_salt_mg_m2(sea(), 0.2) - 60.0).abs() < 1e-12);
    }

    #[test]
    fn closed_form_a_drive_a_day_brings_a_day_in_twenty_four_of_the_sea() {
        let driven = Day { driven: true, away_h: 1, ..Day::default() };
        let closed = InTheAir::new(&[driven], 0.05, 0.5);
        assert!((closed.reaching(sea()).chloride_mg_m2_d - 60.0 * (1.0 + 23.0 * 0.05) / 24.0).abs() < 1e-12);
    }

    #[test]
    fn property_washing_never_adds_salt() {
        let washed = |days| {
            InTheAir::new(
                &[vec![Day { washed: 1.0, ..Day::default() }; days], vec![Day::default(); 30 - days]]
                    .concat(),
                1.0,
                0.5,
            )
        };
        let held = |days| washed(days).sea_salt_mg_m2(sea(), 0.2);
        assert!(held(0) > held(1) && held(1) > held(30));
    }
}
