//! The ring of sectors into which a tube is divided, each with its own loss.
//!
//! Round: any widths; the default is eight equal sectors. Rectangular: four flats and four corner blocks of side
//! T + ri, so the blocks hold the complete arcs and the sectors fill the section without gap or overlap.
//! A sector whose losses use up the wall is gone, all of it; a hot-finished corner, up to 1.21 T thick on its
//! diagonal, then drops a residue of 0.16 T² at once (on the safe side; everywhere else loss is continuous).

use crate::error::in_range;
use crate::error::{Error, Result};
use crate::section::moments::{Edge, Face, Moments, Polynomial, Side};
use crate::section::tube::Tube;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

/// Depth lost from the two faces of a sector.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Serialize)]
pub struct FaceLoss {
    /// Loss of the outer face, from zero up [mm].
    pub outside_mm: f64,
    /// Loss of the inner face, from zero up [mm].
    pub inside_mm: f64,
}

/// Extent of a sector along the wall's mid-line, for torsion and plate slenderness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Span {
    /// Part of a round tube.
    Arc { width_rad: f64 },
    /// Flat between two corner blocks.
    Flat { length_mm: f64 },
    /// Corner block.
    Corner,
}

/// One sector of the new tube.
#[derive(Debug, Clone)]
pub(super) struct Sector {
    pub(super) span: Span,
    pub(super) outline: Vec<Face>,
    pub(super) outside: Polynomial,
    pub(super) inside: Polynomial,
    pub(super) intact: Moments,
}

/// A tube cut into an ordered ring of sectors, counter-clockwise from the bottom.
#[derive(Debug, Clone)]
pub struct Section {
    tube: Tube,
    sectors: Vec<Sector>,
}

impl From<Tube> for Section {
    /// Eight sectors: bottom, lower right, right, upper right, top, upper left, left, lower left.
    fn from(tube: Tube) -> Self {
        let sectors = match tube {
            Tube::Round { diameter_mm, wall_mm } => eighth_edges()
                .into_iter()
                .map(|edges| round_sector(diameter_mm, wall_mm, edges, FRAC_PI_4))
                .collect(),
            Tube::Rectangular { .. } => rectangular_sectors(&tube),
        };
        Self { tube, sectors }
    }
}

