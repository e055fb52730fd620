//! One question, one answer: what is written in two ways that mean the same is answered the same, and more of a bad thing
//! never helps.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::float_cmp,
    reason = "helpers of tests may fail loudly; figures are printed; equal questions have equal answers to the last bit"
)]

#[path = "support/cars.rs"]
mod cars;
#[path = "invariances/coats.rs"]
mod coats;
#[path = "invariances/corrosivity.rs"]
mod corrosivity;
#[path = "invariances/grades.rs"]
mod grades;
#[path = "invariances/levels.rs"]
mod levels;
#[path = "invariances/nodes.rs"]
mod nodes;
#[path = "support/same.rs"]
mod same;
#[path = "invariances/storage.rs"]
mod storage;
#[path = "invariances/weather.rs"]
mod weather;
#[path = "support/weather.rs"]
mod written;
