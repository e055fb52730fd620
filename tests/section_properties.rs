//! What must hold for any tube and any loss: falling, scaling, symmetry, nothing left, and the Monte Carlo's polynomials.

#![allow(clippy::unwrap_used, clippy::float_cmp, reason = "helpers of tests; zero means exactly zero")]

use ferrowane::section::{
    Corners, FaceLoss, Properties, Section, Tube, bending_left, bending_left_lanes, intact_moments,
    loss_polynomials, properties, remaining, section_class,
};
use proptest::prelude::*;

fn tubes() -> impl Strategy<Value = Tube> {
    let round = (20.0..120.0, 0.02..0.2).prop_map(|(diameter, share): (f64, f64)| {
        Tube::round(diameter, (share * diameter).max(0.3)).unwrap()
    });
    let corners = prop_oneof![Just(Corners::HotFinished), Just(Corners::ColdFormed)];
    let rectangular = (20.0..120.0, 0.4..1.0, 0.02..0.2, corners).prop_map(
        |(height, slim, share, corners): (f64, f64, f64, Corners)| {
            let width = height * slim;
            Tube::rectangular(height, width, (share * width).clamp(0.3, 5.0), corners).unwrap()
        },
    );
    prop_oneof![round, rectangular]
}

/// Losses as fractions of the wall, each face up to `most`.
fn fractions(most: f64) -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((0.0..most, 0.0..most), 8)
}

fn losses(tube: &Tube, fractions: &[(f64, f64)]) -> Vec<FaceLoss> {
    let wall = tube.wall_mm();
    fractions.iter().map(|f| FaceLoss { outside_mm: f.0 * wall, inside_mm: f.1 * wall }).collect()
}

fn worn(tube: Tube, fractions: &[(f64, f64)]) -> Properties {
    properties(&Section::from(tube), &losses(&tube, fractions)).unwrap()
}

/// Everything that can only fall, with the power of length it has.
fn falling(p: &Properties) -> [(f64, i32); 7] {
    [
        (p.area_mm2, 2),
        (p.i_min_mm4, 4),
        (p.i_max_mm4, 4),
        (p.i_x_mm4, 4),
        (p.i_y_mm4, 4),
        (p.torsion_constant_mm4, 4),
        (p.least_wall_mm, 1),
    ]
}

fn close(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-9 * scale
}

fn symmetric(groups: [f64; 5], inside: f64) -> Vec<(f64, f64)> {
    [0, 1, 2, 3, 4, 3, 2, 1].map(|group: usize| (groups[group], inside)).to_vec()
}

fn groups() -> Vec<Vec<usize>> {
    vec![vec![0], vec![1, 7], vec![2, 6], vec![3, 5], vec![4]]
}

