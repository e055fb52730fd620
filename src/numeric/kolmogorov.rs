//! How far may the distribution function of a sample lie from its own? The two-sided Kolmogorov-Smirnov distribution, exactly.
//!
//! Source: Marsaglia, Tsang & Wang 2003, Evaluating Kolmogorov's distribution, J. Stat. Software 8(18): the probability as
//! an element of a power of a matrix (after Durbin), and far out the approximation given there (MEMORY-H).

use crate::numeric::elementary::exp_alone;

/// `n d^2` beyond which the approximation serves, where less than a millionth is left [-]: same source.
const FAR: f64 = 7.24;
/// Size above which elements of the matrix are scaled down [-].
const LARGE: f64 = 1e140;

/// Probability that the distribution function of so many independent values lies within `distance` of their own, all along [-].
#[must_use]
pub fn probability_within(count: usize, distance: f64) -> f64 {
    let n = count as f64;
    let scaled = n * distance * distance;
    if count == 0 || distance >= 1.0 {
        return 1.0;
    }
    if distance <= 0.5 / n {
        return 0.0;
    }
    if scaled > FAR {
        return 1.0 - 2.0 * exp_alone(-(2.000_071 + 0.331 / n.sqrt() + 1.409 / n) * scaled);
    }
    let middle = (n * distance).floor() as usize;
    let (power, mut tens) = durbin(middle + 1, (middle + 1) as f64 - n * distance).power(count);
    let mut probability = power.at(middle, middle);
    for number in 1..=count {
        probability *= number as f64 / n;
        if probability < 1.0 / LARGE {
            probability *= LARGE;
            tens -= 1;
        }
    }
    // what was scaled up and down cancels
    (0..tens).for_each(|_| probability *= LARGE);
    (tens..0).for_each(|_| probability /= LARGE);
    probability.clamp(0.0, 1.0)
}

/// Distance within which the distribution function of so many values stays with probability `p` [-].
#[must_use]
pub fn distance_of(count: usize, p: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..30 {
        let middle = 0.5 * (low + high);
        if probability_within(count, middle) < p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// A square matrix, row by row.
struct Matrix {
    size: usize,
    elements: Vec<f64>,
}

/// Durbin's matrix for `k` steps less the share `h` of one [-].
fn durbin(k: usize, h: f64) -> Matrix {
    let size = 2 * k - 1;
    let mut powers = vec![1.0];
    (0..size).for_each(|i| powers.push(powers[i] * h));
    let mut matrix = Matrix { size, elements: vec![0.0; size * size] };
    for i in 0..size {
        for j in 0..size.min(i + 2) {
            let mut element = 1.0;
            if j == 0 {
                element -= powers[i + 1];
            }
            if i + 1 == size {
                element -= powers[size - j];
            }
            if j == 0 && i + 1 == size {
                let over = (2.0 * h - 1.0).max(0.0);
                element += (0..size).fold(1.0, |power, _| power * over);
            }
            (1..=(i + 1 - j)).for_each(|factor| element /= factor as f64);
            matrix.elements[i * size + j] = element;
        }
    }
    matrix
}

impl Matrix {
    fn at(&self, row: usize, column: usize) -> f64 {
        self.elements[row * self.size + column]
    }

    fn times(&self, other: &Self) -> Self {
        let size = self.size;
        let mut elements = vec![0.0; size * size];
        for (row, into) in elements.chunks_mut(size).enumerate() {
            for middle in 0..size {
                let factor = self.at(row, middle);
                let from = &other.elements[middle * size..(middle + 1) * size];
                into.iter_mut().zip(from).for_each(|(into, from)| *into += factor * from);
            }
        }
        Self { size, elements }
    }

    /// The power, and how often it was divided by [`LARGE`].
    fn power(&self, exponent: usize) -> (Self, i32) {
        if exponent == 1 {
            return (Self { size: self.size, elements: self.elements.clone() }, 0);
        }
        let (half, scaled) = self.power(exponent / 2);
        let (mut power, mut scaled) = (half.times(&half), 2 * scaled);
        if exponent % 2 == 1 {
            power = power.times(self);
        }
        if power.at(self.size / 2, self.size / 2) > LARGE {
            power.elements.iter_mut().for_each(|element| *element /= LARGE);
            scaled += 1;
        }
        (power, scaled)
    }
}

#[cfg(test)]
mod tests {
    use super::{distance_of, probability_within};

    /// The worked value of the source, K(10, 0.274) (MEMORY-H, and scipy 1.17.1 gives the same digits).
    #[test]
    fn published_worked_value() {
        assert!((probability_within(10, 0.274) - 0.628_479_615_456_504_3).abs() < 1e-13);
    }

    /// scipy 1.17.1, COMPUTED: its own Durbin matrix, `_ksstats._kolmogn_DMTW`, and the root of that at 0.95; its `kstwo.cdf`
    /// approximates from 140 values on.
    #[test]
    fn reference_probabilities_and_distances() {
        let probabilities = [
            (1, 0.7, 0.4),
            (5, 0.3, 0.336),
            (20, 0.294_08, 0.950_005_839_727_960_4),
            (60, 0.11, 0.568_625_045_820_489_1),
            (100, 0.05, 0.046_784_028_936_427_5),
            (200, 0.0956, 0.951_677_979_141_992_5),
            (1000, 0.03, 0.677_309_753_586_690_6),
            (1000, 0.05, 0.986_987_928_690_017_3),
            (1000, 0.07, 0.999_895_057_937_124_8),
        ];
        for (count, distance, expected) in probabilities {
            let found = probability_within(count, distance);
            assert!((found - expected).abs() < 1e-12, "{count}, {distance}: {found} not {expected}");
        }
        for (count, expected) in [(20, 0.294_075_314_4), (200, 0.095_157_811_9), (1000, 0.042_776_499_3)] {
            assert!((distance_of(count, 0.95) - expected).abs() < 1e-7, "{count}");
        }
    }

    /// One value lies within d of evenly spread with probability 2 d - 1.
    #[test]
    fn closed_form_one_value() {
        assert!((probability_within(1, 0.8) - 0.6).abs() < 1e-12);
        assert!(probability_within(1, 0.5).abs() < 1e-12 && probability_within(7, 1.0) >= 1.0);
    }
}
