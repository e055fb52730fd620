//! New tubes: printed section tables, and an open finite-element library whose circles are polygons.

use super::{Check, CheckKind, Origin, number, rows};
use crate::error::Result;
use crate::section::{Corners, FaceLoss, Properties, Section, Tube, properties};
use std::f64::consts::PI;

const SECTIONS: &str = "tube_published_sections.csv";
const LIBRARY: &str = "tube_reference_library.csv";

#[derive(serde::Deserialize)]
struct Row {
    size_mm: String,
    corners: String,
    area_mm2: f64,
    i_mm4: f64,
    w_el_mm3: f64,
    w_pl_mm3: f64,
    it_mm4: f64,
    source: String,
    status: String,
}

pub(super) fn checks() -> Result<Vec<Check>> {
    let mut checks = Vec::new();
    for row in rows::<Row>(SECTIONS)? {
        checks.extend(of_new_tube(&row)?);
    }
    for wall in ["2", "1.5"] {
        checks.extend(of_round_polygon(wall)?);
    }
    Ok(checks)
}

/// A tube of a table: round, or rectangular with corners.
pub(super) fn tube(size_mm: &str, corners: Corners) -> Result<Tube> {
    Tube::parse_round(size_mm).or_else(|_| Tube::parse_rectangular(size_mm, corners))
}

/// Properties of a tube without loss.
pub(super) fn new_properties(tube: Tube) -> Result<Properties> {
    properties(&Section::from(tube), &[FaceLoss::default(); 8])
}

/// Three digits as printed, hence 0.5 %; or five digits that were worked out, to half of the last.
fn of_new_tube(row: &Row) -> Result<Vec<Check>> {
    let corners = if row.corners == "hot-finished" { Corners::HotFinished } else { Corners::ColdFormed };
    let p = new_properties(tube(&row.size_mm, corners)?)?;
    let is_printed = row.status == "SAW";
    let kind = if is_printed { CheckKind::Published } else { CheckKind::WorkedOut };
    let origin = Origin { table: SECTIONS, kind, source: &row.source };
    let columns = [
        ("area [mm2]", row.area_mm2, p.area_mm2),
        ("I [mm4]", row.i_mm4, p.i_x_mm4),
        ("Wel [mm3]", row.w_el_mm3, p.w_x_mm3),
        ("Wpl [mm3]", row.w_pl_mm3, p.w_pl_mm3.unwrap_or(f64::NAN)),
        ("It [mm4]", row.it_mm4, p.torsion_constant_mm4),
    ];
    let check = |(name, expected, found): (&str, f64, f64)| {
        let half_digit = 0.500_5 * 10f64.powf(expected.log10().floor() - 4.0);
        let tolerance = if is_printed { 0.005 * expected } else { half_digit };
        origin.check(format!("{} {}, {name}", row.size_mm, row.corners), [expected, found], tolerance)
    };
    Ok(columns.into_iter().map(check).collect())
}

#[derive(serde::Deserialize)]
struct LibraryRow {
    call: String,
    value: String,
    source: String,
}

/// A regular n-gon inscribed in a circle, x = 2 pi/n: area by sin x/x, second moment by sin x (2 + cos x)/(3 x), first
/// moment of a half by cos²(x/2) of the circle's. With these factors round tubes agree to the nine digits of the library.
fn of_round_polygon(wall: &str) -> Result<Vec<Check>> {
    let x = 2.0 * PI / 128.0;
    let (area, second, first) = (x.sin() / x, x.sin() * (2.0 + x.cos()) / (3.0 * x), (0.5 * x).cos().powi(2));
    let p = new_properties(Tube::parse_round(&format!("40x{wall}"))?)?;
    let computed = [
        p.area_mm2 * area,
        p.i_x_mm4 * second,
        p.i_y_mm4 * second,
        p.w_el_mm3 * second,
        p.w_pl_mm3.unwrap_or(f64::NAN) * first,
        p.torsion_constant_mm4 * second,
    ];
    let call = format!("circular_hollow_section(d=40,t={wall},n=128)");
    let table: Vec<LibraryRow> = rows(LIBRARY)?;
    let mut printed = Vec::new();
    for row in table.iter().filter(|row| row.call.starts_with(&call)) {
        for value in row.value.split(' ') {
            printed.push((row, number(LIBRARY, value)?));
        }
    }
    let check = |((row, expected), found): ((&LibraryRow, f64), f64)| {
        let origin = Origin { table: LIBRARY, kind: CheckKind::ReferenceLibrary, source: &row.source };
        origin.check(row.call.clone(), [expected, found], 1e-8 * expected)
    };
    Ok(printed.into_iter().zip(computed).map(check).collect())
}