proptest! {
    // up to 1.2 walls of loss on a sector: gone sectors are part of the game
    #[test]
    fn property_more_loss_anywhere_never_raises_anything(
        tube in tubes(), start in fractions(0.6), sector in 0_usize..8, more in (0.0..0.5, 0.0..0.5),
    ) {
        let mut after = start.clone();
        after[sector].0 += more.0;
        after[sector].1 += more.1;
        let new = falling(&worn(tube, &[(0.0, 0.0); 8]));
        let (before, after_all) = (worn(tube, &start), worn(tube, &after));
        for ((b, a), n) in falling(&before).iter().zip(falling(&after_all)).zip(new) {
            prop_assert!(a.0 <= b.0 + 1e-12 * n.0, "{before:?} {after_all:?}");
        }
        let section = Section::from(tube);
        let left = |f: &[(f64, f64)]| remaining(&section, &losses(&tube, f)).unwrap();
        let (b, a) = (left(&start), left(&after));
        prop_assert!(a.axial <= b.axial + 1e-12 && a.torsion <= b.torsion + 1e-12);
    }

    #[test]
    fn property_even_loss_lowers_the_moduli(tube in tubes(), outside in 0.0..0.4, inside in 0.0..0.4, more in 0.01..0.1) {
        let before = worn(tube, &[(outside, inside); 8]);
        for after in [worn(tube, &[(outside + more, inside); 8]), worn(tube, &[(outside, inside + more); 8])] {
            prop_assert!(after.w_el_mm3 < before.w_el_mm3);
            prop_assert!(after.w_x_mm3 < before.w_x_mm3 && after.w_y_mm3 < before.w_y_mm3);
            prop_assert!(after.w_pl_mm3.unwrap() < before.w_pl_mm3.unwrap());
        }
    }

    #[test]
    fn property_values_scale_with_their_power_of_length(tube in tubes(), start in fractions(0.45), k in 0.5_f64..1.0) {
        let smaller = match tube {
            Tube::Round { diameter_mm, wall_mm } => Tube::Round { diameter_mm: k * diameter_mm, wall_mm: k * wall_mm },
            Tube::Rectangular { height_mm, width_mm, wall_mm, corners } => Tube::Rectangular {
                height_mm: k * height_mm, width_mm: k * width_mm, wall_mm: k * wall_mm, corners,
            },
        };
        let (p, q) = (worn(tube, &start), worn(smaller, &start));
        for (whole, scaled) in falling(&p).iter().zip(falling(&q)) {
            prop_assert!(close(scaled.0, whole.0 * k.powi(whole.1), whole.0));
        }
        prop_assert!(close(q.w_x_mm3, p.w_x_mm3 * k.powi(3), p.w_x_mm3));
        prop_assert!(close(q.w_y_mm3, p.w_y_mm3 * k.powi(3), p.w_y_mm3));
    }

    #[test]
    fn property_a_mirror_image_differs_only_in_the_sign_of_x(tube in tubes(), start in fractions(0.6)) {
        let mirrored: Vec<_> = [0, 7, 6, 5, 4, 3, 2, 1].map(|k: usize| start[k]).to_vec();
        let (p, q) = (worn(tube, &start), worn(tube, &mirrored));
        for (one, other) in falling(&p).iter().zip(falling(&q)) {
            prop_assert!(close(one.0, other.0, one.0));
        }
        prop_assert!(close(p.centroid_x_mm, -q.centroid_x_mm, 100.0) && close(p.centroid_y_mm, q.centroid_y_mm, 100.0));
        prop_assert!(close(p.w_x_mm3, q.w_x_mm3, p.w_x_mm3) && close(p.w_y_mm3, q.w_y_mm3, p.w_y_mm3));
    }

    #[test]
    fn property_turning_a_round_tube_changes_no_principal_value(
        diameter in 20.0..120.0, start in fractions(0.45), turn in 1_usize..8,
    ) {
        let tube = Tube::round(diameter, 0.05 * diameter).unwrap();
        let mut turned = start.clone();
        turned.rotate_right(turn);
        let (p, q) = (worn(tube, &start), worn(tube, &turned));
        for (a, b) in [
            (p.area_mm2, q.area_mm2), (p.i_min_mm4, q.i_min_mm4), (p.i_max_mm4, q.i_max_mm4),
            (p.torsion_constant_mm4, q.torsion_constant_mm4), (p.least_wall_mm, q.least_wall_mm),
        ] {
            prop_assert!(close(a, b, a));
        }
        // the directions are as good as the gap of the principal values allows
        prop_assume!(p.i_max_mm4 - p.i_min_mm4 > 1e-3 * p.i_max_mm4);
        prop_assert!(close(p.w_el_mm3, q.w_el_mm3, p.w_el_mm3));
    }

    #[test]
    fn property_tilting_sectors_by_any_angle_keeps_principal_values(
        diameter in 20.0..120.0, start in fractions(0.45), shift in 0.1..44.0,
    ) {
        // the same eight sectors, the first split so that the ring starts elsewhere
        let tube = Tube::round(diameter, 0.05 * diameter).unwrap();
        let plain = worn(tube, &start);
        let mut widths = vec![45.0 - shift];
        widths.extend([45.0; 7]);
        widths.push(shift);
        let mut ring = losses(&tube, &start);
        ring.push(ring[0]);
        let p = properties(&Section::with_widths(tube, &widths).unwrap(), &ring).unwrap();
        for (a, b) in [
            (p.area_mm2, plain.area_mm2), (p.i_min_mm4, plain.i_min_mm4), (p.i_max_mm4, plain.i_max_mm4),
            (p.torsion_constant_mm4, plain.torsion_constant_mm4),
            (p.i_x_mm4 + p.i_y_mm4, plain.i_x_mm4 + plain.i_y_mm4),
        ] {
            prop_assert!(close(a, b, b));
        }
    }

    #[test]
    fn property_polynomials_equal_the_full_properties_for_symmetric_losses(
        tube in tubes(), depths in prop::array::uniform5(0.0..0.5), inside in 0.0..0.5,
    ) {
        let section = Section::from(tube);
        let polynomials = loss_polynomials(&section, &groups()).unwrap();
        let wall = tube.wall_mm();
        let share = bending_left(&intact_moments(&section), &polynomials, &depths.map(|d| d * wall), inside * wall);
        let fractions = symmetric(depths, inside);
        let full = remaining(&section, &losses(&tube, &fractions)).unwrap().bending;
        prop_assert!(close(share, full, 1.0), "{share} {full}");
        if matches!(tube, Tube::Round { .. }) {
            let of_modulus = worn(tube, &fractions).w_el_mm3 / worn(tube, &[(0.0, 0.0); 8]).w_el_mm3;
            prop_assert!(close(share, of_modulus, 1.0), "{share} {of_modulus}");
        }
    }

    #[test]
    fn property_lanes_give_the_same_bits(
        tube in tubes(), depths in prop::array::uniform5(prop::array::uniform4(0.0_f64..2.0)),
        inside in prop::array::uniform4(0.0_f64..2.0),
    ) {
        let section = Section::from(tube);
        let (new, polynomials) = (intact_moments(&section), loss_polynomials(&section, &groups()).unwrap());
        let lanes = bending_left_lanes(&new, &polynomials, &depths, &inside);
        for l in 0..4 {
            let one = bending_left(&new, &polynomials, &depths.map(|group| group[l]), inside[l]);
            prop_assert_eq!(one.to_bits(), lanes[l].to_bits());
        }
    }

    #[test]
    fn property_polynomials_stay_finite_at_any_depth(
        tube in tubes(), depths in prop::array::uniform5(0.0..3.0), inside in 0.0..3.0,
    ) {
        let section = Section::from(tube);
        let polynomials = loss_polynomials(&section, &groups()).unwrap();
        let wall = tube.wall_mm();
        let share = bending_left(&intact_moments(&section), &polynomials, &depths.map(|d| d * wall), inside * wall);
        prop_assert!((0.0..=1.0).contains(&share), "{share}");
    }
}

