//! Rates of storage periods as a smooth function of what all cars share of the inputs of hourly years.
//!
//! An hourly year is nearly all of a draw's work, and a sampler asks for rates at a million points. So hourly years are run at a
//! few Sobol points of the shared inputs, for each distinct storage and use, and a cubic spline with linear terms goes through what
//! they hand on (polyharmonic: Duchon 1977, MEMORY-H). Inputs that move rates more are farther apart to it. How far it is off at
//! points that are left out follows without another fit (Rippa 1999, MEMORY-H).

use crate::corrosivity::DoseResponse;
use crate::error::{Error, Result};
use crate::forecast::draw::PeriodRate;
use crate::forecast::draw::period_rate::{RATE_NUMBERS, SETTLED_LN_RATE};
use crate::forecast::driver::in_pieces;
use crate::forecast::prepared::Prepared;
use crate::model::Point;
use crate::tune::own_points::{OwnPoints, RatesByPoint, of_hourly_years, points};
use nalgebra::DMatrix;
use std::ops::Range;

/// Points that the weights of the inputs are found from [-] (common practice, no source).
const WEIGHED: usize = 48;
/// Least weight of an input, of that of the greatest [-] (common practice, no source).
const MIN_WEIGHT: f64 = 0.1;
/// Fewest points that surfaces go through [-]: three for each linear term (common practice, no source).
pub(super) const MIN_POINTS: usize = 32;

/// Rates of all storages and uses of a fleet by one function.
pub(super) struct RateSurface {
    /// By storage and use, by point of what is a car's own, by storage period.
    periods: Vec<Vec<Vec<PeriodSurface>>>,
}

/// A storage period at one point of what is a car's own.
struct PeriodSurface {
    /// Its rate at one point, for what does not differ.
    rate: PeriodRate,
    /// Coefficients of the numbers of the rate, by term.
    coefficients: Vec<[f64; RATE_NUMBERS]>,
}

/// Surfaces by function, and how far they are off.
pub(super) struct Surfaces {
    /// What they are sums of.
    pub(super) spline: Spline,
    /// Surfaces in the order of the functions.
    pub(super) by_function: Vec<RateSurface>,
    /// Root mean square error of ln rate at points left out, over functions, storages and periods [-].
    pub(super) error_ln: f64,
}

/// A cubic of the distance to each of some points, a constant and linear terms.
pub(super) struct Spline {
    /// Inputs with their weights in a distance [-].
    weights: Vec<(usize, f64)>,
    /// The points, as weighted numbers.
    centres: Vec<Vec<f64>>,
}

impl Spline {
    fn new(points: &[Point], weights: Vec<(usize, f64)>) -> Self {
        let mut spline = Self { weights, centres: Vec::new() };
        spline.centres = points.iter().map(|z| spline.weighted(z)).collect();
        spline
    }

    fn weighted(&self, z: &Point) -> Vec<f64> {
        self.weights.iter().map(|(input, weight)| weight * z[*input]).collect()
    }

    /// Its terms at a point: cubics, 1, then linear ones [-].
    pub(super) fn terms(&self, z: &Point) -> Vec<f64> {
        let at = self.weighted(z);
        let cubic = |centre: &Vec<f64>| {
            let square: f64 = centre.iter().zip(&at).map(|(a, b)| (a - b) * (a - b)).sum();
            square * square.sqrt()
        };
        self.centres.iter().map(cubic).chain([1.0]).chain(at.iter().copied()).collect()
    }

    /// Inverse of the equations of its coefficients: through all points, cubics without constant and linear part.
    fn inverse(&self, points: &[Point]) -> Result<DMatrix<f64>> {
        let (count, size) = (points.len(), points.len() + 1 + self.weights.len());
        let mut equations = DMatrix::zeros(size, size);
        for (row, z) in points.iter().enumerate() {
            for (column, term) in self.terms(z).into_iter().enumerate() {
                equations[(row, column)] = term;
                if column >= count {
                    equations[(column, row)] = term;
                }
            }
        }
        let refused = || Error::invalid("points", "no surface goes through them", "more points");
        equations.try_inverse().ok_or_else(refused)
    }
}

