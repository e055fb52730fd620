//! Which keys of a case do the columns of a table hold, and what case does a row make?

use crate::case::keys::{case_keys, schemas_below};
use crate::case::schema;
use crate::error::{Error, Result, disturbs, nearest};
use serde_json::{Map, Number, Value};

/// Column with a name of the row, such as a chassis number.
const REFERENCE: &str = "ref";
/// Column by whose texts answers are added up.
const GROUP: &str = "group";
/// Column with the seed of the row.
const SEED: &str = "seed";
/// Columns with the middle of a cell of a grid.
const PLACE: [(&str, f64); 2] = [("latitude_deg", 90.0), ("longitude_deg", 360.0)];
/// Longest name of a row or group [characters].
const NAME_MAX: usize = 200;
/// Most entries of a list of a case, as its schema has them [-].
const ENTRIES_MAX: usize = 100;

/// The columns of a table of cases, each known to be a key of a case, and what they leave out.
#[derive(Debug, Clone)]
pub struct CaseColumns {
    /// Number of columns [-].
    count: usize,
    keys: Vec<KeyColumn>,
    reference: Option<usize>,
    group: Option<usize>,
    seed: Option<usize>,
    place: [Option<usize>; 2],
    /// Case whose keys hold where a cell is empty.
    base: Value,
}

/// A column that is a key of a case.
#[derive(Debug, Clone, PartialEq, Eq)]
struct KeyColumn {
    place: usize,
    path: Vec<Step>,
    reads: Reads,
}

/// A step of a key path.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Step {
    /// An entry of a list, from 0.
    Entry(usize),
    /// A key of a table.
    Key(String),
}

/// What a text in a cell may stand for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Reads {
    number: bool,
    truth: bool,
    text: bool,
}

/// What a row asks.
#[derive(Debug, Clone, PartialEq)]
pub struct RowCase {
    /// Name of the row.
    pub reference: Option<String>,
    /// Group it is counted in.
    pub group: Option<String>,
    /// Its own seed [-].
    pub seed: Option<u64>,
    /// Latitude, longitude of its cell [°].
    pub place: Option<[f64; 2]>,
    /// Its case, not checked yet.
    pub case: Value,
}

impl CaseColumns {
    /// Those of a table, by name; `base` is the case whose keys hold where the table has no column, or a cell is empty.
    ///
    /// Names are key paths of a case with list entries numbered from 0, and `ref`, `group`, `seed`, `latitude_deg` and
    /// `longitude_deg`.
    ///
    /// # Errors
    /// [`Error::Invalid`] naming a column that is none of them, or stands there twice.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::batch::CaseColumns;
    /// use serde_json::json;
    /// let columns = CaseColumns::new(&["ref", "member.size_mm", "use.days_per_week"], json!({})).unwrap();
    /// let row = columns.row(1, &[json!("A-17"), json!("45x2"), json!("3")]).unwrap();
    /// assert_eq!(row.case, json!({ "title": "A-17", "member": { "size_mm": "45x2" }, "use": { "days_per_week": 3 } }));
    /// ```
    pub fn new(names: &[impl AsRef<str>], base: Value) -> Result<Self> {
        let base = if base.is_object() { base } else { Value::Object(Map::new()) };
        let (count, keys, place) = (names.len(), Vec::new(), [None; 2]);
        let mut columns = Self { count, keys, reference: None, group: None, seed: None, place, base };
        let schema = schema();
        for (place, name) in names.iter().enumerate() {
            let name = name.as_ref().trim();
            if names[..place].iter().any(|earlier| earlier.as_ref().trim() == name) {
                return Err(Error::invalid(
                    format!("column {name}"),
                    "the same name twice",
                    "each column once",
                ));
            }
            match name {
                REFERENCE => columns.reference = Some(place),
                GROUP => columns.group = Some(place),
                SEED => columns.seed = Some(place),
                name if name == PLACE[0].0 => columns.place[0] = Some(place),
                name if name == PLACE[1].0 => columns.place[1] = Some(place),
                key => columns.keys.push(KeyColumn::new(place, key, schema)?),
            }
        }
        // entries of a list come in order, and a key before what stands below it
        columns.keys.sort_by(|a, b| a.path.cmp(&b.path));
        Ok(columns)
    }

