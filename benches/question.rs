//! The question every benchmark asks: a made-up car, driven most days on salted roads and parked in the street.

use ferrowane::climate::samples;
use ferrowane::coating::{Inside, MemberCoating, OverFilm, RustGrade, System};
use ferrowane::corrosivity::dose_response::AirChemistry;
use ferrowane::error::{Error, Result};
use ferrowane::exposure::{Arrangement, ArrangementKind, Driving, RoadSalt, StorageAndUse, Wash};
use ferrowane::forecast::Scenario;
use ferrowane::forecast::scenario::{Criteria, Member, StoragePeriod};
use ferrowane::prior::Prior;
use ferrowane::section::Tube;

const PLACE: &str = "port-angeles";

/// The scenario.
pub(crate) fn scenario() -> Result<Scenario> {
    let place = samples::samples()?.into_iter().find(|sample| sample.id == PLACE);
    let deposition = place.ok_or_else(|| Error::invalid("climate sample", "nothing", PLACE))?.deposition()?;
    Ok(Scenario {
        model: ferrowane::model::Model::published()?,
        title: "benchmark".to_owned(),
        first_registration: jiff::civil::Date::constant(2015, 5, 1),
        member: member()?,
        coating: MemberCoating {
            outside: System::outside("thin_factory_coat")?,
            inside: Inside::Bare,
            over_film: OverFilm::None,
        },
        treatments: Vec::new(),
        observations: Vec::new(),
        climate: samples::sample(PLACE)?,
        deposition,
        air: AirChemistry::default(),
        storage_periods: vec![StoragePeriod { until_age_a: f64::INFINITY, mixture: vec![(1.0, street()?)] }],
    })
}

/// Parked in the street, driven six days a week.
pub(crate) fn street() -> Result<StorageAndUse> {
    let driving = Driving {
        days_per_week: 6.0,
        winter_use: true,
        salted_days: Prior::LogNormal { median: 50.0, sd_ln: 0.3 },
        wash: Wash::Never,
        hours_away: 8.5,
        road_salt: RoadSalt::SodiumChloride,
    };
    Ok(StorageAndUse { arrangement: Arrangement::new(ArrangementKind::Street)?, driving })
}

fn member() -> Result<Member> {
    let grade = Some(RustGrade::new(4)?);
    let rework = Criteria {
        node_grade: grade,
        run_grade: grade,
        mean_wall_loss_pct: Some(10.0),
        deepest_wall_loss_pct: Some(50.0),
        section_modulus_loss_pct: Some(10.0),
        perforated_pct: None,
    };
    let caution = Criteria {
        node_grade: None,
        run_grade: None,
        mean_wall_loss_pct: Some(20.0),
        deepest_wall_loss_pct: Some(80.0),
        section_modulus_loss_pct: Some(20.0),
        perforated_pct: None,
    };
    Ok(Member {
        tube: Tube::round(45.0, 2.0)?,
        yield_n_mm2: 355.0,
        nodes: 4,
        length_m: 3.0,
        rework,
        assessment: caution,
        set: None,
    })
}