impl Surfaces {
    /// Surfaces of some storages and uses, given a car of each, by each of some functions, through hourly years at `count` points.
    pub(super) fn new(
        own: &OwnPoints,
        groups: &[&Prepared],
        functions: &[DoseResponse],
        (count, seed): (usize, u64),
    ) -> Result<Self> {
        let points = points(seed, 0, count, |input| of_hourly_years().any(|known| known == input))?;
        let spline = Spline::new(&points, weights(own, groups, functions, &points)?);
        let inverse = spline.inverse(&points)?;
        let new = |_| RateSurface { periods: Vec::with_capacity(groups.len()) };
        let mut by_function: Vec<RateSurface> = functions.iter().map(new).collect();
        let (mut squares, mut errors) = (0.0, 0);
        for (group, case) in groups.iter().enumerate() {
            let all = 0..own.count(group);
            // by point, by function, by own point, by period
            let rates: Vec<Vec<RatesByPoint>> =
                in_pieces(count, |point| own.rates((group, case), all.clone(), &points[point], functions))?;
            for (function, surface) in by_function.iter_mut().enumerate() {
                let of_function: Vec<&RatesByPoint> = rates.iter().map(|at| &at[function]).collect();
                let (periods, off) = through(&of_function, &inverse);
                squares += off;
                errors += periods.iter().flatten().count() * count;
                surface.periods.push(periods);
            }
        }
        Ok(Self { spline, by_function, error_ln: (squares / errors.max(1) as f64).sqrt() })
    }
}

/// Surfaces through the rates of a storage and use by one function, by own point and by period, and the sum of squares of their
/// errors in ln rate at points left out.
fn through(rates: &[&RatesByPoint], inverse: &DMatrix<f64>) -> (Vec<Vec<PeriodSurface>>, f64) {
    let mut squares = 0.0;
    let mut period = |own: usize, period: usize| {
        let numbers: Vec<f64> = rates.iter().flat_map(|at| at[own][period].numbers()).collect();
        let values = DMatrix::from_row_slice(rates.len(), RATE_NUMBERS, &numbers);
        let found = inverse.columns(0, rates.len()) * values;
        let left_out = |row: usize| found[(row, SETTLED_LN_RATE)] / inverse[(row, row)];
        squares += (0..rates.len()).map(|row| left_out(row) * left_out(row)).sum::<f64>();
        let of_term = |term: usize| std::array::from_fn(|number| found[(term, number)]);
        let coefficients = (0..found.nrows()).map(of_term).collect();
        PeriodSurface { rate: rates[0][own][period], coefficients }
    };
    let of_own = |own: usize| (0..rates[0][own].len()).map(|number| period(own, number)).collect();
    ((0..rates[0].len()).map(of_own).collect(), squares)
}

/// Weights of the shared inputs of hourly years in a distance: roots of how much each moves ln rate, linearly, over storages and
/// functions [-].
fn weights(
    own: &OwnPoints,
    groups: &[&Prepared],
    functions: &[DoseResponse],
    points: &[Point],
) -> Result<Vec<(usize, f64)>> {
    let points = &points[..points.len().min(WEIGHED)];
    let inputs: Vec<usize> = of_hourly_years().collect();
    let term = |row: usize, column: usize| if column == 0 { 1.0 } else { points[row][inputs[column - 1]] };
    let (q, r) = DMatrix::from_fn(points.len(), inputs.len() + 1, term).qr().unpack();
    let mut squares = vec![0.0; inputs.len()];
    for of_group in groups.iter().copied().enumerate() {
        let rates = in_pieces(points.len(), |point| own.rates(of_group, 0..1, &points[point], functions))?;
        let flat = |at: &Vec<RatesByPoint>| at.iter().flatten().flatten().map(PeriodRate::numbers).collect();
        let numbers: Vec<Vec<[f64; RATE_NUMBERS]>> = rates.iter().map(flat).collect();
        let value = |row: usize, column: usize| numbers[row][column][SETTLED_LN_RATE];
        let values = DMatrix::from_fn(points.len(), numbers[0].len(), value);
        let slopes = r.solve_upper_triangular(&q.tr_mul(&values)).unwrap_or_default();
        for (square, row) in squares.iter_mut().zip(slopes.row_iter().skip(1)) {
            *square += row.norm_squared();
        }
    }
    let most = squares.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    let weight = |(input, square): (&usize, &f64)| (*input, (square / most).sqrt().sqrt().max(MIN_WEIGHT));
    Ok(inputs.iter().zip(&squares).map(weight).collect())
}

