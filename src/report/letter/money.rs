//! Page two: what was quoted, and what options cost at the workshop's prices. Amounts are in the workshop's currency.

use super::{Letter, Room, section};
use crate::decision::Decision;
use crate::record::Kind;
use crate::report::decision_words::option_title;
use crate::report::document::{Block, Section, Table};
use crate::report::number_words::{age, money, significant};
use crate::report::text::shortened;

/// Options told; the cheapest first.
const OPTIONS: usize = 5;

pub(super) fn costs(letter: &Letter, room: Room) -> Section {
    let mut blocks = quotes(letter, room);
    match letter.decision {
        Some(decision) => blocks.extend(options(decision)),
        None if blocks.is_empty() => {
            blocks.push(Block::Paragraph("No quote is on record; ask the workshop for one.".to_owned()));
        }
        None => {}
    }
    section("Costs", blocks)
}

fn quotes(letter: &Letter, room: Room) -> Vec<Block> {
    let quotes = letter.entries.iter().rev().filter(|entry| entry.told.kind == Kind::Quote);
    let count = quotes.clone().count();
    if count == 0 {
        return Vec::new();
    }
    let mut table =
        Table::with_columns(&[("Quoted on", 0.7), ("for", 1.2), ("amount", 0.8), ("remark", 1.6)]);
    for entry in quotes.take(room.lines) {
        let told = &entry.told;
        let text = |text: &Option<String>, most: usize| {
            text.as_ref().map_or_else(String::new, |text| shortened(text, most.min(room.letters)))
        };
        let what = text(&told.what, 60);
        let what = if what.is_empty() { text(&told.location, 60) } else { what };
        let amount = told.amount.map_or_else(String::new, |amount| format!("{amount}"));
        table.add([told.date.to_string(), what, amount, text(&told.remark, 200)], false);
    }
    let mut blocks = vec![Block::Table(table)];
    if count > room.lines {
        blocks.push(Block::Small(format!("{} earlier quotes are left out here.", count - room.lines)));
    }
    blocks
}

fn options(decision: &Decision) -> Vec<Block> {
    let mut sorted: Vec<_> = decision.options.iter().collect();
    sorted.sort_by(|a, b| a.mean_present_cost.total_cmp(&b.mean_present_cost));
    let columns =
        [("At the workshop's prices", 1.6), ("on average", 0.7), ("5 to 95 %", 1.0), ("a year", 0.6)];
    let mut table = Table::with_columns(&columns);
    for option in sorted.into_iter().take(OPTIONS) {
        let spread = &option.net_present_cost;
        let cells = [
            option_title(option.name),
            money(option.mean_present_cost),
            format!("{} to {}", money(spread.p05), money(spread.p95)),
            money(option.equivalent_annual_cost),
        ];
        table.add(cells, false);
    }
    let best = decision.best_rework_age_a.map_or_else(
        || "no rework planned within that time costs least; look again each year".to_owned(),
        |age_a| format!("a rework planned today costs least at an age of {}", age(age_a, None)),
    );
    let words = format!(
        "The {OPTIONS} cheapest of {}, over {} years, interest {} %, with the cost of being late; {best}. Only this \
         member is counted.",
        decision.options.len(),
        significant(decision.keep_a, 3),
        significant(decision.discount_rate_pct, 3)
    );
    vec![Block::Table(table), Block::Paragraph(words)]
}
