//! Patches and classes against published limits. Section properties row by row: `tests/validation.rs`.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use ferrowane::reference::{rows, table};
use ferrowane::section::{Corners, FaceLoss, Section, Tube, properties, remaining, section_class};

const PATCHES: &str = "tube_patch_ratios.csv";

#[derive(serde::Deserialize)]
struct PatchRow {
    size_mm: String,
    patch_angle_deg: f64,
    loss_fraction: f64,
}

/// The table of patches takes the fibre in the middle of the patch even where the sound edges beside it stand farther out; there the
/// modulus is lower.
#[test]
fn published_patches_with_proud_edges_are_weaker_than_their_middle_fibre() {
    let mut with_proud_edges = 0;
    for row in rows::<PatchRow>(PATCHES, table(PATCHES).unwrap()).unwrap() {
        let tube = Tube::parse_round(&row.size_mm).unwrap();
        let section =
            Section::with_widths(tube, &[row.patch_angle_deg, 360.0 - row.patch_angle_deg]).unwrap();
        let patch = FaceLoss { outside_mm: row.loss_fraction * tube.wall_mm(), inside_mm: 0.0 };
        let left = properties(&section, &[patch, FaceLoss::default()]).unwrap();
        let radius = 0.5 * tube.height_and_width_mm().0;
        let fibre = (radius - patch.outside_mm + left.centroid_y_mm).max(radius - left.centroid_y_mm);
        let proud = radius * (0.5 * row.patch_angle_deg).to_radians().cos() > radius - patch.outside_mm;
        with_proud_edges += usize::from(proud);
        let below_table = 1.0 - left.w_x_mm3 * fibre / left.i_x_mm4;
        let agrees = if proud { below_table > 1e-3 } else { below_table.abs() < 1e-12 };
        assert!(agrees, "{}: {below_table}", row.size_mm);
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
