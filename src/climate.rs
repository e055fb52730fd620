//! Which weather acts on the car: an hourly record of air temperature and humidity, with rain and wind where measured.
//!
//! A record is read from one of several file layouts ([`read`]), taken from an embedded real place ([`samples`]) or made from
//! two yearly means ([`quick`]). Each becomes a [`Series`] of complete 365-day years. Missing hours are filled by a stated
//! rule and counted ([`gaps`]); without rain the wet days are drawn from a count ([`wet_days`]). Humid air: [`humid_air`]. Yearly and monthly figures: [`mod@summary`].

pub mod gaps;
pub mod humid_air;
pub mod quick;
pub mod read;
pub mod samples;
pub mod summary;
pub mod wet_days;

mod calendar;
mod cells;
mod coarse;
mod column_map;
mod columns;
mod epw;
mod foreign;
mod hours;
mod quantities;
mod rain;
mod record;
mod table;
mod times;
mod tmy2;
mod tmy3;

pub use calendar::{DAYS_PER_YEAR, HOURS_PER_YEAR};
pub use column_map::ColumnMap;
pub use read::{read_path, read_path_mapped};
pub use record::{ClimateRecord, Deposition, GapReport, RainLeftOut, Series};
pub use samples::SampleClimates;
pub use summary::summary;
