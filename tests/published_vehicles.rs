//! What is published of road salt on cars, and of steel under them, against the model: abstracts, so orders and signs.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

#[path = "support/same.rs"]
mod same;

use ferrowane::climate::samples::{sample, samples};
use ferrowane::exposure::{Arrangement, ArrangementKind};
use ferrowane::forecast::draw::{DRIVES, Inputs, PeriodExposure};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::model::{DIMENSIONS, Input, Point};
use ferrowane::prior::Prior;
use same::demo;

/// The towns of cold inland winters among the samples.
const COLD_TOWNS: [&str; 3] = ["janesville", "presque-isle", "casper"];

/// The demo's daily car, at home in a town, with some salted days a year.
fn in_town(town: &str, salted_days: f64) -> Scenario {
    let mut car = demo("street_daily.toml");
    let info = samples().unwrap().into_iter().find(|info| info.id == town).unwrap();
    car.climate = sample(town).unwrap();
    car.deposition = info.deposition().unwrap();
    car.storage_periods[0].mixture[0].1.driving.salted_days = Prior::Fixed(salted_days);
    car
}

/// Settled years of the car at a point, and its rates in winter and in the rest of the year [µm/a].
fn settled(car: &Scenario, z: &Point) -> (PeriodExposure, [f64; 2]) {
    let inputs = Inputs::new(car).unwrap();
    let stay = &inputs.stays()[0].mixture[0].1;
    let [here, _] = inputs.exposures(stay, z, (&[0.0; DRIVES], 0.0));
    let rates = inputs.season_rates_um_per_a(stay, &here, z);
    (here, rates)
}

/// Rate of the year: five months of winter, seven of the rest [µm/a].
fn of_year([winter, rest]: [f64; 2]) -> f64 {
    (5.0 * winter + 7.0 * rest) / 12.0
}

/// Field tests in Winnipeg over a summer and two winters (Craik 1966, Canadian Good Roads Association, 425-436, SAW abstract):
/// where no chlorides are used, summer rates may be higher than winter rates.
#[test]
fn published_without_salt_a_cold_town_corrodes_faster_in_summer() {
    for town in COLD_TOWNS {
        let (_, [winter, rest]) = settled(&in_town(town, 0.0), &[0.0; DIMENSIONS]);
        println!("{town}: winter {winter:.1}, rest {rest:.1} um/a");
        assert!(winter < rest, "{town}: {winter} {rest}");
    }
}

/// "Chemical deicing practice doubled the corrosion rate" (Craik 1966), up to half of the corrosion of cars is that of salt
/// (Minnesota, three winters, APWA-SR-34 1970, SAW abstract), and exhausts last half as long at most (RRL LR 232, 1968, SAW):
/// a factor of 2; half as much again to either side for steels and salting of another time and place (ASSUMPTION).
#[test]
fn published_salt_doubles_the_corrosion_of_a_car() {
    let ratio = |town| {
        let of = |salted_days| of_year(settled(&in_town(town, salted_days), &[0.0; DIMENSIONS]).1);
        of(58.0) / of(0.0)
    };
    for town in ["janesville", "presque-isle", "reading"] {
        let ratio = ratio(town);
        println!("{town}: salted over unsalted {ratio:.2}");
        assert!((1.33..=3.0).contains(&ratio), "{town}: {ratio}");
    }
}

/// Chloride stays on the sheltered web of a bridge girder, from which dew alone rinses it, for several tens to several hundreds
/// of days (Zairyo-to-Kankyo 61, 397, 2012, SAW abstract). On a car: what it holds over what it takes up in a day, for the
/// median of the share that a wet drive rinses and its 5 % and 95 % points.
#[test]
fn published_chloride_stays_for_tens_to_hundreds_of_days() {
    for town in ["port-angeles", "reading", "janesville", "presque-isle"] {
        let residence_d = |z: f64| {
            let mut point = [0.0; DIMENSIONS];
            point[Input::WetDriveRinse as usize] = z;
            let car = in_town(town, 58.0);
            let held = |car: &Scenario| {
                let [.., year] = settled(car, &point).0.years;
                year.year().chloride_mg_m2()
            };
            // six drives a week meet six of seven salted days; each leaves the median of 60 mg/m2
            let taken_a_day = 60.0 * 58.0 * 6.0 / 7.0 / 365.0;
            (held(&car) - held(&in_town(town, 0.0))) / taken_a_day
        };
        let [long, middle, short] = [-1.645, 0.0, 1.645].map(residence_d);
        println!("{town}: {short:.0}, {middle:.0}, {long:.0} days");
        assert!((50.0..=250.0).contains(&middle), "{town}: {middle}");
        assert!(short > 10.0 && long < 1000.0, "{town}: {short} {long}");
    }
}

/// A heated garage by night "can triple the corrosion rate" over an unheated one or the open (Craik 1966); owners of other
/// cars find it no worse. Both must be possible: with the number of the store moved alone, a heated garage is worse than
/// the open in some cases, better in some, and three times as bad in few.
#[test]
fn published_a_heated_garage_can_triple_the_rate() {
    let heated = |z: f64| {
        let mut car = in_town("janesville", 58.0);
        let entry = &mut car.storage_periods[0].mixture[0].1;
        entry.arrangement = Arrangement::new(ArrangementKind::GarageHeated).unwrap();
        let mut point = [0.0; DIMENSIONS];
        point[Input::GarageHeatedResidual as usize] = z;
        let inputs = Inputs::new(&car).unwrap();
        inputs.storage_periods(&point, (1, 0)).unwrap()[0].rate.rate_um_per_a
    };
    let open = {
        let car = in_town("janesville", 58.0);
        Inputs::new(&car).unwrap().median_storage_periods(1).unwrap()[0].rate.rate_um_per_a
    };
    let [low, middle, high, top] = [-1.645, 0.0, 1.645, 2.576].map(|z| heated(z) / open);
    println!("heated garage over the open: {low:.2}, {middle:.2}, {high:.2}, {top:.2}");
    assert!(low < 1.0 && high > 1.5 && top > 2.5 && top < 5.0);
}
