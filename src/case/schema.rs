//! The JSON schema of a case, and the lists of names in it, taken from the tables they live in.
//!
//! `shared/case.schema.json` is this schema, for editors and pages. JSON Schema draft 2020-12; a key that may be absent
//! is absent, never null.

use super::raw::Case;
use crate::climate::ColumnMap;
use crate::climate::samples;
use crate::coating::RustGrade;
use crate::exposure::ArrangementKind;
use crate::exposure::arrangement::Parameter;
use crate::model::Model;
use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde_json::{Map, Value, json};
use std::sync::{Arc, LazyLock};

/// Arrangement nobody can tell.
pub(super) const UNKNOWN: &str = "unknown";
/// Switches a criterion off.
pub(super) const NONE: &str = "none";
/// Highest price [currency].
const MAX: u32 = 1_000_000_000;

/// The published model, whose names the schema lists; read once, since a schema is made for every case that is read.
static PUBLISHED: LazyLock<Option<Arc<Model>>> = LazyLock::new(|| Model::published().ok());

/// The schema of a case, made once: tables hold many cases.
static OF_CASE: LazyLock<Value> = LazyLock::new(of::<Case>);

/// The JSON schema of a case.
#[must_use]
pub fn schema() -> &'static Value {
    &OF_CASE
}

/// The JSON schema of a type of file.
pub(super) fn of<T: JsonSchema>() -> Value {
    let settings = SchemaSettings::draft2020_12().with(|settings| settings.inline_subschemas = true);
    let settings = settings.with_transform(RecursiveTransform(without_null));
    settings.into_generator().into_root_schema_for::<T>().to_value()
}

/// Leaves out the null that an optional key may have by default.
pub(crate) fn without_null(schema: &mut Schema) {
    if let Some(Value::Array(types)) = schema.get_mut("type") {
        types.retain(|name| name != "null");
        if let [only] = types.as_slice() {
            let only = only.clone();
            schema.insert("type".to_owned(), only);
        }
    }
    if let Some(Value::Array(branches)) = schema.get_mut("anyOf") {
        branches.retain(|branch| branch != &json!({ "type": "null" }));
        if let [Value::Object(only)] = branches.as_slice() {
            let only = only.clone();
            schema.remove("anyOf");
            only.into_iter().filter(|(key, _)| key != "description").for_each(|(key, value)| {
                schema.insert(key, value);
            });
        }
    }
    if schema.get("default") == Some(&Value::Null) {
        schema.remove("default");
    }
}

/// A date without time.
pub(super) fn date(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "string", "format": "date" })
}

/// A percentage or `none`.
pub(super) fn limit(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "anyOf": [
        { "type": "number", "minimum": 0.1, "maximum": 99 },
        { "type": "string", "enum": [NONE] },
    ]})
}

/// A number of days or a region.
pub(super) fn salted_days(_: &mut SchemaGenerator) -> Schema {
    let rows = PUBLISHED.iter().flat_map(|model| &model.defaults.salted_days);
    let regions: Vec<&str> = rows.map(|row| row.id.as_str()).collect();
    json_schema!({ "anyOf": [
        { "type": "number", "minimum": 0, "maximum": 200 },
        { "type": "string", "enum": regions },
    ]})
}

/// Rain days of a year, or of each month.
pub(super) fn rain_days(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "anyOf": [
        { "type": "number", "minimum": 0, "maximum": 365 },
        { "type": "array", "minItems": 12, "maxItems": 12, "items": { "type": "number", "minimum": 0, "maximum": 31 } },
    ]})
}

/// Columns of a foreign weather table: the project's name, then the file's.
pub(super) fn weather_columns(_: &mut SchemaGenerator) -> Schema {
    let name = |ours: &&str| {
        let description = format!("Name of the column `{ours}` in the file");
        let value = json!({ "description": description, "type": "string", "minLength": 1, "maxLength": 200 });
        ((*ours).to_owned(), value)
    };
    let names: Map<String, Value> = ColumnMap::NAMES.iter().map(name).collect();
    json_schema!({ "type": "object", "properties": names, "additionalProperties": false, "minProperties": 1 })
}

/// A price: an amount, or a median with its 5 % and 95 % points.
pub(super) fn price(_: &mut SchemaGenerator) -> Schema {
    let amount = json!({ "type": "number", "minimum": 0, "maximum": MAX });
    let spread = json!({ "type": "number", "minimum": 0.001, "maximum": MAX });
    json_schema!({ "anyOf": [
        amount,
        {
            "type": "object",
            "properties": { "median": spread, "p05": spread, "p95": spread },
            "required": ["median", "p05", "p95"],
            "additionalProperties": false,
        },
    ]})
}

