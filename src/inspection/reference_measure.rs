//! The distribution that a move of a particle's numbers leaves as it is: the prior, but where observations narrow it.
//!
//! A step that leaves the prior as it is, `z' = sqrt(1 - rho^2) z + rho xi`, has to be as small as the narrowest number
//! allows, so the others hardly move. Numbers whose variance, given the others, is less than some share of the prior's are
//! stepped about the particles' mean instead, with the particles' covariance, `z' = m + sqrt(1 - rho^2) (z - m) + rho
//! L xi`; acceptance then weighs prior over that normal distribution. Without such numbers the move is the first.
//! Sources: Cui, Law & Marzouk 2016 (MEMORY-H: likelihood-informed directions apart from the rest, which keep the
//! prior); Rudolf & Sprungk 2018 (MEMORY-H: Gaussian reference with another covariance).

use crate::inspection::smc::Particle;
use crate::numeric::elementary::ln_alone;

/// What counts as narrowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Narrowing {
    /// Variance given all other numbers below which a number is stepped as the particles lie, not as the prior; 1 of the prior [-].
    pub below: f64,
    /// Share of the correlations of the particles that is believed, less than 1 where they are few for so many numbers [-].
    pub correlation: f64,
}

/// A normal distribution of all numbers, standard but for the narrowed ones.
#[derive(Debug, Clone, Default)]
pub struct ReferenceMeasure {
    /// Indices of the narrowed numbers.
    narrowed: Vec<usize>,
    /// Their means [-].
    mean: Vec<f64>,
    /// Rows of the Cholesky factor of their covariance [-].
    lower: Vec<Vec<f64>>,
}

impl ReferenceMeasure {
    /// As the particles lie; the prior where they are too few that differ. A number counts as narrowed below a variance given
    /// all others [-].
    pub(crate) fn from_particles(particles: &[Particle], narrowing: Narrowing) -> Self {
        Self::about(particles, narrowing).unwrap_or_default()
    }

    fn about(particles: &[Particle], narrowing: Narrowing) -> Option<Self> {
        let numbers = particles.first().map_or(0, |particle| particle.z.len());
        let means: Vec<f64> = (0..numbers).map(|i| mean(particles, |z| z[i])).collect();
        let row = |i: usize| -> Vec<f64> {
            let believed = |j: usize| if i == j { 1.0 } else { narrowing.correlation };
            let product = |j: usize| mean(particles, |z| (z[i] - means[i]) * (z[j] - means[j]));
            (0..=i).map(|j| believed(j) * product(j)).collect()
        };
        let covariance: Vec<Vec<f64>> = (0..numbers).map(row).collect();
        let given_others = conditional_variances(&cholesky(covariance.clone())?);
        let narrowed: Vec<usize> = (0..numbers).filter(|i| given_others[*i] < narrowing.below).collect();
        let row = |(a, i): (usize, &usize)| narrowed[..=a].iter().map(|j| covariance[*i][*j]).collect();
        let lower = cholesky(narrowed.iter().enumerate().map(row).collect())?;
        let mean = narrowed.iter().map(|i| means[*i]).collect();
        Some(Self { narrowed, mean, lower })
    }

    /// The same with all spreads of the narrowed numbers greater by a factor [-].
    pub(crate) fn widened(mut self, factor: f64) -> Self {
        self.lower.iter_mut().flatten().for_each(|number| *number *= factor);
        self
    }

    /// A draw of it, from as many fresh standard normal numbers [-].
    pub(super) fn drawn(&self, fresh: &[f64]) -> Vec<f64> {
        self.moved(fresh, fresh, 1.0)
    }

    /// What [`Self::ln_prior_over`] leaves out [-].
    pub(super) fn ln_scale(&self) -> f64 {
        self.lower.iter().enumerate().map(|(place, row)| ln_alone(row[place])).sum()
    }

