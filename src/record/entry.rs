//! What can be written down about a car, and is it possible? Cells are checked as text, the same from an argument or a table.
//!
//! Grades are degrees of rusting by ISO 4628-3 (`Ri 0` to `Ri 5`) or ASTM D610 (`D610 10`, no rust, to `D610 0`).

use super::cells::{Cells, code, date, finite, number, one_line, quoted, text};
use crate::case::raw::TreatmentKind;
use crate::case::vary;
use crate::coating::CoatingSystems;
use crate::coating::SeenGrade;
use crate::error::{Error, Result, nearest};
use crate::model::Model;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

/// Thickest wall of any tube here [mm].
const WALL_MAX_MM: f64 = 50.0;
/// Largest amount of money [the workshop's currency].
const AMOUNT_MAX: f64 = 1e9;
/// Longest remark, with the photo it names [characters].
pub(super) const REMARK_MAX: usize = 1000;
/// What an entry says that takes back the one it corrects, whatever its kind.
const WITHDRAWN: &str = "withdrawn";

/// Kind of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum EntryKind {
    /// What was seen on the car: a grade, a wall reading, or both.
    Inspection,
    /// Something was put on in service.
    Treatment,
    /// The member was out and made good.
    Rework,
    /// A price was named.
    Quote,
    /// The car stands elsewhere from now on.
    Storage,
    /// Anything else.
    Note,
}

impl EntryKind {
    /// All kinds.
    pub const ALL: [Self; 6] =
        [Self::Inspection, Self::Treatment, Self::Rework, Self::Quote, Self::Storage, Self::Note];

    /// Its word in tables and commands.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Inspection => "inspection",
            Self::Treatment => "treatment",
            Self::Rework => "rework",
            Self::Quote => "quote",
            Self::Storage => "storage",
            Self::Note => "note",
        }
    }

    /// Columns that an entry of this kind needs.
    pub(super) const fn needed(self) -> &'static [&'static str] {
        match self {
            Self::Inspection => &["car", "date", "location"],
            Self::Treatment | Self::Storage => &["car", "date", "what"],
            Self::Rework => &["car", "date"],
            Self::Quote => &["car", "date", "amount"],
            Self::Note => &["car", "date", "remark"],
        }
    }

    /// Columns that only other kinds have.
    const fn refused(self) -> &'static [&'static str] {
        match self {
            Self::Inspection => &["what", "amount"],
            Self::Treatment | Self::Rework => &["grade", "wall_mm", "gauge", "cleaned_and_sound"],
            Self::Quote => &["grade", "wall_mm", "gauge", "cleaned_and_sound", "inspector"],
            Self::Storage | Self::Note => {
                &["grade", "wall_mm", "gauge", "cleaned_and_sound", "inspector", "amount"]
            }
        }
    }
}

impl std::str::FromStr for EntryKind {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let found = Self::ALL.into_iter().find(|kind| kind.name() == text);
        found.ok_or_else(|| Error::invalid("kind", quoted(text), Self::ALL.map(Self::name).join(", ")))
    }
}

/// The fields of an entry, before it has a number.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct NewEntry {
    /// Reference of the car.
    pub car: String,
    /// Kind of entry.
    pub kind: EntryKind,
    /// When it happened.
    #[schemars(with = "String")]
    pub date: Date,
    /// Where on the member.
    pub location: Option<String>,
    /// What was done, quoted or changed; of a treatment or the coat of a rework its key in case files.
    pub what: Option<String>,
    /// Degree of rusting as seen.
    #[schemars(with = "Option<String>")]
    pub grade: Option<SeenGrade>,
    /// Wall reading [mm]
    pub wall_mm: Option<f64>,
    /// What the wall was read with.
    pub gauge: Option<String>,
    /// Whether the place was cleaned and found sound.
    pub cleaned_and_sound: Option<bool>,
    /// Code of the inspector, no name.
    pub inspector: Option<String>,
    /// Money [the workshop's currency]
    pub amount: Option<f64>,
    /// Remark.
    pub remark: Option<String>,
    /// Number of the entry that this one corrects [-]
    pub supersedes: Option<i64>,
}

/// An entry of the record.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Entry {
    /// Its number [-]
    pub id: i64,
    /// When it was written down.
    #[schemars(with = "String")]
    pub recorded_at: Timestamp,
    /// Its fields.
    #[serde(flatten)]
    pub fields: NewEntry,
    /// Number of the entry that corrects it [-]
    pub superseded_by: Option<i64>,
}

