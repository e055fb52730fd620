//! `letter`: two pages for the owner of a car of the record, as HTML and PDF.

use super::criteria::CriteriaOption;
use super::failure::Failure;
use super::learned::LearnedOptions;
use super::run::RunOptions;
use super::running::was_stopped;
use super::{Format, Streams, pictures};
use crate::case::costs;
use crate::cli::run::model;
use crate::error::{Error, Result, disturbs};
use crate::record::{self, CarScenario, RecordedCar};
use crate::report::document::{html::html, pdf::pdf};
use crate::report::files::write_traced;
use crate::report::json::json_with;
use crate::report::letter::{
    ChoicePage, ComposedLetter, LetterRequest, compose, compose_with_choices, interactive_html, letter_day,
};
use crate::report::provenance::ComputedBy;
use jiff::civil::Date;
use std::path::PathBuf;

/// Most lines of a letterhead, and characters of a line [-].
const LINES_MAX: usize = 6;
const LINE_MAX: usize = 90;
/// Names of the letter.
const HTML: &str = "letter.html";
const PDF: &str = "letter.pdf";

/// Write the owner of a car two pages: how it stands, what moves the date, what comes next.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Writes letter.html and letter.pdf. What the record says up to --as-of counts; the same record, day, seed and
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
    #[command(flatten)]
    learned: LearnedOptions,
    /// Folder for letter.html and letter.pdf, made where it is missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Day of the letter, YYYY-MM-DD; today where not given
    #[arg(long, value_name = "DATE")]
    as_of: Option<String>,
    /// Costs file as `decide` takes it
    #[arg(long, value_name = "COSTS.toml")]
    costs: Option<PathBuf>,
    /// Lines of the sender, plain text
    #[arg(long, value_name = "FILE.txt")]
    letterhead: Option<PathBuf>,
    /// Let the owner try every combination of storage, washing and coat in letter.html, without a server
    #[arg(long)]
    interactive: bool,
    #[command(flatten)]
    criteria: CriteriaOption,
    /// How the content is written on standard output: nothing but the files for text
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    #[command(flatten)]
    run: RunOptions,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let opened = record::open_to_read(&self.record, &self.learned.model()?)?;
        let car = record::car(&opened, &self.car)?;
        let date = self.date(&car)?;
        let mut known = record::car_scenario(&opened, &self.car, Some(date))?;
        drop(opened);
        known.scenario = self.criteria.applied(known.scenario)?;
        let (composed, choices) = self.written(&known, date)?;
        let ComposedLetter { mut fitted, notes, answered_by } = composed;
        streams.question.state("as_of", &date.to_string());
        let (seed, histories) = answered_by;
        let answered = ComputedBy { seed: Some(seed), histories: Some(histories), day: Some(date) };
        let provenance = streams.question.provenance(answered)?;
        fitted.keywords = Some(provenance.of_file(PDF).to_line());
        let page = match &choices {
            Some(choices) => interactive_html(&fitted.document, choices)?,
            None => html(&fitted.document),
        };
        let files = vec![(HTML.to_owned(), page.into_bytes()), (PDF.to_owned(), pdf(&fitted)?)];
        if self.format == Format::Json {
            write!(streams.out, "{}", json_with(&fitted.document, &provenance.of_file(HTML))?)?;
        }
        let written = write_traced(files, &provenance, (&self.out, streams.existing));
        pictures::list(&written.map_err(Failure::writing)?, streams);
        for note in notes {
            let words = format!("for the workshop, not in the letter: {note}");
            match self.format {
                Format::Text => writeln!(streams.out, "{words}")?,
                // standard output holds one document
                Format::Json => streams.note(&words),
            }
        }
        Ok(())
    }

    fn date(&self, car: &RecordedCar) -> Result<Date> {
        let Some(text) = &self.as_of else { return fits(jiff::ZonedDateTime::now().date(), car) };
        let read = text.parse::<Date>().ok().filter(|_| text.len() == 10);
        let date = read.ok_or_else(|| Error::invalid("--as-of", format!("`{text}`"), "a date YYYY-MM-DD"))?;
        fits(date, car)
    }

    fn written(&self, known: &CarScenario, date: Date) -> Result<(ComposedLetter, Option<ChoicePage>)> {
        let letterhead = self.letterhead()?;
        let age_a = costs::age_at_decision(known.car.first_registration, date)?;
        let costs = self.costs.as_ref().map(|path| costs::read_path(path, age_a, &model()?)).transpose()?;
        let request = LetterRequest { known, date, letterhead: &letterhead, costs: costs.as_ref() };
        let composed = self.run.computed(|settings, watch| {
            if self.interactive {
                compose_with_choices(&request, settings, watch).map(|(letter, page)| (letter, Some(page)))
            } else {
                compose(&request, settings, watch).map(|letter| (letter, None))
            }
        })?;
        // half a run would be another letter under the same numbers
        if was_stopped() { Err(Error::Interrupted) } else { Ok(composed) }
    }

    /// Lines of the sender without empty ones at the end.
    fn letterhead(&self) -> Result<Vec<String>> {
        let Some(path) = &self.letterhead else { return Ok(Vec::new()) };
        let name = path.display().to_string();
        let text = String::from_utf8(crate::user_file::read_bounded(path)?).ok().filter(|text| {
            let given: Vec<&str> = text.trim_end().lines().collect();
            let fits = |line: &&str| line.chars().count() <= LINE_MAX && !line.contains(disturbs);
            given.len() <= LINES_MAX && given.iter().all(fits)
        });
        let allowed = format!("at most {LINES_MAX} lines of {LINE_MAX} letters of plain text in UTF-8");
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
fn fits(date: Date, car: &RecordedCar) -> Result<Date> {
    letter_day(car.first_registration, date).map_err(|error| error.about("date", "--as-of"))
}
