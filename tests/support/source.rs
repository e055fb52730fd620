//! Reads the project's own source: which files there are, and their code without comments, strings and tests.

use std::path::{Path, PathBuf};

/// The project's folder.
pub(crate) fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Files below a folder of the project whose name ends with one of `endings`, in order; build output and packages are left out.
pub(crate) fn files(folder: &str, endings: &[&str]) -> Vec<PathBuf> {
    let mut found = Vec::new();
    collect(&root().join(folder), endings, &mut found);
    found.sort();
    found
}

fn collect(folder: &Path, endings: &[&str], found: &mut Vec<PathBuf>) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    for path in entries.flatten().map(|entry| entry.path()) {
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        if path.is_dir() {
            if !["target", ".git", "out", "node_modules"].contains(&name.as_str()) {
                collect(&path, endings, found);
            }
        } else if endings.iter().any(|ending| name.ends_with(ending)) {
            found.push(path);
        }
    }
}

/// Path of a file within the project, with `/`.
pub(crate) fn name(path: &Path) -> String {
    path.strip_prefix(root()).unwrap_or(path).to_string_lossy().replace('\\', "/")
}

/// Text of a file.
pub(crate) fn read(path: &Path) -> String {
    let text = std::fs::read_to_string(path);
    assert!(text.is_ok(), "{}: {text:?}", path.display());
    text.unwrap_or_default()
}

/// The same text with comments and the insides of strings blanked, so that lines and columns stay.
pub(crate) fn code(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut code = String::with_capacity(text.len());
    let mut at = 0;
    while at < chars.len() {
        let end = blank_from(&chars, at);
        if end == at {
            code.push(chars[at]);
            at += 1;
        } else {
            chars[at..end].iter().for_each(|c| code.push(if *c == '\n' { '\n' } else { ' ' }));
            at = end;
        }
    }
    code
}

/// Where the comment, string or character that begins at `at` ends, or `at` when none begins.
fn blank_from(chars: &[char], at: usize) -> usize {
    let next = |k: usize| chars.get(at + k).copied().unwrap_or(' ');
    let word_before = at > 0 && (chars[at - 1].is_alphanumeric() || chars[at - 1] == '_');
    match chars[at] {
        '/' if next(1) == '/' => (at..chars.len()).find(|i| chars[*i] == '\n').unwrap_or(chars.len()),
        '/' if next(1) == '*' => end_of_block_comment(chars, at),
        '"' => end_of_quote(chars, at + 1, '"'),
        'r' if !word_before && matches!(next(1), '"' | '#') => end_of_raw_string(chars, at),
        '\'' if next(1) == '\\' || next(2) == '\'' => end_of_quote(chars, at + 1, '\''),
        _ => at,
    }
}

/// String literals of a text outside comments: where each begins, and what it holds.
#[allow(dead_code, reason = "each test uses its part")]
pub(crate) fn strings(text: &str) -> Vec<(usize, &str)> {
    let chars: Vec<char> = text.chars().collect();
    let bytes: Vec<usize> = text.char_indices().map(|(at, _)| at).chain([text.len()]).collect();
    let (mut at, mut found) = (0, Vec::new());
    while at < chars.len() {
        let end = blank_from(&chars, at);
        if end > at && matches!(chars[at], '"' | 'r') {
            found.push((bytes[at], &text[bytes[at]..bytes[end]]));
        }
        at = end.max(at + 1);
    }
    found
}

fn end_of_block_comment(chars: &[char], at: usize) -> usize {
    let (mut depth, mut i) = (0, at);
    while i + 1 < chars.len() {
        match (chars[i], chars[i + 1]) {
            ('/', '*') => depth += 1,
            ('*', '/') => depth -= 1,
            _ => {
                i += 1;
                continue;
            }
        }
        i += 2;
        if depth == 0 {
            return i;
        }
    }
    chars.len()
}

fn end_of_quote(chars: &[char], from: usize, quote: char) -> usize {
    let mut i = from;
    while i < chars.len() && chars[i] != quote {
        i += if chars[i] == '\\' { 2 } else { 1 };
    }
    (i + 1).min(chars.len())
}

fn end_of_raw_string(chars: &[char], at: usize) -> usize {
    let hashes = chars[at + 1..].iter().take_while(|c| **c == '#').count();
    if chars.get(at + 1 + hashes) != Some(&'"') {
        return at;
    }
    let ends = |i: &usize| {
        chars[*i] == '"' && chars[i + 1..].iter().take(hashes).filter(|c| **c == '#').count() == hashes
    };
    (at + 2 + hashes..chars.len()).find(ends).map_or(chars.len(), |i| i + 1 + hashes)
}

/// Code with every item under `#[cfg(test)]` blanked.
pub(crate) fn without_tests(code: &str) -> String {
    let mut left = code.to_owned();
    while let Some(start) = left.find("#[cfg(test)]") {
        let end = end_of_item(&left, start);
        let blank: String = left[start..end].chars().map(|c| if c == '\n' { '\n' } else { ' ' }).collect();
        left.replace_range(start..end, &blank);
    }
    left
}

/// Where the item that begins at byte `start` of code ends: after its braces, or its semicolon.
pub(crate) fn end_of_item(code: &str, start: usize) -> usize {
    let mut depth = 0;
    for (i, c) in code[start..].char_indices() {
        match c {
            '{' | '(' | '[' => depth += 1,
            '}' | ')' | ']' => depth -= 1,
            ';' if depth == 0 => return start + i + 1,
            _ => continue,
        }
        if depth == 0 && c == '}' {
            return start + i + 1;
        }
    }
    code.len()
}

/// Line, counted from 1, of a byte of a text.
pub(crate) fn line(text: &str, at: usize) -> usize {
    text[..at].matches('\n').count() + 1
}

/// Byte positions at which a word stands alone in code.
pub(crate) fn words<'a>(code: &'a str, word: &'a str) -> impl Iterator<Item = usize> + 'a {
    let part = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
    code.match_indices(word).map(|(at, _)| at).filter(move |at| {
        !part(code[..*at].chars().next_back()) && !part(code[at + word.len()..].chars().next())
    })
}
