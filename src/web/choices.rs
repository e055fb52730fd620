//! `GET /api/choices`: what can be chosen in a case, and the limits of a request.

use super::query::{MAX_HISTORIES, MIN_HISTORIES};
use super::response::{Reply, json_reply};
use super::state::Shared;
use crate::forecast::run::HISTORIES_PER_REPLICATE;
use crate::forecast::scenario::Settings;
use crate::report::choices::{CaseChoices, case_choices};
use axum::extract::State;
use schemars::JsonSchema;
use serde::Serialize;

/// What can be chosen, and how histories are computed.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct ChoicesReply {
    #[serde(flatten)]
    choices: CaseChoices,
    /// How histories are computed.
    run: RunLimits,
}

/// How histories are computed.
#[derive(Debug, Serialize, JsonSchema)]
struct RunLimits {
    /// Seed where none is given [-]
    seed: u64,
    /// Histories where no number is given [-]
    histories: u64,
    /// Fewest histories, for a quick preview [-]
    histories_min: u64,
    /// Most histories of one request [-]
    histories_max: u64,
    /// Histories are rounded up to a multiple of this [-]
    histories_step: u64,
    /// Horizon where none is given [a]
    horizon_a: u32,
}

/// Handler.
pub(super) async fn choices(State(state): State<Shared>) -> Reply {
    let default = Settings::default();
    let run = RunLimits {
        seed: default.seed,
        histories: default.histories,
        histories_min: MIN_HISTORIES,
        histories_max: MAX_HISTORIES,
        histories_step: HISTORIES_PER_REPLICATE,
        horizon_a: default.horizon_a,
    };
    json_reply(&ChoicesReply { choices: case_choices(&state.options.model)?, run })
}
