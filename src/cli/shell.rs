//! `completions` and `man`: what a shell and a manual reader need.

use super::failure::Failure;
use super::{Cli, Streams, pictures};
use clap::CommandFactory as _;
use std::io::Write;
use std::path::PathBuf;

/// Print the completions of a shell.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example: ferrowane completions bash > ~/.local/share/bash-completion/completions/ferrowane"
)]
pub(super) struct CompletionArguments {
    /// Shell
    #[arg(value_enum)]
    shell: clap_complete::Shell,
}

/// Print the manual, or write it as one page a command.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples: ferrowane man | man -l -\n          ferrowane man --out ~/.local/share/man/man1"
)]
pub(super) struct ManArguments {
    /// Folder for the pages, made where it is missing
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

impl CompletionArguments {
    pub(super) fn run(&self, out: &mut dyn Write) -> Result<(), Failure> {
        // into memory first: the generator panics when its stream breaks
        let mut text = Vec::new();
        clap_complete::generate(self.shell, &mut Cli::command(), "ferrowane", &mut text);
        Ok(out.write_all(&text)?)
    }
}

impl ManArguments {
    pub(super) fn run(&self, streams: &mut Streams) -> Result<(), Failure> {
        let pages = pages()?;
        let Some(folder) = &self.out else {
            pages.iter().try_for_each(|(_, page)| streams.out.write_all(page))?;
            return Ok(());
        };
        pictures::write_all(&pages, folder, streams)
    }
}

/// File name and text of every page, the program's own first.
fn pages() -> std::io::Result<Vec<(String, Vec<u8>)>> {
    let mut program = Cli::command().disable_help_subcommand(true);
    program.build();
    let subcommands: Vec<clap::Command> = program.get_subcommands().cloned().collect();
    std::iter::once(program).chain(subcommands).map(page).collect()
}

fn page(command: clap::Command) -> std::io::Result<(String, Vec<u8>)> {
    let man = clap_mangen::Man::new(command);
    let mut text = Vec::new();
    man.render(&mut text)?;
    Ok((man.get_filename(), text))
}
