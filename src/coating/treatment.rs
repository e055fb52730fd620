//! Treatments of a member in service: over-rust coat, wax or oil film, cavity wax, full rework.
//!
//! A treatment changes three factors of each year: the rate of rusting steel outside, that inside, and the ageing of the
//! coating. Only a full rework restores the coating; lost metal stays lost. An over-rust coat covers rust where a brush
//! reaches without changing the true rusted area; its own life on rust is short. Rate and ageing use one accessible share
//! for the member, that of the open length, which is larger than that of a node; the benefit of the coat is therefore rather
//! over- than underestimated. How much of the rust the coat hides is computed by location, in the forecast.
//!
//! A treatment is a cover: from its date on, for its life, it saves a share of one effect. Where covers overlap the strongest
//! counts and the others add nothing, so a film entered every year is the film renewed every year. A rework takes covers of
//! the outside off.

use crate::coating::system::{OverFilm, System};
use crate::error::{Error, Result};

/// Cleaning before an over-rust coat, ISO 8501-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Preparation {
    /// None: over loose rust.
    None,
    /// By hand.
    St2,
    /// With power tools.
    St3,
}

impl Preparation {
    /// The preparation of key `none`, `st2` or `st3`.
    ///
    /// # Errors
    /// [`Error::Invalid`] otherwise.
    pub fn from_id(id: &str) -> Result<Self> {
        match id {
            "none" => Ok(Self::None),
            "st2" => Ok(Self::St2),
            "st3" => Ok(Self::St3),
            _ => Err(Error::invalid("preparation", id, "none, st2, st3")),
        }
    }
}

/// The work of a treatment.
#[derive(Debug, Clone, PartialEq)]
pub enum TreatmentAction {
    /// A coat brushed or sprayed over rust in place.
    OverRust(Preparation),
    /// Wax or oil film outside, renewed every so many years [a]; `None` when never renewed.
    WaxFilm(Option<f64>),
    /// Cavity wax inside.
    CavityWax,
    /// Member removed, blasted, inhibited and coated with a system.
    Rework(System),
}

/// A treatment and when it is done.
#[derive(Debug, Clone, PartialEq)]
pub struct Treatment {
    /// Age of the car then [a].
    pub age_a: f64,
    /// The work done.
    pub kind: TreatmentAction,
}

impl Treatment {
    /// Whether it is cavity wax of the first day. That meets clean steel: it is the inside coating from new and no cover.
    pub(crate) fn waxes_clean_cavity(&self) -> bool {
        self.kind == TreatmentAction::CavityWax && self.age_a <= 0.0
    }
}

/// Treatment effects of one draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effects {
    /// Share of the surface of the open length that a brush reaches [-].
    pub accessible_share: f64,
    /// Odds of that share over those of a car of usual access [-].
    pub access_odds: f64,
    /// Life of an over-rust coat on rust: unprepared, St 2, St 3 [a].
    pub life_on_rust_a: [f64; 3],
    /// Its life on sound coating [a].
    pub life_on_coat_a: f64,
    /// Rate of rusted steel under it [-].
    pub over_rust_rate_factor: f64,
    /// Share of the ageing of the coating that it prevents [-].
    pub over_rust_ageing_gain: f64,
    /// Life of one wax application [a].
    pub wax_film_life_a: f64,
    /// Life multiplier of coating under wax [-].
    pub wax_life_factor: f64,
    /// Rate of rusted steel inside under cavity wax [-].
    pub cavity_wax_rate_factor: f64,
    /// Life of cavity wax [a].
    pub cavity_wax_life_a: f64,
}

impl Effects {
    /// Share of the ageing of a coating that wax or oil over it saves [-].
    fn saved_by_wax(&self) -> f64 {
        1.0 - 1.0 / self.wax_life_factor.max(1.0)
    }

    /// Life of an over-rust coat on rust after a preparation [a].
    #[must_use]
    pub fn life_on_rust_a(&self, preparation: Preparation) -> f64 {
        let [none, st2, st3] = self.life_on_rust_a;
        match preparation {
            Preparation::None => none,
            Preparation::St2 => st2,
            Preparation::St3 => st3,
        }
    }
}

/// Factors of the treatments in each year of service.
#[derive(Debug, Clone, PartialEq)]
pub struct YearFactors<V = f64> {
    /// Rate of rusted steel outside [-].
    pub outside_rate: Vec<V>,
    /// Rate of rusted steel inside [-].
    pub inside_rate: Vec<V>,
    /// Ageing of the coating outside [-].
    pub ageing: Vec<V>,
}

