//! When will a coated, thin-wall steel tube under a road vehicle need rework, how sure is that, and what would move it?
//!
//! Weather, storage and use of a car give what its steel sees in a year; that gives a first-year corrosion rate; the rate
//! wears down the coating and then the wall; the wall that is left gives the section; criteria say when it is time. All
//! of it is repeated over what is not known (epistemic draws, the outer loop) and over what differs between cars and
//! years (aleatory histories, the inner loop), and the result is a distribution of the age at rework.
//!
//! Planning estimates only: no structural or roadworthiness assessment.
//!
//! # The pipeline
//!
//! ```text
//!   climate ──> exposure ──> corrosivity ──> coating ──> section
//!   weather     air, steel,  first-year      share of    area, modulus,
//!   by hour     film, salt   rate, losses    bare steel  bending left
//!                     \         |            |         /
//!      model ────────> forecast: draws x histories x years ────> band of the age at rework
//!      all tables               |           |          |
//!                          inspection    explain    decision
//!                          update by     why two    costs and time
//!                          what was seen cars differ of each option
//!                                           |
//!                          validation: checks against print
//!                                           |
//!      case (a file becomes a scenario)  record (cars of a workshop)  report (words, pictures)  web  cli
//! ```
//!
//! A stage uses only stages before it. A [`forecast::Scenario`] carries the [`model::Model`] it is computed with, so that
//! other priors or tables are another `Model`.
//!
//! # Equations
//!
//! ```text
//!   first-year rate   r   = 1.77 P^0.52 exp(0.020 RH + f) + 0.102 S^0.62 exp(0.033 RH + 0.040 T)
//!                     f   = 0.150 (T - 10) up to 10 °C, -0.054 (T - 10) above; one of several functions
//!   long-term loss    D   = r t^b,  after 20 years the tangent  r b 20^(b-1) (t - 20) + r 20^b
//!   years that differ D   = (R(t) - R(u))^b  of steel bared at u, with  R(t) = sum r_i^(1/b)
//!   bare steel        x   = 1 - exp(-ln(1/0.99) a^m),  relative age  a = sum dt / tau(r)
//!   coating life      tau = tau_s (r / 37.5)^-k
//! ```
//!
//! # Nomenclature
//!
//! | Symbol | Name in the code | Unit | Meaning | Source |
//! |---|---|---|---|---|
//! | T | `temperature_c` | °C | temperature of air or steel | weather, heat balance |
//! | RH | `humidity_pct` | % | relative humidity | weather, vapour balance |
//! | P | `so2_mg_m2_d` | mg/(m²·d) | deposition of sulphur dioxide | ISO 9225 |
//! | S | `chloride_mg_m2_d` | mg/(m²·d) | deposition of chloride | ISO 9225 |
//! | r | `rate_um_per_a` | µm/a | first-year corrosion rate | ISO 9223:2012 and others, [`corrosivity::dose_response`] |
//! | b | `exponent` | - | exponent of the long-term loss | ISO 9224:2012, B1 0.523 |
//! | t, u | `years`, `age_a` | a | years of exposure, age of the car | - |
//! | D | `loss_um` | µm | loss of wall from one face | ISO 9224:2012 |
//! | x | `rusted_share` | - | share of the surface that is bare; a grade reads what of it has lost enough to be seen | Weibull, Ri 3 of ISO 4628-3 at 1 % |
//! | - | `visible_loss_um` | µm | own loss of a spot from which it is seen as rust | `shared/priors.csv` |
//! | a | `relative_age` | - | age of a coating over its life | - |
//! | m | `breakdown_shape` | - | Weibull shape of coating breakdown | `shared/priors.csv` |
//! | tau | `life_a` | a | coating life, to 1 % rusted area | `shared/coating_systems.csv` |
//! | k | `life_exponent` | - | exponent of life on the rate | `shared/priors.csv` |
//! | - | `pit_factor` | - | pitting factor: deepest over mean loss of young attack | `shared/priors.csv` |
//! | Ri | `grade` | 0 to 5 | degree of rusting | ISO 4628-3 |
//! | A, W | `area_mm2`, `w_el_mm3` | mm², mm³ | area, elastic section modulus | exact integrals, [`section`] |
//! | - | `bending_capacity_left` | - | elastic modulus over that of the new tube | [`section::remaining`] |
//!
//! The unit stands last in every name; public numbers name it in square brackets. Each coefficient stands beside its
//! source and a status word in `shared/`.
//!
//! # Three examples
//!
//! The first-year rate of ISO 9223:2012, equation 1, for 10 °C, 75 %, and 10 mg/(m²·d) of SO₂ and of chloride; by hand
//! 1.77·10^0.52·e^1.5 + 0.102·10^0.62·e^2.875 = 26.27 + 7.54 µm/a:
//!
//! ```
//! use ferrowane::corrosivity::dose_response::AirChemistry;
//! use ferrowane::corrosivity::{Category, Conditions, DoseResponse};
//! use ferrowane::model::Model;
//!
//! let model = Model::published()?;
//! let conditions = Conditions {
//!     temperature_c: 10.0,
//!     humidity_pct: 75.0,
//!     so2_mg_m2_d: 10.0,
//!     chloride_mg_m2_d: 10.0,
//!     wetness_h_per_a: 3_000.0, // not read by this function
//!     air: AirChemistry::default(),
//! };
//! let rate = model.dose_responses.rate(DoseResponse::Iso9223, &conditions);
//! assert!((rate.rate_um_per_a - 33.80).abs() < 0.01);
//! assert_eq!(model.categories.outdoor(rate.rate_um_per_a), Category::C3); // 25 to 50 µm/a
//! # Ok::<(), ferrowane::error::Error>(())
//! ```
//!
//! The loss after 20 years at the top of C3; ISO 9224:2012 prints 240 µm:
//!
//! ```
//! use ferrowane::corrosivity::long_term::{B1, loss_um};
//!
//! let loss_um = loss_um(50.0, 20.0, B1)?;
//! assert!((loss_um - 240.0).abs() < 0.5);
//! # Ok::<(), ferrowane::error::Error>(())
//! ```
//!
//! The elastic modulus of a new tube 48.3 x 3.2 mm, in section tables 4.80 cm³, and what bending capacity is left when
//! the wall has lost a tenth all round:
//!
//! ```
//! use ferrowane::section::{FaceLoss, Section, Tube, properties, remaining};
//!
//! let section = Section::from(Tube::parse_round("48.3x3.2")?);
//! let new = properties(&section, &[FaceLoss::default(); 8])?;
//! assert!((new.w_el_mm3 - 4_800.0).abs() < 5.0);
//! let worn = remaining(&section, &[FaceLoss { outside_mm: 0.32, inside_mm: 0.0 }; 8])?;
//! assert!(worn.bending > 0.88 && worn.bending < 0.90); // a thin ring loses a little more than its wall
//! # Ok::<(), ferrowane::error::Error>(())
//! ```
//!
//! Longer ones stand in `examples/`: a forecast, two arrangements compared, a hand calculation, a worn tube.
//!
//! # Features
//!
//! `record` (the workshop's record), `report` (words and pictures), `web` (the local page) and `cli` (the program) are on
//! by default. Without them the model stands alone, from [`climate`] to [`decision`], with the reading of [`case`] files.
//!
//! # Modules in reading order
//!
//! Tools: [`error`], [`reference`], [`numeric`], [`prior`]. Stages: [`climate`], [`exposure`], [`corrosivity`],
//! [`coating`], [`section`]. The whole: [`model`], [`forecast`]. What builds on it: [`inspection`], [`tune`],
//! [`explain`], [`decision`]. Files and people: [`case`], then `record`, `report`, `web`, `cli` where their features are on.

// what the stages share
pub mod error;
pub mod numeric;
pub mod prior;
pub mod reference;
pub mod user_file;

// what the steel sees, and what becomes of it
pub mod climate;
pub mod exposure;

pub mod corrosivity;

pub mod coating;

pub mod section;

// the model, its forecast and what builds on it
pub mod model;

pub mod forecast;

pub mod inspection;

pub mod tune;

pub mod explain;

pub mod decision;

pub mod validation;

// files and people
pub mod batch;
pub mod case;
#[cfg(feature = "record")]
pub mod record;
#[cfg(feature = "report")]
pub mod report;
#[cfg(feature = "tables")]
pub mod tables;

#[cfg(feature = "web")]
pub mod web;

#[cfg(feature = "cli")]
pub mod cli;