    /// Numbers moved by a step, 0 to 1, with as many fresh standard normal numbers [-].
    pub(super) fn moved(&self, z: &[f64], fresh: &[f64], step: f64) -> Vec<f64> {
        let kept = (1.0 - step * step).sqrt();
        let mut moved: Vec<f64> = z.iter().zip(fresh).map(|(z, fresh)| kept * z + step * fresh).collect();
        for ((i, mean), row) in self.narrowed.iter().zip(&self.mean).zip(&self.lower) {
            let spread: f64 = row.iter().zip(&self.narrowed).map(|(l, j)| l * fresh[*j]).sum();
            moved[*i] = mean + kept * (z[*i] - mean) + step * spread;
        }
        moved
    }

    /// Whether it differs from the prior.
    pub(super) fn is_narrowed(&self) -> bool {
        !self.narrowed.is_empty()
    }

    /// Numbers moved by a step along one narrowed direction, `at` of all of them from 0 to 1, with a fresh standard
    /// normal number [-].
    pub(super) fn moved_along(&self, z: &[f64], at: f64, fresh: f64, step: f64) -> Vec<f64> {
        let mut moved = z.to_vec();
        let scaled = self.scaled(z);
        let direction = ((at * scaled.len() as f64) as usize).min(scaled.len().saturating_sub(1));
        let Some(from) = scaled.get(direction) else { return moved };
        let shift = (1.0 - step * step).sqrt() * from + step * fresh - from;
        for (i, row) in self.narrowed.iter().zip(&self.lower).skip(direction) {
            moved[*i] += shift * row[direction];
        }
        moved
    }

    /// Logarithm of the prior density over that of this distribution, but for a constant [-].
    pub(super) fn ln_prior_over(&self, z: &[f64]) -> f64 {
        let square = |(i, y): (&usize, f64)| 0.5 * (y * y - z[*i] * z[*i]);
        self.narrowed.iter().zip(self.scaled(z)).map(square).sum()
    }

    /// The narrowed numbers as independent standard normal ones.
    fn scaled(&self, z: &[f64]) -> Vec<f64> {
        let mut scaled: Vec<f64> = Vec::with_capacity(self.narrowed.len());
        for ((i, mean), row) in self.narrowed.iter().zip(&self.mean).zip(&self.lower) {
            let before: f64 = row.iter().zip(&scaled).map(|(l, y)| l * y).sum();
            scaled.push((z[*i] - mean - before) / row[scaled.len()]);
        }
        scaled
    }
}

fn mean(particles: &[Particle], of: impl Fn(&[f64]) -> f64) -> f64 {
    particles.iter().map(|particle| of(&particle.z)).sum::<f64>() / particles.len() as f64
}

/// Lower factor of a symmetric matrix given by the rows of its lower half; `None` where it is not positive.
fn cholesky(mut rows: Vec<Vec<f64>>) -> Option<Vec<Vec<f64>>> {
    for i in 0..rows.len() {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| rows[i][k] * rows[j][k]).sum();
            let left = rows[i][j] - known;
            if j < i {
                rows[i][j] = left / rows[j][j];
            } else if left > 1e-10 * rows[i][i] {
                rows[i][i] = left.sqrt();
            } else {
                return None;
            }
        }
    }
    Some(rows)
}

/// Variance of each number given all others: one over the diagonal of the inverse, from the rows of the factor.
fn conditional_variances(lower: &[Vec<f64>]) -> Vec<f64> {
    let precision = |i: usize| {
        let mut column: Vec<f64> = Vec::with_capacity(lower.len() - i);
        for (row, factors) in lower.iter().enumerate().skip(i) {
            let known: f64 = factors[i..row].iter().zip(&column).map(|(l, x)| l * x).sum();
            let unit = if row == i { 1.0 } else { 0.0 };
            column.push((unit - known) / factors[row]);
        }
        column.iter().map(|x| x * x).sum::<f64>()
    };
    (0..lower.len()).map(|i| 1.0 / precision(i)).collect()
}

#[cfg(test)]
mod tests {
    use super::{Narrowing, ReferenceMeasure, cholesky, conditional_variances};
    use crate::inspection::smc::Particle;