fn examples() -> [Tube; 3] {
    [
        Tube::parse_round("45x2").unwrap(),
        Tube::parse_rectangular("60x40x2", Corners::ColdFormed).unwrap(),
        Tube::parse_rectangular("50x50x3.2", Corners::HotFinished).unwrap(),
    ]
}

#[test]
fn property_nothing_left_is_zero_without_nan() {
    for tube in examples() {
        for gone in [(1.0, 0.0), (0.0, 1.0), (0.5, 0.5), (1e9, 1e9)] {
            let p = worn(tube, &[gone; 8]);
            assert!(falling(&p).iter().all(|(value, _)| *value == 0.0), "{p:?}");
            assert!(
                [p.centroid_x_mm, p.centroid_y_mm, p.w_el_mm3, p.w_x_mm3, p.w_y_mm3]
                    .iter()
                    .all(|v| *v == 0.0)
            );
            assert_eq!(p.w_pl_mm3, Some(0.0));
            let section = Section::from(tube);
            let left = remaining(&section, &losses(&tube, &[gone; 8])).unwrap();
            assert!([left.axial, left.bending, left.torsion, left.least_wall_mm].iter().all(|v| *v == 0.0));
            assert_eq!(section_class(&section, &losses(&tube, &[gone; 8]), 355.0).unwrap().slenderness, None);
        }
        let section = Section::from(tube);
        let polynomials = loss_polynomials(&section, &groups()).unwrap();
        let share = bending_left(&intact_moments(&section), &polynomials, &[1e9; 5], 1e9);
        // a hot-finished corner keeps its residue of 0.16 T² in the polynomials
        assert!(share < 0.02, "{share}");
    }
}

