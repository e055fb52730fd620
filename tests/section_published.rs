//! Section properties against published tables, and against the loss, patch and class tables computed for this project.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests; the worst row is worth seeing"
)]

use ferrowane::reference::rows;
use ferrowane::section::{
    Corners, FaceLoss, Properties, Section, Tube, properties, remaining, section_class,
};

const SECTIONS: &str = include_str!("../shared/tube_published_sections.csv");
const LOSSES: &str = include_str!("../shared/tube_loss_ratios.csv");
const PATCHES: &str = include_str!("../shared/tube_patch_ratios.csv");

#[derive(serde::Deserialize)]
struct SectionRow {
    shape: String,
    size_mm: String,
    corners: String,
    area_mm2: f64,
    i_mm4: f64,
    w_el_mm3: f64,
    w_pl_mm3: f64,
    it_mm4: f64,
    status: String,
}

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
}

#[derive(serde::Deserialize)]
struct PatchRow {
    size_mm: String,
    patch_angle_deg: f64,
    loss_fraction: f64,
    area_ratio: f64,
    i_ratio: f64,
    w_el_ratio: f64,
}

fn tube(size: &str, corners: Corners) -> Tube {
    Tube::parse_round(size).or_else(|_| Tube::parse_rectangular(size, corners)).unwrap()
}

fn new_properties(row: &SectionRow) -> Properties {
    let corners = if row.corners == "hot-finished" { Corners::HotFinished } else { Corners::ColdFormed };
    let tube = tube(&row.size_mm, corners);
    assert_eq!(row.shape == "CHS", matches!(tube, Tube::Round { .. }), "{}", row.size_mm);
    properties(&Section::from(tube), &[FaceLoss::default(); 8]).unwrap()
}

