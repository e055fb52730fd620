//! Bending share of a left-right symmetric loss as plain polynomials, for the innermost loop of the Monte Carlo.
//!
//! Sectors are gathered in groups that are their own mirror image (bottom, lower pair, sides, ...), each with one outside
//! depth; the inside depth is common. Then the horizontal and vertical axes are principal and the share equals
//! [`crate::section::remaining`] as long as every group has wall left. Beyond that depths are held at the wall: the group
//! holds no steel but its bore still counts as a fibre, and a hot-finished corner keeps its residue (see `ring`).

use crate::error::{Error, Result};
use crate::section::moments::{Edge, Moments, Polynomial};
use crate::section::ring::{Section, Sector};

/// What a depth d takes off one face of a group; coefficients of d, d², ... in order, exact.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct FacePolynomial {
    /// Area [mm² by mm, mm², ...].
    pub area: [f64; 2],
    /// First moment about the horizontal axis through the centre, the integral of y [mm³ by mm, ...].
    pub first_moment: [f64; 3],
    /// Second moment about that axis, the integral of y² [mm⁴ by mm, ...].
    pub i_xx: [f64; 4],
    /// Second moment about the vertical axis, the integral of x² [mm⁴ by mm, ...].
    pub i_yy: [f64; 4],
}

/// A line `at_new - per_depth d`: how far a group's outer surface reaches from the centre.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Reach {
    /// Reach of the new tube [mm].
    pub at_new_mm: f64,
    /// Reach lost by unit depth [-].
    pub per_depth: f64,
}

/// One group of sectors.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct GroupPolynomials {
    /// What outside loss removes.
    pub outside: FacePolynomial,
    /// What inside loss removes.
    pub inside: FacePolynomial,
    /// Reach downward.
    pub down: Reach,
    /// Reach upward.
    pub up: Reach,
    /// Reach to the right (and, by symmetry, to the left).
    pub aside: Reach,
}

/// The new tube about its centre.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct IntactMoments {
    /// Area [mm²].
    pub area: f64,
    /// Second moment about the horizontal axis [mm⁴].
    pub i_xx: f64,
    /// Second moment about the vertical axis [mm⁴].
    pub i_yy: f64,
    /// Half of the outside height [mm].
    pub half_height_mm: f64,
    /// Half of the outside width [mm].
    pub half_width_mm: f64,
    /// Wall [mm].
    pub wall_mm: f64,
}

/// Moments of the new tube.
#[must_use]
pub fn intact_moments(section: &Section) -> IntactMoments {
    let full: Moments = section.sectors().iter().map(|sector| sector.intact).sum();
    let (height, width) = section.tube().height_and_width_mm();
    IntactMoments {
        area: full.area,
        i_xx: full.yy,
        i_yy: full.xx,
        half_height_mm: 0.5 * height,
        half_width_mm: 0.5 * width,
        wall_mm: section.tube().wall_mm(),
    }
}

/// Polynomials of each group of sector numbers; together the groups must hold every sector once.
///
/// # Errors
/// [`Error::Invalid`] for a missing, repeated or unknown sector or a group that is not its own mirror image.
pub fn loss_polynomials(section: &Section, groups: &[Vec<usize>]) -> Result<Vec<GroupPolynomials>> {
    let mut numbers = groups.concat();
    numbers.sort_unstable();
    if !numbers.iter().copied().eq(0..section.len()) {
        let allowed = format!("each of 0 to {} once", section.len().saturating_sub(1));
        return Err(Error::invalid("sectors in groups", format!("{numbers:?}"), allowed));
    }
    groups.iter().map(|group| group_polynomials(section, group)).collect()
}

fn group_polynomials(section: &Section, group: &[usize]) -> Result<GroupPolynomials> {
    let sectors: Vec<&Sector> = group.iter().filter_map(|&k| section.sectors().get(k)).collect();
    let full: Moments = sectors.iter().map(|sector| sector.intact).sum();
    let scale = section.tube().height_and_width_mm().1 * full.area;
    if full.x.abs() > 1e-9 * scale || sectors.is_empty() {
        return Err(Error::invalid("group of sectors", format!("{group:?}"), "a left-right symmetric group"));
    }
    let reach = |cos: f64, sin: f64| group_reach(&sectors, Edge { sin, cos });
    Ok(GroupPolynomials {
        outside: face(sectors.iter().map(|sector| sector.outside).sum()),
        inside: face(sectors.iter().map(|sector| sector.inside).sum()),
        down: reach(0.0, -1.0),
        up: reach(0.0, 1.0),
        aside: reach(1.0, 0.0),
    })
}

/// The face that reaches farthest when new; among equals the one that recedes least.
fn group_reach(sectors: &[&Sector], direction: Edge) -> Reach {
    let lines = sectors.iter().flat_map(|sector| &sector.outline).map(|face| face.reach_line(direction));
    let (at_new_mm, per_depth) =
        lines.reduce(|a, b| if (b.0, -b.1) > (a.0, -a.1) { b } else { a }).unwrap_or((0.0, 0.0));
    Reach { at_new_mm, per_depth }
}

