//! Arithmetic on a lane of histories: plain loops that become vector code inside the kernel's functions.

use crate::forecast::kernel::{LANES, Lane, ZERO};
use crate::numeric::elementary::pow;
use crate::numeric::single;
use multiversion::multiversion;

/// A number of a draw that the histories of a block share, or one for each of them.
pub trait PerHistory: Copy + PartialEq {
    /// Whether all histories of a block share it.
    const SHARED: bool;

    /// The number of a history [unit of the number].
    fn at(&self, lane: usize) -> f64;

    /// Another number out of each.
    #[must_use]
    fn each(&self, of: impl Fn(f64) -> f64) -> Self;

    /// Another number out of each and one beside it.
    #[must_use]
    fn each_with(&self, other: &Self, of: impl Fn(f64, f64) -> f64) -> Self;
}

impl PerHistory for f64 {
    const SHARED: bool = true;

    #[inline(always)]
    fn at(&self, _: usize) -> f64 {
        *self
    }

    #[inline(always)]
    fn each(&self, of: impl Fn(f64) -> f64) -> Self {
        of(*self)
    }

    #[inline(always)]
    fn each_with(&self, other: &Self, of: impl Fn(f64, f64) -> f64) -> Self {
        of(*self, *other)
    }
}

impl PerHistory for Lane {
    const SHARED: bool = false;

    #[inline(always)]
    fn at(&self, lane: usize) -> f64 {
        self[lane]
    }

    #[inline(always)]
    fn each(&self, of: impl Fn(f64) -> f64) -> Self {
        let mut each = ZERO;
        for lane in 0..LANES {
            each[lane] = of(self[lane]);
        }
        each
    }

    #[inline(always)]
    fn each_with(&self, other: &Self, of: impl Fn(f64, f64) -> f64) -> Self {
        let mut each = ZERO;
        for lane in 0..LANES {
            each[lane] = of(self[lane], other[lane]);
        }
        each
    }
}

/// `base^exponent` by lane; loops, not `map`, whose closures would leave the vector code.
#[inline(always)]
pub(super) fn power<V: PerHistory>(base: &Lane, exponent: &V) -> Lane {
    let mut power = ZERO;
    for lane in 0..LANES {
        power[lane] = pow(base[lane], exponent.at(lane));
    }
    power
}

/// `(a - b)^exponent` by lane in single precision, within 1e-5 of [`power`]: one term of a sum over years.
#[inline(always)]
pub(super) fn power_of_difference<V: PerHistory>(a: &Lane, b: &Lane, exponent: &V) -> Lane {
    let mut terms = [0.0_f32; LANES];
    for lane in 0..LANES {
        terms[lane] = (a[lane] - b[lane]) as f32;
    }
    for lane in 0..LANES {
        terms[lane] = single::pow(terms[lane], exponent.at(lane) as f32);
    }
    let mut power = ZERO;
    for lane in 0..LANES {
        power[lane] = f64::from(terms[lane]);
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

/// `a + factor b` with a factor of the draw.
#[inline(always)]
pub(super) fn add_times<V: PerHistory>(a: &Lane, factor: &V, b: &Lane) -> Lane {
    let mut sum = ZERO;
    for lane in 0..LANES {
        sum[lane] = factor.at(lane).mul_add(b[lane], a[lane]);
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

/// Values so far on the way from one lane to another [-].
#[inline(always)]
pub(super) fn on_the_way([from, to]: [&Lane; 2], way: f64) -> Lane {
    let mut there = *from;
    for lane in 0..LANES {
        there[lane] = way.mul_add(to[lane] - from[lane], from[lane]);
    }
    there
}

/// [`on_the_way`] called by itself, outside the vector code of the kernel.
#[multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
pub(super) fn on_the_way_alone(ends: [&Lane; 2], way: f64) -> Lane {
    on_the_way(ends, way)
}
