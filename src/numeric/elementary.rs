//! Exponential, logarithm and power that give the same bits on every processor.
//!
//! The standard library hands these functions to the platform, whose last bit differs between systems. Here they are
//! polynomials in fused multiply-adds, which are correctly rounded by definition (IEEE 754-2019, 5.4.1), so scalar and
//! vector code agree to the last bit. Reduction: `x = k ln 2 + r` (Cody & Waite 1980) and `x = 2^k m` with the
//! `atanh` series of `(m - 1)/(m + 1)`. Error below 1e-15 relative over the range the model uses, tested against the
//! platform. Arguments outside the finite range saturate instead of trapping.

const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
const ROUND: f64 = 6_755_399_441_055_744.0; // 1.5 * 2^52: adding it rounds to an integer

/// `exp(x)`; `x` is clamped to -708 and 709, beyond which a double has no normal value.
#[inline(always)]
#[must_use]
pub fn exp(x: f64) -> f64 {
    let x = x.clamp(-708.0, 709.0);
    let shifted = x.mul_add(std::f64::consts::LOG2_E, ROUND);
    let k = shifted - ROUND;
    let r = k.mul_add(-LN2_LOW, k.mul_add(-LN2_HIGH, x));
    let mut p: f64 = 1.0 / 6_227_020_800.0; // 1/13!
    p = p.mul_add(r, 1.0 / 479_001_600.0);
    p = p.mul_add(r, 1.0 / 39_916_800.0);
    p = p.mul_add(r, 1.0 / 3_628_800.0);
    p = p.mul_add(r, 1.0 / 362_880.0);
    p = p.mul_add(r, 1.0 / 40_320.0);
    p = p.mul_add(r, 1.0 / 5_040.0);
    p = p.mul_add(r, 1.0 / 720.0);
    p = p.mul_add(r, 1.0 / 120.0);
    p = p.mul_add(r, 1.0 / 24.0);
    p = p.mul_add(r, 1.0 / 6.0);
    p = p.mul_add(r, 0.5);
    p = p.mul_add(r * r, r);
    let scale = f64::from_bits((shifted.to_bits() << 52).wrapping_add(1023 << 52));
    p.mul_add(scale, scale)
}

/// `ln(x)` for positive normal `x`; smaller values (zero, negative) give the logarithm of the least normal double.
#[inline(always)]
#[must_use]
pub fn ln(x: f64) -> f64 {
    let x = x.max(f64::MIN_POSITIVE);
    // shift the exponent so that the mantissa lies in sqrt(1/2)..sqrt(2)
    let offset = x.to_bits().wrapping_sub(0x3fe6_a09e_667f_3bcd);
    let exponent = offset.cast_signed() >> 52;
    let m = f64::from_bits(x.to_bits().wrapping_sub((exponent as u64) << 52));
    let k = exponent_to_f64(exponent);
    let f = m - 1.0;
    let s = f / (2.0 + f);
    let z = s * s;
    let mut p: f64 = 2.0 / 23.0;
    p = p.mul_add(z, 2.0 / 21.0);
    p = p.mul_add(z, 2.0 / 19.0);
    p = p.mul_add(z, 2.0 / 17.0);
    p = p.mul_add(z, 2.0 / 15.0);
    p = p.mul_add(z, 2.0 / 13.0);
    p = p.mul_add(z, 2.0 / 11.0);
    p = p.mul_add(z, 2.0 / 9.0);
    p = p.mul_add(z, 2.0 / 7.0);
    p = p.mul_add(z, 2.0 / 5.0);
    p = p.mul_add(z, 2.0 / 3.0);
    // ln m = 2 atanh s = f - s (f - z p): exact leading term, small correction
    let half_square = 0.5 * f * f;
    let tail = s * z.mul_add(p, half_square);
    let low = k.mul_add(LN2_LOW, tail) - half_square;
    k.mul_add(LN2_HIGH, f + low)
}