fn face(Polynomial([c1, c2, c3, c4]): Polynomial) -> FacePolynomial {
    FacePolynomial {
        area: [c1.area, c2.area],
        first_moment: [c1.y, c2.y, c3.y],
        i_xx: [c1.yy, c2.yy, c3.yy, c4.yy],
        i_yy: [c1.xx, c2.xx, c3.xx, c4.xx],
    }
}

/// Share of bending capacity left: the lesser over both axes of remaining by new elastic modulus [-].
///
/// `outside_mm` holds one depth a group [mm], `inside_mm` is common to all [mm]; both from zero up.
#[allow(clippy::inline_always, reason = "part of a hot loop")]
#[inline(always)]
#[must_use]
pub fn bending_left(
    intact: &IntactMoments,
    polynomials: &[GroupPolynomials],
    outside_mm: &[f64],
    inside_mm: f64,
) -> f64 {
    let mut ring = Lanes::new(intact);
    for (group, outside) in polynomials.iter().zip(outside_mm) {
        ring.wear(group, &[*outside], &[inside_mm], intact.wall_mm);
    }
    let [share] = ring.share(intact);
    share
}

/// [`bending_left`] of `L` histories at once [-]: `outside_mm` holds for each group one depth a history [mm].
///
/// The same operations in the same order, so the same bits; `L` of 4 or 8 fills a vector register.
#[allow(clippy::inline_always, reason = "called in loops that vectorise only when it is inlined")]
#[inline(always)]
#[must_use]
pub fn bending_left_lanes<const L: usize>(
    intact: &IntactMoments,
    polynomials: &[GroupPolynomials],
    outside_mm: &[[f64; L]],
    inside_mm: &[f64; L],
) -> [f64; L] {
    let mut ring = Lanes::new(intact);
    for (group, outside) in polynomials.iter().zip(outside_mm) {
        ring.wear(group, outside, inside_mm, intact.wall_mm);
    }
    ring.share(intact)
}

/// Moments and reaches of what is left, one history a lane.
struct Lanes<const L: usize> {
    area: [f64; L],
    first: [f64; L],
    i_xx: [f64; L],
    i_yy: [f64; L],
    down: [f64; L],
    up: [f64; L],
    aside: [f64; L],
}

#[allow(clippy::inline_always, reason = "part of the loops above")]
#[allow(clippy::needless_range_loop, reason = "one lane number runs through all arrays")]
impl<const L: usize> Lanes<L> {
    #[inline(always)]
    fn new(intact: &IntactMoments) -> Self {
        let zero = [0.0; L];
        let (area, i_xx, i_yy) = ([intact.area; L], [intact.i_xx; L], [intact.i_yy; L]);
        Self { area, first: zero, i_xx, i_yy, down: zero, up: zero, aside: zero }
    }

    #[inline(always)]
    fn wear(&mut self, group: &GroupPolynomials, outside: &[f64; L], inside: &[f64; L], wall_mm: f64) {
        for l in 0..L {
            let outside = outside[l].min(wall_mm);
            let inside = inside[l].min(wall_mm - outside);
            for (face, d) in [(&group.outside, outside), (&group.inside, inside)] {
                self.area[l] -= horner(&face.area, d);
                self.first[l] -= horner(&face.first_moment, d);
                self.i_xx[l] -= horner(&face.i_xx, d);
                self.i_yy[l] -= horner(&face.i_yy, d);
            }
            self.down[l] = self.down[l].max(group.down.at(outside));
            self.up[l] = self.up[l].max(group.up.at(outside));
            self.aside[l] = self.aside[l].max(group.aside.at(outside));
        }
    }

    #[inline(always)]
    fn share(&self, intact: &IntactMoments) -> [f64; L] {
        let mut share = [0.0; L];
        for l in 0..L {
            // a thousand-millionth of the new area keeps the centroid finite when everything is gone
            let centroid = self.first[l] / self.area[l].max(1e-9 * intact.area);
            let fibre = (self.up[l] - centroid).max(self.down[l] + centroid);
            let i_x = self.i_xx[l] - centroid * self.first[l];
            let upright = i_x * intact.half_height_mm / (fibre * intact.i_xx);
            let sideways = self.i_yy[l] * intact.half_width_mm / (self.aside[l] * intact.i_yy);
            share[l] = upright.min(sideways).max(0.0);
        }
        share
    }
}

impl Reach {
    #[allow(clippy::inline_always, reason = "part of the loops above")]
    #[inline(always)]
    fn at(&self, depth_mm: f64) -> f64 {
        self.per_depth.mul_add(-depth_mm, self.at_new_mm)
    }
}

#[allow(clippy::inline_always, reason = "part of the loops above")]
#[inline(always)]
fn horner<const N: usize>(coefficients: &[f64; N], d: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum: f64, c| sum.mul_add(d, *c)) * d
}
