//! Which share of a place on a thin wall is rusted through, when its mean and its deepest loss are known?
//!
//! A forecast follows two figures of a place: the mean loss of metal, and how deep its deepest pit would be in a wall without
//! end. Between the two the local loss z of the place is taken to be spread as a generalised Pareto distribution that ends at
//! the deepest pit D:
//!
//! ```text
//! S(z) = P(loss >= z) = (1 - z/D)^k        0 <= z <= D
//! mean = integral of S from 0 to the wall w = D/(k+1) (1 - (1 - w/D)^(k+1))
//! share rusted through = S(w) = (1 - w/D)^k
//! ```
//!
//! k follows from the mean: metal that is gone counts with the wall it had, so the mean can never pass the wall. It is the
//! bounded member of the family to which the exponential tail belongs that Gumbel's law of the deepest pit rests on (deepest
//! pits on sheet follow it: Aziz 1956, MEMORY-M); with D without bound it becomes `exp(-w/scale)`. That two figures decide, and
//! that the shape is the same for all ages and places, is an ASSUMPTION: no survey of holes in thin members was found to fit.
//!
//! What follows and is tested: no hole before the deepest pit has gone through; then the share rises with either figure (two
//! such curves of one mean cross once, the one with the deeper end above at the wall); all is gone when the mean is the wall.
//! Pits that stand alone open late and slowly, even attack opens nearly at once, soon after its first hole.
//!
//! The share of a place is a share of its surface, spread along it without preference (ASSUMPTION). A strip along the bottom of
//! a member that is gone in a quarter of its surface is gone in a quarter of its length; a node goes round the member, so that
//! its share is one of the circumference there. Holes that stand apart are added up: an inspector who measures from the first to the
//! last of them reads more.

use crate::numeric::elementary::{exp, ln};

/// Newton steps after which the exponent has settled [-]: from the left on a convex curve, most places take six.
const STEPS: usize = 60;

/// Share of a place that is rusted through [-].
///
/// - `mean_um`: mean loss of metal there, both faces [µm]
/// - `deepest_um`: depth of its deepest pit, both faces, as if the wall had no end [µm]
/// - `wall_um`: the new wall [µm]
///
/// ```
/// use ferrowane::section::perforated_share;
/// assert_eq!(perforated_share(600.0, 1900.0, 2000.0), 0.0);
/// assert_eq!(perforated_share(2000.0, 2600.0, 2000.0), 1.0);
/// let share = perforated_share(1400.0, 2100.0, 2000.0);
/// assert!(share > 0.2 && share < 0.4);
/// ```
#[must_use]
pub fn perforated_share(mean_um: f64, deepest_um: f64, wall_um: f64) -> f64 {
    if deepest_um <= wall_um || mean_um <= 0.0 {
        return 0.0;
    }
    if mean_um >= wall_um {
        return 1.0;
    }
    let ln_sound = ln(1.0 - wall_um / deepest_um);
    exp(ln_sound * (power_of_mean(mean_um / deepest_um, ln_sound) - 1.0))
}

/// The `q = k + 1`, at least 1, at which `(1 - u^q) / q` is `mean` [-], `u` given by its logarithm: the left side falls and is
/// convex, so that Newton's steps from 1 rise to the root and never pass it.
fn power_of_mean(mean: f64, ln_u: f64) -> f64 {
    let mut q = 1.0;
    for _ in 0..STEPS {
        let rest = exp(ln_u * q);
        let found = (1.0 - rest) / q;
        let slope = (rest * ln_u + found) / q;
        let step = (found - mean) / slope;
        q += step.max(0.0);
        if step <= 4.0 * f64::EPSILON * q {
            break;
        }
    }
    q
}

#[cfg(test)]
mod tests {
    use super::perforated_share;

    const WALL_UM: f64 = 2000.0;

    /// Mean and share of the closed distribution with exponent k: the share comes back from the mean.
    #[test]
    fn closed_form_share_of_a_known_distribution() {
        for deepest_um in [2000.5, 2100.0, 2600.0, 5000.0, 40_000.0] {
            for k in [0.01, 0.2, 1.0, 3.0, 12.0f64] {
                let sound = 1.0 - WALL_UM / deepest_um;
                let mean_um = deepest_um / (k + 1.0) * (1.0 - sound.powf(k + 1.0));
                let (share, found) = (sound.powf(k), perforated_share(mean_um, deepest_um, WALL_UM));
                // the mean holds the exponent to about 1e-13 of it where the distribution is that flat
                assert!((found - share).abs() < 1e-10, "{deepest_um} µm, k {k}: {share} and {found}");
            }
        }
    }

    /// Without end the distribution is exponential: the share is exp(-w/scale), the mean scale (1 - share).
    #[test]
    fn closed_form_far_end_is_exponential() {
        for scale_um in [300.0, 900.0, 3000.0f64] {
            let share = (-WALL_UM / scale_um).exp();
            let found = perforated_share(scale_um * (1.0 - share), 1e9, WALL_UM);
            assert!((found / share - 1.0).abs() < 1e-5, "{scale_um}: {share} and {found}");
        }
    }

    #[test]
    fn property_share_rises_with_mean_and_deepest_loss_from_none_to_all() {
        let means: Vec<f64> = (0..=200).map(|step| 10.0 * f64::from(step)).collect();
        for (row, deepest_um) in [2000.0, 2000.1, 2030.0, 2200.0, 3000.0, 9000.0].windows(2).enumerate() {
            let shares =
                |deepest_um: f64| means.iter().map(move |mean| perforated_share(*mean, deepest_um, WALL_UM));
            let (shallow, deep): (Vec<f64>, Vec<f64>) =
                (shares(deepest_um[0]).collect(), shares(deepest_um[1]).collect());
            assert!(deep.windows(2).all(|pair| pair[0] <= pair[1]), "{row}: {deep:?}");
            assert!(shallow.iter().zip(&deep).all(|(less, more)| less <= more), "{row}");
            assert_eq!((deep[0], deep[200]), (0.0, 1.0));
            // metal that is gone counts with its whole wall: no more of it than the mean allows
            assert!(deep.iter().zip(&means).all(|(share, mean)| share * WALL_UM <= mean * (1.0 + 1e-12)));
        }
        assert!(
            perforated_share(1999.0, 2000.0, WALL_UM) <= 0.0,
            "no hole before the deepest pit is through"
        );
        let opens = perforated_share(1500.0, 2000.0 * (1.0 + 1e-12), WALL_UM);
        assert!(opens > 0.0 && opens < 1e-3, "the first hole is small: {opens}");
    }
}
