//! Which column of somebody else's table means what? By a saved mapping, by its name, or nothing.

use super::table_map::TableMap;
use super::values::GradeUnit;
use crate::error::{Error, Result, nearest};
use crate::forecast::observation::Spot;
use crate::model::locations::GROUP_NAMES;
use serde::Serialize;

/// What a column can mean, with the names that say so, in lower case; further languages are those of workshops near a border.
const NAMES: [(&str, &str); 9] = [
    (
        "car",
        "car|ref|reference|car ref|vehicle|vehicle id|vehicle ref|chassis|chassis no|fahrzeug|wagen|auto|fahrgestell|kenteken|voertuig|voiture",
    ),
    ("date", "date|day|inspected|inspected on|inspection date|date of inspection|datum|prüfdatum|jour"),
    ("place", "place|location|spot|position|where|ort|stelle|plaats|endroit"),
    (
        "grade",
        "grade|rust grade|rust|rusting|degree of rusting|ri|d610|rusted area|area|percent|rostgrad|roestgraad",
    ),
    (
        "wall",
        "wall|wall mm|thickness|thickness mm|wall thickness|wall thickness mm|reading|reading mm|wall reading|wand|wand mm|wandstärke|wanddicke|wanddikte",
    ),
    ("cleaned", "cleaned|clean|cleaned and sound|gereinigt|schoongemaakt"),
    ("inspector", "inspector|inspector code|by|prüfer|controleur"),
    ("gauge", "gauge|instrument|device|messgerät"),
    ("remark", "remark|remarks|note|notes|comment|comments|bemerkung|opmerking|remarque"),
];
/// Words of a column of one place that say what is read there.
const OF_PLACE: [(&str, &str); 3] = [
    ("wall", "wall|mm|thickness|reading|wandstärke|wanddicke|wanddikte"),
    ("cleaned", "cleaned|clean|gereinigt"),
    ("grade", "grade|rust|rusting|ri|d610|percent|area|of|rostgrad"),
];
/// More nodes than any member has [-]: the car of a line says how many there are.
const NODES_MAX: u32 = 1000;
/// Left out.
const IGNORED: &str = "ignore";

/// What a column means: a field of an entry, and the place it is of where the column says so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Meaning {
    pub(super) field: &'static str,
    pub(super) place: Option<String>,
}

/// A column of the table.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct FoundColumn {
    /// Its number, from 1 on [-]
    pub column: usize,
    /// Its name in the table.
    pub name: String,
    /// What it means: a field, or a field and a place; `None` where it is left out.
    pub meaning: Option<String>,
    /// Whether a mapping says so, its name does, or nothing: `map`, `name`, `unknown`.
    pub by: &'static str,
    /// What a mapping could call it, where its name is close to one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub suggestion: Option<String>,
    /// Scale of its bare numbers, where its name says one or they show it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grades: Option<GradeUnit>,
    #[serde(skip)]
    pub(super) is: Option<Meaning>,
}

impl FoundColumn {
    /// A column of a name.
    ///
    /// # Errors
    /// [`Error::Invalid`] for a meaning of the mapping that does not exist.
    pub(super) fn new(column: usize, name: &str, map: &TableMap) -> Result<Self> {
        let words = plain(name);
        let (is, by) = match map.columns.get(name) {
            Some(written) if written == IGNORED => (None, "map"),
            Some(written) => (Some(written_meaning(written, map)?), "map"),
            None => match by_name(&words, map) {
                Some(meaning) => (Some(meaning), "name"),
                None => (None, "unknown"),
            },
        };
        let all = NAMES.iter().flat_map(|(field, names)| names.split('|').map(move |name| (*field, name)));
        let near = nearest(&words, all.clone().map(|(_, name)| name)).filter(|_| by == "unknown");
        let suggestion = near.and_then(|near| all.clone().find(|(_, name)| *name == near));
        Ok(Self {
            column,
            name: name.to_owned(),
            meaning: is.as_ref().map(Meaning::words),
            by,
            suggestion: suggestion.map(|(field, _)| field.to_owned()),
            grades: is.as_ref().filter(|is| is.field == "grade").and_then(|_| unit_of(name)),
            is,
        })
    }
}

impl Meaning {
    fn words(&self) -> String {
        self.place.as_ref().map_or_else(|| self.field.to_owned(), |place| format!("{} {place}", self.field))
    }
}

/// The scale that the name of a column says.
fn unit_of(name: &str) -> Option<GradeUnit> {
    let words = plain(name);
    let has = |word: &str| words.split(' ').any(|one| one == word);
    let units = [
        (name.contains('%') || has("percent") || has("area"), GradeUnit::Percent),
        (has("d610"), GradeUnit::D610),
        (has("ri"), GradeUnit::Ri),
    ];
    units.into_iter().find(|(says, _)| *says).map(|(_, unit)| unit)
}

