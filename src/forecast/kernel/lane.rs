//! Arithmetic on a lane of histories: plain loops that become vector code inside the kernel's functions.

use crate::forecast::kernel::{LANES, Lane, ZERO};
use crate::numeric::elementary::pow;

/// `base^exponent` by lane; loops, not `map`, whose closures would leave the vector code.
#[inline(always)]
pub(super) fn power(base: &Lane, exponent: f64) -> Lane {
    let mut power = ZERO;
    for lane in 0..LANES {
        power[lane] = pow(base[lane], exponent);
    }
    power
}

#[inline(always)]
pub(super) fn difference(a: &Lane, b: &Lane) -> Lane {
    let mut difference = ZERO;
    for lane in 0..LANES {
        difference[lane] = a[lane] - b[lane];
    }
    difference
}

/// `a + factor b`.
#[inline(always)]
pub(super) fn add_scaled(a: &Lane, factor: f64, b: &Lane) -> Lane {
    let mut sum = ZERO;
    for lane in 0..LANES {
        sum[lane] = factor.mul_add(b[lane], a[lane]);
    }
    sum
}

/// `a + b c`.
#[inline(always)]
pub(super) fn add_product(a: &mut Lane, b: &Lane, c: &Lane) {
    for lane in 0..LANES {
        a[lane] = b[lane].mul_add(c[lane], a[lane]);
    }
}

/// The deeper of what was and `marks` times `attack`.
#[inline(always)]
pub(super) fn take_deeper(first: &mut Lane, marks: &Lane, attack: &Lane) {
    for lane in 0..LANES {
        first[lane] = first[lane].max(marks[lane] * attack[lane]);
    }
}