impl Section {
    /// A round tube in sectors of the given widths [°], the first centred at the bottom.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::section::{FaceLoss, Section, Tube, remaining};
    /// // half the wall lost over a quarter of the circumference: 31 % of the elastic modulus (numeric integration)
    /// let section = Section::with_widths(Tube::parse_round("45x2")?, &[90.0, 270.0])?;
    /// let patch = FaceLoss { outside_mm: 1.0, inside_mm: 0.0 };
    /// let left = remaining(&section, &[patch, FaceLoss::default()])?;
    /// assert!((1.0 - left.bending - 0.31).abs() < 0.005);
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Error::Invalid`] for a rectangular tube or when the widths do not close to 360°, [`Error::OutOfRange`] for a
    /// width that is not positive.
    pub fn with_widths(tube: Tube, widths_deg: &[f64]) -> Result<Self> {
        let Tube::Round { diameter_mm, wall_mm } = tube else {
            return Err(Error::invalid(
                "sector widths",
                format!("a rectangular tube {tube}"),
                "a round tube",
            ));
        };
        for &width_deg in widths_deg {
            in_range("sector width", width_deg, "°", f64::MIN_POSITIVE..=360.0)?;
        }
        let total_deg: f64 = widths_deg.iter().sum();
        if (total_deg - 360.0).abs() > 1e-9 {
            return Err(Error::invalid("sum of sector widths", format!("{total_deg}°"), "360°"));
        }
        let mut from_deg = -90.0 - 0.5 * widths_deg.first().unwrap_or(&0.0);
        let sectors = widths_deg
            .iter()
            .map(|&width_deg| {
                let edges = (edge(from_deg), edge(from_deg + width_deg));
                from_deg += width_deg;
                round_sector(diameter_mm, wall_mm, edges, width_deg.to_radians())
            })
            .collect();
        Ok(Self { tube, sectors })
    }

    /// The new tube.
    #[must_use]
    pub fn tube(&self) -> &Tube {
        &self.tube
    }

    /// Number of sectors [-].
    #[must_use]
    pub fn len(&self) -> usize {
        self.sectors.len()
    }

    /// Always false: a section has at least one sector.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.sectors.is_empty()
    }

    pub(super) fn sectors(&self) -> &[Sector] {
        &self.sectors
    }

    /// Pairs every sector with its loss.
    pub(super) fn worn(&self, losses: &[FaceLoss]) -> Result<Vec<Worn<'_>>> {
        if losses.len() != self.len() {
            let allowed = format!("{}, one a sector", self.len());
            return Err(Error::invalid("number of losses", losses.len().to_string(), allowed));
        }
        self.sectors
            .iter()
            .zip(losses)
            .map(|(sector, loss)| Worn::new(self.tube.wall_mm(), sector, loss))
            .collect()
    }
}

/// A sector with its loss.
#[derive(Debug, Clone, Copy)]
pub(super) struct Worn<'a> {
    pub(super) sector: &'a Sector,
    pub(super) loss: FaceLoss,
    /// Remaining wall, zero when the sector is gone.
    pub(super) wall_mm: f64,
}

impl<'a> Worn<'a> {
    fn new(wall_mm: f64, sector: &'a Sector, loss: &FaceLoss) -> Result<Self> {
        in_range("outside loss", loss.outside_mm, "mm", 0.0..=1e12)?;
        in_range("inside loss", loss.inside_mm, "mm", 0.0..=1e12)?;
        let wall_mm = (wall_mm - loss.outside_mm - loss.inside_mm).max(0.0);
        Ok(Self { sector, loss: *loss, wall_mm })
    }

    pub(super) fn is_left(&self) -> bool {
        self.wall_mm > 0.0
    }

    /// Moments of what is left.
    pub(super) fn moments(&self) -> Moments {
        if !self.is_left() {
            return Moments::default();
        }
        let Sector { outside, inside, intact, .. } = self.sector;
        *intact - outside.at(self.loss.outside_mm) - inside.at(self.loss.inside_mm)
    }

    /// How far the remaining outer surface reaches in a direction [mm]; nothing when gone.
    pub(super) fn reach(&self, direction: Edge) -> Option<f64> {
        let faces = self.sector.outline.iter();
        self.is_left()
            .then(|| faces.map(|face| face.reach(direction, self.loss.outside_mm)).fold(f64::MIN, f64::max))
    }
}

impl Sector {
    fn new(span: Span, outline: Vec<Face>, inner: &[Face], intact: Moments) -> Self {
        let outside = outline.iter().map(|face| face.removed(Side::Outside)).sum();
        let inside = inner.iter().map(|face| face.removed(Side::Inside)).sum();
        Self { span, outline, outside, inside, intact }
    }
}

fn edge(degrees: f64) -> Edge {
    let (sin, cos) = degrees.to_radians().sin_cos();
    Edge { sin, cos }
}

/// Edges of the eight equal sectors from surds, so that every machine gets the same bits.
fn eighth_edges() -> [(Edge, Edge); 8] {
    let near = 0.5 * (2.0 + std::f64::consts::SQRT_2).sqrt(); // cos 22.5°
    let far = 0.5 * (2.0 - std::f64::consts::SQRT_2).sqrt(); // sin 22.5°
    let turns = [
        (-far, -near),
        (far, -near),
        (near, -far),
        (near, far),
        (far, near),
        (-far, near),
        (-near, far),
        (-near, -far),
    ];
    let edges = turns.map(|(cos, sin)| Edge { sin, cos });
    std::array::from_fn(|k| (edges[k], edges[(k + 1) % 8]))
}

fn round_sector(diameter_mm: f64, wall_mm: f64, (from, to): (Edge, Edge), width_rad: f64) -> Sector {
    let arc = |radius| Face::Arc { centre: (0.0, 0.0), radius, from, to, width_rad };
    let outer = arc(0.5 * diameter_mm);
    let intact = outer.removed(Side::Outside).at(wall_mm);
    Sector::new(Span::Arc { width_rad }, vec![outer], &[arc(0.5 * diameter_mm - wall_mm)], intact)
}

/// Corners of a tube, all zero for a round one.
pub(super) struct CornerSize {
    /// Side of the corner block [mm].
    pub(super) block_mm: f64,
    /// Outer radius [mm].
    pub(super) outer_mm: f64,
    /// Inner radius [mm].
    pub(super) inner_mm: f64,
}

/// Corner block and radii of a tube.
pub(super) fn corner_size(tube: &Tube) -> CornerSize {
    match *tube {
        Tube::Round { .. } => CornerSize { block_mm: 0.0, outer_mm: 0.0, inner_mm: 0.0 },
        Tube::Rectangular { wall_mm, corners, .. } => {
            let (outer_mm, inner_mm) = corners.radii_mm(wall_mm);
            CornerSize { block_mm: wall_mm + inner_mm, outer_mm, inner_mm }
        }
    }
}

fn rectangular_sectors(tube: &Tube) -> Vec<Sector> {
    // (sin, cos) of the outward normals: bottom, right, top, left
    let normals = [(-1.0, 0.0), (0.0, 1.0), (1.0, 0.0), (0.0, -1.0)].map(|(sin, cos)| Edge { sin, cos });
    (0..4)
        .flat_map(|k| {
            let (normal, next) = (normals[k], normals[(k + 1) % 4]);
            [flat_sector(tube, normal), corner_sector(tube, normal, next)]
        })
        .collect()
}

fn flat_sector(tube: &Tube, normal: Edge) -> Sector {
    let (height, width) = tube.height_and_width_mm();
    let block = corner_size(tube).block_mm;
    let wall = tube.wall_mm();
    let level = normal.sin.abs() > 0.5;
    let half_length = 0.5 * if level { width } else { height } - block;
    let face = |depth: f64| {
        let along = (-half_length, half_length);
        if level {
            Face::Level { y: normal.sin * (0.5 * height - depth), x: along }
        } else {
            Face::Upright { x: normal.cos * (0.5 * width - depth), y: along }
        }
    };
    let intact = face(0.0).removed(Side::Outside).at(wall);
    Sector::new(Span::Flat { length_mm: 2.0 * half_length }, vec![face(0.0)], &[face(wall)], intact)
}

fn corner_sector(tube: &Tube, from: Edge, to: Edge) -> Sector {
    let (height, width) = tube.height_and_width_mm();
    let CornerSize { block_mm: block, outer_mm: ro, inner_mm: ri } = corner_size(tube);
    let (right, up) = (from.cos + to.cos, from.sin + to.sin);
    let arc = |radius: f64, inset: f64| {
        let centre = (right * (0.5 * width - inset), up * (0.5 * height - inset));
        Face::Arc { centre, radius, from, to, width_rad: FRAC_PI_2 }
    };
    // straight ends between arc and block: hot-finished arcs are smaller than their block
    let ends = |sign: f64, half: f64| {
        let (near, far) = (half - block, half - ro);
        if sign > 0.0 { (near, far) } else { (-far, -near) }
    };
    let level = Face::Level { y: up * 0.5 * height, x: ends(right, 0.5 * width) };
    let upright = Face::Upright { x: right * 0.5 * width, y: ends(up, 0.5 * height) };
    let (outer, inner) = (arc(ro, ro), arc(ri, block));
    // the full block: one end to its full depth, the other and the disc to theirs, less the bore's quarter disc
    let intact = level.removed(Side::Outside).at(block)
        + upright.removed(Side::Outside).at(ro)
        + outer.removed(Side::Outside).at(ro)
        + inner.removed(Side::Inside).at(-ri);
    Sector::new(Span::Corner, vec![level, upright, outer], &[inner], intact)
}