/// A name in lower case, words and numbers alone.
fn plain(name: &str) -> String {
    let spaced: String =
        name.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn by_name(words: &str, map: &TableMap) -> Option<Meaning> {
    let field = NAMES.iter().find(|(_, names)| names.split('|').any(|name| name == words));
    field.map(|(field, _)| Meaning { field, place: None }).or_else(|| of_place(words, map))
}

/// A column of one place: what is read there, and the place that is left of its name.
fn of_place(words: &str, map: &TableMap) -> Option<Meaning> {
    let says = |word: &str| OF_PLACE.iter().find(|(_, words)| words.split('|').any(|one| one == word));
    let field = words.split(' ').find_map(says).map(|(field, _)| *field);
    let rest: Vec<&str> = words.split(' ').filter(|word| says(word).is_none()).collect();
    if rest.is_empty() {
        return field.map(|field| Meaning { field, place: None });
    }
    place(&rest.join(" "), map).map(|place| Meaning { field: field.unwrap_or("grade"), place: Some(place) })
}

/// The place of a member that is meant, as entries write it.
pub(super) fn place(text: &str, map: &TableMap) -> Option<String> {
    let name = plain(text);
    let mapped = map.places.iter().find(|(theirs, _)| plain(theirs) == name).map(|(_, ours)| ours.clone());
    let name = mapped.map_or(name, |ours| plain(&ours));
    let spot = Spot::of_member(&name, NODES_MAX).ok()?;
    Some(match spot {
        Spot::Group(group) => GROUP_NAMES[group].to_owned(),
        Spot::OpenLength => "run".to_owned(),
        Spot::WorstNode => "node".to_owned(),
        Spot::Node(number) => format!("node {number}"),
    })
}

/// A meaning as a mapping writes it: `date`, or `wall node 2`.
fn written_meaning(written: &str, map: &TableMap) -> Result<Meaning> {
    let (word, rest) = written.split_once(' ').unwrap_or((written, ""));
    let field = NAMES.iter().map(|(field, _)| *field).find(|field| *field == word);
    let known: Vec<&str> = NAMES.iter().map(|(field, _)| *field).chain([IGNORED]).collect();
    let Some(field) = field else { return Err(Error::unknown("columns of the mapping", written, &known)) };
    let place = match rest {
        "" => None,
        rest => Some(place(rest, map).ok_or_else(|| {
            Error::invalid(
                "columns of the mapping",
                format!("`{rest}`"),
                "a place such as bottom, run or node 2",
            )
        })?),
    };
    match place {
        Some(_) if !["grade", "wall", "cleaned"].contains(&field) => Err(Error::invalid(
            "columns of the mapping",
            format!("`{written}`"),
            "a place behind grade, wall or cleaned",
        )),
        place => Ok(Meaning { field, place }),
    }
}

#[cfg(test)]
mod tests {
    use super::{FoundColumn, TableMap};
    use crate::record::import_table::values::GradeUnit;

    fn found(name: &str) -> FoundColumn {
        FoundColumn::new(1, name, &TableMap::default()).unwrap()
    }

    #[test]
    fn property_names_say_what_a_column_means() {
        for (name, meaning) in [
            ("Inspection date", "date"),
            ("CAR", "car"),
            ("Wall thickness [mm]", "wall"),
            ("Bottom", "grade bottom"),
            ("Node 2 wall (mm)", "wall node 2"),
            ("rust grade: run", "grade run"),
            ("Rust grade (D610)", "grade"),
            ("Node_3", "grade node 3"),
        ] {
            assert_eq!(found(name).meaning.as_deref(), Some(meaning), "{name}");
        }
        assert_eq!(found("node 1 [% area]").grades, Some(GradeUnit::Percent));
        assert_eq!((found("Insp. dato").meaning, found("dat").suggestion.as_deref()), (None, Some("date")));
    }

    #[test]
    fn property_a_mapping_decides() {
        let mut map = TableMap::default();
        map.columns.insert("Unten".to_owned(), "grade Boden".to_owned());
        assert!(FoundColumn::new(1, "Unten", &map).is_err());
        map.places.insert("Boden".to_owned(), "bottom".to_owned());
        assert_eq!(FoundColumn::new(1, "Unten", &map).unwrap().meaning.as_deref(), Some("grade bottom"));
        map.columns.insert("date".to_owned(), "ignore".to_owned());
        assert_eq!(FoundColumn::new(1, "date", &map).unwrap().meaning, None);
        map.columns.insert("x".to_owned(), "car bottom".to_owned());
        assert!(FoundColumn::new(1, "x", &map).is_err());
    }
}