/// Factors of each of `years` years of service under `treatments` and a film over the coating as built.
#[must_use]
pub fn year_factors(
    (treatments, over_film): (&[Treatment], OverFilm),
    effects: &Effects,
    years: usize,
) -> YearFactors {
    let mut covers = Covers::default();
    if over_film == OverFilm::Renewed {
        covers.ageing.push(Cover { from_a: 0.0, until_a: f64::INFINITY, saved: effects.saved_by_wax() });
    }
    for treatment in treatments.iter().filter(|done| !done.waxes_clean_cavity()) {
        covers.add(treatment, effects, years);
    }
    for treatment in treatments.iter().filter(|done| matches!(done.kind, TreatmentAction::Rework(_))) {
        covers.come_off(treatment.age_a, over_film);
    }
    let factors = YearFactors {
        outside_rate: left_by_year(covers.outside_rate, years),
        inside_rate: left_by_year(covers.inside_rate, years),
        ageing: left_by_year(covers.ageing, years),
    };
    debug_assert!(
        [&factors.outside_rate, &factors.inside_rate, &factors.ageing]
            .iter()
            .all(|years| years.iter().all(|factor| (0.0..=1.0).contains(factor))),
        "factors of treatments"
    );
    factors
}

/// Time in which a share `saved` [-] of an effect is saved.
#[derive(Debug, Clone, Copy)]
struct Cover {
    from_a: f64,
    until_a: f64,
    saved: f64,
}

/// Covers by what they save of.
#[derive(Default)]
struct Covers {
    outside_rate: Vec<Cover>,
    inside_rate: Vec<Cover>,
    ageing: Vec<Cover>,
}

impl Covers {
    fn add(&mut self, treatment: &Treatment, effects: &Effects, years: usize) {
        let from_a = treatment.age_a;
        let cover = |from_a: f64, life_a: f64, saved: f64| Cover { from_a, until_a: from_a + life_a, saved };
        match &treatment.kind {
            TreatmentAction::OverRust(preparation) => {
                let reached = effects.accessible_share;
                let on_rust = reached * (1.0 - effects.over_rust_rate_factor);
                let on_coat = reached * effects.over_rust_ageing_gain;
                self.outside_rate.push(cover(from_a, effects.life_on_rust_a(*preparation), on_rust));
                self.ageing.push(cover(from_a, effects.life_on_coat_a, on_coat));
            }
            TreatmentAction::WaxFilm(renewal) => {
                let (life_a, saved) = (effects.wax_film_life_a, effects.saved_by_wax());
                let films = applications(from_a, *renewal, years);
                self.ageing.extend(films.into_iter().map(|from_a| cover(from_a, life_a, saved)));
            }
            TreatmentAction::CavityWax => {
                let saved = 1.0 - effects.cavity_wax_rate_factor;
                self.inside_rate.push(cover(from_a, effects.cavity_wax_life_a, saved));
            }
            TreatmentAction::Rework(_) => {}
        }
    }

    /// Ends what lies outside on the day of a rework; a film that is renewed throughout is put on again.
    fn come_off(&mut self, age_a: f64, over_film: OverFilm) {
        let throughout = usize::from(over_film == OverFilm::Renewed);
        let outside = self.outside_rate.iter_mut().chain(self.ageing.iter_mut().skip(throughout));
        for cover in outside.filter(|cover| cover.from_a < age_a) {
            cover.until_a = cover.until_a.min(age_a);
        }
    }
}

fn applications(from: f64, renewal: Option<f64>, years: usize) -> Vec<f64> {
    let Some(every) = renewal else { return vec![from] };
    let every = every.max(0.25);
    let count = ((years as f64 - from) / every).ceil().max(1.0) as usize;
    (0..count).map(|n| (n as f64).mul_add(every, from)).collect()
}

/// What is left of an effect in each year [-]: less what the strongest cover of each moment saves.
fn left_by_year(mut covers: Vec<Cover>, years: usize) -> Vec<f64> {
    covers.retain(|cover| cover.saved > 0.0 && cover.until_a > cover.from_a);
    covers.sort_by(|a, b| b.saved.total_cmp(&a.saved));
    let mut left = vec![1.0; years];
    let (mut stronger, mut counted) = (vec![0.0; years], 0);
    while let Some(Cover { saved, .. }) = covers.get(counted).copied() {
        counted += covers[counted..].iter().take_while(|cover| cover.saved >= saved).count();
        let covered = covered_by_year(covers[..counted].to_vec(), years);
        for (left, (covered, stronger)) in left.iter_mut().zip(covered.iter().zip(&stronger)) {
            *left -= saved * (covered - stronger);
        }
        stronger = covered;
    }
    left
}

