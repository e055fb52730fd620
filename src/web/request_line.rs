//! The request to the server, for what an answer says it rests on.

use super::problem::Problem;
use super::state::Shared;
use crate::error::Result;
use crate::record::KnownOfCars;
use crate::report::provenance::{ComputedBy, NamedDigest, Provenance, sample_of};
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use serde_json::Value;

/// Where cases stand in a body.
const CASES: [&str; 4] = ["", "/case", "/a", "/b"];

/// A request: its method, address and query. Headers, among them the token, are no part of it.
pub(super) struct RequestLine(Vec<String>);

impl FromRequestParts<Shared> for RequestLine {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &Shared) -> std::result::Result<Self, Problem> {
        let mut words = vec![parts.method.to_string(), parts.uri.path().to_owned()];
        words.extend(
            parts
                .uri
                .query()
                .unwrap_or_default()
                .split('&')
                .filter(|pair| !pair.is_empty())
                .map(str::to_owned),
        );
        Ok(Self(words))
    }
}

impl RequestLine {
    /// What an answer to a body rests on: the body as JSON on one line, keys in order, is the case.
    pub(super) fn of_body(self, body: &Value, by: ComputedBy) -> Result<Provenance> {
        let cases = vec![NamedDigest::new("request", body.to_string().as_bytes())];
        let several = body.get("cases").and_then(Value::as_array).into_iter().flatten();
        let all = CASES.iter().filter_map(|at| body.pointer(at)).chain(several);
        let mut climates: Vec<NamedDigest> =
            all.filter_map(|case| sample_of(case).transpose()).collect::<Result<_>>()?;
        climates.sort();
        climates.dedup();
        Ok(Provenance { cases, climates, ..self.computed(by) })
    }

    /// What an answer about cars of the record rests on.
    pub(super) fn of_cars(self, known: &KnownOfCars, by: ComputedBy) -> Provenance {
        let case = |(reference, text): &(String, String)| NamedDigest::new(reference, text.as_bytes());
        Provenance { cases: known.cases.iter().map(case).collect(), ..self.computed(by) }
    }

    fn computed(self, by: ComputedBy) -> Provenance {
        let ComputedBy { seed, histories, day } = by;
        let day = day.map(|day| day.to_string());
        Provenance { command: self.0, seed, histories, day, ..Provenance::of_this_program() }
    }
}