impl NewEntry {
    /// An entry from its cells, by the names of the columns of a table.
    ///
    /// # Errors
    /// [`Error::Invalid`] that names the column, what was found and what is allowed.
    pub fn from_cells(kind: EntryKind, cells: &Cells) -> Result<Self> {
        let is_withdrawal = cells("what") == Some(WITHDRAWN) && cells("supersedes").is_some();
        let (needed, refused, name) = if is_withdrawal {
            (WITHDRAWAL_NEEDED, WITHDRAWAL_REFUSED, "withdrawal")
        } else {
            (kind.needed(), kind.refused(), kind.name())
        };
        if let Some(column) = needed.iter().find(|column| cells(column).is_none()) {
            return Err(Error::invalid(*column, "nothing", format!("needed for an entry of kind {name}")));
        }
        for column in refused {
            if let Some(found) = cells(column) {
                return Err(Error::invalid(*column, quoted(found), format!("nothing in a {name}")));
            }
        }
        let entry = Self {
            car: text(cells, "car", 40)?.unwrap_or_default(),
            kind,
            date: date("date", cells("date").unwrap_or_default())?,
            location: text(cells, "location", 60)?,
            what: text(cells, "what", 60)?,
            grade: cells("grade").map(grade).transpose()?,
            wall_mm: finite(cells, "wall_mm", 0.01..=WALL_MAX_MM)?,
            gauge: text(cells, "gauge", 60)?,
            cleaned_and_sound: cells("cleaned_and_sound").map(yes_or_no).transpose()?,
            inspector: cells("inspector").map(|found| code("inspector", found)).transpose()?,
            amount: finite(cells, "amount", 0.0..=AMOUNT_MAX)?,
            remark: remark(cells)?,
            supersedes: cells("supersedes").map(|found| number("supersedes", found)).transpose()?,
        };
        entry.checked()
    }

    /// An entry that takes back another one: nothing was seen or done there after all.
    pub(super) fn withdrawal(entry: &Entry, remark: Option<String>) -> Self {
        let Entry { id, fields, .. } = entry;
        Self {
            car: fields.car.clone(),
            kind: fields.kind,
            date: fields.date,
            location: fields.location.clone(),
            what: Some(WITHDRAWN.to_owned()),
            grade: None,
            wall_mm: None,
            gauge: None,
            cleaned_and_sound: None,
            inspector: None,
            amount: None,
            remark,
            supersedes: Some(*id),
        }
    }

    /// Whether it only takes back the entry that it corrects.
    #[must_use]
    pub fn is_withdrawal(&self) -> bool {
        self.supersedes.is_some() && self.what.as_deref() == Some(WITHDRAWN)
    }

    /// Checks that concern several cells at once.
    fn checked(self) -> Result<Self> {
        if self.is_withdrawal() {
            return Ok(self);
        }
        if self.kind == EntryKind::Inspection && self.grade.is_none() && self.wall_mm.is_none() {
            return Err(Error::invalid("grade", "nothing", "a grade, a wall reading in wall_mm, or both"));
        }
        if self.gauge.is_some() && self.wall_mm.is_none() {
            return Err(Error::invalid("gauge", "a gauge without a reading", "a gauge beside wall_mm"));
        }
        if let (EntryKind::Treatment, Some(what)) = (self.kind, &self.what) {
            treatment(what)?;
        }
        Ok(self)
    }

    /// Checks that a change of storage names an arrangement, without which no forecast can use it. Exports of before may hold
    /// others, so that this is checked where an entry is added, not where a record is read back.
    pub(super) fn check_arrangement(&self, model: &Model) -> Result<()> {
        let (EntryKind::Storage, Some(what), false) = (self.kind, &self.what, self.is_withdrawal()) else {
            return Ok(());
        };
        let offered = vary::offered(vary::Vary::Storage, model)?;
        let names: Vec<&str> = offered.iter().map(String::as_str).collect();
        if names.contains(&what.as_str()) {
            return Ok(());
        }
        Err(Error::unknown("what", what, &names))
    }

    /// Checks that a rework names one of the coating systems, or none.
    pub(super) fn check_system(&self, systems: &CoatingSystems) -> Result<()> {
        let (EntryKind::Rework, Some(what), false) = (self.kind, &self.what, self.is_withdrawal()) else {
            return Ok(());
        };
        let about_cell = |error: Error| match error {
            Error::Invalid { allowed, nearest, .. } => {
                Error::invalid("what", quoted(what), allowed).with_nearest(nearest.as_deref())
            }
            other => other,
        };
        systems.outside(what).map(drop).map_err(about_cell)
    }
}

/// Columns that a withdrawal needs, and those that say nothing in it.
const WITHDRAWAL_NEEDED: &[&str] = &["car", "date", "supersedes"];
const WITHDRAWAL_REFUSED: &[&str] = &["grade", "wall_mm", "gauge", "cleaned_and_sound", "amount", "photo"];

/// The remark, with the address of a photo behind it where there is one; the picture itself stays where it is.
fn remark(cells: &Cells) -> Result<Option<String>> {
    let photo = text(cells, "photo", 300)?.map(|address| format!("photo: {address}"));
    let parts: Vec<String> = cells("remark").map(str::to_owned).into_iter().chain(photo).collect();
    if parts.is_empty() { Ok(None) } else { one_line("remark", &parts.join("; "), REMARK_MAX).map(Some) }
}

fn grade(found: &str) -> Result<SeenGrade> {
    found.parse().map_err(|_| Error::invalid("grade", quoted(found), "Ri 0 to Ri 5 or D610 0 to D610 10"))
}

fn yes_or_no(found: &str) -> Result<bool> {
    match found {
        "yes" => Ok(true),
        "no" => Ok(false),
        _ => Err(Error::invalid("cleaned_and_sound", quoted(found), "yes, no")),
    }
}

/// The key of a treatment in case files.
fn treatment(found: &str) -> Result<()> {
    // a rework is a kind of entry of its own
    let names =
        [TreatmentKind::OverRust, TreatmentKind::WaxFilm, TreatmentKind::CavityWax].map(TreatmentKind::id);
    if names.contains(&found) {
        return Ok(());
    }
    Err(Error::invalid("what", quoted(found), names.join(", ")).with_nearest(nearest(found, names)))
}