    /// Name and group of a row, as far as they can be read.
    #[must_use]
    pub fn names(&self, cells: &[Value]) -> (Option<String>, Option<String>) {
        let name = |place: Option<usize>| {
            let cell = cells.get(place?).filter(|cell| !is_empty(cell))?;
            one_line(REFERENCE, cell).ok()
        };
        if cells.len() == self.count { (name(self.reference), name(self.group)) } else { (None, None) }
    }

    /// What a row asks; `number` counts rows from 1, `cells` are text, numbers, truth values or null.
    ///
    /// # Errors
    /// [`Error::Invalid`] naming the column, what was found and what is allowed. Whether the case can be is not checked here.
    pub fn row(&self, number: u64, cells: &[Value]) -> Result<RowCase> {
        if cells.len() != self.count {
            let found = format!("{} cells", cells.len());
            return Err(Error::invalid("row", found, format!("{}, one a column", self.count)));
        }
        let cell = |place: Option<usize>| place.map(|place| &cells[place]).filter(|cell| !is_empty(cell));
        let name = |place, column| cell(place).map(|cell| one_line(column, cell)).transpose();
        let (reference, group) = (name(self.reference, REFERENCE)?, name(self.group, GROUP)?);
        let seed = cell(self.seed).map(seed).transpose()?;
        let place = match self.place.map(cell) {
            [Some(latitude), Some(longitude)] => Some([degrees(latitude, 0)?, degrees(longitude, 1)?]),
            _ => None,
        };
        let case = self.case(cells, reference.as_deref().unwrap_or(&format!("row {number}")))?;
        Ok(RowCase { reference, group, seed, place, case })
    }

    /// The case of a row, of that title where neither row nor base has one.
    fn case(&self, cells: &[Value], title: &str) -> Result<Value> {
        let mut case = self.base.clone();
        let mut set: Option<&KeyColumn> = None;
        for column in self.keys.iter().filter(|column| !is_empty(&cells[column.place])) {
            if let Some(above) = set.filter(|above| column.path.starts_with(&above.path)) {
                let found = format!("a value here and in {}", path_name(&above.path));
                return Err(Error::invalid(path_name(&column.path), found, "one of the two"));
            }
            put(&mut case, &column.path, 0, column.reads.value(&cells[column.place]))?;
            set = Some(column);
        }
        if let Some(case) = case.as_object_mut() {
            case.entry("title").or_insert_with(|| title.into());
        }
        Ok(case)
    }
}

impl KeyColumn {
    fn new(place: usize, name: &str, schema: &Value) -> Result<Self> {
        let unknown = || {
            let keys: Vec<String> =
                case_keys(schema).into_iter().map(|key| key.key.replace("[]", "[0]")).collect();
            let own = [REFERENCE, GROUP, SEED].into_iter().chain(PLACE.map(|(name, _)| name));
            let known = own.chain(keys.iter().map(String::as_str));
            let near = nearest(name, known);
            let allowed = "ref, group, seed, latitude_deg, longitude_deg, or a key of a case such as member.size_mm or storage[0].arrangement";
            Error::invalid("column", format!("`{name}`"), allowed).with_nearest(near)
        };
        let path = path(name).ok_or_else(unknown)?;
        let mut below = vec![schema];
        for step in &path {
            below = below.into_iter().flat_map(|schema| step.below(schema)).collect();
        }
        let reads = Reads::new(&below);
        if reads == Reads::default() { Err(unknown()) } else { Ok(Self { place, path, reads }) }
    }
}

impl Step {
    /// Schemas of what stands at this step.
    fn below<'s>(&self, schema: &'s Value) -> Vec<&'s Value> {
        let key = match self {
            Self::Key(key) => Some(key.as_str()),
            Self::Entry(_) => None,
        };
        schemas_below(schema, key)
    }
}

