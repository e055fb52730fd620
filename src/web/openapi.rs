//! `GET /api/openapi.json`: the description of everything, `OpenAPI` 3.1, made from the list of operations and the types
//! they read and write.

use super::body::BODY_MAX;
use super::forecast::answer;
use super::operation::{Need, Operation};
use super::problem::Problem;
use super::routes::operations;
use super::state::Shared;
use crate::case;
use crate::report::notice::NOTICE;
use axum::extract::State as Of;
use axum::response::Response;
use schemars::SchemaGenerator;
use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use serde_json::{Map, Value, json};

/// Handler.
pub(super) async fn description(Of(state): Of<Shared>) -> Result<Response, Problem> {
    answer(&described(state.options.record.is_some()))
}

/// `GET /api/case.schema.json`
pub(super) async fn case_schema() -> Result<Response, Problem> {
    answer(&case::schema())
}

/// The whole description; operations on a record only where there is one.
fn described(has_record: bool) -> Value {
    let settings = SchemaSettings::draft2020_12().with(|settings| {
        settings.definitions_path = "/components/schemas".into();
        settings.meta_schema = None;
    });
    // of what is sent, a key that may be absent is absent, never null; of what is answered it may be null
    let sent = settings.clone().with_transform(RecursiveTransform(case::without_null));
    let mut shapes = Shapes { sent: sent.into_generator(), answered: settings.into_generator() };
    let mut paths = Map::new();
    let wanted = |operation: &Operation| has_record || operation.need() != Need::Record;
    for operation in operations().into_iter().filter(wanted) {
        let path = paths.entry(operation.path).or_insert_with(|| json!({}));
        path[operation.method] = of_operation(&operation, &mut shapes);
    }
    let mut schemas = shapes.answered.take_definitions(true);
    schemas.extend(shapes.sent.take_definitions(true));
    // the names and ranges of a case as its files have them
    schemas.insert("Case".to_owned(), case_component());
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "ferrowane",
            "version": env!("CARGO_PKG_VERSION"),
            "description": NOTICE,
            "license": { "name": "MIT OR Apache-2.0", "identifier": "MIT OR Apache-2.0" },
        },
        "servers": [{ "url": "/" }],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": { "token": { "type": "http", "scheme": "bearer" } },
        },
    })
}

/// Schemas of what is sent and of what is answered.
struct Shapes {
    sent: SchemaGenerator,
    answered: SchemaGenerator,
}

fn case_component() -> Value {
    let mut schema = case::schema();
    if let Some(schema) = schema.as_object_mut() {
        schema.remove("$schema");
    }
    schema
}

fn of_operation(operation: &Operation, shapes: &mut Shapes) -> Value {
    let mut answers = Map::new();
    for (kind, shape) in &operation.answers {
        let schema =
            shape.map_or_else(|| json!({ "type": "string" }), |shape| shape(&mut shapes.answered).to_value());
        answers.insert((*kind).to_owned(), json!({ "schema": schema }));
    }
    let mut responses = problems(operation, &mut shapes.answered);
    responses.insert(operation.status.to_owned(), json!({ "description": "The answer", "content": answers }));
    let mut described = json!({
        "operationId": operation_id(operation),
        "summary": operation.summary,
        "parameters": parameters(operation, &mut shapes.sent),
        "responses": responses,
    });
    if let Some(body) = operation.body {
        let content = json!({ "application/json": { "schema": body(&mut shapes.sent).to_value() } });
        described["requestBody"] = json!({ "required": true, "content": content });
    }
    if operation.need() == Need::Record {
        described["security"] = json!([{}, { "token": [] }]);
    }
    described
}

/// `post /api/forecast` as `post_api_forecast`.
fn operation_id(operation: &Operation) -> String {
    let words = operation.path.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    std::iter::once(operation.method).chain(words).collect::<Vec<_>>().join("_")
}

/// Fields of the query and parts of the path.
fn parameters(operation: &Operation, generator: &mut SchemaGenerator) -> Value {
    let parts = operation.path.split('/').filter_map(|part| part.strip_prefix('{')?.strip_suffix('}'));
    let in_path = parts.map(|name| {
        let schema = json!({ "type": "string", "minLength": 1 });
        json!({ "name": name, "in": "path", "required": true, "schema": schema })
    });
    let mut all: Vec<Value> = in_path.collect();
    let query = operation.query.map(|query| query(generator).to_value()).unwrap_or_default();
    let needed = |name: &str| query["required"].as_array().is_some_and(|names| names.contains(&name.into()));
    for (name, schema) in query["properties"].as_object().into_iter().flatten() {
        let mut schema = schema.clone();
        let meaning = schema.as_object_mut().and_then(|schema| schema.remove("description"));
        // a field that may be absent is absent, never null
        if let Some(kind) = schema.pointer("/type/0").cloned() {
            schema["type"] = kind;
        }
        let required = needed(name);
        all.push(json!({ "name": name, "in": "query", "required": required, "description": meaning, "schema": schema }));
    }
    Value::Array(all)
}

/// How a request can be refused.
fn problems(operation: &Operation, generator: &mut SchemaGenerator) -> Map<String, Value> {
    let schema = generator.subschema_for::<Problem>().to_value();
    let too_large = format!("A body of more than {BODY_MAX} bytes");
    let mut told = vec![("403", "Asked under a strange name, or from a page of somebody else")];
    if operation.query.is_some() || operation.body.is_some() {
        told.extend([
            ("400", "Not readable"),
            ("422", "Not possible: the field, what was found, what is allowed"),
        ]);
    }
    if operation.query.is_some() || operation.body.is_some() || operation.need() == Need::Record {
        told.push(("503", "Busy; `Retry-After` says when to ask again [s]"));
    }
    if operation.body.is_some() {
        told.extend([
            ("408", "The body came too slowly"),
            ("413", &too_large),
            ("415", "Not said to be JSON"),
        ]);
    }
    if operation.need() == Need::Record {
        told.extend([("401", "The token is needed"), ("404", "No such car")]);
    }
    let problem = |what: &str| json!({ "description": what, "content": { "application/problem+json": { "schema": schema } } });
    told.into_iter().map(|(status, what)| (status.to_owned(), problem(what))).collect()
}
