//! The description of all operations, `OpenAPI` 3.1, made from their list and the types they read and write.

use super::body::MAX_BODY;
use super::idempotency::HEADER;
use super::operation::Operation;
use super::problem::Problem;
use crate::case;
use crate::report::notice::NOTICE;
use schemars::SchemaGenerator;
use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use serde_json::{Map, Value, json};

/// The description of operations.
pub(super) fn description(operations: &[Operation]) -> Value {
    let mut schemas = Schemas::new();
    let mut paths = Map::new();
    for operation in operations {
        let path = paths.entry(operation.path).or_insert_with(|| json!({}));
        path[operation.method] = described(operation, &mut schemas);
    }
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
            "schemas": schemas.into_components(),
            "securitySchemes": { "token": { "type": "http", "scheme": "bearer" } },
        },
    })
}

/// Schemas of requests and of responses. In a request a key that may be absent is absent, never null; in a response it
/// may be null.
struct Schemas {
    requests: SchemaGenerator,
    responses: SchemaGenerator,
}

impl Schemas {
    fn new() -> Self {
        let settings = SchemaSettings::draft2020_12().with(|settings| {
            settings.definitions_path = "/components/schemas".into();
            settings.meta_schema = None;
        });
        let of_requests = settings.clone().with_transform(RecursiveTransform(case::without_null));
        Self { requests: of_requests.into_generator(), responses: settings.into_generator() }
    }

    fn into_components(mut self) -> Map<String, Value> {
        let mut all = self.responses.take_definitions(true);
        all.extend(self.requests.take_definitions(true));
        // names and ranges as in the schema of case files
        let mut case = case::schema().clone();
        if let Some(case) = case.as_object_mut() {
            case.remove("$schema");
        }
        all.insert("Case".to_owned(), case);
        all
    }
}

fn described(operation: &Operation, schemas: &mut Schemas) -> Value {
    let mut contents = Map::new();
    for content in &operation.contents {
        let text = || json!({ "type": "string" });
        let schema = content.schema.map_or_else(text, |make| make(&mut schemas.responses).to_value());
        contents.insert(content.content_type.to_owned(), json!({ "schema": schema }));
    }
    let mut responses = problems(operation, &mut schemas.responses);
    let success = json!({ "description": "The result", "content": contents });
    responses.insert(operation.status.to_owned(), success);
    let mut described = json!({
        "operationId": operation_id(operation),
        "summary": operation.summary,
        "parameters": parameters(operation, &mut schemas.requests),
        "responses": responses,
    });
    if let Some(make) = operation.body {
        let content = json!({ "application/json": { "schema": make(&mut schemas.requests).to_value() } });
        described["requestBody"] = json!({ "required": true, "content": content });
    }
    if operation.needs_record {
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
    if operation.takes_key {
        let meaning =
            "Text that stands for this request and no other; sent again with it nothing more is stored";
        let schema = json!({ "type": "string", "minLength": 1, "maxLength": 100, "pattern": "^[!-~]*$" });
        all.push(json!({ "name": HEADER, "in": "header", "required": false, "description": meaning, "schema": schema }));
    }
    let query = operation.query.map(|query| query(generator).to_value()).unwrap_or_default();
    let is_required =
        |name: &str| query["required"].as_array().is_some_and(|names| names.contains(&name.into()));
    for (name, schema) in query["properties"].as_object().into_iter().flatten() {
        let mut schema = schema.clone();
        let meaning = schema.as_object_mut().and_then(|schema| schema.remove("description"));
        // a field that may be absent is absent, never null
        if let Some(kind) = schema.pointer("/type/0").cloned() {
            schema["type"] = kind;
        }
        all.push(json!({ "name": name, "in": "query", "required": is_required(name), "description": meaning, "schema": schema }));
    }
    Value::Array(all)
}

/// The ways to refuse a request.
fn problems(operation: &Operation, generator: &mut SchemaGenerator) -> Map<String, Value> {
    let (has_body, has_input) =
        (operation.body.is_some(), operation.query.is_some() || operation.body.is_some());
    let too_large = format!("A body of more than {MAX_BODY} bytes");
    let all = [
        (true, "403", "Sent to a name that is not the server's, or by a page of another origin"),
        (has_input, "400", "Not readable"),
        (has_input, "422", "Not possible: the field, what was found, what is allowed"),
        (has_input || operation.needs_record, "503", "Busy; `Retry-After` says when to try again [s]"),
        (has_body, "408", "The body came too slowly"),
        (has_body, "413", &too_large),
        (has_body, "415", "The content type is not JSON"),
        (operation.needs_record, "401", "The token is needed"),
        (operation.needs_record, "404", "No such car"),
    ];
    let schema = generator.subschema_for::<Problem>().to_value();
    let content = json!({ "application/problem+json": { "schema": schema } });
    let possible = all.into_iter().filter(|(is_possible, ..)| *is_possible);
    possible
        .map(|(_, status, meaning)| {
            (status.to_owned(), json!({ "description": meaning, "content": content }))
        })
        .collect()
}
