//! The question of a command line: arguments without what moves no number, files by name, everything stated that was left open.

use super::sources::{Sources, input_kind};
use crate::error::Result;
use crate::report::provenance::{ComputedBy, Provenance};
use clap::builder::ValueParser;
use clap::{Arg, ArgMatches, Command, CommandFactory as _};
use std::any::TypeId;
use std::path::{Path, PathBuf};

/// Arguments that say where and how an answer is written, or how fast.
const ASIDE: [&str; 6] = ["out", "format", "threads", "force", "histories_out", "help"];
/// Commands whose answers say what they rest on.
const TRACED: [&str; 7] = ["forecast", "compare", "explain", "decide", "due", "letter", "exposure"];

/// The question of a command line.
#[derive(Debug, Default)]
pub(super) struct Question {
    command: String,
    arguments: Vec<Argument>,
    /// Digests of the inputs before anything was computed; nothing where they could not be read, which the command tells.
    sources: Option<Sources>,
}

/// An argument and its values.
#[derive(Debug, Clone)]
struct Argument {
    id: String,
    /// Name with hyphens; `None` of a place.
    option: Option<String>,
    is_switch: bool,
    is_path: bool,
    values: Vec<PathBuf>,
}

impl Question {
    /// What a command line asks.
    pub(super) fn new(command: &Command, matches: &ArgMatches) -> Self {
        let Some((name, matches)) = matches.subcommand() else { return Self::default() };
        let Some(command) = command.find_subcommand(name).filter(|_| TRACED.contains(&name)) else {
            return Self::default();
        };
        let known = command.get_arguments().filter(|argument| !ASIDE.contains(&argument.get_id().as_str()));
        let mut arguments: Vec<Argument> = known.map(|argument| Argument::new(argument, matches)).collect();
        // places first, as the usage has them
        arguments.sort_by_key(|argument| argument.option.is_some());
        let mut question = Self { command: name.to_owned(), arguments, sources: None };
        question.sources = question.sources().ok();
        question
    }

    /// A question that was written down, where it is one that answers are traced of and nothing else.
    pub(super) fn again(words: &[String]) -> Option<Self> {
        let program = std::iter::once(env!("CARGO_PKG_NAME").to_owned());
        // some commands answer into a folder only
        let out = ["--out", "."].map(str::to_owned);
        let mut command = super::Cli::command();
        let words_again = program.chain(words.iter().cloned()).chain(out);
        let matches = command.try_get_matches_from_mut(words_again).ok()?;
        let question = Self::new(&command, &matches);
        // anything else would also say where to write, or be another command
        (!words.is_empty() && question.words() == words).then_some(question)
    }

    /// Places in the command at which it names files [-].
    pub(super) fn places(&self) -> Vec<usize> {
        let mut places = Vec::new();
        self.each_path(|place, _, _| places.push(place));
        places
    }

    /// Visits every file: its place in the command, its argument, its path.
    fn each_path<'a>(&'a self, mut visit: impl FnMut(usize, &'a Argument, &'a Path)) {
        // behind the name of the command
        let mut place = 1;
        for argument in &self.arguments {
            for value in &argument.values {
                place += usize::from(argument.option.is_some() && !argument.is_switch);
                if argument.is_path {
                    visit(place, argument, value);
                }
                place += 1;
            }
        }
    }

    /// States what was left open: the value of an argument that the answer was computed with.
    pub(super) fn state(&mut self, id: &str, value: &str) {
        if let Some(argument) = self.arguments.iter_mut().find(|argument| argument.id == id) {
            argument.values = vec![PathBuf::from(value)];
        }
    }

    /// What the answer rests on.
    pub(super) fn provenance(&self, by: ComputedBy) -> Result<Provenance> {
        let read = if self.sources.is_none() { Some(self.sources()?) } else { None };
        let Some(Sources { inputs, cases, climates }) = self.sources.as_ref().or(read.as_ref()) else {
            return Ok(Provenance::of_this_program());
        };
        let ComputedBy { seed, histories, day } = by;
        Ok(Provenance {
            cases: cases.clone(),
            climates: climates.clone(),
            seed,
            histories,
            day: day.map(|day| day.to_string()),
            command: self.words(),
            inputs: inputs.clone(),
            ..Provenance::of_this_program()
        })
    }

    fn sources(&self) -> Result<Sources> {
        let cars: Vec<String> = self.values("car").collect();
        let until = self.values("until").next().and_then(|day| day.parse().ok());
        let mut paths = Vec::new();
        self.each_path(|place, argument, path| paths.push((place, input_kind(&argument.id), path)));
        let mut sources = Sources::default();
        for (place, kind, path) in paths {
            sources.add(place, (kind, path), (&cars, until))?;
        }
        Ok(sources)
    }

    fn values(&self, id: &str) -> impl Iterator<Item = String> {
        let found = self.arguments.iter().filter(move |argument| argument.id == id);
        found.flat_map(|argument| argument.values.iter().map(|value| value.to_string_lossy().into_owned()))
    }

    /// The command with files by name only.
    fn words(&self) -> Vec<String> {
        let mut words = vec![self.command.clone()];
        for argument in &self.arguments {
            for value in &argument.values {
                words.extend(argument.option.clone());
                if !argument.is_switch {
                    let name = if argument.is_path { value.file_name() } else { Some(value.as_os_str()) };
                    words.push(name.unwrap_or(value.as_os_str()).to_string_lossy().into_owned());
                }
            }
        }
        words
    }
}

impl Argument {
    fn new(argument: &Arg, matches: &ArgMatches) -> Self {
        let id = argument.get_id().as_str();
        let is_switch = !argument.get_action().takes_values();
        let raw = matches.try_get_raw(id).ok().flatten();
        let values = raw.into_iter().flatten().map(PathBuf::from);
        let values = values.filter(|value| !is_switch || value.as_os_str() == "true").collect();
        let option = argument.get_long().map(|name| format!("--{name}"));
        let is_path = is_path(argument.get_value_parser());
        Self { id: id.to_owned(), option, is_switch, is_path, values }
    }
}

fn is_path(parser: &ValueParser) -> bool {
    parser.type_id() == TypeId::of::<PathBuf>()
}
