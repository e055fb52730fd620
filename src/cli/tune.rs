//! `tune`: what the grades of a fleet say of what all its cars share.

mod adopt;

use super::failure::Failure;
use super::fleet_source::FleetSource;
use super::running::Running;
use super::{Format, Streams, pictures};
use crate::error::{Error, Result};
use crate::forecast::Observer;
use crate::inspection::smc::SmcState;
use crate::record::{self, CarScenario, HeldOut};
use crate::report::files::write_whole;
use crate::report::posterior_files::{FittedSummary, PosteriorFiles, PosteriorSummary};
use crate::report::tune_text::tune_text;
use crate::tune::posterior::FleetPosterior;
use crate::tune::progress::SamplerProgress;
use crate::tune::run::{Checkpoints, Fleet, TuneSettings};
use crate::user_file::read_bounded;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// Digits of the digest in the name of a sampler that is set down [-].
const KEY_DIGITS: usize = 16;

/// Learn from the grades of a fleet what all cars share: a posterior over the shared inputs
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Grades and wall readings of all cars move what they share: lives of coatings, breakdown, exponents,
scatter, the weight of each dose-response function, and the bias of each inspector. What is a car's
own is integrated out. Independent runs, each with hourly years and points of its own, say how far
the numbers can be trusted: R-hat near 1, ESS of 400 or more [-]; where they do not agree ask for more
particles. A small run goes before, to find where the others start. Calibrated on fleets of three cars.
A run that was stopped goes on where it was when the same is started again, to the same bytes.
With --adopt the record keeps what was learned, and every later forecast, list and letter of its cars
is computed with it and says so. Before, a quarter of the cars is held out: where their grades are not
forecast better by what the others say than by the priors, nothing is adopted. It takes twice the time.
Writes posterior.csv (a row a draw) and summary.json.
Examples:
  ferrowane tune fleet --out posterior
  ferrowane tune --record shop.db --out posterior --adopt")]
pub(super) struct Arguments {
    #[command(flatten)]
    source: FleetSource,
    /// Folder for the posterior, made where it is missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Independent runs, 1 to 16 [-]
    #[arg(long, value_name = "N", default_value_t = TuneSettings::default().runs)]
    runs: usize,
    /// Particles of a run under each function,
    /// 64 to 65536, rounded up to whole chains [-]
    #[arg(long, value_name = "N", verbatim_doc_comment, default_value_t = TuneSettings::default().particles)]
    particles: usize,
    /// Points of the shared inputs that hourly years
    /// are run at, of each run, 32 to 1024 [-]
    #[arg(long, value_name = "N", verbatim_doc_comment, default_value_t = TuneSettings::default().points.hourly)]
    hourly: usize,
    /// Sets of 64 points over what is a car's own, 1 to 256 [-]
    #[arg(long, value_name = "N", default_value_t = TuneSettings::default().points.sets)]
    sets: usize,
    /// Seed of the random numbers [-]
    #[arg(long, value_name = "N", default_value_t = TuneSettings::default().seed)]
    seed: u64,
    /// Threads, 1 to 1024; as many as processors where not given [-]
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
    /// Compute the cars of the record with it from now on, if
    /// cars that are held out are forecast better with it
    #[arg(long, verbatim_doc_comment, requires = "record")]
    adopt: bool,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

/// What was drawn from the grades of some cars, and where it was set down.
struct Tuned {
    fleet: Fleet,
    posterior: FleetPosterior,
    paths: Vec<PathBuf>,
}

/// How cars that were held out were forecast, and where what the others say was set down.
struct HeldOutRun {
    found: HeldOut,
    paths: Vec<PathBuf>,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let settings = self.settings()?;
        let cars = self.source.cars()?;
        let io = |source| Failure::File(Error::Io { path: self.out.clone(), source });
        std::fs::create_dir_all(&self.out).map_err(io)?;
        let cars_read = record::cars_read(&cars);
        let held_out = if self.adopt { Some(self.held_out(&cars, &settings)?) } else { None };
        let Tuned { fleet, posterior, paths } = self.tuned(cars, &settings)?;
        let fitted = FittedSummary { summary: posterior.summary(&fleet, &settings), cars_read };
        let files = PosteriorFiles::new(&posterior, &fleet, &fitted)?;
        match self.format {
            Format::Json => write!(streams.out, "{}", files.summary_json)?,
            Format::Text => write!(streams.out, "{}", tune_text(&fitted.summary))?,
        }
        let settled = PosteriorSummary::read(&files.summary_json, "--adopt")?.settled();
        let files = files.named().map(|(name, text)| (name.to_owned(), text.into_bytes()));
        pictures::write_all(&files, &self.out, streams)?;
        for path in held_out.iter().flat_map(|held_out| &held_out.paths).chain(&paths) {
            drop(std::fs::remove_file(path));
        }
        let Some((held_out, record)) = held_out.zip(self.source.record()) else { return Ok(()) };
        streams.note(&adopt::held_out_words(held_out.found));
        let held_out = adopt::checked(held_out.found)?;
        settled?;
        let running = Running::new(self.threads, "draws")?;
        adopt::adopt(record, (&fleet, &posterior), (fitted.cars_read, held_out), (&running, self.seed))?;
        streams.note(&adopt::adopted_words(record));
        Ok(())
    }

