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
pub mod record;
pub mod section;

pub mod report;

pub mod web;

pub mod cli;