    /// By hand: (4, 2; 2, 5) has the factor (2; 1, 2).
    #[test]
    fn closed_form_cholesky() {
        let found = cholesky(vec![vec![4.0], vec![2.0, 5.0]]).unwrap();
        assert_eq!(found, [vec![2.0], vec![1.0, 2.0]]);
        assert!(cholesky(vec![vec![1.0], vec![1.0, 1.0]]).is_none());
    }

    /// By hand: (4, 2; 2, 5) has the determinant 16, so the variances given the other are 16/5 and 16/4.
    #[test]
    fn closed_form_conditional_variances() {
        let found = conditional_variances(&[vec![2.0], vec![1.0, 2.0]]);
        assert!((found[0] - 3.2).abs() < 1e-12 && (found[1] - 4.0).abs() < 1e-12, "{found:?}");
    }

    fn narrow() -> ReferenceMeasure {
        // the first two numbers have the means 1 and 2
        let first = [[1.2, 2.1], [0.8, 1.9], [1.2, 2.3], [0.8, 1.7]];
        let both = |z: &[f64; 2]| {
            let of = |z| Particle { pool_index: 0, z, sets: Vec::new(), ln_by_part: Vec::new() };
            [1.5, -1.5].map(|last| of(vec![z[0], z[1], last]))
        };
        ReferenceMeasure::from_particles(
            &first.iter().flat_map(both).collect::<Vec<_>>(),
            Narrowing { below: 0.25, correlation: 1.0 },
        )
    }

    /// One step along the second direction moves the second number only; along the first both.
    #[test]
    fn closed_form_moves_along_directions() {
        // at y = (1, -1) and a step of 0.6 with fresh 2: y = 0.8 * 1 + 1.2 or -0.8 + 1.2
        for (at, expected) in [(0.2, [1.2 + 0.2, 2.1 + 0.2]), (0.7, [1.2, 2.1 + 0.1 * 1.4])] {
            let moved = narrow().moved_along(&[1.2, 2.1, 9.0], at, 2.0, 0.6);
            for (found, expected) in moved.iter().zip([expected[0], expected[1], 9.0]) {
                assert!((found - expected).abs() < 1e-9, "{found} not {expected} along {at}");
            }
        }
    }

    #[test]
    fn closed_form_only_narrowed_numbers_leave_the_prior() {
        let moved = narrow().moved(&[1.0, 2.0, 0.5], &[1.0, 2.0, 3.0], 0.6);
        // covariance (0.04, 0.04; 0.04, 0.05): factor (0.2; 0.2, 0.1)
        let expected = [1.0 + 0.6 * 0.2, 2.0 + 0.6 * (0.2 + 0.2), 0.8 * 0.5 + 0.6 * 3.0];
        for (found, expected) in moved.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-12, "{found} not {expected}");
        }
    }

    /// Draws twice as wide lie twice as far from the means (1, 2); their density counts with its factor, 4 * 0.2 * 0.1.
    #[test]
    fn closed_form_wider_draws() {
        let wide = narrow().widened(2.0);
        let drawn = wide.drawn(&[1.0, 2.0, 3.0]);
        for (found, expected) in drawn.iter().zip([1.4, 2.8, 3.0]) {
            assert!((found - expected).abs() < 1e-12, "{drawn:?}");
        }
        assert!((wide.ln_scale() - 0.08_f64.ln()).abs() < 1e-12);
        // y = (1, 2)
        let over = wide.ln_prior_over(&drawn);
        assert!((over - 0.5 * (5.0 - 1.4 * 1.4 - 2.8 * 2.8)).abs() < 1e-12, "{over}");
    }

    /// At z = (1.2, 2.1): y = (1, -1), so (1 + 1 - 1.44 - 4.41) / 2.
    #[test]
    fn closed_form_prior_over_reference() {
        let found = narrow().ln_prior_over(&[1.2, 2.1, 9.0]);
        assert!((found - -1.925).abs() < 1e-9, "{found}");
    }
}