    /// What all runs draw from the grades of some cars, taken up where they were set down.
    fn tuned(&self, cars: Vec<CarScenario>, settings: &TuneSettings) -> Result<Tuned> {
        let key = record::fleet_key(&cars, &format!("{settings:?}"));
        let fleet = record::graded_fleet(cars)?;
        let running = Running::new(self.threads, "thousandths of a sampler")?;
        let path = |number| self.out.join(format!("sampler-{}-{}.part", number + 1, short(&key)));
        let paths: Vec<PathBuf> = (0..fleet.samplers(settings)).map(path).collect();
        let posterior = running.run(|watch| {
            let progress = SamplerProgress::new(paths.len());
            let mut files = Files { paths: &paths, progress, watch };
            Ok(FleetPosterior { runs: fleet.runs(settings, &mut files)? })
        })?;
        Ok(Tuned { fleet, posterior, paths })
    }

    /// How some cars are forecast by what the others say.
    fn held_out(&self, cars: &[CarScenario], settings: &TuneSettings) -> Result<HeldOutRun> {
        let [others, held_out] = adopt::parted(cars)?;
        let Tuned { fleet, posterior, paths } = self.tuned(others, settings)?;
        let running = Running::new(self.threads, "cars held out")?;
        let found = adopt::held_out((&fleet, &posterior), held_out, (&running, self.seed))?;
        Ok(HeldOutRun { found, paths })
    }

    fn settings(&self) -> Result<TuneSettings> {
        let Self { runs, particles, hourly, sets, seed, .. } = *self;
        let usual = TuneSettings::default();
        let points = crate::tune::Points { hourly, sets, ..usual.points };
        TuneSettings { seed, runs, particles, points, ..usual }.checked()
    }
}

/// Files where samplers are set down between two steps, by what they answer: another fleet or other settings begin anew.
struct Files<'a> {
    /// A file for each sampler.
    paths: &'a [PathBuf],
    progress: SamplerProgress,
    watch: Observer<'a>,
}

impl Checkpoints for Files<'_> {
    fn taken_up(&mut self, sampler: usize) -> Result<Option<SmcState>> {
        self.progress.begin();
        taken_up(&self.paths[sampler])
    }

    fn after_step(&mut self, sampler: usize, state: &SmcState) -> Result<ControlFlow<()>> {
        write_whole(&self.paths[sampler], &bytes(&state.to_words()))?;
        Ok((self.watch)(self.progress.after_step(sampler, state)))
    }
}

/// The first digits of a digest.
fn short(key: &str) -> &str {
    &key[..KEY_DIGITS.min(key.len())]
}

fn bytes(words: &[u64]) -> Vec<u8> {
    words.iter().flat_map(|word| word.to_le_bytes()).collect()
}

/// A run that was set down; `None` where there is none.
fn taken_up(path: &Path) -> Result<Option<SmcState>> {
    if !path.is_file() {
        return Ok(None);
    }
    let bytes = read_bounded(path)?;
    let (words, rest) = bytes.as_chunks::<8>();
    let words: Vec<u64> = words.iter().map(|word| u64::from_le_bytes(*word)).collect();
    let state = if rest.is_empty() { SmcState::from_words(&words) } else { None };
    let refused =
        || Error::invalid(path.display().to_string(), "no run set down", "what `tune` wrote, or no file");
    state.map(Some).ok_or_else(refused)
}
