//! What a loss of depth d takes off one face: area, first and second moments, exactly, as polynomials in d.
//!
//! A face is a circular arc or a straight segment; it recedes along its normal. With R the radius of the arc (or the
//! distance of the segment from the axis) the removed strip integrates to `P_n = (R^n - (R-d)^n)/n` on an outer face and
//! `((R+d)^n - R^n)/n` on an inner one, n <= 4, so arcs give degree 4 and segments degree 3. Elementary integration, no
//! approximation. Coordinates: x to the right, y up, origin at the centre of the new tube [mm].

use std::ops::{Add, AddAssign, Sub};

/// Area and moments about fixed axes through the centre of the new tube.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Moments {
    /// Area [mm²].
    pub(super) area: f64,
    /// Integral of y [mm³].
    pub(super) y: f64,
    /// Integral of x [mm³].
    pub(super) x: f64,
    /// Integral of y² [mm⁴].
    pub(super) yy: f64,
    /// Integral of x² [mm⁴].
    pub(super) xx: f64,
    /// Integral of xy [mm⁴].
    pub(super) xy: f64,
}

impl Moments {
    fn map2(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        Self {
            area: f(self.area, other.area),
            y: f(self.y, other.y),
            x: f(self.x, other.x),
            yy: f(self.yy, other.yy),
            xx: f(self.xx, other.xx),
            xy: f(self.xy, other.xy),
        }
    }

    /// The same area moved by (x, y).
    fn moved(self, x: f64, y: f64) -> Self {
        Self {
            area: self.area,
            y: self.y + y * self.area,
            x: self.x + x * self.area,
            yy: self.yy + 2.0 * y * self.y + y * y * self.area,
            xx: self.xx + 2.0 * x * self.x + x * x * self.area,
            xy: self.xy + x * self.y + y * self.x + x * y * self.area,
        }
    }
}

impl Add for Moments {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        self.map2(other, |a, b| a + b)
    }
}

impl AddAssign for Moments {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Moments {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self.map2(other, |a, b| a - b)
    }
}

impl std::iter::Sum for Moments {
    fn sum<I: Iterator<Item = Self>>(terms: I) -> Self {
        terms.fold(Self::default(), Self::add)
    }
}

/// Which side of the wall a face is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// Recedes towards the centre.
    Outside,
    /// Recedes away from the centre.
    Inside,
}

/// Coefficients of d, d², d³, d⁴ in the removed moments of one or more faces.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Polynomial(pub(super) [Moments; 4]);

impl Polynomial {
    /// Removed moments at depth `d` [mm].
    pub(super) fn at(&self, d: f64) -> Moments {
        let Self([c1, c2, c3, c4]) = *self;
        [c4, c3, c2, c1].into_iter().fold(Moments::default(), |sum, c| sum.map2(c, |s, c| (s + c) * d))
    }
}

impl std::iter::Sum for Polynomial {
    fn sum<I: Iterator<Item = Self>>(terms: I) -> Self {
        terms.fold(Self::default(), |a, b| Self(std::array::from_fn(|k| a.0[k] + b.0[k])))
    }
}

/// A direction with its angle's sine and cosine; exact for the default sectors.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    /// Sine [-].
    pub(super) sin: f64,
    /// Cosine [-].
    pub(super) cos: f64,
}

impl Edge {
    /// Positive when `other` lies counter-clockwise of this edge within half a turn.
    fn cross(self, other: Self) -> f64 {
        self.cos * other.sin - self.sin * other.cos
    }

    fn dot(self, other: Self) -> f64 {
        self.cos * other.cos + self.sin * other.sin
    }
}

/// One face of a sector.
#[derive(Debug, Clone, Copy)]
pub(super) enum Face {
    /// Arc about its own centre, counter-clockwise.
    Arc { centre: (f64, f64), radius: f64, from: Edge, to: Edge, width_rad: f64 },
    /// Horizontal segment at height y, from x to x.
    Level { y: f64, x: (f64, f64) },
    /// Upright segment at x, from y to y.
    Upright { x: f64, y: (f64, f64) },
}

