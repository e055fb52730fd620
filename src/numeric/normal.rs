//! The normal distribution: quantile and distribution function with the same bits on every processor.
//!
//! Quantile: Wichura (1988), algorithm AS 241, routine PPND16, relative accuracy 1e-16 as stated there. Distribution
//! function: Hart (1968) rational form in the arrangement of West (2005), absolute accuracy 1e-15. Coefficients from
//! memory (MEMORY-H); both are checked against a reference library in the tests.

use crate::numeric::elementary::{exp, ln};

const CENTRE: ([f64; 8], [f64; 8]) = (
    [
        3.387_132_872_796_366_5,
        1.331_416_678_917_843_8e2,
        1.971_590_950_306_551_3e3,
        1.373_169_376_550_946e4,
        4.592_195_393_154_987e4,
        6.726_577_092_700_87e4,
        3.343_057_558_358_813e4,
        2.509_080_928_730_122_7e3,
    ],
    [
        1.0,
        4.231_333_070_160_091e1,
        6.871_870_074_920_579e2,
        5.394_196_021_424_751e3,
        2.121_379_430_158_659_7e4,
        3.930_789_580_009_271e4,
        2.872_908_573_572_194_3e4,
        5.226_495_278_852_854e3,
    ],
);
const SHOULDER: ([f64; 8], [f64; 8]) = (
    [
        1.423_437_110_749_683_5,
        4.630_337_846_156_546,
        5.769_497_221_460_691,
        3.647_848_324_763_204_5,
        1.270_458_252_452_368_4,
        2.417_807_251_774_506e-1,
        2.272_384_498_926_918_4e-2,
        7.745_450_142_783_414e-4,
    ],
    [
        1.0,
        2.053_191_626_637_759,
        1.676_384_830_183_803_8,
        6.897_673_349_851e-1,
        1.481_039_764_274_800_8e-1,
        1.519_866_656_361_645_7e-2,
        5.475_938_084_995_345e-4,
        1.050_750_071_644_416_9e-9,
    ],
);
const TAIL: ([f64; 8], [f64; 8]) = (
    [
        6.657_904_643_501_103,
        5.463_784_911_164_114,
        1.784_826_539_917_291_3,
        2.965_605_718_285_049e-1,
        2.653_218_952_657_612_4e-2,
        1.242_660_947_388_078_4e-3,
        2.711_555_568_743_487_6e-5,
        2.010_334_399_292_288_1e-7,
    ],
    [
        1.0,
        5.998_322_065_558_88e-1,
        1.369_298_809_227_358e-1,
        1.487_536_129_085_061_5e-2,
        7.868_691_311_456_133e-4,
        1.846_318_317_510_054_8e-5,
        1.421_511_758_316_446e-7,
        2.044_263_103_389_939_8e-15,
    ],
);

#[inline(always)]
fn polynomial<const N: usize>(coefficients: &[f64; N], x: f64) -> f64 {
    let mut sum = 0.0;
    for power in (0..N).rev() {
        sum = f64::mul_add(sum, x, coefficients[power]);
    }
    sum
}

#[inline(always)]
fn ratio((top, bottom): &([f64; 8], [f64; 8]), x: f64) -> f64 {
    polynomial(top, x) / polynomial(bottom, x)
}

/// Standard normal quantile of probability `p` [-]; `p` is clamped to 1e-300 and 1 - 1e-16.
///
/// # Examples
/// ```
/// let z = ferrowane::numeric::normal::quantile(0.975);
/// assert!((z - 1.959_963_984_54).abs() < 1e-11); // scipy 1.17.1 norm.ppf
/// ```
#[inline(always)]
#[must_use]
pub fn quantile(p: f64) -> f64 {
    let p = p.clamp(1e-300, 1.0 - 1e-16);
    let q = p - 0.5;
    let r = (-ln(p.min(1.0 - p))).sqrt();
    // all three by themselves, then the one that holds: a branch would end the vector loop
    let centre = q * ratio(&CENTRE, 0.180_625 - q * q);
    let (shoulder, tail) = (ratio(&SHOULDER, r - 1.6), ratio(&TAIL, r - 5.0));
    let size = if r <= 5.0 { shoulder } else { tail };
    if q.abs() <= 0.425 { centre } else { size.copysign(q) }
}

/// The least of `count` independent standard normal numbers [-], at the probability at which a single one has the value
/// `z`: `Q(1 - (1 - P(z))^(1/count))`, exact. Continuous in `count`, falling with it, and `z` itself for 1.
///
/// # Examples
/// ```
/// // the median of the least of four: Q(1 - 0.5^(1/4)) = -0.998149 (statistics.NormalDist of Python 3)
/// let least = ferrowane::numeric::normal::minimum_of(4.0, 0.0);
/// assert!((least + 0.998_149).abs() < 1e-6);
/// ```
#[inline(always)]
#[must_use]
pub fn minimum_of(count: f64, z: f64) -> f64 {
    quantile(1.0 - exp(ln(cdf_clamped(-z)) / count))
}

