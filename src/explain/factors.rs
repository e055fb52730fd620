//! In what can two cars differ, and what is a hybrid car that has some of it from one and the rest from the other?
//!
//! A storage period holds where the car stands and how it is used. In a hybrid car both are read at the same age from
//! the car each is taken from; a storage period ends where either of them changes. Where the arrangement is unknown and
//! the use changes within its storage period, the two pieces share the draw of their arrangement. First registration is no factor, since everything is counted in years of age; a date makes it one.

use crate::exposure::{Driving, StorageAndUse};
use crate::forecast::scenario::{Scenario, StoragePeriod};
use serde::Serialize;
use std::sync::Arc;

/// What two cars may differ in, in the order in which equal contributions are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Factor {
    /// Weather, depositions and air of the location.
    Climate,
    /// Days a year on which the roads are salted.
    SaltedDays,
    /// Where the car stands, by age.
    Storage,
    /// Washing of the underside.
    Washing,
    /// Days driven in a week, and whether in winter.
    Use,
    /// Coating outside and inside, film and wax as built.
    CoatingSystem,
    /// What was or will be done in service.
    Treatments,
    /// Grades already known.
    Condition,
    /// Tube, nodes and thresholds.
    Member,
    /// Age on the date by which rework is to have come.
    Age,
}

impl Factor {
    /// All factors; age is one only where a date is given.
    pub const ALL: [Self; 10] = [
        Self::Climate,
        Self::SaltedDays,
        Self::Storage,
        Self::Washing,
        Self::Use,
        Self::CoatingSystem,
        Self::Treatments,
        Self::Condition,
        Self::Member,
        Self::Age,
    ];

    /// Whether what the steel sees in its storage periods depends on it.
    pub(crate) fn acts_on_storage_periods(self) -> bool {
        matches!(self, Self::Climate | Self::SaltedDays | Self::Storage | Self::Washing | Self::Use)
    }

    /// Whether two cars differ in it; `Age` matters only where a date is given.
    fn differs(self, a: &Scenario, b: &Scenario) -> bool {
        let (x, y) = (&a.storage_periods, &b.storage_periods);
        match self {
            Self::Climate => {
                a.climate.series != b.climate.series || a.deposition != b.deposition || a.air != b.air
            }
            Self::SaltedDays => {
                apart(x, y, |s| uses(s).map(|d| (d.salted_days, d.road_salt)).collect::<Vec<_>>())
            }
            Self::Storage => apart(x, y, |s| {
                s.mixture.iter().map(|(weight, s)| (*weight, s.arrangement.clone())).collect::<Vec<_>>()
            }),
            Self::Washing => apart(x, y, |s| uses(s).map(|d| d.wash).collect::<Vec<_>>()),
            Self::Use => apart(x, y, |s| {
                uses(s)
                    .map(|d| [d.days_per_week, f64::from(u8::from(d.winter_use)), d.hours_away])
                    .collect::<Vec<_>>()
            }),
            Self::CoatingSystem => a.coating != b.coating,
            Self::Treatments => a.treatments != b.treatments,
            Self::Condition => a.observations != b.observations,
            Self::Member => a.member != b.member,
            Self::Age => a.first_registration != b.first_registration,
        }
    }
}

/// Uses of the storages of a storage period, each once: a storage period of unknown storage has one use.
fn uses(period: &StoragePeriod) -> impl Iterator<Item = Driving> {
    let mut seen: Vec<Driving> = Vec::new();
    for (_, storage_and_use) in &period.mixture {
        if !seen.contains(&storage_and_use.driving) {
            seen.push(storage_and_use.driving);
        }
    }
    seen.into_iter()
}

/// The factors in which two cars differ; `Age` only where a date is given.
#[must_use]
pub fn differing(a: &Scenario, b: &Scenario, by_date: bool) -> Vec<Factor> {
    let counts = |factor: &Factor| by_date || *factor != Factor::Age;
    Factor::ALL.into_iter().filter(counts).filter(|factor| factor.differs(a, b)).collect()
}