/// Part of each year that lies under at least one cover [-].
fn covered_by_year(mut covers: Vec<Cover>, years: usize) -> Vec<f64> {
    covers.sort_by(|a, b| a.from_a.total_cmp(&b.from_a));
    let mut covered = vec![0.0; years];
    let mut covers = covers.into_iter().peekable();
    while let Some(Cover { from_a, mut until_a, .. }) = covers.next() {
        while let Some(next) = covers.next_if(|next| next.from_a <= until_a) {
            until_a = until_a.max(next.until_a);
        }
        for (year, covered) in covered.iter_mut().enumerate() {
            let overlap = until_a.min((year + 1) as f64) - from_a.max(year as f64);
            *covered = f64::min(*covered + overlap.clamp(0.0, 1.0), 1.0);
        }
    }
    covered
}

#[cfg(test)]
mod tests {
    use super::{Effects, Preparation, Treatment, TreatmentAction, year_factors};
    use crate::coating::system::{OverFilm, System};

    fn effects() -> Effects {
        Effects {
            accessible_share: 0.7,
            access_odds: 1.0,
            life_on_rust_a: [1.0, 1.6, 2.5],
            life_on_coat_a: 3.0,
            over_rust_rate_factor: 0.75,
            over_rust_ageing_gain: 0.2,
            wax_film_life_a: 1.5,
            wax_life_factor: 1.5,
            cavity_wax_rate_factor: 0.5,
            cavity_wax_life_a: 8.0,
        }
    }

    fn factors(age_a: f64, kind: TreatmentAction) -> super::YearFactors {
        year_factors((&[Treatment { age_a, kind }], OverFilm::None), &effects(), 12)
    }

    /// Over 4.5 to 7.5 a the coat saves 0.14 of the ageing, over 5 to 6.5 a the film a third: what both save is not added.
    #[test]
    fn closed_form_the_strongest_cover_counts() {
        let coat = Treatment { age_a: 4.5, kind: TreatmentAction::OverRust(Preparation::None) };
        let film = Treatment { age_a: 5.0, kind: TreatmentAction::WaxFilm(None) };
        let both = year_factors((&[film, coat], OverFilm::None), &effects(), 8).ageing;
        let expected = [1.0 - 0.07, 2.0 / 3.0, 1.0 - 0.5 / 3.0 - 0.07, 1.0 - 0.07];
        for (found, expected) in both[4..].iter().zip(expected) {
            assert!((found - expected).abs() < 1e-12, "{both:?}");
        }
    }

    #[test]
    fn closed_form_a_rework_takes_covers_off() {
        let rework = |age_a| Treatment {
            age_a,
            kind: TreatmentAction::Rework(System::outside("blasted_powder").unwrap()),
        };
        let film = Treatment { age_a: 2.0, kind: TreatmentAction::WaxFilm(None) };
        let of = |age_a, over_film| {
            year_factors((&[film.clone(), rework(age_a)], over_film), &effects(), 5).ageing
        };
        assert!((of(2.5, OverFilm::None)[2] - (1.0 - 0.5 / 3.0)).abs() < 1e-12);
        assert!((of(2.0, OverFilm::None)[2] - 2.0 / 3.0).abs() < 1e-12, "a film put on on that day stays");
        assert!(of(2.5, OverFilm::Renewed).iter().all(|left| (left - 2.0 / 3.0).abs() < 1e-12));
    }

    #[test]
    fn closed_form_an_over_rust_coat_acts_for_its_life_only() {
        let factors = factors(4.5, TreatmentAction::OverRust(Preparation::None));
        let half = 1.0 - 0.5 * 0.7 * 0.25;
        assert!(
            (factors.outside_rate[4] - half).abs() < 1e-12 && (factors.outside_rate[5] - half).abs() < 1e-12
        );
        assert!((factors.outside_rate[6] - 1.0).abs() < 1e-12);
        assert!((factors.ageing[5] - (1.0 - 0.7 * 0.2)).abs() < 1e-12);
        assert!(factors.inside_rate.iter().all(|f| (f - 1.0).abs() < 1e-12));
    }

    #[test]
    fn closed_form_wax_renewed_in_time_never_lapses() {
        let yearly = factors(2.0, TreatmentAction::WaxFilm(Some(1.0)));
        assert!(yearly.ageing[2..].iter().all(|f| (f - 1.0 / 1.5).abs() < 1e-12), "{:?}", yearly.ageing);
        let once = factors(2.0, TreatmentAction::WaxFilm(None));
        assert!((once.ageing[2] - 1.0 / 1.5).abs() < 1e-12 && (once.ageing[4] - 1.0).abs() < 1e-12);
    }

    #[test]
    fn property_better_preparation_acts_longer() {
        let worn = |p| factors(3.0, TreatmentAction::OverRust(p)).outside_rate.iter().sum::<f64>();
        assert!(worn(Preparation::St3) < worn(Preparation::St2));
        assert!(worn(Preparation::St2) < worn(Preparation::None));
    }
}
