//! Corrosion forecast for coated thin-wall steel tube under road vehicles.

pub mod error;
pub mod numeric;
pub mod prior;
pub mod reference;

pub mod case;
pub mod climate;
pub mod coating;
pub mod corrosivity;
pub mod decision;
pub mod explain;
pub mod exposure;
pub mod forecast;
pub mod inspection;
pub mod model;
#[cfg(feature = "record")]
pub mod record;
pub mod section;

#[cfg(feature = "report")]
pub mod report;

#[cfg(feature = "web")]
pub mod web;

#[cfg(feature = "cli")]
pub mod cli;
