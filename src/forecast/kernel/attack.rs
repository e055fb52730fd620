//! Sums of attack over the steel bared in different years, which are most of the work of a history.
//!
//! A cohort, the steel bared in one year under one coating, has lost `(R(t) - R(u))^b` within its first 20 years: one power
//! for each pair of years. Later it has lost `A + T(t) - T(u + 20)`, with `A` its attack when it turned to the tangent and `T`
//! the sum along the tangent, the same for all: so the cohorts that have turned are kept as two sums, that of their weights
//! and that of their weights times `A - T(u + 20)`. This is exact, and the work grows in step with the horizon.
//!
//! Powers, weights and sums are in single precision. A power is within `1e-7 (2 + |b log2 x|)` of itself
//! ([`crate::numeric::single`]), 1.2e-6 for any thickness of rust that 60 years can bring; all terms of a sum are positive, so
//! rounding adds `n 2^-24` for `n` terms, 2.4e-6 for 40 of them (Higham 2002, equation 4.4). A loss is therefore within 4e-6 of
//! itself, a hundredth of what the scatter of a million histories leaves of a mean.

use crate::forecast::kernel::breakdown::CoatTime;
use crate::forecast::kernel::lane::{PerHistory, Single, power_of_difference, single};
use crate::forecast::kernel::{FaceKinetics, LANES, TANGENT_FROM};

/// Cohorts that are added at once [-]: a sum is read and written once for so many of them.
const AT_ONCE: usize = 4;

/// Sums of the attack on the cohorts of a coating, with a weight of each cohort for each of `N` sums [-].
pub(super) struct Attacks<'a, const N: usize> {
    time: &'a CoatTime,
    years: usize,
    /// Weights of the cohorts that lose along the tangent [-], and times what makes their attack of the tangent's [µm].
    turned: [Single; N],
    turned_um: [Single; N],
}

impl<'a, const N: usize> Attacks<'a, N> {
    /// No steel bared yet, under a coating of a forecast of so many years.
    #[inline(always)]
    pub(super) fn new(time: &'a CoatTime, years: usize) -> Self {
        Self { time, years, turned: [[0.0; LANES]; N], turned_um: [[0.0; LANES]; N] }
    }

    /// Sums at the end of year `end` [µm]; wanted for each year of the coating in turn. `weights` by row of the cohorts [-].
    #[inline(always)]
    pub(super) fn at_end<V: PerHistory>(
        &mut self,
        kinetics: &FaceKinetics,
        exponents: &[V],
        weights: &[[Single; N]],
        end: usize,
    ) -> [Single; N] {
        let grows_from = end.saturating_sub(TANGENT_FROM);
        if grows_from > self.time.first {
            self.turn(kinetics, exponents, weights, grows_from - 1);
        }
        let mut sums = self.turned_um;
        let tangent = single(&kinetics.tangent[end]);
        for (sum, turned) in sums.iter_mut().zip(&self.turned) {
            add_product(sum, turned, &tangent);
        }
        let mut attacks = [[0.0; LANES]; AT_ONCE];
        let mut year = grows_from.max(self.time.first);
        while year < end {
            let last = (year + AT_ONCE).min(end) - 1;
            let mut rows = [&weights[0]; AT_ONCE];
            for place in 0..AT_ONCE {
                let cohort = self.time.cohort((year + place).min(last), self.years);
                rows[place] = &weights[cohort.row];
                attacks[place] = [0.0; LANES];
                if year + place <= last {
                    let from = &kinetics.from[cohort.middle];
                    attacks[place] =
                        power_of_difference(&kinetics.equivalent[end], from, &exponents[end - 1]);
                }
            }
            for number in 0..N {
                let [a, b, c, d] = rows;
                add_products(&mut sums[number], [&a[number], &b[number], &c[number], &d[number]], &attacks);
            }
            year = last + 1;
        }
        sums
    }

    /// The steel bared in a year turns to the tangent, 20 years later.
    #[inline(always)]
    fn turn<V: PerHistory>(
        &mut self,
        kinetics: &FaceKinetics,
        exponents: &[V],
        weights: &[[Single; N]],
        year: usize,
    ) {
        let cohort = self.time.cohort(year, self.years);
        let (equivalent, from) = (&kinetics.equivalent_mid[cohort.turn], &kinetics.from[cohort.middle]);
        let mut attack = power_of_difference(equivalent, from, &exponents[year + TANGENT_FROM]);
        let tangent = single(&kinetics.tangent_mid[cohort.turn]);
        for lane in 0..LANES {
            attack[lane] -= tangent[lane];
        }
        for number in 0..N {
            let weight = &weights[cohort.row][number];
            add_product(&mut self.turned_um[number], weight, &attack);
            for lane in 0..LANES {
                self.turned[number][lane] += weight[lane];
            }
        }
    }
}

/// `a + b c`.
#[inline(always)]
fn add_product(a: &mut Single, b: &Single, c: &Single) {
    for lane in 0..LANES {
        a[lane] = b[lane].mul_add(c[lane], a[lane]);
    }
}

/// `sum + weights attacks`, cohort after cohort.
#[inline(always)]
fn add_products(sum: &mut Single, weights: [&Single; AT_ONCE], attacks: &[Single; AT_ONCE]) {
    let [a, b, c, d] = weights;
    for lane in 0..LANES {
        let mut all = a[lane].mul_add(attacks[0][lane], sum[lane]);
        all = b[lane].mul_add(attacks[1][lane], all);
        all = c[lane].mul_add(attacks[2][lane], all);
        sum[lane] = d[lane].mul_add(attacks[3][lane], all);
    }
}
