//! A letter to play with: where the car stands, how it is washed and what is put on, each with each, computed beforehand.
//!
//! One HTML file that needs no server: the answers stand in it as templates, drawn by the library, and its script only shows
//! the one that was chosen. Without a script the car as it is stays in sight.

use crate::case::vary::{CaseName, Combinations};
use crate::error::Result;
use crate::forecast::comparison::Compared;
use crate::report::as_of::NEARLY_ALL;
use crate::report::choice_words::case_name;
use crate::report::document::LetterDocument;
use crate::report::document::html::{escaped, html_with, joined};
use crate::report::dots::dots;
use crate::report::letter::state::by_when;
use crate::report::number_words::{grouped, of_twenty, signed};
use crate::report::picture::{Frame, WIDTH_PX};
use jiff::civil::Date;

const STYLE: &str = include_str!("choice_page.css");
const SCRIPT: &str = include_str!("choice_page.js");

/// Every combination of everyday choices for a car from a day on.
#[derive(Debug, Clone)]
pub struct ChoicePage {
    /// What can be chosen.
    pub combinations: Combinations,
    /// Each against the car left as it is, in the order of the combinations.
    pub compared: Vec<Compared>,
    /// The day, and the age of the car then [a].
    pub day: (Date, f64),
    /// Step that years gained are rounded to [a].
    pub step_a: f64,
}

/// The letter as HTML with the choices at its end; without them where the letter says that it is too late for any.
///
/// # Errors
/// Those of the pictures.
pub fn interactive_html(document: &LetterDocument, page: &ChoicePage) -> Result<String> {
    let is_late = |one: &Compared| one.forecast.age_at_rework.share_by(page.day.1) > NEARLY_ALL;
    if page.compared.iter().all(is_late) {
        return Ok(html_with(document, ""));
    }
    Ok(html_with(document, &section(page)?))
}

fn section(page: &ChoicePage) -> Result<String> {
    let answers = page.compared.iter().enumerate().map(|(place, one)| answer(page, place, one));
    let answers = answers.collect::<Result<Vec<String>>>()?;
    let templates = answers
        .iter()
        .enumerate()
        .map(|(place, answer)| format!("<template data-place=\"{place}\">{answer}</template>\n"));
    let combinations = &page.combinations;
    let groups = [
        Group { key: "storage", title: "Where it stands", names: &combinations.storages },
        Group { key: "wash", title: "How it is washed", names: &combinations.washes },
        Group { key: "coat", title: "What is put on the rust", names: &combinations.coats },
    ];
    let controls = joined(groups.iter().enumerate().map(|(at, group)| fieldset(page, at, group)));
    Ok(format!(
        "<section class=\"choices\" data-counts=\"{},{}\">\n<style>{STYLE}</style>\n<h2>Try it</h2>\n\
         <p>Choose what is done from {} on; the answer follows. The years behind a choice are those it gains by itself.</p>\n\
         <form>{controls}</form>\n<div class=\"answer\" aria-live=\"polite\">{}</div>\n<p class=\"small\">{}</p>\n{}\
         <script>{SCRIPT}</script>\n</section>\n",
        combinations.washes.len(),
        combinations.coats.len(),
        page.day.0,
        answers.first().map_or("", String::as_str),
        escaped(&computed(page)),
        joined(templates)
    ))
}

/// From what the answers were computed, and when.
fn computed(page: &ChoicePage) -> String {
    let histories = page.compared.first().map_or(0, |first| first.forecast.histories);
    format!(
        "All {} combinations were computed beforehand for this car, from its record as of {}, on {} histories; nothing is \
         computed or sent when you choose. Planning estimate only: no structural or roadworthiness assessment.",
        page.compared.len(),
        page.day.0,
        grouped(histories as f64, 0)
    )
}

/// Choices of which one is taken.
struct Group<'a> {
    key: &'a str,
    title: &'a str,
    names: &'a [CaseName],
}

/// One group of choices, each with the years it gains by itself.
fn fieldset(page: &ChoicePage, at: usize, Group { key, title, names }: &Group) -> String {
    let option = |(number, name): (usize, &CaseName)| {
        let checked = if number == 0 { " checked" } else { "" };
        let mut chosen = [0; 3];
        chosen[at] = number;
        let alone = page.compared.get(page.combinations.place(chosen)).filter(|_| number > 0);
        let gain =
            alone.map_or_else(String::new, |one| format!(" <small>{}</small>", escaped(&gained(page, one))));
        format!(
            "<label><input type=\"radio\" name=\"{key}\" value=\"{number}\"{checked}> <span>{}{gain}</span></label>\n",
            escaped(&case_name(name))
        )
    };
    let options = joined(names.iter().enumerate().map(option));
    format!("<fieldset>\n<legend>{}</legend>\n{options}</fieldset>\n", escaped(title))
}

/// Years gained in the middle future, and in 18 of 20.
fn gained(page: &ChoicePage, one: &Compared) -> String {
    let rounded =
        |shift_a: f64| signed((shift_a / page.step_a).round() * page.step_a).replace('-', "\u{2212}");
    let bound = if one.shift_hidden_share > 0.5 && one.shift_a.p50 > 0.0 { "\u{2265} " } else { "" };
    let [low, middle, high] = [one.shift_a.p05, one.shift_a.p50, one.shift_a.p95].map(rounded);
    format!("{bound}{middle} a ({low} to {high})")
}

/// What is written and drawn of a combination.
fn answer(page: &ChoicePage, place: usize, one: &Compared) -> Result<String> {
    let forecast = one.forecast.clone().as_of(page.day.0)?;
    let reached = forecast.age_at_rework.share_by(page.day.1);
    let when = by_when(&forecast, page.day);
    let lead = if when.is_empty() {
        format!("In {} futures it should come out already.", of_twenty(reached))
    } else {
        when
    };
    let gain = if place == 0 {
        "This is the car left as it is.".to_owned()
    } else {
        format!(
            "Against leaving it as it is: {} in the middle future and in 18 of 20; a year or more later in {}.",
            gained(page, one),
            of_twenty(one.postpones_1a)
        )
    };
    Ok(format!(
        "<p class=\"lead\">{}</p>\n<p>{}</p>\n<div class=\"wide\" tabindex=\"0\" role=\"group\" aria-label=\"Twenty equally likely futures\">{}</div>",
        escaped(&lead),
        escaped(&gain),
        dots(&forecast, Frame::Bare(WIDTH_PX))?
    ))
}
