//! Page two: what moves the date and what does not, each choice against the car left as it is, on the same histories.

use super::content::{Letter, section};
use crate::forecast::comparison::{After, Compared};
use crate::forecast::outcome::GradeShares;
use crate::report::as_of::NEARLY_ALL;
use crate::report::compare_words::NOTHING_A;
use crate::report::document::{LetterBlock, LetterRow, LetterSection, LetterTable};
use crate::report::number_words::{of_twenty, signed, significant};

/// Share of the futures from which a choice counts as moving the date where its middle one does not [-].
const SOME: f64 = 0.25;

pub(super) fn choices(letter: &Letter) -> LetterSection {
    let others = letter.choices.paired.cases.get(1..).unwrap_or_default();
    let blocks = if letter.forecast.age_at_rework.share_by(letter.age_a) > NEARLY_ALL {
        vec![LetterBlock::Paragraph(TOO_LATE.to_owned() + &coat(others))]
    } else {
        let table = LetterBlock::Table(by_gain(others, step_a(letter.shift_error_a)));
        vec![LetterBlock::Paragraph(introduction(letter)), table, LetterBlock::Paragraph(coat(others))]
    };
    section("What moves the date", blocks)
}

const TOO_LATE: &str = "In more than 19 of 20 futures the point is reached already. Another place to stand, washing, wax or a \
    coat over the rust slow what comes; none of them takes the member back before that point, so no years are listed here. ";

/// Every choice with the years it gains, those that gain most first.
fn by_gain(others: &[Compared], step_a: f64) -> LetterTable {
    let mut sorted: Vec<&Compared> = others.iter().collect();
    let key = |case: &Compared| [case.shift_a.p50, case.postpones_1a, case.shift_a.p95, case.shift_a.p05];
    let differ = |a: &Compared, b: &Compared| {
        let pairs = key(b).into_iter().zip(key(a));
        pairs.map(|(b, a)| b.total_cmp(&a)).find(|order| order.is_ne())
    };
    sorted.sort_by(|a, b| differ(a, b).unwrap_or(std::cmp::Ordering::Equal));
    let columns = [
        ("From today on", 1.65),
        ("years gained [a]", 0.7),
        ("in 18 of 20 [a]", 0.85),
        ("a year or more later in", 1.0),
    ];
    let mut table = LetterTable::with_columns(&columns);
    for (name, belongs) in GROUPS {
        let of_group = sorted.iter().filter(|case| belongs(case)).map(|case| row(case, step_a));
        let rows: Vec<LetterRow> = of_group.collect();
        if !rows.is_empty() {
            table.rows.push(LetterRow { cells: vec![(*name).to_owned()], strong: true });
            table.rows.extend(rows);
        }
    }
    table
}

type Belongs = fn(&Compared) -> bool;

/// Rows under a heading of their own, in the order they stand.
const GROUPS: &[(&str, Belongs)] = &[
    ("Moves it later, in some futures at least", later),
    ("Hardly moves it", |case| !later(case) && !nearer(case)),
    ("Brings it nearer, in some futures at least", nearer),
];

fn later(case: &Compared) -> bool {
    case.shift_a.p50 >= NOTHING_A || (case.shift_a.p50 > -NOTHING_A && case.postpones_1a >= SOME)
}

/// The middle future loses, or one in twenty loses a year or more while none gains one.
fn nearer(case: &Compared) -> bool {
    let s = &case.shift_a;
    s.p50 <= -NOTHING_A || (!later(case) && s.p05 <= -1.0 && s.p95 < 1.0)
}

/// Step that years gained are rounded to: no finer than they are known [a].
pub(super) fn step_a(shift_error_a: f64) -> f64 {
    if shift_error_a <= 0.1 { 0.1 } else { 0.5 }
}

fn row(case: &Compared, step_a: f64) -> LetterRow {
    let bound = if case.shift_hidden_share > 0.5 && case.shift_a.p50 > 0.0 { "≥ " } else { "" };
    let s = &case.shift_a;
    let shift = |shift_a: f64| minus((shift_a / step_a).round() * step_a);
    let cells = [
        case.name.clone(),
        format!("{bound}{}", shift(s.p50)),
        format!("{} to {}", shift(s.p05), shift(s.p95)),
        of_twenty(case.postpones_1a),
    ];
    LetterRow { cells: cells.into(), strong: false }
}

/// A shift with the sign that is as wide as a digit.
fn minus(shift_a: f64) -> String {
    signed(shift_a).replace('-', "\u{2212}")
}

fn introduction(letter: &Letter) -> String {
    let reached = letter.forecast.age_at_rework.share_by(letter.age_a);
    let late = match reached {
        share if share < 0.05 => String::new(),
        share => format!(
            " In {} futures the point is reached already, and nothing that is begun today changes that.",
            of_twenty(share)
        ),
    };
    format!(
        "Each line sets one choice from {} on against leaving everything as it is, in the same futures: the years it gains \
         in the middle future and in 18 of 20, and in how many of 20 it gains a year or more. The years are computed to \
         about {} (standard error).{late}",
        letter.date,
        error_in_words(letter.shift_error_a)
    )
}

/// A standard error, never smaller than a tenth [a].
pub(super) fn error_in_words(error_a: f64) -> String {
    if error_a < 0.1 { "a tenth of a year".to_owned() } else { format!("{} years", significant(error_a, 1)) }
}

/// What a coat over the rust changes of what is seen.
fn coat(others: &[Compared]) -> String {
    let coated = others.iter().find(|case| case.name == "over-rust coat, unprepared");
    let soon = coated.and_then(|case| case.after.first());
    let is_hidden = |after: &&After| {
        let grades = |of: [&GradeShares; 2]| of.map(GradeShares::median_grade);
        let run = grades([&after.visible_grade_shares, &after.true_grade_shares]);
        let node = grades([&after.visible_node_grade_shares, &after.true_node_grade_shares]);
        run[0] != run[1] || node[0] != node[1]
    };
    let numbers = soon.filter(is_hidden).map_or_else(String::new, |after| {
        format!(
            " If it were brushed over now without cleaning, at {} years of age the open length would look like Ri {} and be \
             Ri {}, the worst weld look like Ri {} and be Ri {}.",
            after.age_a,
            after.visible_grade_shares.median_grade(),
            after.true_grade_shares.median_grade(),
            after.visible_node_grade_shares.median_grade(),
            after.true_node_grade_shares.median_grade()
        )
    });
    format!("A coat over the rust changes what is seen more than what is there.{numbers}")
}
