//! `serve`: the local web page and its programming interface, until the process receives a signal to end.

use super::Streams;
use super::failure::Failure;
use super::learned::LearnedOptions;
use crate::error::Error;
use crate::web::{self, DEFAULT_PORT, Log, ServeOptions};
use std::net::{IpAddr, Ipv4Addr};
use std::path::PathBuf;

/// Forecast in a browser: the local web page, and the same answers for programs (JSON over HTTP).
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Prints one line with the address when it can be reached, and serves until Ctrl-C or SIGTERM.
GET /api/openapi.json describes the requests that programs can send; units end the names of the keys, such as
rate_um_per_a [µm/a].
Only this machine reaches 127.0.0.1. With another --bind everybody on that network can request forecasts;
a record then needs a token. There is no encryption: put a proxy with TLS in front where that matters.

Examples:
  ferrowane serve
  ferrowane serve --record shop.db
  curl --json @case.json http://127.0.0.1:4628/api/forecast

Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// Port; 0 takes any that is free [-]
    #[arg(long, value_name = "N", default_value_t = DEFAULT_PORT)]
    port: u16,
    /// Address to listen on
    #[arg(long, value_name = "ADDRESS", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    bind: IpAddr,
    /// The workshop's record, to show and to add inspections to
    #[arg(long, value_name = "FILE.db")]
    record: Option<PathBuf>,
    #[command(flatten)]
    learned: LearnedOptions,
    /// Token that opens the record, 16 characters or more; else `FERROWANE_TOKEN`
    #[arg(long, value_name = "TOKEN", env = "FERROWANE_TOKEN", hide_env = true)]
    token: Option<String>,
    /// File with the token on its first line, which no list of processes shows
    #[arg(long, value_name = "FILE", conflicts_with = "token")]
    token_file: Option<PathBuf>,
    /// File for faults of the server, one a line; standard error where not given
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,
}

impl Arguments {
    fn token(&self) -> crate::error::Result<Option<String>> {
        let Some(path) = &self.token_file else { return Ok(self.token.clone()) };
        let text =
            std::fs::read_to_string(path).map_err(|source| Error::Io { path: path.clone(), source })?;
        Ok(Some(text.lines().next().unwrap_or_default().trim().to_owned()))
    }

    pub(super) fn run(&self, streams: &mut Streams) -> Result<(), Failure> {
        let Self { port, bind, record, log, .. } = self;
        let sink: Box<dyn std::io::Write + Send> = match log {
            Some(path) => {
                let opened = std::fs::File::options().append(true).create(true).open(path);
                Box::new(opened.map_err(|source| Error::Io { path: path.clone(), source })?)
            }
            None => Box::new(std::io::stderr()),
        };
        let options = ServeOptions {
            bind: *bind,
            port: *port,
            model: self.learned.model()?,
            record: record.clone(),
            token: self.token()?,
            log: Log::new(sink),
        };
        let served = web::serve(options, |address| {
            writeln!(streams.out, "ferrowane serves on http://{address}/")?;
            streams.out.flush()
        });
        served.map_err(|error| match error {
            Error::Io { source, path } if path.as_os_str() == "standard output" => Failure::Stream(source),
            other => Failure::Input(other),
        })
    }
}
