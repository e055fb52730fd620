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
    let whole: Moments = section.sectors().iter().map(|sector| sector.whole).sum();
    let (height, width) = section.tube().height_and_width_mm();
    IntactMoments {
        area: whole.area,
        i_xx: whole.yy,
        i_yy: whole.xx,
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
    let whole: Moments = sectors.iter().map(|sector| sector.whole).sum();
    let scale = section.tube().height_and_width_mm().1 * whole.area;
    if whole.x.abs() > 1e-9 * scale || sectors.is_empty() {
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
#[expect(
    clippy::inline_always,
    reason = "called per history in loops that vectorise only when it is inlined"
)]
#[inline(always)]
#[must_use]
pub fn bending_left(
    intact: &IntactMoments,
    polynomials: &[GroupPolynomials],
    outside_mm: &[f64],
    inside_mm: f64,
) -> f64 {
    let (mut area, mut first, mut i_xx, mut i_yy) = (intact.area, 0.0, intact.i_xx, intact.i_yy);
    let (mut down, mut up, mut aside) = (0.0_f64, 0.0_f64, 0.0_f64);
    for (group, outside) in polynomials.iter().zip(outside_mm) {
        let outside = outside.min(intact.wall_mm);
        let inside = inside_mm.min(intact.wall_mm - outside);
        for (face, d) in [(&group.outside, outside), (&group.inside, inside)] {
            area -= horner(&face.area, d);
            first -= horner(&face.first_moment, d);
            i_xx -= horner(&face.i_xx, d);
            i_yy -= horner(&face.i_yy, d);
        }
        down = down.max(group.down.per_depth.mul_add(-outside, group.down.at_new_mm));
        up = up.max(group.up.per_depth.mul_add(-outside, group.up.at_new_mm));
        aside = aside.max(group.aside.per_depth.mul_add(-outside, group.aside.at_new_mm));
    }
    // a thousand-millionth of the new area keeps the centroid finite when everything is gone
    let centroid = first / area.max(1e-9 * intact.area);
    let fibre = (up - centroid).max(down + centroid);
    let upright = (i_xx - centroid * first) * intact.half_height_mm / (fibre * intact.i_xx);
    let sideways = i_yy * intact.half_width_mm / (aside * intact.i_yy);
    upright.min(sideways).max(0.0)
}

#[expect(clippy::inline_always, reason = "part of the loop above")]
#[inline(always)]
fn horner<const N: usize>(coefficients: &[f64; N], d: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum: f64, c| sum.mul_add(d, *c)) * d
}
