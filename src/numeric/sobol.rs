//! Scrambled Sobol points, for both loops of the Monte Carlo.
//!
//! Direction numbers: Joe & Kuo (2008), `shared/sobol_joe_kuo_2008.csv`. Replicate: nested uniform (Owen 1995), each
//! binary digit flipped by a hash of the digits before it, so independent seeds give independent, unbiased estimates.
//! Points may be computed in any order; use the first 2^n of them (Owen 2020).

use crate::error::{Error, Result};
use crate::reference;

const DIGITS: usize = 32;
const TABLE: &str = include_str!("../../shared/sobol_joe_kuo_2008.csv");

#[derive(serde::Deserialize)]
struct Row {
    polynomial: u32,
    initial: String,
}

/// A Sobol sequence of fixed dimension, scrambled by one seed a dimension.
#[derive(Debug, Clone)]
pub struct Sobol {
    directions: Vec<[u32; DIGITS]>,
    scramble: Vec<u64>,
}

impl Sobol {
    /// A sequence with one dimension for each seed (1 to 128).
    ///
    /// # Examples
    /// ```
    /// // of 8 scrambled points exactly one lies in each eighth of the unit interval
    /// let sobol = ferrowane::numeric::sobol::Sobol::scrambled(&[11, 22])?;
    /// let mut eighths: Vec<usize> = (0..8).map(|i| (8.0 * sobol.coordinate(i, 1)) as usize).collect();
    /// eighths.sort_unstable();
    /// assert_eq!(eighths, [0, 1, 2, 3, 4, 5, 6, 7]);
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Error::Invalid`] for no or more than 128 dimensions.
    pub fn scrambled(seeds: &[u64]) -> Result<Self> {
        Ok(Self { directions: directions(seeds.len())?, scramble: seeds.to_vec() })
    }

    /// Number of dimensions [-].
    #[must_use]
    pub fn dimensions(&self) -> usize {
        self.directions.len()
    }

    /// Coordinate of point `index` in `dimension`, strictly within 0 and 1 [-].
    #[must_use]
    pub fn coordinate(&self, index: u32, dimension: usize) -> f64 {
        let plain = digits(&self.directions[dimension], index);
        (f64::from(nested_scramble(plain, self.scramble[dimension])) + 0.5) / 4_294_967_296.0
    }
}

/// Sobol digits of point `index` in Gray-code order, as the reference libraries count.
fn digits(directions: &[u32; DIGITS], index: u32) -> u32 {
    let gray = index ^ (index >> 1);
    (0..DIGITS).filter(|k| gray >> k & 1 == 1).fold(0, |sum, k| sum ^ directions[k])
}

fn nested_scramble(digits: u32, seed: u64) -> u32 {
    (0..DIGITS as u32).fold(0, |out, digit| {
        let before = u64::from(digits.checked_shr(32 - digit).unwrap_or(0));
        let flip = mix(seed ^ mix(before | u64::from(digit) << 32)) >> 63;
        out | ((digits >> (31 - digit) & 1) ^ flip as u32) << (31 - digit)
    })
}

/// `SplitMix64` finaliser (Steele, Lea & Flood 2014): one word to one well-mixed word.
fn mix(word: u64) -> u64 {
    let word = word.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let word = (word ^ word >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let word = (word ^ word >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    word ^ word >> 31
}

fn directions(dimensions: usize) -> Result<Vec<[u32; DIGITS]>> {
    let rows: Vec<Row> = reference::rows("sobol_joe_kuo_2008.csv", TABLE)?;
    if dimensions == 0 || dimensions > rows.len() + 1 {
        let allowed = format!("1 to {}", rows.len() + 1);
        return Err(Error::invalid("dimensions of a Sobol sequence", dimensions.to_string(), allowed));
    }
    let van_der_corput = std::array::from_fn(|k| 1 << (31 - k));
    let rest = rows.iter().take(dimensions - 1).map(recurrence);
    std::iter::once(Ok(van_der_corput)).chain(rest).collect()
}

/// Direction numbers from the primitive polynomial and its initial values (Joe & Kuo 2008, equation 2).
fn recurrence(row: &Row) -> Result<[u32; DIGITS]> {
    let degree = row.polynomial.ilog2() as usize;
    let initial: Vec<u32> = row.initial.split(' ').filter_map(|m| m.parse().ok()).collect();
    if initial.len() != degree {
        return Err(Error::invalid(
            "initial direction numbers",
            row.initial.clone(),
            format!("{degree} values"),
        ));
    }
    let mut v = [0; DIGITS];
    for k in 0..DIGITS {
        v[k] = initial.get(k).map_or_else(|| next(&v, k, row.polynomial, degree), |m| m << (31 - k));
    }
    Ok(v)
}

fn next(v: &[u32; DIGITS], k: usize, polynomial: u32, degree: usize) -> u32 {
    let first = v[k - degree] ^ (v[k - degree] >> degree);
    (1..degree).filter(|j| polynomial >> (degree - j) & 1 == 1).fold(first, |sum, j| sum ^ v[k - j])
}

#[cfg(test)]
mod tests {
    use super::{Sobol, digits, directions};

    fn plain(index: u32, dimension: usize) -> f64 {
        f64::from(digits(&directions(64).unwrap()[dimension], index)) / 4_294_967_296.0
    }

    /// scipy 1.17.1 `qmc.Sobol(d=3, scramble=False).random(8)`, row-major.
    #[test]
    fn reference_first_points() {
        let expected = [
            [0.0, 0.0, 0.0],
            [0.5, 0.5, 0.5],
            [0.75, 0.25, 0.25],
            [0.25, 0.75, 0.75],
            [0.375, 0.375, 0.625],
            [0.875, 0.875, 0.125],
            [0.625, 0.125, 0.875],
            [0.125, 0.625, 0.375],
        ];
        for (index, row) in expected.iter().enumerate() {
            for (dimension, value) in row.iter().enumerate() {
                assert!((plain(index as u32, dimension) - value).abs() < 1e-15, "{index} {dimension}");
            }
        }
    }

    /// scipy 1.17.1 `qmc.Sobol(d=64, scramble=False)`, points 517 and 1023, dimensions 1, 2, 10, 32, 64.
    #[test]
    fn reference_far_points_and_dimensions() {
        let dimensions = [0, 1, 9, 31, 63];
        for (index, expected) in [(1023, POINT_1023), (517, POINT_517)] {
            for (dimension, value) in dimensions.iter().zip(expected) {
                assert!((plain(index, *dimension) - value).abs() < 1e-12, "{index} {dimension}");
            }
        }
    }

    const POINT_1023: [f64; 5] =
        [0.000_976_562_5, 0.752_929_687_5, 0.850_585_937_5, 0.614_257_812_5, 0.040_039_062_5];
    const POINT_517: [f64; 5] =
        [0.877_929_687_5, 0.625_976_562_5, 0.790_039_062_5, 0.045_898_437_5, 0.166_992_187_5];

    /// A nested scramble keeps the net: of 2^k points exactly one falls in each interval of length 2^-k.
    #[test]
    fn property_scrambled_points_stratify_every_dimension() {
        let sobol = Sobol::scrambled(&[11, 22, 33, 44]).unwrap();
        for dimension in 0..sobol.dimensions() {
            let mut hit = [0; 256];
            for index in 0..256 {
                hit[(sobol.coordinate(index, dimension) * 256.0) as usize] += 1;
            }
            assert!(hit.iter().all(|count| *count == 1), "dimension {dimension}");
        }
    }

    /// Mean of a smooth function over 32 replicates against its integral; 4 standard errors, false alarm below 1e-4.
    #[test]
    fn closed_form_mean_is_unbiased() {
        let means: Vec<f64> = (0..32)
            .map(|seed| {
                let sobol = Sobol::scrambled(&[seed, seed + 1000]).unwrap();
                let value = |i| sobol.coordinate(i, 0).exp() * sobol.coordinate(i, 1);
                (0..64).map(value).sum::<f64>() / 64.0
            })
            .collect();
        let mean = means.iter().sum::<f64>() / 32.0;
        let variance = means.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / 31.0;
        let integral = (1f64.exp() - 1.0) / 2.0;
        assert!((mean - integral).abs() < 4.0 * (variance / 32.0).sqrt());
    }

    #[test]
    fn too_many_dimensions_are_refused() {
        assert!(Sobol::scrambled(&[0; 129]).is_err());
        assert!(Sobol::scrambled(&[]).is_err());
    }
}