/// An exponent of a double as a double, by bits: integer-to-float conversion has no vector form before AVX-512.
#[inline(always)]
fn exponent_to_f64(exponent: i64) -> f64 {
    f64::from_bits((exponent as u64).wrapping_add(ROUND.to_bits())) - ROUND
}

/// `base^exponent` for positive `base`.
///
/// # Examples
/// ```
/// let factor = ferrowane::numeric::elementary::pow(20.0, 0.523);
/// assert!((factor - 4.791_138).abs() < 1e-6); // ISO 9224: 20 years with the exponent B1
/// ```
#[inline(always)]
#[must_use]
pub fn pow(base: f64, exponent: f64) -> f64 {
    exp(exponent * ln(base))
}

/// [`exp`] called by itself from scalar code: one choice of instructions, where every fused step would be a library call.
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
#[must_use]
pub fn exp_alone(x: f64) -> f64 {
    exp(x)
}

/// [`ln`] called by itself from scalar code, as [`exp_alone`].
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
#[must_use]
pub fn ln_alone(x: f64) -> f64 {
    ln(x)
}

/// [`pow`] called by itself from scalar code, as [`exp_alone`].
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
#[must_use]
pub fn pow_alone(base: f64, exponent: f64) -> f64 {
    pow(base, exponent)
}

/// The exponential of each value in place, in vector code.
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
pub fn exp_each(values: &mut [f64]) {
    for value in values {
        *value = exp(*value);
    }
}

/// The logarithm of each value in place, in vector code.
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
pub fn ln_each(values: &mut [f64]) {
    for value in values {
        *value = ln(*value);
    }
}

/// Logarithm of the mean of numbers given by their logarithms [-].
pub(crate) fn ln_mean(ln_all: &[f64]) -> f64 {
    let most = ln_all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    most + ln_alone(ln_all.iter().map(|ln| exp_alone(ln - most)).sum::<f64>() / ln_all.len().max(1) as f64)
}

#[cfg(test)]
mod tests {
    use super::{exp, ln, pow};

    fn worst(
        points: impl Iterator<Item = f64>,
        ours: impl Fn(f64) -> f64,
        theirs: impl Fn(f64) -> f64,
    ) -> f64 {
        points.map(|x| ((ours(x) - theirs(x)) / theirs(x)).abs()).fold(0.0, f64::max)
    }

    /// Tolerance: two units in the last place, the sum of the platform's error and ours.
    #[test]
    fn reference_exp_agrees_with_the_platform() {
        let error = worst((-60_000..60_000).map(|i| f64::from(i) * 0.01), exp, f64::exp);
        assert!(error < 4.5e-16, "{error:e}");
    }

    /// Near one the logarithm vanishes, so the error is taken relative to the larger of |ln x| and the step from one.
    #[test]
    fn reference_ln_agrees_with_the_platform() {
        let points =
            || (1..200_000).map(|i| f64::from(i) * 1e-4).chain((-300..300).map(|e| 1.37 * 10f64.powi(e)));
        let error = worst(points().filter(|x| (x - 1.0).abs() > 1e-9), ln, f64::ln);
        assert!(error < 6e-16, "{error:e}");
        assert!(ln(1.0).abs() < f64::EPSILON);
    }

    /// The error of `ln` is multiplied by the size of the exponent of the result: 20 times at most here.
    #[test]
    fn reference_pow_agrees_with_the_platform() {
        let error = worst((1..100_000).map(|i| f64::from(i) * 0.37), |x| pow(x, 0.523), |x| x.powf(0.523));
        assert!(error < 4e-15, "{error:e}");
    }

    #[test]
    fn property_extremes_saturate_without_trapping() {
        assert!(exp(-1e9) > 0.0 && exp(1e9).is_finite());
        assert!(ln(0.0).is_finite() && ln(-1.0).is_finite());
        assert!(pow(0.0, 0.523) < 1e-150);
    }
}
