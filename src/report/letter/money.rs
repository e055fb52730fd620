//! Page two: what was quoted, and what options cost at the workshop's prices. Amounts are in the workshop's currency.

use super::content::{Abridgement, Letter, section};
use crate::decision::Decision;
use crate::record::EntryKind;
use crate::report::decision_words::{advice, option_title};
use crate::report::document::{LetterBlock, LetterSection, LetterTable};
use crate::report::number_words::{money, significant};
use crate::report::text::shortened;

/// Options that are listed at most, the cheapest first; not more than dates [-].
const OPTIONS: usize = 5;

pub(super) fn costs(letter: &Letter, abridgement: Abridgement) -> LetterSection {
    let mut blocks = quotes(letter, abridgement);
    match letter.decision {
        Some(decision) => blocks.extend(options(decision, OPTIONS.min(abridgement.dates))),
        None if blocks.is_empty() => {
            blocks.push(LetterBlock::Paragraph(
                "No price has been quoted for this car yet; please ask the workshop for one.".to_owned(),
            ));
        }
        None => {}
    }
    section("Costs", blocks)
}

fn quotes(letter: &Letter, abridgement: Abridgement) -> Vec<LetterBlock> {
    let quotes = letter.entries.iter().rev().filter(|entry| entry.fields.kind == EntryKind::Quote);
    let count = quotes.clone().count();
    if count == 0 {
        return Vec::new();
    }
    let mut table =
        LetterTable::with_columns(&[("Quoted on", 0.7), ("for", 1.2), ("amount", 0.8), ("remark", 1.6)]);
    for entry in quotes.take(abridgement.lines) {
        let fields = &entry.fields;
        let text = |text: &Option<String>, max_length: usize| {
            text.as_ref()
                .map_or_else(String::new, |text| shortened(text, max_length.min(abridgement.characters)))
        };
        let what = text(&fields.what, 60);
        let what = if what.is_empty() { text(&fields.location, 60) } else { what };
        let amount = fields.amount.map_or_else(String::new, |amount| format!("{amount}"));
        table.add([fields.date.to_string(), what, amount, text(&fields.remark, 200)], false);
    }
    let mut blocks = vec![LetterBlock::Table(table)];
    if count > abridgement.lines {
        blocks.push(LetterBlock::Small(format!(
            "{} earlier quotes are left out here.",
            count - abridgement.lines
        )));
    }
    blocks
}

fn options(decision: &Decision, listed: usize) -> Vec<LetterBlock> {
    let mut sorted: Vec<_> = decision.options.iter().collect();
    sorted.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    let columns =
        [("At the workshop's prices", 1.6), ("on average", 0.7), ("5 to 95 %", 1.0), ("a year", 0.6)];
    let mut table = LetterTable::with_columns(&columns);
    for option in sorted.into_iter().take(listed) {
        let quantiles = &option.net_present_cost;
        let cells = [
            option_title(option.name),
            money(option.cost),
            format!("{} to {}", money(quantiles.p05), money(quantiles.p95)),
            money(option.equivalent_annual_cost),
        ];
        table.add(cells, false);
    }
    let words = format!(
        "{} These are the {listed} cheapest of {} options over {} years, with interest of {} % and the cost of being late. \
         Only this member is counted.",
        advice(decision),
        decision.options.len(),
        significant(decision.keep_a, 3),
        significant(decision.discount_rate_pct, 3)
    );
    vec![LetterBlock::Table(table), LetterBlock::Paragraph(words)]
}