/// The five columns as (name, computed, printed).
fn columns(row: &SectionRow) -> [(&'static str, f64, f64); 5] {
    let p = new_properties(row);
    [
        ("area", p.area_mm2, row.area_mm2),
        ("I", p.i_x_mm4, row.i_mm4),
        ("Wel", p.w_x_mm3, row.w_el_mm3),
        ("Wpl", p.w_pl_mm3.unwrap(), row.w_pl_mm3),
        ("It", p.torsion_constant_mm4, row.it_mm4),
    ]
}

#[test]
fn published_sections_agree_within_their_printed_rounding() {
    let table: Vec<SectionRow> = rows("tube_published_sections.csv", SECTIONS).unwrap();
    let published: Vec<_> = table.iter().filter(|row| row.status == "SAW").collect();
    assert_eq!(published.len(), 30);
    let mut worst = (0.0, String::new());
    for row in published {
        for (name, computed, printed) in columns(row) {
            let deviation = (computed / printed - 1.0).abs();
            // three printed digits: at most 0.5 % (1.00 to 1.005)
            assert!(deviation < 0.005, "{} {name}: {computed} against {printed}", row.size_mm);
            if deviation > worst.0 {
                worst = (deviation, format!("{} {name} {computed:.1} against {printed}", row.size_mm));
            }
        }
    }
    println!("worst published value: {:.3} %, {}", 100.0 * worst.0, worst.1);
}

#[test]
fn published_computed_rows_agree_to_their_last_digit() {
    let table: Vec<SectionRow> = rows("tube_published_sections.csv", SECTIONS).unwrap();
    let computed_rows: Vec<_> = table.iter().filter(|row| row.status == "COMPUTED").collect();
    assert_eq!(computed_rows.len(), 14);
    for row in computed_rows {
        for (name, computed, printed) in columns(row) {
            // five significant digits were printed
            let half_unit = 0.5 * 10_f64.powf(printed.log10().floor() - 4.0);
            assert!(
                (computed - printed).abs() <= 1.001 * half_unit,
                "{} {name}: {computed} against {printed}",
                row.size_mm
            );
        }
    }
}

#[test]
fn published_loss_ratios_agree_to_their_last_digit() {
    for row in rows::<LossRow>("tube_loss_ratios.csv", LOSSES).unwrap() {
        let tube = tube(&row.size_mm, Corners::ColdFormed);
        let depth = row.wall_loss_fraction * tube.wall_mm();
        let (outside_mm, inside_mm) = match row.attack_side.as_str() {
            "outside" => (depth, 0.0),
            "inside" => (0.0, depth),
            _ => (0.5 * depth, 0.5 * depth),
        };
        let (section, losses) = (Section::from(tube), [FaceLoss { outside_mm, inside_mm }; 8]);
        let new = properties(&section, &[FaceLoss::default(); 8]).unwrap();
        let left = properties(&section, &losses).unwrap();
        let share = |of: fn(&Properties) -> f64| of(&left) / of(&new);
        for (name, computed, printed) in [
            ("area", share(|p| p.area_mm2), row.area_ratio),
            ("I", share(|p| p.i_x_mm4), row.i_ratio),
            ("Wel", share(|p| p.w_x_mm3), row.w_el_ratio),
            ("Wpl", share(|p| p.w_pl_mm3.unwrap()), row.w_pl_ratio),
            ("It", share(|p| p.torsion_constant_mm4), row.it_ratio),
        ] {
            // four decimals printed
            let place = format!("{} {} {}", row.size_mm, row.attack_side, row.wall_loss_fraction);
            assert!((computed - printed).abs() <= 0.501e-4, "{place} {name}: {computed} against {printed}");
        }
        let computed = section_class(&section, &losses, 355.0).unwrap().slenderness.unwrap();
        // the table gives h/t, the class of a flat follows from c/t = h/t - 3; two decimals printed
        let printed =
            if matches!(tube, Tube::Round { .. }) { row.slenderness } else { row.slenderness - 3.0 };
        assert!(
            (computed - printed).abs() <= 0.501e-2,
            "{} slenderness: {computed} against {printed}",
            row.size_mm
        );
    }
}

#[test]
fn published_patch_ratios_agree_with_the_numeric_integration() {
    let mut with_proud_edges = 0;
    for row in rows::<PatchRow>("tube_patch_ratios.csv", PATCHES).unwrap() {
        let tube = Tube::parse_round(&row.size_mm).unwrap();
        let section =
            Section::with_widths(tube, &[row.patch_angle_deg, 360.0 - row.patch_angle_deg]).unwrap();
        let patch = FaceLoss { outside_mm: row.loss_fraction * tube.wall_mm(), inside_mm: 0.0 };
        let new = properties(&section, &[FaceLoss::default(); 2]).unwrap();
        let left = properties(&section, &[patch, FaceLoss::default()]).unwrap();
        // the table takes the fibre in the middle of the patch even where the sound edges beside it stand farther out
        let radius = 0.5 * tube.height_and_width_mm().0;
        let fibre = (radius - patch.outside_mm + left.centroid_y_mm).max(radius - left.centroid_y_mm);
        let w_of_table = left.i_x_mm4 / fibre;
        for (name, computed, printed) in [
            ("area", left.area_mm2 / new.area_mm2, row.area_ratio),
            ("I", left.i_x_mm4 / new.i_x_mm4, row.i_ratio),
            ("Wel", w_of_table / new.w_x_mm3, row.w_el_ratio),
        ] {
            // one unit of the last printed digit: half for the printing, half for the 7200 sectors
            let place = format!("{} {}° {}", row.size_mm, row.patch_angle_deg, row.loss_fraction);
            assert!((computed - printed).abs() <= 1e-4, "{place} {name}: {computed} against {printed}");
        }
        let proud = radius * (0.5 * row.patch_angle_deg).to_radians().cos() > radius - patch.outside_mm;
        with_proud_edges += usize::from(proud);
        let below_table = 1.0 - left.w_x_mm3 / w_of_table;
        assert!(
            if proud { below_table > 1e-3 } else { below_table.abs() < 1e-12 },
            "{}: {below_table}",
            row.size_mm
        );
    }
    assert_eq!(with_proud_edges, 6); // 30° at half the wall and more
}

#[test]
fn published_half_the_wall_over_a_quarter_of_the_circumference_costs_31_percent_of_the_modulus() {
    let section = Section::with_widths(Tube::parse_round("45x2").unwrap(), &[90.0, 270.0]).unwrap();
    let left =
        remaining(&section, &[FaceLoss { outside_mm: 1.0, inside_mm: 0.0 }, FaceLoss::default()]).unwrap();
    assert!((1.0 - left.bending - 0.31).abs() < 0.005, "{left:?}"); // two digits printed
}

#[test]
fn published_a_45x2_of_420_steel_turns_class_2_at_21_percent_outside_loss() {
    let section = Section::from(Tube::parse_round("45x2").unwrap());
    let class = |share: f64| {
        section_class(&section, &[FaceLoss { outside_mm: 2.0 * share, inside_mm: 0.0 }; 8], 420.0).unwrap()
    };
    assert_eq!(class(0.0).class, 1);
    assert!((class(0.0).slenderness.unwrap() - 22.5).abs() < 1e-12);
    // D/t reaches 27.98 between 20.5 and 21.5 %: two digits printed
    assert_eq!((class(0.205).class, class(0.215).class), (1, 2));
    assert_eq!(class(1.0).class, 4);
}

#[test]
fn published_round_class_limits_per_yield_strength() {
    // D/t limits printed to 0.1 for three steels; a 60 mm tube's wall is set just inside and outside each
    for (yield_n_mm2, limits) in
        [(355.0, [33.1, 46.3, 59.6]), (420.0, [28.0, 39.2, 50.4]), (500.0, [23.5, 32.9, 42.3])]
    {
        for (below, limit) in limits.into_iter().enumerate() {
            let class = |slenderness: f64| {
                let section = Section::from(Tube::round(60.0, 60.0 / slenderness).unwrap());
                section_class(&section, &[FaceLoss::default(); 8], yield_n_mm2).unwrap().class as usize
            };
            assert_eq!(
                (class(limit - 0.06), class(limit + 0.06)),
                (below + 1, below + 2),
                "{yield_n_mm2} {limit}"
            );
        }
    }
}

#[test]
fn published_flat_class_limits() {
    // fy 235: eps = 1, c/t = 33, 38, 42 with c = side - 3 t
    for (below, limit) in [33.0, 38.0, 42.0].into_iter().enumerate() {
        let class = |c_over_t: f64| {
            let tube =
                Tube::rectangular(100.0, 60.0, 100.0 / (c_over_t + 3.0), Corners::HotFinished).unwrap();
            section_class(&Section::from(tube), &[FaceLoss::default(); 8], 235.0).unwrap().class as usize
        };
        assert_eq!((class(limit - 0.01), class(limit + 0.01)), (below + 1, below + 2));
    }
}
