//! The command line: which questions exist, where the answer goes, and with which exit code it ends.
//!
//! Each command has a file that holds its arguments and a `run` that calls the library and prints; no physics here.
//! Exit codes: 0 answered; 2 bad input or usage; 1 the answer could not be written; 130 interrupted, also where there is an
//! answer of fewer histories.

mod atlas;
mod batch;
mod check;
mod climate;
mod climate_year;
mod columns;
mod compare;
mod coverage;
mod criteria;
mod decide;
mod due;
mod explain;
mod exposure;
mod failure;
mod fleet_source;
mod forecast;
mod growth;
mod kind;
mod learned;
mod letter;
mod map;
mod merge;
mod numbers;
mod pictures;
mod question;
mod rate;
mod record;
mod recorded;
mod reproduce;
mod run;
mod running;
mod score;
mod section;
mod serve;
mod shell;
mod simulate;
mod sources;
mod template;
mod tune;
mod validate;

use crate::report::files::Existing;
use clap::{CommandFactory as _, FromArgMatches as _, Parser, Subcommand, ValueEnum};
use failure::Failure;
use question::Question;
use std::ffi::OsString;
use std::io::Write;

/// Printed at the end of the help of commands that answer a formula, not a question about a car.
const HANDBOOK_NOTE: &str = "A handbook figure for planning: no structural or roadworthiness assessment.";

const EXAMPLES: &str = "\
Examples:
  ferrowane new my-car.toml            start from a commented case
  ferrowane check my-car.toml          see whether it is complete
  ferrowane forecast my-car.toml       when does the member need rework?
  ferrowane compare my-car.toml --vary storage
                                       what would another place to park gain?
  ferrowane forecast --record shop.db --car A-17
                                       the same, narrowed by what was seen on a car of the record
  ferrowane due --record shop.db --by 2027-03
                                       which cars come next?
  ferrowane batch fleet.csv --out answers.parquet
                                       a table of cars: one answer a row
  ferrowane letter --record shop.db A-17 --out letter
                                       two pages for the owner of a car of the record
  ferrowane simulate --cars 50 --years 8 --out fleet
                                       a fleet of cars with a known truth, as tables
  ferrowane tune fleet --out posterior
                                       what the grades of a fleet say of what all cars share
  ferrowane score fleet --posterior posterior
                                       how well that forecasts grades it has not seen
  ferrowane reproduce out/forecast.json
                                       compute a written answer again: the same bytes, or what differs
  ferrowane serve                      ask and look in a browser, on this machine
  ferrowane climate                    climates that come with the program
  ferrowane rate --temperature 10 --humidity 75 --so2 10 --chloride 10

Planning estimates only: no structural or roadworthiness assessment.
Exit codes: 0 answered, 1 not written, not reproduced or a check failed, 2 bad input or usage, 130 interrupted.";

/// Forecasts corrosion of coated thin-wall steel tube under road vehicles.
///
/// From climate, storage, use and coating to loss of wall, loss of section,
/// and a probability band for the age at which a member needs rework.
#[derive(Debug, Parser)]
#[command(name = "ferrowane", version, verbatim_doc_comment, after_help = EXAMPLES)]
struct Cli {
    /// Replace also files that ferrowane did not write, or that were changed
    #[arg(long, global = true)]
    force: bool,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Forecast(forecast::Arguments),
    Explain(explain::Arguments),
    Atlas(atlas::Arguments),
    Compare(compare::Arguments),
    Decide(decide::Arguments),
    Due(due::Arguments),
    Batch(batch::Arguments),
    Merge(merge::Arguments),
    Map(map::Arguments),
    Coverage(coverage::Arguments),
    Simulate(simulate::Arguments),
    Tune(tune::Arguments),
    Score(score::Arguments),
    Record(record::Arguments),
    Letter(letter::Arguments),
    Reproduce(reproduce::Arguments),
    Exposure(exposure::Arguments),
    Climate(climate::Arguments),
    Rate(rate::Arguments),
    Growth(growth::Arguments),
    Section(section::Arguments),
    Serve(serve::Arguments),
    Check(check::Arguments),
    Validate(validate::Arguments),
    New(template::NewArguments),
    Schema(template::SchemaArguments),
    Completions(shell::CompletionArguments),
    Man(shell::ManArguments),
}

