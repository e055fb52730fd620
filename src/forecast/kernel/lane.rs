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

    /// The number in each history of a block.
    fn lanes(&self) -> Lane {
        std::array::from_fn(|lane| self.at(lane))
    }

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

/// One number of each history of a block in single precision.
pub(super) type Single = [f32; LANES];

/// `(a - b)^exponent` by lane, the difference in double and the power in single precision.
#[inline(always)]
pub(super) fn power_of_difference<V: PerHistory>(a: &Lane, b: &Lane, exponent: &V) -> Single {
    let mut power = [0.0; LANES];
    for lane in 0..LANES {
        power[lane] = (a[lane] - b[lane]) as f32;
    }
    for lane in 0..LANES {
        power[lane] = single::pow(power[lane], exponent.at(lane) as f32);
    }
    power
}

/// Numbers in single precision.
#[inline(always)]
pub(super) fn single(lane: &Lane) -> Single {
    let mut single = [0.0; LANES];
    for history in 0..LANES {
        single[history] = lane[history] as f32;
    }
    single
}

/// Numbers in double precision.
#[inline(always)]
pub(super) fn double(single: &Single) -> Lane {
    let mut double = ZERO;
    for history in 0..LANES {
        double[history] = f64::from(single[history]);
    }
    double
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
