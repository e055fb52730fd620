//! `section`: properties of a tube, new or worn, and the shares of capacity that are left.

use super::columns::{Stand, facts, table};
use super::failure::Failure;
use super::numbers::number;
use super::{Format, HANDBOOK_NOTE};
use crate::error::{Error, Result, in_range};
use crate::report::json::json;
use crate::report::number_words::{as_in_tables, grouped, percent_in_tenths};
use crate::section::{Corners, FaceLoss, Properties, Remaining, Section, SectionClass, Tube, properties};
use crate::section::{remaining, section_class};
use serde_json::{Value, json as value};
use std::io::Write;

/// Sectors of a tube [-].
const SECTORS: usize = 8;
/// Greatest loss accepted, the greatest outside dimension of a tube [mm].
const LOSS_MAX_MM: f64 = 500.0;

/// Properties of a round or rectangular tube, new or with loss of wall.
#[allow(clippy::doc_markdown, reason = "these lines are the help text, shown as they stand")]
#[derive(Debug, clap::Args)]
#[command(after_help = HANDBOOK_NOTE, group = clap::ArgGroup::new("tube").required(true))]
pub(super) struct Arguments {
    /// Round tube: outside diameter x wall [mm], as 48.3x3.2
    #[arg(long, value_name = "DxT", group = "tube")]
    round: Option<String>,
    /// Rectangular tube: height x width x wall [mm], as 60x40x2
    #[arg(long, value_name = "HxWxT", group = "tube")]
    rectangular: Option<String>,
    /// How a rectangular tube was made, which sets its corner radii:
    /// cold_formed (EN 10219-2) or hot_finished (EN 10210-2)
    #[arg(
        long,
        value_enum,
        default_value_t,
        conflicts_with = "round",
        hide_possible_values = true,
        verbatim_doc_comment
    )]
    corners: MadeAs,
    /// Yield strength, 100 to 1500, for the class of the section [N/mm²]
    #[arg(long = "yield", value_name = "N_MM2", default_value_t = 355.0, value_parser = number, allow_negative_numbers = true)]
    yield_n_mm2: f64,
    /// Loss of wall outside/inside [mm]: one pair for the whole circumference,
    /// as 0.3/0.1, or eight separated by commas, counter-clockwise:
    /// bottom, lower right, right, upper right, top, upper left,
    /// left, lower left
    #[arg(long, value_name = "OUT/IN,...", allow_hyphen_values = true, verbatim_doc_comment)]
    loss: Option<String>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
#[value(rename_all = "snake_case")]
enum MadeAs {
    #[default]
    ColdFormed,
    HotFinished,
}

/// Name, unit, and where it stands among the properties.
type Quantity = (&'static str, &'static str, fn(&Properties) -> f64);

const AREA: &[Quantity] = &[("area A", "mm²", |p| p.area_mm2)];
const ROUND: &[Quantity] = &[
    ("second moment I, least", "mm⁴", |p| p.i_min_mm4),
    ("elastic modulus W, least", "mm³", |p| p.w_el_mm3),
];
const RECTANGULAR: &[Quantity] = &[
    ("second moment I, horizontal axis", "mm⁴", |p| p.i_x_mm4),
    ("second moment I, vertical axis", "mm⁴", |p| p.i_y_mm4),
    ("elastic modulus W, horizontal axis", "mm³", |p| p.w_x_mm3),
    ("elastic modulus W, vertical axis", "mm³", |p| p.w_y_mm3),
];
const TORSION: &[Quantity] =
    &[("torsion constant", "mm⁴", |p| p.torsion_constant_mm4), ("least wall", "mm", |p| p.least_wall_mm)];

struct SectionLeft {
    tube: Tube,
    new: Properties,
    worn: Properties,
    class: SectionClass,
    remaining: Remaining,
    has_loss: bool,
}

impl Arguments {
    pub(super) fn run(&self, out: &mut dyn Write) -> std::result::Result<(), Failure> {
        let answer = self.answer()?;
        match self.format {
            Format::Json => write!(out, "{}", json(&answer.to_value())?)?,
            Format::Text => answer.write(self.yield_n_mm2, out)?,
        }
        Ok(())
    }

    fn answer(&self) -> Result<SectionLeft> {
        let tube = self.tube()?;
        let section = Section::from(tube);
        let losses = self.loss.as_deref().map_or_else(|| Ok([FaceLoss::default(); SECTORS]), losses)?;
        Ok(SectionLeft {
            tube,
            new: properties(&section, &[FaceLoss::default(); SECTORS])?,
            worn: properties(&section, &losses)?,
            class: section_class(&section, &losses, self.yield_n_mm2)?,
            remaining: remaining(&section, &losses)?,
            has_loss: losses != [FaceLoss::default(); SECTORS],
        })
    }