/// The car that has the given factors from `b` and everything else from `a`.
#[must_use]
pub fn hybrid(a: &Scenario, b: &Scenario, from_b: &[Factor]) -> Scenario {
    let of = |factor: Factor| if from_b.contains(&factor) { b } else { a };
    Scenario {
        model: Arc::clone(&a.model),
        title: a.title.clone(),
        first_registration: of(Factor::Age).first_registration,
        member: of(Factor::Member).member.clone(),
        coating: of(Factor::CoatingSystem).coating.clone(),
        treatments: of(Factor::Treatments).treatments.clone(),
        observations: of(Factor::Condition).observations.clone(),
        climate: of(Factor::Climate).climate.clone(),
        deposition: of(Factor::Climate).deposition,
        air: of(Factor::Climate).air,
        storage_periods: storage_periods(&PeriodSources {
            storage: &of(Factor::Storage).storage_periods,
            salted_days: &of(Factor::SaltedDays).storage_periods,
            washing: &of(Factor::Washing).storage_periods,
            use_: &of(Factor::Use).storage_periods,
        }),
    }
}

/// Whose storage periods each part of the hybrid ones is read from.
struct PeriodSources<'a> {
    storage: &'a [StoragePeriod],
    salted_days: &'a [StoragePeriod],
    washing: &'a [StoragePeriod],
    use_: &'a [StoragePeriod],
}

fn storage_periods(sources: &PeriodSources) -> Vec<StoragePeriod> {
    let all = [sources.storage, sources.salted_days, sources.washing, sources.use_];
    if all.iter().all(|storage_periods| std::ptr::eq(*storage_periods, sources.storage)) {
        return sources.storage.to_vec();
    }
    let mut pieces: Vec<StoragePeriod> = Vec::new();
    let mut from_age_a = 0.0;
    for until_age_a in ends(&all) {
        let mixture = mixture(sources, from_age_a);
        from_age_a = until_age_a;
        match pieces.last_mut() {
            Some(last) if last.mixture == mixture => last.until_age_a = until_age_a,
            _ => pieces.push(StoragePeriod { until_age_a, mixture }),
        }
    }
    pieces
}

fn mixture(sources: &PeriodSources, age_a: f64) -> Vec<(f64, StorageAndUse)> {
    let Some(stored) = at_age(sources.storage, age_a) else { return Vec::new() };
    let driving = |storage_periods: &[StoragePeriod], index: usize, own: Driving| {
        let period = at_age(storage_periods, age_a);
        let found = period.and_then(|s| s.mixture.get(index).or(s.mixture.first()));
        found.map_or(own, |(_, storage_and_use)| storage_and_use.driving)
    };
    let storage_and_use = |(index, (weight, storage_and_use)): (usize, &(f64, StorageAndUse))| {
        let of = |storage_periods| driving(storage_periods, index, storage_and_use.driving);
        let Driving { days_per_week, winter_use, hours_away, .. } = of(sources.use_);
        let Driving { salted_days, road_salt, .. } = of(sources.salted_days);
        let driving = Driving {
            days_per_week,
            winter_use,
            hours_away,
            salted_days,
            road_salt,
            wash: of(sources.washing).wash,
        };
        (*weight, StorageAndUse { arrangement: storage_and_use.arrangement.clone(), driving })
    };
    stored.mixture.iter().enumerate().map(storage_and_use).collect()
}

/// Ages at which any of the storage periods end, in order; the last is infinite [a].
fn ends(all: &[&[StoragePeriod]]) -> Vec<f64> {
    let inner = all
        .iter()
        .flat_map(|storage_periods| storage_periods.split_last().map_or(&[][..], |(_, inner)| inner));
    let mut ends: Vec<f64> = inner.map(|period| period.until_age_a).chain([f64::INFINITY]).collect();
    ends.sort_by(f64::total_cmp);
    ends.dedup_by_key(|end| end.to_bits());
    ends
}

/// The storage period a car is in from an age on.
fn at_age(storage_periods: &[StoragePeriod], age_a: f64) -> Option<&StoragePeriod> {
    storage_periods.iter().find(|period| age_a < period.until_age_a).or(storage_periods.last())
}

/// Whether what is read from two cars' storage periods differs at any age.
fn apart<T: PartialEq>(a: &[StoragePeriod], b: &[StoragePeriod], read: impl Fn(&StoragePeriod) -> T) -> bool {
    let starts = std::iter::once(0.0).chain(ends(&[a, b])).filter(|age_a| age_a.is_finite());
    let at = |storage_periods, age_a| at_age(storage_periods, age_a).map(&read);
    starts.into_iter().any(|age_a| at(a, age_a) != at(b, age_a))
}