impl Reads {
    fn new(schemas: &[&Value]) -> Self {
        let mut reads = Self::default();
        for schema in schemas {
            let kind = |schema: &Value| schema.get("type").and_then(Value::as_str).map(str::to_owned);
            let branches = ["anyOf", "oneOf"].iter().filter_map(|key| schema.get(key)?.as_array()).flatten();
            for one in branches.chain([*schema]) {
                let kind = kind(one);
                reads.number |= matches!(kind.as_deref(), Some("number" | "integer"));
                reads.truth |= kind.as_deref() == Some("boolean");
                reads.text |=
                    kind.as_deref() == Some("string") || one.get("const").is_some_and(Value::is_string);
            }
        }
        reads
    }

    /// A cell as the case has it: text that can be a number where one may stand is that number, and so on.
    fn value(self, cell: &Value) -> Value {
        match cell {
            Value::String(text) => self.of_text(text.trim()),
            Value::Number(number) if self.text && !self.number => Value::String(number.to_string()),
            Value::Number(number) => whole(number),
            other => other.clone(),
        }
    }

    fn of_text(self, text: &str) -> Value {
        let number = || text.parse::<f64>().ok().and_then(Number::from_f64).map(|number| whole(&number));
        let truth = || match text.to_ascii_lowercase().as_str() {
            "true" => Some(Value::Bool(true)),
            "false" => Some(Value::Bool(false)),
            _ => None,
        };
        let number = if self.number { number() } else { None };
        let truth = if self.truth { truth() } else { None };
        number.or(truth).unwrap_or_else(|| Value::String(text.to_owned()))
    }
}

/// A number without a fraction as a whole number, which counts need.
fn whole(number: &Number) -> Value {
    let value = number.as_f64().filter(|value| value.fract() == 0.0 && value.abs() < 1e15);
    value.map_or_else(|| Value::Number(number.clone()), |value| Value::from(value as i64))
}

fn is_empty(cell: &Value) -> bool {
    cell.is_null() || cell.as_str().is_some_and(|text| text.trim().is_empty())
}

fn one_line(column: &str, cell: &Value) -> Result<String> {
    let text = cell.as_str().map_or_else(|| cell.to_string(), |text| text.trim().to_owned());
    if text.chars().count() > NAME_MAX || text.chars().any(disturbs) {
        let allowed = format!("text on one line, at most {NAME_MAX} characters");
        return Err(Error::invalid(column, "a longer text, or one with a line break", allowed));
    }
    Ok(text)
}

fn seed(cell: &Value) -> Result<u64> {
    let of_text = || cell.as_str().and_then(|text| text.trim().parse().ok());
    let allowed = "a whole number from 0 to 9223372036854775807";
    let read = cell.as_u64().or_else(of_text).filter(|seed| i64::try_from(*seed).is_ok());
    read.ok_or_else(|| Error::invalid(SEED, cell.to_string(), allowed))
}

/// Latitude (0) or longitude (1) of a cell [°].
fn degrees(cell: &Value, which: usize) -> Result<f64> {
    let (name, most) = PLACE[which];
    let read = cell.as_f64().or_else(|| cell.as_str().and_then(|text| text.trim().parse().ok()));
    let allowed = || format!("degrees from -{most} to {most}");
    read.filter(|degrees| degrees.abs() <= most)
        .ok_or_else(|| Error::invalid(name, cell.to_string(), allowed()))
}

/// The steps of a key path such as `storage[1].use.wash`.
fn path(name: &str) -> Option<Vec<Step>> {
    let mut steps = Vec::new();
    for part in name.split('.') {
        let (key, entries) = part.split_at(part.find('[').unwrap_or(part.len()));
        if key.is_empty() {
            return None;
        }
        steps.push(Step::Key(key.to_owned()));
        for entry in entries.split_terminator(']') {
            let number = entry.strip_prefix('[')?.parse().ok().filter(|number| *number < ENTRIES_MAX)?;
            steps.push(Step::Entry(number));
        }
        if !entries.is_empty() && !entries.ends_with(']') {
            return None;
        }
    }
    Some(steps)
}

fn path_name(path: &[Step]) -> String {
    let mut name = String::new();
    for step in path {
        match step {
            Step::Key(key) if name.is_empty() => name.push_str(key),
            Step::Key(key) => name = name + "." + key,
            Step::Entry(number) => name = format!("{name}[{number}]"),
        }
    }
    name
}