/// Prices by arrangement.
pub(super) fn storage_prices(generator: &mut SchemaGenerator) -> Schema {
    let mut price = price(generator);
    price.insert("description".to_owned(), "A year in it [currency]".into());
    let price = price.to_value();
    let prices: Map<String, Value> =
        ArrangementKind::ALL.iter().map(|kind| (kind.id().to_owned(), price.clone())).collect();
    json_schema!({ "type": "object", "properties": prices, "additionalProperties": false })
}

/// Weights by arrangement.
pub(super) fn mixture(_: &mut SchemaGenerator) -> Schema {
    let weight = json!({ "type": "number", "minimum": 0, "maximum": 1 });
    let weights: Map<String, Value> =
        ArrangementKind::ALL.iter().map(|kind| (kind.id().to_owned(), weight.clone())).collect();
    json_schema!({
        "type": "object", "properties": weights, "additionalProperties": false, "minProperties": 1,
    })
}

/// Parameters of an arrangement, each with its range.
pub(super) fn parameters(_: &mut SchemaGenerator) -> Schema {
    let properties: Map<String, Value> =
        Parameter::ALL.iter().map(|parameter| (parameter.id().to_owned(), uncertain(*parameter))).collect();
    json_schema!({ "type": "object", "properties": properties, "additionalProperties": false })
}

fn uncertain(parameter: Parameter) -> Value {
    let range = parameter.allowed();
    let number = json!({ "type": "number", "minimum": range.start(), "maximum": range.end() });
    json!({
        "description": meaning(parameter),
        "anyOf": [
            number,
            {
                "type": "object",
                "properties": { "median": number, "p05": number, "p95": number },
                "required": ["median", "p05", "p95"],
                "additionalProperties": false,
            },
        ],
    })
}

fn meaning(parameter: Parameter) -> &'static str {
    match parameter {
        Parameter::AirChangesPerH => "Air changes an hour [1/h]",
        Parameter::VolumeM3 => "Volume of air [m³]",
        Parameter::ThermalTimeConstantH => "Time constant of the air behind the outdoor temperature [h]",
        Parameter::WarmerK => "How much warmer than outdoors on average [K]",
        Parameter::HeaterSetC => "Set point of a heater [°C]",
        Parameter::DehumidifierSetPct => "Set point of a dehumidifier [%]",
        Parameter::FloorDryingM3PerH => "Air flow that would carry the evaporation from the wet floor [m³/h]",
        Parameter::SteelTimeConstantH => "Time constant of the steel behind the air [h]",
        Parameter::NightCoolingK => "Cooling of the steel below the air at night [K]",
        Parameter::FilmDryingMPerH => "Mass transfer between water film and air [m/h]",
        Parameter::OutdoorDepositionShare => {
            "Share of the outdoor sea salt and sulphur dioxide that settles there [-]"
        }
        Parameter::DehumidifierLPerD => "Water a dehumidifier takes out in a day at most [L/d]",
        Parameter::HeaterW => {
            "Power of a heater [W]; holds its set point only as far as the heat loss lets it"
        }
        Parameter::GroundDryingM3PerH => {
            "Air flow that would carry the evaporation from bare wet earth [m³/h]"
        }
        Parameter::UnderfloorAirM3PerH => "Air that flows through under the car in the open [m³/h]",
        Parameter::HeatLossWPerK => "Heat the room loses per kelvin of warming by the heater [W/K]",
        Parameter::ResidualFactor => "Rate there over the rate that air, water and salt explain [-]",
    }
}

/// Keys of the coating systems of one face.
pub(super) fn coating_systems(face: &str) -> Vec<String> {
    PUBLISHED.iter().flat_map(|model| model.systems.names(face)).map(|(id, _)| id.to_owned()).collect()
}

/// Ids of the climate samples.
pub(super) fn samples() -> Vec<String> {
    samples::samples().unwrap_or_default().into_iter().map(|info| info.id).collect()
}

/// Keys of the sets of criteria.
pub(super) fn criteria_sets() -> Vec<String> {
    PUBLISHED.iter().flat_map(|model| &model.defaults.sets).map(|set| set.id.clone()).collect()
}

/// Grades from `least` to 5.
pub(super) fn grades(least: u8) -> Vec<String> {
    RustGrade::ALL.iter().filter(|grade| grade.number() >= least).map(ToString::to_string).collect()
}

/// Grades that can be a threshold, and `none`.
pub(super) fn grades_or_none() -> Vec<String> {
    grades(1).into_iter().chain([NONE.to_owned()]).collect()
}

/// Arrangements, and `unknown`.
pub(super) fn arrangements_or_unknown() -> Vec<&'static str> {
    ArrangementKind::ALL.iter().map(|kind| kind.id()).chain([UNKNOWN]).collect()
}
