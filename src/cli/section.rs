//! `section`: properties of a tube, new or worn, and the shares of capacity that are left.

use super::columns::{Stand, facts, table};
use super::failure::Failure;
use super::numbers::number;
use super::{Format, HANDBOOK_NOTE};
use crate::error::{Error, Result};
use crate::report::json::json;
use crate::report::number_words::{as_in_tables, grouped, percent_in_tenths};
use crate::report::section_json::{SectionLeft, losses};
use crate::section::{Corners, FaceLoss, Properties, Tube};
use std::io::Write;

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

impl Arguments {
    pub(super) fn run(&self, out: &mut dyn Write) -> std::result::Result<(), Failure> {
        let answer = self.answer()?;
        match self.format {
            Format::Json => write!(out, "{}", json(&answer.to_value())?)?,
            Format::Text => self.write(&answer, out)?,
        }
        Ok(())
    }

    fn answer(&self) -> Result<SectionLeft> {
        let pairs = self.loss.as_deref().map_or_else(|| Ok(vec![FaceLoss::default()]), pairs)?;
        let losses = losses(&pairs).map_err(|error| error.about("loss", "--loss"))?;
        SectionLeft::new(self.tube()?, &losses, self.yield_n_mm2)
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

    fn write(&self, answer: &SectionLeft, out: &mut dyn Write) -> std::io::Result<()> {
        let (shape, bending) = match answer.tube {
            Tube::Round { .. } => ("Round tube", ROUND),
            Tube::Rectangular { .. } => ("Rectangular tube", RECTANGULAR),
        };
        writeln!(out, "{shape} {} mm\n", answer.tube)?;
        let row = |&(name, unit, read): &Quantity| {
            let mut row = vec![String::new(), name.to_owned(), as_in_tables(read(&answer.new))];
            if answer.has_loss {
                row.push(as_in_tables(read(&answer.worn)));
            }
            row.push(unit.to_owned());
            row
        };
        let rows: Vec<Vec<String>> = AREA.iter().chain(bending).chain(TORSION).map(row).collect();
        let mut heads = vec![("", Stand::Left), ("", Stand::Left)];
        let numbers = if answer.has_loss {
            vec![("new", Stand::Right), ("worn", Stand::Right)]
        } else {
            vec![("", Stand::Right)]
        };
        heads.extend(numbers);
        heads.push(("", Stand::Left));
        write!(out, "{}\n{}", table(&heads, &rows), facts(&self.remarks(answer)))
    }

    fn remarks(&self, answer: &SectionLeft) -> Vec<(&'static str, String)> {
        let left = &answer.remaining;
        let ratio = if matches!(answer.tube, Tube::Round { .. }) { "D/t" } else { "c/t" };
        let slenderness = answer
            .class
            .slenderness
            .map_or_else(|| "a sector is gone".to_owned(), |s| format!("{ratio} {s:.1}"));
        let class = format!(
            "{} by EN 1993-1-1 ({slenderness}, yield {} N/mm²)",
            answer.class.class,
            grouped(self.yield_n_mm2, 0)
        );
        let shares = [("axial", left.axial), ("bending", left.bending), ("torsion", left.torsion)];
        let shares = shares.map(|(name, share)| format!("{name} {}", percent_in_tenths(share))).join(", ");
        let mut rows = vec![("class", class)];
        if answer.has_loss {
            rows.push(("capacity left", shares));
        }
        rows
    }
}

/// Pairs of losses, separated by commas.
fn pairs(text: &str) -> Result<Vec<FaceLoss>> {
    text.split(',').map(pair).collect()
}

fn pair(text: &str) -> Result<FaceLoss> {
    let wrong =
        || Error::invalid("--loss", format!("`{text}`"), "loss outside/inside in mm, for example 0.3/0.1");
    let (outside, inside) = text.split_once('/').ok_or_else(wrong)?;
    let depth_mm = |part: &str| number(part.trim()).map_err(|_| wrong());
    Ok(FaceLoss { outside_mm: depth_mm(outside)?, inside_mm: depth_mm(inside)? })
}