const HART_TOP: [f64; 7] = [
    220.206_867_912_376,
    221.213_596_169_931,
    112.079_291_497_871,
    33.912_866_078_383,
    6.373_962_203_531_65,
    0.700_383_064_443_688,
    3.526_249_659_989_11e-2,
];
const HART_BOTTOM: [f64; 8] = [
    440.413_735_824_752,
    793.826_512_519_948,
    637.333_633_378_831,
    296.564_248_779_674,
    86.780_732_202_946_1,
    16.064_177_579_207,
    1.755_667_163_182_64,
    8.838_834_764_831_84e-2,
];
const SQRT_TAU: f64 = 2.506_628_274_631_000_5;

/// Standard normal distribution function at `z` [-].
///
/// # Examples
/// ```
/// let p = ferrowane::numeric::normal::cdf(1.96);
/// assert!((p - 0.975_002_104_852).abs() < 1e-12); // scipy 1.17.1 norm.cdf
/// ```
#[inline(always)]
#[must_use]
pub fn cdf(z: f64) -> f64 {
    let size = z.abs();
    let density = exp(-0.5 * size * size);
    let tail = if size < std::f64::consts::SQRT_2 * 5.0 {
        density * polynomial(&HART_TOP, size) / polynomial(&HART_BOTTOM, size)
    } else {
        let fraction = size + 1.0 / (size + 2.0 / (size + 3.0 / (size + 4.0 / (size + 0.65))));
        density / (fraction * SQRT_TAU)
    };
    if z > 0.0 { 1.0 - tail } else { tail }
}

/// [`cdf`] called by itself from scalar code, where every fused step would be a library call.
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
#[must_use]
pub fn cdf_alone(z: f64) -> f64 {
    cdf(z)
}

/// [`cdf`] with `z` clamped to -7 and 7 [-], for use where the far tails do not matter: without a branch, so that it
/// compiles to vector code.
#[inline(always)]
#[must_use]
pub fn cdf_clamped(z: f64) -> f64 {
    let size = z.abs().min(7.0);
    let tail = exp(-0.5 * size * size) * polynomial(&HART_TOP, size) / polynomial(&HART_BOTTOM, size);
    if z > 0.0 { 1.0 - tail } else { tail }
}

/// The quantile of each probability in place [-].
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
pub fn quantile_each(probabilities: &mut [f64]) {
    for p in probabilities {
        *p = quantile(*p);
    }
}

#[cfg(test)]
mod tests {
    use super::{cdf, quantile};

    /// scipy 1.17.1 `norm.ppf` and `norm.cdf`, rows of the shared reference table.
    #[test]
    fn reference_library_values() {
        for (p, z) in [(1e-6, -4.753_424_308_82), (0.025, -1.959_963_984_54), (0.9, 1.281_551_565_54)] {
            assert!((quantile(p) - z).abs() < 1e-11, "{p}");
        }
        for (z, p) in [(-3.0, 0.001_349_898_031_63), (-1.5, 0.066_807_201_268_9), (1.96, 0.975_002_104_852)] {
            assert!((cdf(z) - p).abs() < 1e-12, "{z}");
        }
        assert!((cdf(0.0) - 0.5).abs() < 1e-15);
    }

    /// Against the statrs library over the whole range used; its own functions are good to about 1e-10 and 1e-9.
    #[test]
    fn reference_statrs_agrees() {
        use statrs::distribution::{ContinuousCDF, Normal};
        let normal = Normal::standard();
        for i in -80..=80 {
            let z = f64::from(i) * 0.1;
            assert!((cdf(z) - normal.cdf(z)).abs() < 1e-10, "{z}");
        }
        for i in 1..1000 {
            let p = f64::from(i) * 1e-3;
            assert!((quantile(p) - normal.inverse_cdf(p)).abs() < 1e-8, "{p}");
        }
    }

    #[test]
    fn property_clamped_cdf_is_the_same_up_to_seven() {
        for i in -70..=70 {
            let z = f64::from(i) * 0.1;
            assert!((super::cdf_clamped(z) - cdf(z)).abs() < 1e-15, "{z}");
        }
        assert!(super::cdf_clamped(-50.0) < 1e-11 && super::cdf_clamped(50.0) > 1.0 - 1e-11);
    }

    #[test]
    fn property_quantile_inverts_the_cdf() {
        for i in -60..=60 {
            let z = f64::from(i) * 0.1;
            let size = 1e-15 / super::exp(-0.5 * z * z); // rounding of p, carried through the slope
            assert!((quantile(cdf(z)) - z).abs() < 20.0 * size + 1e-14, "{z}");
        }
    }
}