impl Face {
    /// What a depth d takes off this face.
    pub(super) fn removed(&self, side: Side) -> Polynomial {
        match *self {
            Self::Arc { centre, radius, from, to, width_rad } => {
                let strip = strip(radius, side);
                Polynomial(strip.map(|[_, p2, p3, p4]| {
                    arc_strip([p2, p3, p4], (from, to), width_rad).moved(centre.0, centre.1)
                }))
            }
            Self::Level { y, x } => Polynomial(strip(y.abs(), side).map(|p| segment_strip(p, y.signum(), x))),
            Self::Upright { x, y } => {
                Polynomial(strip(x.abs(), side).map(|p| transposed(segment_strip(p, x.signum(), y))))
            }
        }
    }

    /// How far the face, worn by `d`, reaches in a direction from the centre of the new tube [mm].
    pub(super) fn reach(&self, direction: Edge, d: f64) -> f64 {
        let (at_new, per_depth) = self.reach_line(direction);
        at_new - per_depth * d
    }

    /// Reach of the new face and how much of it a unit depth takes [mm, -]; linear because normals stay.
    pub(super) fn reach_line(&self, direction: Edge) -> (f64, f64) {
        let Edge { sin, cos } = direction;
        match *self {
            Self::Arc { centre, radius, from, to, width_rad } => {
                let facing = facing(direction, (from, to), width_rad);
                (centre.0 * cos + centre.1 * sin + radius * facing, facing)
            }
            Self::Level { y, x } => (y * sin + (x.0 * cos).max(x.1 * cos), y.signum() * sin),
            Self::Upright { x, y } => (x * cos + (y.0 * sin).max(y.1 * sin), x.signum() * cos),
        }
    }
}

/// Greatest cosine between a direction and the normals of an arc.
fn facing(direction: Edge, (from, to): (Edge, Edge), width_rad: f64) -> f64 {
    let within = if width_rad <= std::f64::consts::PI {
        from.cross(direction) >= 0.0 && direction.cross(to) >= 0.0
    } else {
        to.cross(direction) <= 0.0 || direction.cross(from) <= 0.0
    };
    if within { 1.0 } else { from.dot(direction).max(to.dot(direction)) }
}

/// Coefficients of d..d⁴ (outer index) of `P_1..P_4` (inner index) for a face at distance `r`.
fn strip(r: f64, side: Side) -> [[f64; 4]; 4] {
    let s = if side == Side::Outside { -1.0 } else { 1.0 };
    [
        [1.0, r, r * r, r * r * r],
        [0.0, 0.5 * s, s * r, 1.5 * s * r * r],
        [0.0, 0.0, 1.0 / 3.0, r],
        [0.0, 0.0, 0.0, 0.25 * s],
    ]
}

fn arc_strip([p2, p3, p4]: [f64; 3], (from, to): (Edge, Edge), width_rad: f64) -> Moments {
    let half_sweep = 0.5 * (to.sin * to.cos - from.sin * from.cos);
    Moments {
        area: p2 * width_rad,
        y: p3 * (from.cos - to.cos),
        x: p3 * (to.sin - from.sin),
        yy: p4 * (0.5 * width_rad - half_sweep),
        xx: p4 * (0.5 * width_rad + half_sweep),
        xy: p4 * 0.5 * (to.sin * to.sin - from.sin * from.sin),
    }
}

/// A horizontal strip above (sign 1) or below (sign -1) the axis, over the given range of x.
fn segment_strip([p1, p2, p3, _]: [f64; 4], sign: f64, (low, high): (f64, f64)) -> Moments {
    let length = high - low;
    let first = 0.5 * (high * high - low * low);
    Moments {
        area: p1 * length,
        y: sign * p2 * length,
        x: p1 * first,
        yy: p3 * length,
        xx: p1 * (high * high * high - low * low * low) / 3.0,
        xy: sign * p2 * first,
    }
}

fn transposed(m: Moments) -> Moments {
    Moments { y: m.x, x: m.y, yy: m.xx, xx: m.yy, ..m }
}
