//! Is a reading of a table already in the record, or does it contradict one of the same place and day?

use super::columns::place;
use super::table_map::TableMap;
use crate::coating::SeenGrade;
use crate::record::entry::{Entry, EntryKind, NewEntry};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Car, day and place of a reading.
type Spot = (String, Date, String);

/// What is known of the cars, from the record and from the lines before.
#[derive(Debug, Default)]
pub(super) struct Known {
    readings: BTreeSet<String>,
    grades: BTreeMap<Spot, Vec<KnownGrade>>,
}

#[derive(Debug)]
struct KnownGrade {
    grade: SeenGrade,
    inspector: Option<String>,
    /// Where it stands, in words.
    stands: String,
    /// Number of its entry, where it has one.
    id: Option<i64>,
}

/// A grade of the same place and day that says something else.
pub(super) struct Contradiction {
    pub(super) found: String,
    pub(super) allowed: String,
}

impl Known {
    /// What the entries of a record say; one that was corrected is known, but contradicts nothing.
    pub(super) fn from_entries(entries: &[Entry]) -> Self {
        let mut known = Self::default();
        for entry in entries.iter().filter(|entry| entry.fields.kind == EntryKind::Inspection) {
            known.readings.insert(key(&entry.fields));
            if entry.superseded_by.is_none() {
                known.note(&entry.fields, format!("entry {}", entry.id), Some(entry.id));
            }
        }
        known
    }

    pub(super) fn has(&self, entry: &NewEntry) -> bool {
        self.readings.contains(&key(entry))
    }

    /// Adds a reading of a line.
    pub(super) fn add(&mut self, entry: &NewEntry, line: usize) {
        self.readings.insert(key(entry));
        self.note(entry, format!("line {line}"), None);
    }

    fn note(&mut self, entry: &NewEntry, stands: String, id: Option<i64>) {
        if let Some(grade) = entry.grade {
            let known = KnownGrade { grade, inspector: entry.inspector.clone(), stands, id };
            self.grades.entry(spot(entry)).or_default().push(known);
        }
    }

    /// The grade that contradicts an entry: of the same scale, and not by another inspector.
    pub(super) fn contradiction(&self, entry: &NewEntry) -> Option<Contradiction> {
        let grade = entry.grade?;
        let other_inspector = |known: &KnownGrade| {
            known.inspector.is_some() && entry.inspector.is_some() && known.inspector != entry.inspector
        };
        let contradicts = |known: &&KnownGrade| {
            known.grade.scale == grade.scale && known.grade != grade && !other_inspector(known)
        };
        let known = self.grades.get(&spot(entry))?.iter().find(contradicts)?;
        let correct =
            known.id.map_or_else(String::new, |id| format!(", or a correction that supersedes entry {id}"));
        Some(Contradiction {
            found: format!("{grade}, where {} says {} of the same place and day", known.stands, known.grade),
            allowed: format!("one grade a place, day and inspector{correct}"),
        })
    }
}

fn spot(entry: &NewEntry) -> Spot {
    let location = entry.location.clone().unwrap_or_default();
    let location = place(&location, &TableMap::default()).unwrap_or(location);
    (entry.car.clone(), entry.date, location)
}

/// What makes a reading the same as another: all of it but gauge and remark.
fn key(entry: &NewEntry) -> String {
    let NewEntry { grade, wall_mm, cleaned_and_sound, inspector, .. } = entry;
    let (grade, wall) = (grade.map(|grade| grade.to_string()), wall_mm.map(f64::to_bits));
    format!("{:?}", (spot(entry), grade, wall, cleaned_and_sound, inspector))
}
