//! What differs between a file of then and the same file computed now: what it rests on, and the first thing it says.

use crate::report::provenance::{found_in, without};
use serde::Serialize;
use serde_json::Value;

/// Longest piece of a file that is shown [characters].
const SHOWN_MAX: usize = 60;

/// Something that was one thing then and is another now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Difference {
    pub(super) what: String,
    pub(super) then: String,
    pub(super) now: String,
}

/// What differs between two versions of a file.
pub(super) fn differences(then: &[u8], now: &[u8]) -> Vec<Difference> {
    let of = |bytes| found_in(bytes).and_then(|provenance| serde_json::to_value(provenance).ok());
    let (was, is) = (of(then).unwrap_or_default(), of(now).unwrap_or_default());
    let mut all = Vec::new();
    for (key, then) in was.as_object().into_iter().flatten() {
        if let Some(found) = first_in("", then, is.get(key).unwrap_or(&Value::Null)) {
            all.push(Difference { what: format!("{key}{}", found.what), ..found });
        }
    }
    all.extend(first_of(then, now));
    if all.is_empty() {
        // the same values, written otherwise
        all.extend(first_line(&String::from_utf8_lossy(then), &String::from_utf8_lossy(now)));
    }
    all
}

/// The first thing that differs behind what the files rest on.
fn first_of(then: &[u8], now: &[u8]) -> Option<Difference> {
    let parsed = |bytes: &[u8]| {
        let mut value: Value = serde_json::from_slice(bytes).ok()?;
        value.as_object_mut()?.remove("provenance");
        Some(value)
    };
    if let Some((then, now)) = parsed(then).zip(parsed(now)) {
        return first_in("", &then, &now);
    }
    let (then, now) = (without(then), without(now));
    match (std::str::from_utf8(&then), std::str::from_utf8(&now)) {
        (Ok(then), Ok(now)) => first_line(then, now),
        _ if then == now => None,
        _ => {
            let length = |bytes: &[u8]| format!("{} bytes", bytes.len());
            Some(Difference { what: "pixels".to_owned(), then: length(&then), now: length(&now) })
        }
    }
}

/// The first place in two values where they differ.
fn first_in(at: &str, then: &Value, now: &Value) -> Option<Difference> {
    match (then, now) {
        (Value::Object(then), Value::Object(now)) => {
            let mut keys = then.keys().chain(now.keys().filter(|key| !then.contains_key(*key)));
            let value =
                |of: &serde_json::Map<String, Value>, key: &String| of.get(key).cloned().unwrap_or_default();
            keys.find_map(|key| first_in(&format!("{at}/{key}"), &value(then, key), &value(now, key)))
        }
        (Value::Array(then), Value::Array(now)) if then.len() == now.len() => {
            let mut pairs = then.iter().zip(now).enumerate();
            pairs.find_map(|(number, (then, now))| first_in(&format!("{at}/{number}"), then, now))
        }
        _ if then == now => None,
        _ => Some(Difference {
            what: at.to_owned(),
            then: shown(&then.to_string()),
            now: shown(&now.to_string()),
        }),
    }
}

/// The first line that differs.
fn first_line(then: &str, now: &str) -> Option<Difference> {
    let (mut then, mut now) = (then.lines(), now.lines());
    for number in 1.. {
        let pair = (then.next(), now.next());
        if pair == (None, None) {
            break;
        }
        if pair.0 != pair.1 {
            let [then, now] = [pair.0, pair.1].map(Option::unwrap_or_default);
            return Some(in_line(number, then, now));
        }
    }
    None
}

/// Where in a line the texts part; a line of a picture may be long.
fn in_line(number: usize, then: &str, now: &str) -> Difference {
    let same = then.chars().zip(now.chars()).take_while(|(then, now)| then == now).count();
    // a few letters before it say where it is
    let from = same.saturating_sub(SHOWN_MAX / 3);
    let part = |line: &str| shown(&line.chars().skip(from).collect::<String>());
    Difference { what: format!("line {number}, letter {}", same + 1), then: part(then), now: part(now) }
}

fn shown(text: &str) -> String {
    let text: String = text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect();
    let is_long = text.chars().count() > SHOWN_MAX;
    let kept: String = text.chars().take(SHOWN_MAX).collect();
    if is_long { kept + "…" } else { kept }
}
