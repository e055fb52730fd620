//! Powers and logarithms in single precision, where no more is needed: twice the lanes of a double, and shorter
//! polynomials.
//!
//! As [`elementary`](crate::numeric::elementary), in fused multiply-adds and bit arithmetic alone, so the bits are the same on every
//! processor. `x^b = 2^(b log2 x)`; the logarithm from the `atanh` series of `(m - 1)/(m + 1)` with the mantissa in
//! `sqrt(1/2)..sqrt(2)`, whose first term left out is below 3e-9, the power from the Taylor series of `exp` on half a binade, whose first
//! term left out is below 6e-9. What is left is the rounding of `b log2 x` to 24 bits: a relative error of the power below
//! `1e-7 (2 + |b log2 x|)`, asserted on a grid.

const ROUND: f32 = 12_582_912.0; // 1.5 * 2^23: adding it rounds to an integer
const ROUND_BITS: u32 = ROUND.to_bits();

/// `base^exponent` for positive `base`; smaller values (zero, negative) stand for the least normal number, and results beyond those of
/// single precision saturate.
///
/// # Examples
/// ```
/// let factor = ferrowane::numeric::single::pow(20.0, 0.523);
/// assert!((factor - 4.791_138).abs() < 5e-6); // ISO 9224: 20 years with the exponent B1
/// ```
#[inline(always)]
#[must_use]
pub fn pow(base: f32, exponent: f32) -> f32 {
    exp2(exponent * log2(base))
}

/// `ln(x)` for positive normal `x`; smaller values (zero, negative) give that of the least normal number. Within 2e-7 of itself or
/// of 1, whichever is more.
#[inline(always)]
#[must_use]
pub fn ln(x: f32) -> f32 {
    std::f32::consts::LN_2 * log2(x)
}

/// `log2(x)` of positive normal `x`.
#[inline(always)]
fn log2(x: f32) -> f32 {
    const PER_LN: f32 = std::f32::consts::LOG2_E;
    let x = x.max(f32::MIN_POSITIVE);
    let exponent = x.to_bits().wrapping_sub(0x3f35_04f3).cast_signed() >> 23;
    let m = f32::from_bits(x.to_bits().wrapping_sub((exponent.cast_unsigned()) << 23));
    let k = f32::from_bits(exponent.cast_unsigned().wrapping_add(ROUND_BITS)) - ROUND;
    let s = (m - 1.0) / (m + 1.0);
    let z = s * s;
    let mut p = PER_LN * (2.0 / 9.0);
    p = p.mul_add(z, PER_LN * (2.0 / 7.0));
    p = p.mul_add(z, PER_LN * (2.0 / 5.0));
    p = p.mul_add(z, PER_LN * (2.0 / 3.0));
    p = p.mul_add(z, PER_LN * 2.0);
    p.mul_add(s, k)
}

/// `2^y`, clamped to normal numbers.
#[inline(always)]
fn exp2(y: f32) -> f32 {
    let y = y.clamp(-126.0, 127.0);
    let shifted = y + ROUND;
    let r = (y - (shifted - ROUND)) * std::f32::consts::LN_2;
    let mut p: f32 = 1.0 / 5_040.0;
    p = p.mul_add(r, 1.0 / 720.0);
    p = p.mul_add(r, 1.0 / 120.0);
    p = p.mul_add(r, 1.0 / 24.0);
    p = p.mul_add(r, 1.0 / 6.0);
    p = p.mul_add(r, 0.5);
    p = p.mul_add(r, 1.0);
    let scale = f32::from_bits((shifted.to_bits() << 23).wrapping_add(127 << 23));
    (p * r).mul_add(scale, scale)
}

#[cfg(test)]
mod tests {
    use super::{ln, pow};

    /// The stated bound, against the platform's power in double precision.
    #[test]
    fn reference_pow_agrees_with_the_platform() {
        for step in -3_000..3_000 {
            let base = 1.01_f32.powi(step);
            for exponent in [0.2_f32, 0.4, 0.523, 0.7, 0.95, 1.0, 1.9] {
                let exact = f64::from(base).powf(f64::from(exponent));
                let bound = 1e-7 * (2.0 + exact.log2().abs());
                let error = (f64::from(pow(base, exponent)) / exact - 1.0).abs();
                assert!(error < bound, "{base}^{exponent}: {error:e} of {bound:e}");
            }
        }
    }

    /// The stated bound, against the platform's logarithm in double precision.
    #[test]
    fn reference_ln_agrees_with_the_platform() {
        for step in -29_000_i16..29_000 {
            let x = 1.003_f32.powi(i32::from(step));
            let exact = f64::from(x).ln();
            let error = (f64::from(ln(x)) - exact).abs();
            assert!(error < 2e-7 * exact.abs().max(1.0), "ln {x}: {error:e}");
        }
    }

    #[test]
    fn property_extremes_saturate_without_trapping() {
        assert!(pow(0.0, 0.5) < 2e-19 && pow(-1.0, 0.5).to_bits() == pow(0.0, 0.5).to_bits());
        assert!(pow(f32::MAX, 3.0).is_finite() && pow(f32::MIN_POSITIVE, 3.0) > 0.0);
    }
}
