//! One thing that can be asked: its handler, and what a description says of it.

use super::state::Shared;
use axum::Router;
use axum::handler::Handler;
use axum::routing::{self, MethodRouter};
use schemars::{JsonSchema, Schema, SchemaGenerator};

/// Makes the schema of a type.
pub(super) type Shape = fn(&mut SchemaGenerator) -> Schema;

/// What a server needs for an operation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Need {
    /// Nothing.
    Nothing,
    /// The workshop's record, and of whoever asks the token where there is one.
    Record,
}

/// One thing that can be asked.
pub(super) struct Operation {
    pub(super) method: &'static str,
    pub(super) path: &'static str,
    pub(super) summary: &'static str,
    pub(super) query: Option<Shape>,
    pub(super) body: Option<Shape>,
    /// Content types of the answer; of JSON with its schema.
    pub(super) answers: Vec<(&'static str, Option<Shape>)>,
    /// Status code of the answer.
    pub(super) status: &'static str,
    need: Need,
    handler: MethodRouter<Shared>,
}

impl Operation {
    fn new(method: &'static str, path: &'static str, handler: MethodRouter<Shared>) -> Self {
        let (summary, query, body, answers, need) = ("", None, None, Vec::new(), Need::Nothing);
        Self { method, path, summary, query, body, answers, status: "200", need, handler }
    }

    /// Something to be read.
    pub(super) fn get<T: 'static>(path: &'static str, handler: impl Handler<T, Shared>) -> Self {
        Self::new("get", path, routing::get(handler))
    }

    /// A question with a body, or something to be written down.
    pub(super) fn post<T: 'static>(path: &'static str, handler: impl Handler<T, Shared>) -> Self {
        Self::new("post", path, routing::post(handler))
    }

    /// What it is for.
    pub(super) fn saying(self, summary: &'static str) -> Self {
        Self { summary, ..self }
    }

    /// The body is a `T`.
    pub(super) fn takes<T: JsonSchema>(self) -> Self {
        Self { body: Some(SchemaGenerator::subschema_for::<T>), ..self }
    }

    /// The fields of a `T` may stand after the `?`.
    pub(super) fn asks<T: JsonSchema>(self) -> Self {
        Self { query: Some(T::json_schema), ..self }
    }

    /// The answer is a `T` as JSON.
    pub(super) fn answers<T: JsonSchema>(mut self) -> Self {
        self.answers.push(("application/json", Some(SchemaGenerator::subschema_for::<T>)));
        self
    }

    /// The answer is something other than JSON.
    pub(super) fn answers_text(mut self, kind: &'static str) -> Self {
        self.answers.push((kind, None));
        self
    }

    /// The answer is a `T` that has been written down.
    pub(super) fn answers_created<T: JsonSchema>(self) -> Self {
        Self { status: "201", ..self }.answers::<T>()
    }

    /// It needs the record.
    pub(super) fn of_record(self) -> Self {
        Self { need: Need::Record, ..self }
    }

    /// What a server needs for it.
    pub(super) fn need(&self) -> Need {
        self.need
    }

    /// A router that knows it too.
    pub(super) fn routed(self, router: Router<Shared>) -> Router<Shared> {
        router.route(self.path, self.handler)
    }
}
