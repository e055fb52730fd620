//! Aligned columns in plain text, at most 100 characters wide; one column may break its words over several lines.

/// Widest line [characters].
const WIDTH: usize = 100;
/// Space between columns [characters].
const GAP: usize = 2;

/// How a column stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stand {
    /// Text, never broken.
    Left,
    /// Numbers.
    Right,
    /// Text that takes the room that is left and breaks between words.
    Words,
}

/// Column headings, broken at `\n`, with how each column stands.
pub(super) type Heads<'a> = &'a [(&'a str, Stand)];

/// A table with headings; every row has a cell a column.
pub(super) fn table(heads: Heads, rows: &[Vec<String>]) -> String {
    let widths = widths(heads, rows);
    let headings: Vec<Vec<String>> =
        heads.iter().map(|(head, _)| head.split('\n').map(str::to_owned).collect()).collect();
    let broken = rows.iter().map(|row| {
        let cells = row.iter().zip(heads).zip(&widths);
        cells.map(|((cell, (_, stand)), width)| broken(cell, *stand, *width)).collect::<Vec<_>>()
    });
    let has_heading = heads.iter().any(|(head, _)| !head.is_empty());
    let all = has_heading.then_some(headings).into_iter().chain(broken);
    all.map(|cells| block(&cells, heads, &widths)).collect()
}

/// Lines of `label  words`, without headings, set in by two.
pub(super) fn facts(rows: &[(&str, String)]) -> String {
    let rows: Vec<Vec<String>> =
        rows.iter().map(|(label, words)| vec![String::new(), (*label).to_owned(), words.clone()]).collect();
    table(&[("", Stand::Left), ("", Stand::Left), ("", Stand::Words)], &rows)
}

/// Words broken to the width, a line each.
pub(super) fn paragraph(words: &str) -> String {
    broken(words, Stand::Words, WIDTH).join("\n") + "\n"
}

fn widths(heads: Heads, rows: &[Vec<String>]) -> Vec<usize> {
    let natural = |column: usize, head: &str| {
        let cells = rows.iter().filter_map(|row| row.get(column)).map(|cell| length(cell));
        cells.chain(head.split('\n').map(length)).max().unwrap_or(0)
    };
    let mut widths: Vec<usize> = heads.iter().enumerate().map(|(c, (head, _))| natural(c, head)).collect();
    let total: usize = widths.iter().sum::<usize>() + GAP * widths.len().saturating_sub(1);
    for (width, (_, stand)) in widths.iter_mut().zip(heads) {
        if *stand == Stand::Words {
            *width = width.saturating_sub(total.saturating_sub(WIDTH)).max(20);
        }
    }
    widths
}

/// One row, as many lines as its tallest cell.
fn block(cells: &[Vec<String>], heads: Heads, widths: &[usize]) -> String {
    let height = cells.iter().map(Vec::len).max().unwrap_or(0);
    let line = |number: usize| {
        let parts = cells.iter().zip(heads).zip(widths).map(|((lines, (_, stand)), width)| {
            let text = lines.get(number).map_or("", String::as_str);
            if *stand == Stand::Right { format!("{text:>width$}") } else { format!("{text:<width$}") }
        });
        let joined = parts.collect::<Vec<_>>().join(&" ".repeat(GAP));
        joined.trim_end().to_owned() + "\n"
    };
    (0..height).map(line).collect()
}

fn broken(cell: &str, stand: Stand, width: usize) -> Vec<String> {
    if stand != Stand::Words {
        return vec![cell.to_owned()];
    }
    let mut lines = vec![String::new()];
    for word in cell.split_whitespace() {
        let Some(last) = lines.last_mut() else { break };
        if last.is_empty() {
            last.push_str(word);
        } else if length(last) + 1 + length(word) <= width {
            last.push(' ');
            last.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

fn length(text: &str) -> usize {
    text.chars().count()
}

#[cfg(test)]
mod tests {
    use super::{Stand, facts, table};

    #[test]
    fn closed_form_small_table() {
        let rows = [vec!["a".to_owned(), "1.5".to_owned()], vec!["bcd".to_owned(), "12.5".to_owned()]];
        let text = table(&[("name", Stand::Left), ("T\n[°C]", Stand::Right)], &rows);
        assert_eq!(text, "name     T\n      [°C]\na      1.5\nbcd   12.5\n");
    }

    #[test]
    fn property_no_line_is_wider_than_the_page() {
        let text = facts(&[("source", "word ".repeat(60)), ("rate", "1".to_owned())]);
        assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
        assert!(text.lines().count() > 3 && text.ends_with("  rate    1\n"), "{text}");
    }
}