impl RateSurface {
    /// Rates of a storage and use at some points of what is a car's own, given the terms of the spline at the shared inputs.
    pub(super) fn rates(&self, group: usize, own: Range<usize>, terms: &[f64]) -> RatesByPoint {
        let at = |periods: &Vec<PeriodSurface>| periods.iter().map(|one| one.at(terms)).collect();
        self.periods[group][own].iter().map(at).collect()
    }
}

impl PeriodSurface {
    fn at(&self, terms: &[f64]) -> PeriodRate {
        let mut numbers = [0.0; RATE_NUMBERS];
        for (term, coefficients) in terms.iter().zip(&self.coefficients) {
            for (number, coefficient) in numbers.iter_mut().zip(coefficients) {
                *number += term * coefficient;
            }
        }
        self.rate.with_numbers(&numbers)
    }
}

#[cfg(test)]
mod tests {
    use super::{SETTLED_LN_RATE, Spline, Surfaces};
    use crate::case;
    use crate::corrosivity::DoseResponse;
    use crate::forecast::prepared::Prepared;
    use crate::forecast::scenario::Scenario;
    use crate::model::{DIMENSIONS, Model, Point};
    use crate::tune::own_points::{OwnPoints, of_hourly_years, points};

    const STREET: &str = include_str!("../../demo/cases/street_daily.toml");

    fn street() -> Scenario {
        case::read_str(STREET, "case.toml", None, &Model::published().unwrap()).unwrap()
    }

    fn shared_points(seed: u64, count: usize) -> Vec<Point> {
        points(seed, 0, count, |input| of_hourly_years().any(|known| known == input)).unwrap()
    }

    /// What a rate is known by makes the same rate, year by year.
    #[test]
    fn property_a_rate_is_known_by_its_numbers() {
        let car = street();
        let case = Prepared::new(&car).unwrap();
        let own = OwnPoints::new(1, 8, 3).unwrap();
        for z in shared_points(5, 4) {
            let rates = own.rates((0, &case), 0..8, &z, &DoseResponse::ALL[..2]).unwrap();
            for rate in rates.iter().flatten().flatten() {
                let again = rate.with_numbers(&rate.numbers()).numbers();
                let apart = rate.numbers().iter().zip(again).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
                assert!(apart < 1e-9, "{rate:?}");
            }
        }
    }

    /// A linear function comes out as it is, everywhere.
    #[test]
    fn closed_form_splines_reproduce_linear_functions() {
        let points = shared_points(7, 40);
        let weights: Vec<(usize, f64)> = of_hourly_years().map(|input| (input, 0.5)).collect();
        let value = |z: &Point| 1.0 + of_hourly_years().map(|input| z[input] * input as f64).sum::<f64>();
        let spline = Spline::new(&points, weights);
        let inverse = spline.inverse(&points).unwrap();
        let values = nalgebra::DVector::from_iterator(40, points.iter().map(value));
        let found = inverse.columns(0, 40) * values;
        let mut z = [0.0; DIMENSIONS];
        of_hourly_years().for_each(|input| z[input] = (input as f64).sin());
        let at: f64 = spline.terms(&z).iter().zip(found.iter()).map(|(term, c)| term * c).sum();
        assert!((at - value(&z)).abs() < 1e-6, "{at} not {}", value(&z));
    }

    /// Rates of the surfaces beside hourly years at points that they do not go through: about as far off as they say.
    #[test]
    fn property_surfaces_are_as_far_off_as_they_say() {
        let car = street();
        let case = Prepared::new(&car).unwrap();
        let own = OwnPoints::new(1, 8, 3).unwrap();
        let functions = [DoseResponse::Iso9223, DoseResponse::Klinesmith2007];
        let surfaces = Surfaces::new(&own, &[&case], &functions, (128, 3)).unwrap();
        let (mut squares, mut count) = (0.0, 0.0);
        for z in &shared_points(99, 64) {
            let exact = own.rates((0, &case), 0..8, z, &functions).unwrap();
            for (surface, exact) in surfaces.by_function.iter().zip(&exact) {
                let found = surface.rates(0, 0..8, &surfaces.spline.terms(z));
                for (found, exact) in found.iter().flatten().zip(exact.iter().flatten()) {
                    let apart = found.numbers()[SETTLED_LN_RATE] - exact.numbers()[SETTLED_LN_RATE];
                    squares += apart * apart;
                    count += 1.0;
                }
            }
        }
        let (found, expected) = (f64::sqrt(squares / count), surfaces.error_ln);
        assert!(found < 0.1 && (0.67..1.5).contains(&(found / expected)), "{found} not {expected}");
    }
}
