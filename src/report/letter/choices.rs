//! Page two: what moves the date and what does not, each choice against the car left as it is, on the same histories.

use super::{Letter, now, section};
use crate::report::compare::Compared;
use crate::report::compare_words::{NOTHING_A, of_twenty, signed};
use crate::report::document::{Block, Row, Section, Table};
use crate::report::words::percent;

/// Share of the futures from which a choice counts as moving the date where its middle one does not [-].
const SOME: f64 = 0.25;

pub(super) fn choices(letter: &Letter) -> Section {
    let comparison = letter.choices;
    let others = comparison.cases.get(1..).unwrap_or_default();
    let mut sorted: Vec<&Compared> = others.iter().collect();
    sorted.sort_by(|a, b| {
        b.shift_a.p50.total_cmp(&a.shift_a.p50).then(b.postpones_1a.total_cmp(&a.postpones_1a))
    });
    let columns = [
        ("From today on", 1.65),
        ("years gained [a]", 0.7),
        ("5 to 95 % [a]", 0.85),
        ("a year or more later in", 1.0),
    ];
    let mut table = Table::with_columns(&columns);
    for (name, belongs) in GROUPS {
        let of_group = sorted.iter().filter(|case| belongs(case)).map(|case| row(case));
        let rows: Vec<Row> = of_group.collect();
        if !rows.is_empty() {
            table.rows.push(Row { cells: vec![(*name).to_owned()], strong: true });
            table.rows.extend(rows);
        }
    }
    let blocks =
        vec![Block::Paragraph(introduction(letter)), Block::Table(table), Block::Paragraph(coat(others))];
    section("What moves the date", blocks)
}

type Belongs = fn(&Compared) -> bool;

/// Rows under a heading of their own, in the order they stand.
const GROUPS: &[(&str, Belongs)] = &[
    ("Moves the date", moves),
    ("Hardly moves it", |case| !moves(case) && case.shift_a.p50 > -NOTHING_A),
    ("Brings it nearer", |case| !moves(case) && case.shift_a.p50 <= -NOTHING_A),
];

fn moves(case: &Compared) -> bool {
    case.shift_a.p50 >= NOTHING_A || (case.shift_a.p50 > -NOTHING_A && case.postpones_1a >= SOME)
}

fn row(case: &Compared) -> Row {
    let bound = if case.shift_hidden_share > 0.5 && case.shift_a.p50 > 0.0 { "≥ " } else { "" };
    let s = &case.shift_a;
    let cells = [
        case.name.clone(),
        format!("{bound}{}", minus(s.p50)),
        format!("{} to {}", minus(s.p05), minus(s.p95)),
        of_twenty(case.postpones_1a),
    ];
    Row { cells: cells.into(), strong: false }
}

/// A shift with the sign that is as wide as a digit.
fn minus(shift_a: f64) -> String {
    signed(shift_a).replace('-', "\u{2212}")
}

fn introduction(letter: &Letter) -> String {
    let reached = now::reached(&letter.forecast.band, letter.age_a);
    let late = match reached {
        share if share < 0.05 => String::new(),
        share => format!(
            " In {} futures ({}) the point is reached already, and nothing begun today moves it there.",
            of_twenty(share),
            percent(share)
        ),
    };
    format!(
        "The same car with the same luck, from {} on, against leaving everything as it is: the middle future of years \
         gained, 18 of 20 futures, and in how many it is a year or more.{late}",
        letter.date
    )
}

/// What a coat over the rust does to the eye.
fn coat(others: &[Compared]) -> String {
    let coated = others.iter().find(|case| case.name.starts_with("over-rust coat"));
    let state = coated.and_then(|case| case.after.iter().find(|after| after.after_a >= 1.0));
    let numbers = state.map_or_else(String::new, |after| {
        format!(
            " A year or two on, brushed over without cleaning, the run would look like Ri {} and be Ri {}; the worst \
             node would look like Ri {} and be Ri {}.",
            after.visible_grade_shares.median_grade(),
            after.true_grade_shares.median_grade(),
            after.visible_node_grade_shares.median_grade(),
            after.true_node_grade_shares.median_grade()
        )
    });
    format!("A coat over the rust changes what is seen more than what is there.{numbers}")
}