/// Puts a value at a path, with the tables and lists on the way; what the base has there makes room.
fn put(at: &mut Value, path: &[Step], depth: usize, value: Value) -> Result<()> {
    let Some(step) = path.get(depth) else {
        *at = value;
        return Ok(());
    };
    match step {
        Step::Key(key) => {
            if !at.is_object() {
                *at = Value::Object(Map::new());
            }
            let table = at.as_object_mut().map(|table| table.entry(key.clone()).or_insert(Value::Null));
            table.map_or(Ok(()), |below| put(below, path, depth + 1, value))
        }
        Step::Entry(number) => {
            if !at.is_array() {
                *at = Value::Array(Vec::new());
            }
            let Some(list) = at.as_array_mut() else { return Ok(()) };
            if list.len() < *number {
                let found = format!("no entry {} before it", number - 1);
                return Err(Error::invalid(
                    path_name(&path[..=depth]),
                    found,
                    "entries numbered from 0 without gaps",
                ));
            }
            if list.len() == *number {
                list.push(Value::Null);
            }
            put(&mut list[*number], path, depth + 1, value)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{CaseColumns, path, path_name};
    use serde_json::{Value, json};

    fn case(names: &[&str], base: Value, cells: &[Value]) -> crate::error::Result<Value> {
        CaseColumns::new(names, base)?.row(7, cells).map(|row| row.case)
    }

    /// Whatever the order of columns, entries of lists come in order; empty cells leave the base as it is.
    #[test]
    fn closed_form_a_row_is_the_base_with_its_cells() {
        let base =
            json!({ "title": "b", "use": { "wash": "never" }, "storage": [{ "arrangement": "street" }] });
        let names =
            ["storage[1].arrangement", "storage[1].from", "use.wash.every_days", "storage[0].arrangement"];
        let cells = [json!("carport"), json!("2019-10-01"), json!(" 14 "), json!("")];
        let expected = json!({ "title": "b", "use": { "wash": { "every_days": 14 } },
            "storage": [{ "arrangement": "street" }, { "arrangement": "carport", "from": "2019-10-01" }] });
        assert_eq!(case(&names, base, &cells).unwrap(), expected);
    }

    /// Text is read as what the key takes: a code of figures stays text, a count becomes a whole number.
    #[test]
    fn closed_form_cells_are_what_their_keys_take() {
        let names =
            ["coating.condition[0].inspector", "member.nodes", "use.winter_use", "use.salted_days", "title"];
        let cells = [json!(7), json!(4.0), json!("TRUE"), json!("lowland_england"), json!("12")];
        let found = case(&names, json!({}), &cells).unwrap();
        let expected = json!({ "title": "12", "member": { "nodes": 4 }, "coating": { "condition": [{ "inspector": "7" }] },
            "use": { "winter_use": true, "salted_days": "lowland_england" } });
        assert_eq!(found, expected);
    }

    #[test]
    fn property_what_cannot_be_is_refused_by_name() {
        let refused =
            |names: &[&str], cells: &[Value]| case(names, json!({}), cells).unwrap_err().to_string();
        assert!(refused(&["storage[0].arrangment"], &[json!("street")]).contains("storage[0].arrangement"));
        assert!(refused(&["storage[]"], &[json!("street")]).contains("column: found `storage[]`"));
        assert!(refused(&["ref", "ref"], &[json!("a"), json!("b")]).contains("twice"));
        assert!(
            refused(&["storage[1].arrangement"], &[json!("street")])
                .starts_with("storage[1]: found no entry 0")
        );
        let twice = refused(&["use.wash", "use.wash.every_days"], &[json!("never"), json!(14)]);
        assert!(twice.starts_with("use.wash.every_days: found a value here and in use.wash"), "{twice}");
        assert!(refused(&["seed"], &[json!(-1)]).starts_with("seed: found -1"));
        assert!(refused(&["ref"], &[]).starts_with("row: found 0 cells"));
    }

    #[test]
    fn property_paths_read_back() {
        for name in ["title", "storage[12].parameters.warmer_k.median", "climate.rain_days[11]"] {
            assert_eq!(path_name(&path(name).unwrap()), name);
        }
        for name in ["", "a..b", "a[", "a[x]", "a]0[", "storage[100].from", "[0]"] {
            assert!(path(name).is_none(), "{name}");
        }
    }
}
