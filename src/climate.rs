//! wip
pub mod humid_air;