/// How an answer is written: words and tables for people, or JSON for programs with the units in its names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
enum Format {
    #[default]
    Text,
    Json,
}

/// Where a command writes: answers and notes.
struct Streams<'a> {
    out: &'a mut dyn Write,
    notes: &'a mut dyn Write,
    /// What happens to files that are already there.
    existing: Existing,
    /// The question of a command line.
    question: Question,
}

impl Streams<'_> {
    /// Says something after the answer so far; where nobody listens, that is no error here.
    fn note(&mut self, words: &str) {
        drop(self.out.flush().and_then(|()| writeln!(self.notes, "{words}")));
    }
}

/// Runs one command line (program name first) and returns its exit code [-].
///
/// Answers go to `out`, errors and remarks to `notes`. A reader of `out` that has gone away is no error.
pub fn run<I, T>(arguments: I, out: &mut dyn Write, notes: &mut dyn Write) -> u8
where
    I: IntoIterator<Item = T>,
    T: Into<OsString> + Clone,
{
    let mut streams = Streams { out, notes, existing: Existing::Kept, question: Question::default() };
    let done = parsed(arguments)
        .map_err(Failure::Usage)
        .and_then(|(cli, question)| {
            streams.existing = if cli.force { Existing::Replaced } else { Existing::Kept };
            streams.question = question;
            cli.command.run(&mut streams)
        })
        .and_then(|()| Ok(streams.out.flush()?));
    match done {
        // an answer of fewer histories is not the one that was requested
        Ok(()) if running::was_stopped() => failure::INTERRUPTED,
        Ok(()) => 0,
        Err(failure) => failure.tell(&mut streams),
    }
}

/// The command, and its question.
fn parsed<I, T>(arguments: I) -> Result<(Cli, Question), clap::Error>
where
    I: IntoIterator<Item = T>,
    T: Into<OsString> + Clone,
{
    let mut command = Cli::command();
    let matches = command.try_get_matches_from_mut(arguments)?;
    let cli = Cli::from_arg_matches(&matches).map_err(|error| error.format(&mut command))?;
    Ok((cli, Question::new(&command, &matches)))
}

impl Command {
    fn run(&self, streams: &mut Streams) -> Result<(), Failure> {
        match self {
            Self::Forecast(arguments) => arguments.run(streams),
            Self::Explain(arguments) => arguments.run(streams),
            Self::Atlas(arguments) => arguments.run(streams),
            Self::Compare(arguments) => arguments.run(streams),
            Self::Decide(arguments) => arguments.run(streams),
            Self::Due(arguments) => arguments.run(streams),
            Self::Batch(arguments) => arguments.run(streams),
            Self::Merge(arguments) => arguments.run(streams),
            Self::Map(arguments) => arguments.run(streams),
            Self::Coverage(arguments) => arguments.run(streams),
            Self::Simulate(arguments) => arguments.run(streams),
            Self::Tune(arguments) => arguments.run(streams),
            Self::Score(arguments) => arguments.run(streams),
            Self::Record(arguments) => arguments.run(streams),
            Self::Letter(arguments) => arguments.run(streams),
            Self::Reproduce(arguments) => arguments.run(streams),
            Self::Exposure(arguments) => arguments.run(streams),
            Self::Climate(arguments) => arguments.run(streams),
            Self::Rate(arguments) => arguments.run(streams.out),
            Self::Growth(arguments) => arguments.run(streams.out),
            Self::Section(arguments) => arguments.run(streams.out),
            Self::Serve(arguments) => arguments.run(streams),
            Self::Check(arguments) => arguments.run(streams),
            Self::Validate(arguments) => arguments.run(streams),
            Self::New(arguments) => arguments.run(streams),
            Self::Schema(arguments) => arguments.run(streams.out),
            Self::Completions(arguments) => arguments.run(streams.out),
            Self::Man(arguments) => arguments.run(streams),
        }
    }
}