    fn tube(&self) -> Result<Tube> {
        let corners = match self.corners {
            MadeAs::ColdFormed => Corners::ColdFormed,
            MadeAs::HotFinished => Corners::HotFinished,
        };
        match (&self.round, &self.rectangular) {
            (Some(size), _) => Tube::parse_round(size),
            (None, Some(size)) => Tube::parse_rectangular(size, corners),
            (None, None) => Err(Error::invalid("tube", "nothing", "--round or --rectangular")),
        }
    }
}

impl SectionLeft {
    fn to_value(&self) -> Value {
        let (worn, left) = (&self.worn, &self.remaining);
        value!({
            "tube": self.tube.to_string(),
            "area_mm2": worn.area_mm2,
            "i_min_mm4": worn.i_min_mm4,
            "i_x_mm4": worn.i_x_mm4,
            "i_y_mm4": worn.i_y_mm4,
            "w_el_mm3": worn.w_el_mm3,
            "w_x_mm3": worn.w_x_mm3,
            "w_y_mm3": worn.w_y_mm3,
            "torsion_constant_mm4": worn.torsion_constant_mm4,
            "least_wall_mm": worn.least_wall_mm,
            "class": self.class.class,
            "slenderness": self.class.slenderness,
            "remaining": { "axial": left.axial, "bending": left.bending, "torsion": left.torsion },
        })
    }

    fn write(&self, yield_n_mm2: f64, out: &mut dyn Write) -> std::io::Result<()> {
        let (shape, bending) = match self.tube {
            Tube::Round { .. } => ("Round tube", ROUND),
            Tube::Rectangular { .. } => ("Rectangular tube", RECTANGULAR),
        };
        writeln!(out, "{shape} {} mm\n", self.tube)?;
        let row = |&(name, unit, read): &Quantity| {
            let mut row = vec![String::new(), name.to_owned(), as_in_tables(read(&self.new))];
            if self.has_loss {
                row.push(as_in_tables(read(&self.worn)));
            }
            row.push(unit.to_owned());
            row
        };
        let rows: Vec<Vec<String>> = AREA.iter().chain(bending).chain(TORSION).map(row).collect();
        let mut heads = vec![("", Stand::Left), ("", Stand::Left)];
        let numbers = if self.has_loss {
            vec![("new", Stand::Right), ("worn", Stand::Right)]
        } else {
            vec![("", Stand::Right)]
        };
        heads.extend(numbers);
        heads.push(("", Stand::Left));
        write!(out, "{}\n{}", table(&heads, &rows), facts(&self.remarks(yield_n_mm2)))
    }

    fn remarks(&self, yield_n_mm2: f64) -> Vec<(&'static str, String)> {
        let left = &self.remaining;
        let ratio = if matches!(self.tube, Tube::Round { .. }) { "D/t" } else { "c/t" };
        let slenderness = self
            .class
            .slenderness
            .map_or_else(|| "a sector is gone".to_owned(), |s| format!("{ratio} {s:.1}"));
        let class = format!(
            "{} by EN 1993-1-1 ({slenderness}, yield {} N/mm²)",
            self.class.class,
            grouped(yield_n_mm2, 0)
        );
        let shares = [("axial", left.axial), ("bending", left.bending), ("torsion", left.torsion)];
        let shares = shares.map(|(name, share)| format!("{name} {}", percent_in_tenths(share))).join(", ");
        let mut rows = vec![("class", class)];
        if self.has_loss {
            rows.push(("capacity left", shares));
        }
        rows
    }
}

/// Losses of the sectors: one pair for all, or one a sector.
fn losses(text: &str) -> Result<[FaceLoss; SECTORS]> {
    let pairs: Vec<FaceLoss> = text.split(',').map(pair).collect::<Result<_>>()?;
    match pairs.as_slice() {
        [all] => Ok([*all; SECTORS]),
        each => each.try_into().map_err(|_| {
            Error::invalid(
                "--loss",
                format!("{} pairs", each.len()),
                "one pair OUT/IN, or eight, one a sector",
            )
        }),
    }
}

fn pair(text: &str) -> Result<FaceLoss> {
    let wrong =
        || Error::invalid("--loss", format!("`{text}`"), "loss outside/inside in mm, for example 0.3/0.1");
    let (outside, inside) = text.split_once('/').ok_or_else(wrong)?;
    let depth_mm = |part: &str| {
        let depth_mm = number(part.trim()).map_err(|_| wrong())?;
        in_range("loss of wall", depth_mm, "mm", 0.0..=LOSS_MAX_MM)
    };
    Ok(FaceLoss { outside_mm: depth_mm(outside)?, inside_mm: depth_mm(inside)? })
}
