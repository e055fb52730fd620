//! Worn tubes: the same loss all round, and a patch, against ratios computed outside the library.

use super::section::{new_properties, tube};
use super::{Check, CheckKind, Origin, rows};
use crate::error::Result;
use crate::section::{Corners, FaceLoss, Properties, Section, Tube, properties, section_class};

const LOSSES: &str = "tube_loss_ratios.csv";
const PATCHES: &str = "tube_patch_ratios.csv";
/// Yield strength for the slenderness, which does not depend on it [N/mm²].
const ANY_YIELD_N_MM2: f64 = 355.0;

#[derive(serde::Deserialize)]
struct LossRow {
    size_mm: String,
    attack_side: String,
    wall_loss_fraction: f64,
    area_ratio: f64,
    i_ratio: f64,
    w_el_ratio: f64,
    w_pl_ratio: f64,
    it_ratio: f64,
    slenderness: f64,
    source: String,
}

#[derive(serde::Deserialize)]
struct PatchRow {
    size_mm: String,
    patch_angle_deg: f64,
    loss_fraction: f64,
    area_ratio: f64,
    i_ratio: f64,
    w_el_ratio: f64,
    source: String,
}

pub(super) fn checks() -> Result<Vec<Check>> {
    let mut checks = Vec::new();
    for row in rows::<LossRow>(LOSSES)? {
        checks.extend(of_loss(&row)?);
    }
    for row in rows::<PatchRow>(PATCHES)? {
        checks.extend(of_patch(&row)?);
    }
    Ok(checks)
}

/// Four decimals were printed; two of the slenderness.
fn of_loss(row: &LossRow) -> Result<Vec<Check>> {
    let tube = tube(&row.size_mm, Corners::ColdFormed)?;
    let depth = row.wall_loss_fraction * tube.wall_mm();
    let (outside_mm, inside_mm) = match row.attack_side.as_str() {
        "outside" => (depth, 0.0),
        "inside" => (0.0, depth),
        _ => (0.5 * depth, 0.5 * depth),
    };
    let (section, losses) = (Section::from(tube), [FaceLoss { outside_mm, inside_mm }; 8]);
    let (new, left) = (new_properties(tube)?, properties(&section, &losses)?);
    let plastic = |p: &Properties| p.w_pl_mm3.unwrap_or(f64::NAN);
    let origin = Origin { table: LOSSES, kind: CheckKind::WorkedOut, source: &row.source };
    let place = format!("{};wall_loss_fraction={};{}", row.size_mm, row.wall_loss_fraction, row.attack_side);
    let ratios = [
        ("area", row.area_ratio, left.area_mm2 / new.area_mm2),
        ("I", row.i_ratio, left.i_x_mm4 / new.i_x_mm4),
        ("Wel", row.w_el_ratio, left.w_x_mm3 / new.w_x_mm3),
        ("Wpl", row.w_pl_ratio, plastic(&left) / plastic(&new)),
        ("It", row.it_ratio, left.torsion_constant_mm4 / new.torsion_constant_mm4),
    ];
    let mut checks: Vec<Check> = ratios
        .into_iter()
        .map(|(name, expected, found)| {
            origin.check(format!("{place}: {name} [-]"), [expected, found], 0.501e-4)
        })
        .collect();
    // the table gives h/t, the class of a flat follows from c/t = h/t - 3
    let flat = if matches!(tube, Tube::Round { .. }) { 0.0 } else { 3.0 };
    let found = section_class(&section, &losses, ANY_YIELD_N_MM2)?.slenderness.unwrap_or(f64::NAN);
    checks.push(origin.check(format!("{place}: slenderness [-]"), [row.slenderness - flat, found], 0.501e-2));
    Ok(checks)
}

/// One unit of the last printed digit: half for the printing, half for the 7200 sectors of the integration. The modulus of the
/// table is that of the fibre in the middle of the patch, even where the sound edges beside it stand farther out.
fn of_patch(row: &PatchRow) -> Result<Vec<Check>> {
    let tube = Tube::parse_round(&row.size_mm)?;
    let section = Section::with_widths(tube, &[row.patch_angle_deg, 360.0 - row.patch_angle_deg])?;
    let patch = FaceLoss { outside_mm: row.loss_fraction * tube.wall_mm(), inside_mm: 0.0 };
    let new = properties(&section, &[FaceLoss::default(); 2])?;
    let left = properties(&section, &[patch, FaceLoss::default()])?;
    let radius = 0.5 * tube.height_and_width_mm().0;
    let fibre = (radius - patch.outside_mm + left.centroid_y_mm).max(radius - left.centroid_y_mm);
    let origin = Origin { table: PATCHES, kind: CheckKind::WorkedOut, source: &row.source };
    let ratios = [
        ("area", row.area_ratio, left.area_mm2 / new.area_mm2),
        ("I", row.i_ratio, left.i_x_mm4 / new.i_x_mm4),
        ("Wel", row.w_el_ratio, left.i_x_mm4 / fibre / new.w_x_mm3),
    ];
    let place = format!(
        "{};loss_fraction={};patch_angle_deg={}",
        row.size_mm, row.loss_fraction, row.patch_angle_deg
    );
    let check =
        |(name, expected, found)| origin.check(format!("{place}: {name} [-]"), [expected, found], 1e-4);
    Ok(ratios.into_iter().map(check).collect())
}
