//! `letter`: two pages for the owner of a car of the record, as HTML and PDF.

use super::failure::Failure;
use super::forecast::{Run, Watch};
use super::running::was_stopped;
use super::{Format, Streams, pictures};
use crate::case::{self, costs, vary};
use crate::decision;
use crate::error::{Error, Result};
use crate::forecast;
use crate::forecast::paired::{Known, paired_knowing};
use crate::forecast::scenario::{Scenario, Settings};
use crate::record::{self, Car, Entry};
use crate::report::compare::{Comparison, Named, comparison};
use crate::report::document::{Fitted, html::html, pdf::pdf};
use crate::report::files::write_files;
use crate::report::json::json;
use crate::report::letter::{Letter, letter};
use jiff::civil::Date;
use std::path::PathBuf;

/// Most lines of a letterhead, and letters of one [-].
const LETTERHEAD: (usize, usize) = (6, 90);
/// Oldest car a letter is written about, and years a forecast looks ahead at least [a].
const OLDEST_A: f64 = 50.0;
const AHEAD_A: u32 = 10;

/// Write the owner of a car two pages: how it stands, what moves the date, what comes next.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Writes letter.html and letter.pdf. What the record says up to --date counts; the same record, date, seed and
histories give the same bytes. The letterhead is a text file of at most six lines, set as it is.

Example:
  ferrowane letter --record shop.db A-17 --out letter --letterhead head.txt --costs costs.toml

Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// Reference of the car
    #[arg(value_name = "REF")]
    car: String,
    /// The record
    #[arg(long, value_name = "FILE.db")]
    record: PathBuf,
    /// Folder for letter.html and letter.pdf, made where it is missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Day of the letter, YYYY-MM-DD; today where not given
    #[arg(long, value_name = "DATE")]
    date: Option<String>,
    /// Costs file as `decide` takes it
    #[arg(long, value_name = "COSTS.toml")]
    costs: Option<PathBuf>,
    /// Lines of the sender, plain text
    #[arg(long, value_name = "FILE.txt")]
    letterhead: Option<PathBuf>,
    /// How the content is told on standard output: nothing but the files for text
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    #[command(flatten)]
    run: Run,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let opened = record::open(&self.record)?;
        let car = record::car(&opened, &self.car)?;
        let date = self.date(&car)?;
        let entries = record::current_entries(&opened, &self.car, Some(date))?;
        drop(opened);
        let fitted = self.written(&car, date, &entries)?;
        let files = [("letter.html", html(&fitted.document).into_bytes()), ("letter.pdf", pdf(&fitted)?)];
        if self.format == Format::Json {
            write!(streams.out, "{}", json(&fitted.document)?)?;
        }
        let files = files.map(|(name, bytes)| (name.to_owned(), bytes));
        pictures::list(&write_files(&files, &self.out).map_err(Failure::writing)?, streams);
        Ok(())
    }

    fn date(&self, car: &Car) -> Result<Date> {
        let Some(text) = &self.date else { return fits(jiff::ZonedDateTime::now().date(), car) };
        let read = text.parse::<Date>().ok().filter(|_| text.len() == 10);
        let date = read.ok_or_else(|| Error::invalid("--date", format!("`{text}`"), "a date YYYY-MM-DD"))?;
        fits(date, car)
    }

    fn written(&self, car: &Car, date: Date, entries: &[Entry]) -> Result<Fitted> {
        let letterhead = self.letterhead()?;
        let scenario = case::read_str(&car.case_toml, &format!("case of {}", car.reference), None)?;
        let age_a = costs::age_on(car.first_registration, date)?;
        let question = self.costs.as_ref().map(|path| costs::read_path(path, age_a)).transpose()?;
        let (forecast, choices, decision) = self.run.computed(|settings, watch| {
            let least_a = (age_a.ceil() as u32 + AHEAD_A).min(60);
            let settings = &Settings { horizon_a: settings.horizon_a.max(least_a), ..*settings };
            let forecast = forecast::forecast(&scenario, settings, watch)?;
            let choices = compared(&scenario, age_a, settings, watch)?;
            let decided = |question| decision::decide(&scenario, question, settings, watch);
            Ok((forecast, choices, question.as_ref().map(decided).transpose()?))
        })?;
        // half a run would be another letter under the same numbers
        if was_stopped() {
            return Err(Error::Interrupted);
        }
        letter(&Letter {
            reference: &car.reference,
            owner: car.owner.as_deref(),
            letterhead: &letterhead,
            date,
            age_a,
            scenario: &scenario,
            forecast: &forecast,
            prior: None,
            entries,
            conflicts: &[],
            choices: &choices,
            decision: decision.as_ref(),
        })
    }

    /// Lines of the sender without empty ones at the end.
    fn letterhead(&self) -> Result<Vec<String>> {
        let Some(path) = &self.letterhead else { return Ok(Vec::new()) };
        let (lines, letters) = LETTERHEAD;
        let name = path.display().to_string();
        let text = String::from_utf8(super::record::read(path)?).ok().filter(|text| {
            let given: Vec<&str> = text.trim_end().lines().collect();
            let fits = |line: &&str| line.chars().count() <= letters && !line.contains(char::is_control);
            given.len() <= lines && given.iter().all(fits)
        });
        let allowed = format!("at most {lines} lines of {letters} letters of plain text in UTF-8");
        let text = text.ok_or_else(|| Error::invalid(name, "something else", allowed))?;
        Ok(text
            .trim_end()
            .trim_start_matches('\u{feff}')
            .lines()
            .map(|line| line.trim_end().to_owned())
            .collect())
    }
}

/// The day, where a letter about the car can be of it.
fn fits(date: Date, car: &Car) -> Result<Date> {
    let born = car.first_registration;
    if date >= born && costs::age_on(born, date)? <= OLDEST_A {
        return Ok(date);
    }
    let allowed = format!("a date from first registration, {born}, to {OLDEST_A} years after it");
    Err(Error::invalid("--date", date.to_string(), allowed))
}

/// Everyday choices from an age on, the car left as it is first.
fn compared(scenario: &Scenario, age_a: f64, settings: &Settings, watch: Watch) -> Result<Comparison> {
    let choices = vary::everyday(scenario, age_a)?;
    let scenarios: Vec<&Scenario> = choices.variants.iter().map(|variant| &variant.scenario).collect();
    let names: Vec<String> = choices.variants.iter().map(|variant| variant.name.clone()).collect();
    let named = Named {
        title: &scenario.title,
        names: &names,
        reworked: &[],
        from_age_a: choices.from_age_a,
        from_words: &choices.from_words,
    };
    comparison(paired_knowing(&scenarios, Known::OfFirst, settings, watch)?, &named)
}
