//! One operation of the programming interface: its handler, and its entry in the description.

use super::state::Shared;
use axum::Router;
use axum::handler::Handler;
use axum::routing::{self, MethodRouter};
use schemars::{JsonSchema, Schema, SchemaGenerator};

/// Makes the schema of a type.
pub(super) type MakeSchema = fn(&mut SchemaGenerator) -> Schema;

/// A form in which an operation responds.
pub(super) struct Content {
    pub(super) content_type: &'static str,
    /// Schema of JSON; other content is described as text.
    pub(super) schema: Option<MakeSchema>,
}

/// One operation.
pub(super) struct Operation {
    pub(super) method: &'static str,
    pub(super) path: &'static str,
    pub(super) summary: &'static str,
    pub(super) query: Option<MakeSchema>,
    pub(super) body: Option<MakeSchema>,
    pub(super) contents: Vec<Content>,
    /// Status code of a successful response.
    pub(super) status: &'static str,
    /// Whether it needs the workshop's record, and its token where there is one.
    pub(super) needs_record: bool,
    /// Whether it can be sent again under a key.
    pub(super) takes_key: bool,
    handler: MethodRouter<Shared>,
}

impl Operation {
    fn new(method: &'static str, path: &'static str, handler: MethodRouter<Shared>) -> Self {
        let (summary, query, body, contents) = ("", None, None, Vec::new());
        Self {
            method,
            path,
            summary,
            query,
            body,
            contents,
            status: "200",
            needs_record: false,
            takes_key: false,
            handler,
        }
    }

    /// Reads something.
    pub(super) fn get<T: 'static>(path: &'static str, handler: impl Handler<T, Shared>) -> Self {
        Self::new("get", path, routing::get(handler))
    }

    /// Takes a body.
    pub(super) fn post<T: 'static>(path: &'static str, handler: impl Handler<T, Shared>) -> Self {
        Self::new("post", path, routing::post(handler))
    }

    /// What it is for.
    pub(super) fn summary(self, summary: &'static str) -> Self {
        Self { summary, ..self }
    }

    /// The body is a `T`.
    pub(super) fn body<T: JsonSchema>(self) -> Self {
        Self { body: Some(SchemaGenerator::subschema_for::<T>), ..self }
    }

    /// The query has the fields of a `T`.
    pub(super) fn query<T: JsonSchema>(self) -> Self {
        Self { query: Some(T::json_schema), ..self }
    }

    /// The response is a `T` as JSON.
    pub(super) fn json<T: JsonSchema>(mut self) -> Self {
        let schema = Some(SchemaGenerator::subschema_for::<T> as MakeSchema);
        self.contents.push(Content { content_type: "application/json", schema });
        self
    }

    /// The response can be something other than JSON.
    pub(super) fn text(mut self, content_type: &'static str) -> Self {
        self.contents.push(Content { content_type, schema: None });
        self
    }

    /// It creates what it responds with.
    pub(super) fn created(self) -> Self {
        Self { status: "201", ..self }
    }

    /// It can be sent again under a key.
    pub(super) fn takes_key(self) -> Self {
        Self { takes_key: true, ..self }
    }

    /// It needs the record.
    pub(super) fn of_record(self) -> Self {
        Self { needs_record: true, ..self }
    }

    /// Adds it to a router.
    pub(super) fn add_to(self, router: Router<Shared>) -> Router<Shared> {
        router.route(self.path, self.handler)
    }
}
