//! `map`: answers of the cells of a grid as a picture.

use super::batch::each_row;
use super::failure::Failure;
use super::{Streams, pictures};
use crate::report::files::write_files;
use crate::report::map_plot::map_plot;
use crate::report::picture::{PNG_SCALE, png};
use std::path::PathBuf;

/// Draws a table of answers as a map: median age at rework and width of its band, by cell and group.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
The table of cases needs the columns latitude_deg and longitude_deg, the middle of each cell; `group` makes a panel of
its own, up to four, such as one for each arrangement.

Example:
  ferrowane batch demo/grid.csv --base demo/grid_car.toml --out grid.csv
  ferrowane map grid.csv --out map

Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// Table of answers that batch wrote
    #[arg(value_name = "ANSWERS")]
    answers: PathBuf,
    /// Folder for map.svg and map.png
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let mut answers = Vec::new();
        each_row(&self.answers, &mut |some| {
            answers.extend(some.iter().filter(|answer| answer.place.is_some()).cloned());
            Ok(())
        })?;
        let svg = map_plot(&answers)?;
        let files =
            vec![("map.png".to_owned(), png(&svg, PNG_SCALE)?), ("map.svg".to_owned(), svg.into_bytes())];
        pictures::list(&write_files(&files, &self.out, streams.existing).map_err(Failure::writing)?, streams);
        Ok(())
    }
}
