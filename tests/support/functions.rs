//! Finds the functions of a file: where they begin and end, what they take, which are tests.

use crate::source::{end_of_item, line, words};

/// A function as it stands in code (comments and strings blanked).
#[derive(Debug)]
pub(crate) struct Function {
    pub(crate) name: String,
    /// First line, counted from 1, and number of lines.
    pub(crate) line: usize,
    pub(crate) lines: usize,
    /// Parameters without `self`.
    pub(crate) parameters: usize,
    /// Parts of the longest tuple in its parameters and result.
    pub(crate) longest_tuple: usize,
    /// Marked `#[test]` and not `#[ignore]`.
    pub(crate) is_test: bool,
    /// Bytes of the body.
    pub(crate) body: std::ops::Range<usize>,
}

/// Functions with a body, in order.
pub(crate) fn functions(code: &str) -> Vec<Function> {
    words(code, "fn").filter_map(|at| function(code, at)).collect()
}

fn function(code: &str, at: usize) -> Option<Function> {
    let rest = code[at + 2..].trim_start();
    let name: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
    if name.is_empty() {
        return None; // a function type such as `fn(f64) -> f64`
    }
    let name_at = code.len() - rest.len();
    let open = parenthesis_after_generics(code, name_at + name.len())?;
    let close = closing(code, open)?;
    let end = end_of_item(code, close + 1);
    if !code[..end].ends_with('}') {
        return None; // a signature in a trait
    }
    let body = close + 1..end;
    let first = line(code, at);
    let attributes = attributes_before(code, at);
    Some(Function {
        lines: line(code, end) - first + 1,
        line: first,
        parameters: parameters(&code[open + 1..close]),
        longest_tuple: longest_tuple(&code[open..signature_end(code, close)]),
        is_test: attributes.contains("#[test]") && !attributes.contains("#[ignore"),
        name,
        body,
    })
}

/// Where the signature ends and the body begins.
fn signature_end(code: &str, close: usize) -> usize {
    code[close..].find('{').map_or(code.len(), |at| close + at)
}

/// Parts of the longest tuple type of a signature, which begins with its parameters; those of `Fn(...)` do not count.
fn longest_tuple(signature: &str) -> usize {
    let opens = signature.match_indices('(').map(|(at, _)| at).skip(1);
    let is_tuple = |at: &usize| {
        let before = signature[..*at].trim_end().chars().next_back();
        !before.is_some_and(|c| c.is_alphanumeric() || c == '_')
    };
    opens
        .filter(is_tuple)
        .filter_map(|at| closing(signature, at).map(|end| parameters(&signature[at + 1..end])))
        .max()
        .unwrap_or(0)
}

/// The parenthesis that opens the parameters; one within generics, as in `<F: Fn(f64)>`, is not it.
fn parenthesis_after_generics(code: &str, from: usize) -> Option<usize> {
    let mut depth = 0;
    let mut before = ' ';
    for (i, c) in code[from..].char_indices() {
        match c {
            '<' => depth += 1,
            '>' if before != '-' => depth -= 1,
            '(' if depth == 0 => return Some(from + i),
            _ => {}
        }
        before = c;
    }
    None
}

fn closing(code: &str, open: usize) -> Option<usize> {
    let mut depth = 0;
    for (i, c) in code[open..].char_indices() {
        match c {
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return Some(open + i);
        }
    }
    None
}

fn parameters(list: &str) -> usize {
    let mut depth = 0;
    let mut parts = vec![String::new()];
    let mut before = ' ';
    for c in list.chars() {
        match c {
            '(' | '[' | '{' | '<' => depth += 1,
            ')' | ']' | '}' => depth -= 1,
            '>' if before != '-' && before != '=' => depth -= 1,
            _ => {}
        }
        if c == ',' && depth == 0 {
            parts.push(String::new());
        } else if let Some(part) = parts.last_mut() {
            part.push(c);
        }
        before = c;
    }
    let is_self =
        |part: &str| part.split(':').next().is_some_and(|name| words(name, "self").next().is_some());
    parts.iter().filter(|part| !part.trim().is_empty() && !is_self(part)).count()
}

/// What stands between the item before and the `fn`.
fn attributes_before(code: &str, at: usize) -> &str {
    let start = code[..at].rfind(['}', ';', '{']).map_or(0, |i| i + 1);
    &code[start..at]
}
