//! Proposed visits as a calendar file: RFC 5545, whole days, no clock and no names of owners.

use crate::record::worklist::{Action, WorkList};
use crate::record::{ProposedVisit, When};
use crate::report::notice::NOTICE;
use jiff::civil::Date;

/// Longest line without its break [bytes], RFC 5545 section 3.1.
const LINE_MAX: usize = 75;

/// The calendar of a work list made on a day; the same list gives the same bytes. A visit keeps its identity from list to
/// list, so that a calendar moves it instead of showing it twice.
#[must_use]
pub fn calendar(list: &WorkList, made_on: Date) -> String {
    let head = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//ferrowane//work list//EN", "CALSCALE:GREGORIAN"];
    let head = head.map(str::to_owned).into_iter();
    let visits = list.agenda.iter().flat_map(|visit| event(visit, made_on));
    let lines = head.chain(visits).chain(["END:VCALENDAR".to_owned()]);
    lines.map(|line| folded(&line)).collect()
}

fn event(visit: &ProposedVisit, made_on: Date) -> Vec<String> {
    let [day, stamp] = [visit.day, made_on].map(|day| day.strftime("%Y%m%d").to_string());
    let mut words = vec![format!("Last day: {}.", visit.do_before)];
    if !visit.with_it.is_empty() {
        words.push(format!("With it: {}.", visit.with_it.join(", ")));
    }
    words.push(NOTICE.to_owned());
    vec![
        "BEGIN:VEVENT".to_owned(),
        format!("UID:{}-{}@ferrowane", visit.reference, key(visit.action)),
        format!("DTSTAMP:{stamp}T000000Z"),
        format!("DTSTART;VALUE=DATE:{day}"),
        format!("SUMMARY:{}", escaped(&format!("{}: {}", visit.reference, visit_words(visit)))),
        format!("DESCRIPTION:{}", escaped(&words.join("\n"))),
        "TRANSP:TRANSPARENT".to_owned(),
        "END:VEVENT".to_owned(),
    ]
}

fn key(action: Action) -> &'static str {
    match action {
        Action::BookRework => "rework",
        Action::AssessAndReplace => "assess",
        Action::Grade => "grade",
        Action::Wait => "jobs",
    }
}

/// What is done in a visit, in words.
#[must_use]
pub fn visit_words(visit: &ProposedVisit) -> String {
    let what = match visit.action {
        Action::BookRework => "rework",
        Action::AssessAndReplace => "have it assessed, plan a new member",
        Action::Grade => "grade it",
        Action::Wait => "other jobs with the member out",
    };
    if visit.overdue { format!("overdue: {what}") } else { what.to_owned() }
}

/// How soon, in words.
#[must_use]
pub fn when_words(when: When) -> &'static str {
    match when {
        When::ThisWeek => "this week",
        When::ThisMonth => "this month",
        When::ThisSeason => "this season",
        When::Later => "later",
    }
}

/// Text as RFC 5545 section 3.3.11 has it.
fn escaped(text: &str) -> String {
    let backslashes = text.replace('\\', "\\\\").replace(';', "\\;").replace(',', "\\,");
    backslashes.replace('\n', "\\n")
}

/// A content line with its break; a long one goes on behind a blank, never within a letter (section 3.1).
fn folded(line: &str) -> String {
    let mut folded = String::with_capacity(line.len() + 2);
    let mut length = 0;
    for letter in line.chars() {
        if length + letter.len_utf8() > LINE_MAX {
            folded.push_str("\r\n ");
            length = 1;
        }
        folded.push(letter);
        length += letter.len_utf8();
    }
    folded + "\r\n"
}

#[cfg(test)]
mod tests {
    use super::{LINE_MAX, calendar, escaped, folded};
    use crate::record::worklist::{Action, WorkList};
    use crate::record::{ProposedVisit, When};
    use jiff::civil::date;

    fn list() -> WorkList {
        let visit = ProposedVisit {
            when: When::ThisSeason,
            day: date(2027, 9, 30),
            do_before: date(2027, 9, 30),
            reference: "A-1".to_owned(),
            action: Action::BookRework,
            overdue: false,
            with_it: vec!["bushes, front; rear".to_owned(), "fuel hose \u{2014} both".to_owned()],
        };
        WorkList {
            by: date(2027, 9, 30),
            learned_from: None,
            cars: Vec::new(),
            windows: Vec::new(),
            agenda: vec![visit],
        }
    }

    /// The text a reader gets: lines unfolded, as section 3.1 says.
    fn unfolded(text: &str) -> Vec<String> {
        text.replace("\r\n ", "").split("\r\n").map(str::to_owned).collect()
    }

    #[test]
    fn published_text_is_escaped_as_the_examples_of_rfc_5545() {
        // section 3.3.11
        let read = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.";
        assert_eq!(escaped(read), "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.");
        assert_eq!(escaped("a\\b;c,d"), "a\\\\b\\;c\\,d");
    }

    #[test]
    fn property_lines_are_folded_between_letters() {
        for text in ["", "a", &"x".repeat(75), &"x".repeat(76), &"\u{fc}\u{2014}\u{1d11e}".repeat(60)] {
            let line = folded(text);
            assert!(line.ends_with("\r\n"));
            let parts: Vec<&str> = line.trim_end_matches("\r\n").split("\r\n").collect();
            assert!(parts.iter().all(|part| part.len() <= LINE_MAX), "{line}");
            assert!(parts[1..].iter().all(|part| part.starts_with(' ')));
            assert_eq!(unfolded(&line)[0], *text);
        }
    }

    #[test]
    fn property_a_calendar_has_what_rfc_5545_asks_of_each_event() {
        let text = calendar(&list(), date(2026, 11, 28));
        let lines = unfolded(&text);
        assert_eq!([lines[0].as_str(), lines[1].as_str()], ["BEGIN:VCALENDAR", "VERSION:2.0"]);
        assert_eq!(lines.iter().filter(|line| line.starts_with("PRODID:")).count(), 1);
        for (name, value) in [
            ("UID", "A-1-rework@ferrowane"),
            ("DTSTAMP", "20261128T000000Z"),
            ("DTSTART;VALUE=DATE", "20270930"),
            ("SUMMARY", "A-1: rework"),
        ] {
            assert!(lines.contains(&format!("{name}:{value}")), "{name}: {text}");
        }
        let description = lines.iter().find(|line| line.starts_with("DESCRIPTION:")).unwrap();
        assert!(
            description.contains("With it: bushes\\, front\\; rear\\, fuel hose \u{2014} both."),
            "{description}"
        );
        assert!(description.contains("lanning estimate"), "{description}");
        assert_eq!(lines[lines.len() - 2..], ["END:VCALENDAR", ""]);
    }
}
