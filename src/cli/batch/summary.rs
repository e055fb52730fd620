//! What a batch answered in sum, what it rests on, and which part it is.

use super::Work;
use crate::batch::{Answer, GroupTotals, Totals};
use crate::error::{Error, Result};
use crate::report::json::json_with;
use crate::report::notice::NOTICE;
use crate::report::number_words::{grouped, percent};
use crate::report::provenance::{Input, InputKind, Provenance};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// Ages whose shares are shown [a].
const AGES_A: [usize; 4] = [5, 10, 15, 20];
/// Reasons that are listed, of rows that could not be answered [-].
const REASONS_MAX: usize = 5;

/// A batch in sum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::cli) struct BatchSummary {
    /// What it answers: the same for all parts of a batch.
    pub(in crate::cli) batch_key: String,
    /// Rows of the table of cases [-].
    pub(in crate::cli) rows: u64,
    /// First row of this part, from 1 [-].
    pub(in crate::cli) first_row: u64,
    /// Rows of this part [-].
    pub(in crate::cli) rows_here: u64,
    /// Sums by group.
    pub(in crate::cli) groups: BTreeMap<String, GroupTotals>,
    /// Expected share of the cars with rework by each year of age from 1 on, by group [-].
    pub(in crate::cli) share_by_year: BTreeMap<String, Vec<f64>>,
    /// The first rows that could not be answered, with the reason.
    pub(in crate::cli) refused: Vec<String>,
    /// What a reader must not do with the numbers.
    cautions: Vec<String>,
    #[serde(skip_serializing, default = "Provenance::of_this_program")]
    pub(in crate::cli) provenance: Provenance,
}

impl BatchSummary {
    /// Of a part that nothing was added of yet.
    pub(super) fn new(work: &Work, range: &Range<u64>) -> Self {
        let name = work.table.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let input = Input { argument: 1, kind: InputKind::File, name, sha256: Some(work.digest.clone()) };
        let settings = &work.batch.settings;
        let provenance = Provenance {
            seed: Some(settings.seed),
            histories: Some(settings.histories),
            inputs: vec![input],
            ..Provenance::of_this_program()
        };
        Self {
            batch_key: work.key.clone(),
            rows: work.rows.count,
            first_row: range.start,
            rows_here: 0,
            groups: BTreeMap::new(),
            share_by_year: BTreeMap::new(),
            refused: Vec::new(),
            cautions: vec![NOTICE.to_owned()],
            provenance,
        }
    }

    /// Adds answers.
    pub(super) fn add(&mut self, answers: &[Answer]) {
        let mut totals = Totals { groups: std::mem::take(&mut self.groups) };
        for answer in answers {
            totals.add(answer);
            if let Some(error) = answer.error.as_ref().filter(|_| self.refused.len() < REASONS_MAX) {
                self.refused.push(format!("row {}: {error}", answer.row));
            }
        }
        self.rows_here += answers.len() as u64;
        self.take(totals);
    }

    /// The next part of the same batch joined to this one.
    ///
    /// # Errors
    /// [`Error::Invalid`] where it answers something else or is not the next.
    pub(in crate::cli) fn followed_by(mut self, next: Self, name: &str) -> Result<Self> {
        if next.batch_key != self.batch_key {
            return Err(Error::invalid(name, "a part of another batch", "parts of one batch"));
        }
        let awaited = self.first_row + self.rows_here;
        if next.first_row != awaited {
            let found = format!("rows from {} on", next.first_row);
            return Err(Error::invalid(name, found, format!("rows from {awaited} on")));
        }
        let mut totals = Totals { groups: std::mem::take(&mut self.groups) };
        totals.merge(&Totals { groups: next.groups });
        self.rows_here += next.rows_here;
        self.refused.extend(next.refused);
        self.refused.truncate(REASONS_MAX);
        self.take(totals);
        Ok(self)
    }

    fn take(&mut self, totals: Totals) {
        self.groups = totals.groups;
        let shares = |(name, group): (&String, &GroupTotals)| (name.clone(), group.share_by_year());
        self.share_by_year = self.groups.iter().map(shares).collect();
    }

    /// As JSON.
    pub(in crate::cli) fn json(&self) -> Result<String> {
        json_with(self, &self.provenance)
    }

    /// Name of the summary beside a table.
    pub(in crate::cli) fn path(table: &Path) -> PathBuf {
        let mut name = table.to_owned().into_os_string();
        name.push(".summary.json");
        name.into()
    }
}

/// The summary in words.
pub(in crate::cli) fn summary_text(summary: &BatchSummary) -> String {
    let sum = |of: fn(&GroupTotals) -> u64| summary.groups.values().map(of).sum::<u64>() as f64;
    let (answered, refused) = (sum(|group| group.answered), sum(|group| group.refused));
    let mut text = format!("{} rows answered, {} refused\n", grouped(answered, 0), grouped(refused, 0));
    for reason in &summary.refused {
        text = text + "  " + reason + "\n";
    }
    text += "\nExpected share of the cars with rework by an age of\n";
    text += &table_line("group", &AGES_A.map(|age_a| format!("{age_a} a")));
    for (name, group) in summary.groups.iter().filter(|(_, group)| group.answered > 0) {
        let shares = group.share_by_year();
        let share =
            |age_a: usize| shares.get(age_a - 1).map_or_else(|| "-".to_owned(), |share| percent(*share));
        let name = if name.is_empty() { "all" } else { name };
        text += &table_line(name, &AGES_A.map(share));
    }
    text + "\n" + NOTICE + "\n"
}

fn table_line(name: &str, cells: &[String]) -> String {
    let cells: Vec<String> = cells.iter().map(|cell| format!("{cell:>8}")).collect();
    format!("{name:24}{}\n", cells.concat())
}