#[test]
fn property_one_sector_gone_leaves_the_open_section() {
    let mut fractions = [(0.0, 0.0); 8];
    fractions[2] = (1.0, 0.0);
    for tube in examples() {
        let p = worn(tube, &fractions);
        assert!(p.least_wall_mm == 0.0 && p.area_mm2 > 0.0 && p.w_el_mm3 > 0.0);
        // thin open section: area t²/3; corners and curvature differ by parts of (t/r)²
        let thin = p.area_mm2 * tube.wall_mm().powi(2) / 3.0;
        assert!((p.torsion_constant_mm4 / thin - 1.0).abs() < 0.05, "{tube} {p:?}");
    }
}

#[test]
fn closed_form_round_tube_has_twice_its_second_moment_in_torsion() {
    for (outside, inside) in [(0.0, 0.0), (0.3, 0.2), (0.0, 0.999)] {
        let tube = Tube::round(45.0, 15.0).unwrap();
        let p = worn(tube, &[(outside, inside); 8]);
        let (a, b) = (22.5 - 15.0 * outside, 7.5 + 15.0 * inside);
        let i = std::f64::consts::FRAC_PI_4 * (a.powi(4) - b.powi(4));
        // 1e-9: at a wall of 15 µm the moments are differences of far larger ones
        assert!(
            (p.i_min_mm4 / i - 1.0).abs() < 1e-9 && (p.torsion_constant_mm4 / (2.0 * i) - 1.0).abs() < 1e-9
        );
    }
}

#[test]
fn closed_form_bredt_holds_for_thin_walls_of_two_thicknesses() {
    // 200 mm tube, half the circumference at 1 mm and half at 0.5 mm, mid-lines a little apart
    let section = Section::with_widths(Tube::round(200.0, 1.0).unwrap(), &[180.0, 180.0]).unwrap();
    let losses = [FaceLoss { outside_mm: 0.25, inside_mm: 0.25 }, FaceLoss::default()];
    let p = properties(&section, &losses).unwrap();
    let r: f64 = 99.5;
    let bredt = 4.0 * (std::f64::consts::PI * r * r).powi(2) / (std::f64::consts::PI * r * (1.0 + 2.0));
    // thin-wall theory errs by (t/D)² and by the open part, both below 1e-4
    assert!((p.torsion_constant_mm4 / bredt - 1.0).abs() < 1e-4);
}

#[test]
fn property_an_elastic_modulus_can_rise_with_loss() {
    // thin top: the top fibre governs, and thinning just below the axis draws the centroid up towards it
    let section = Section::with_widths(
        Tube::parse_round("45x2").unwrap(),
        &[90.0, 15.0, 20.0, 70.0, 60.0, 70.0, 20.0, 15.0],
    )
    .unwrap();
    let modulus = |thin: f64| {
        let mut losses = [FaceLoss::default(); 8];
        losses[4].inside_mm = 1.8;
        losses[2].inside_mm = thin;
        losses[6].inside_mm = thin;
        properties(&section, &losses).unwrap().w_x_mm3
    };
    assert!(modulus(1.0) > modulus(0.0));
}

#[test]
fn property_bad_input_is_refused() {
    let section = Section::from(Tube::parse_round("45x2").unwrap());
    assert!(properties(&section, &[FaceLoss::default(); 7]).is_err());
    for bad in [-0.1, f64::NAN, f64::INFINITY] {
        let mut losses = [FaceLoss::default(); 8];
        losses[3].inside_mm = bad;
        assert!(remaining(&section, &losses).is_err());
    }
    assert!(section_class(&section, &[FaceLoss::default(); 8], 0.0).is_err());
    for widths in [vec![], vec![180.0, 170.0], vec![400.0, -40.0], vec![f64::NAN]] {
        assert!(Section::with_widths(*section.tube(), &widths).is_err());
    }
    assert!(Section::with_widths(examples()[1], &[360.0]).is_err());
    for bad in [vec![vec![0, 1, 2, 3, 4, 5, 6]], vec![vec![0, 1], vec![2, 3, 4, 5, 6, 7]], vec![vec![9]]] {
        assert!(loss_polynomials(&section, &bad).is_err(), "{bad:?}");
    }
}
