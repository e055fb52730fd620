//! What is known to be wrong or left out, and how earlier simulated workshops came out.

use super::rows;
use crate::error::Result;
use serde::{Deserialize, Serialize};

/// Something the model gets wrong or leaves out (`shared/known_limits.csv`).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KnownLimit {
    /// Day it became known.
    pub since: String,
    /// What it is.
    pub what: String,
    /// What it does to an answer.
    pub effect: String,
    /// How a user would notice.
    pub noticed_by: String,
    /// How well it is known.
    pub status: String,
}

/// An earlier simulated workshop (`shared/calibration_runs.csv`).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CalibrationRun {
    /// Day of the run.
    pub date: String,
    /// Command that runs it again.
    pub command: String,
    /// Cars [-].
    pub cars: u32,
    /// Share of the 90 % intervals that held the truth [%].
    pub covered_90_pct: f64,
    /// Of the 50 % intervals [%].
    pub covered_50_pct: f64,
    /// Standard error of the first for so many cars [%].
    pub standard_error_pct: f64,
}

/// All known limits, oldest first.
///
/// # Errors
/// When the table cannot be read.
pub fn known_limits() -> Result<Vec<KnownLimit>> {
    rows("known_limits.csv")
}

/// All earlier runs.
///
/// # Errors
/// When the table cannot be read.
pub fn calibration_runs() -> Result<Vec<CalibrationRun>> {
    rows("calibration_runs.csv")
}
