//! Locations of a member: groups of sectors round the circumference and the worst node, with their rate and life factors.

use crate::error::{Error, Result};
use crate::reference;
use crate::section::{GroupPolynomials, IntactMoments, Section, Tube, intact_moments, loss_polynomials};

const TABLE: &str = include_str!("../../shared/locations.csv");
/// Groups of sectors round the circumference [-].
pub const GROUPS: usize = 5;
/// Names of the groups of sectors, from the bottom up.
pub const GROUP_NAMES: [&str; GROUPS] = ["bottom", "lower", "side", "upper", "top"];
/// Outside locations: the groups, then the worst node [-].
pub const OUTSIDE: usize = GROUPS + 1;
/// Index of the worst node among the outside locations.
pub const NODE: usize = GROUPS;
/// Index of the bottom among them.
pub const BOTTOM: usize = 0;

/// Length of the tube of a member where it is not stated [m]: a cradle of ordinary size (ASSUMPTION).
pub const LENGTH_M: f64 = 3.0;
/// Surface of one node, a weld with the foot of its bracket [m²] (ASSUMPTION).
const NODE_AREA_M2: f64 = 0.002;

/// Factors and section of one member.
#[derive(Debug, Clone)]
pub struct Locations {
    /// Rate over that of the run's mean [-].
    pub rate_factor: [f64; OUTSIDE],
    /// Coating life over the system's, of a node that of a single one [-].
    pub life_factor: [f64; OUTSIDE],
    /// Number of nodes alike, of which the worst decides [-].
    pub nodes: f64,
    /// How many of them are followed by themselves because they were graded by name; of the others only the worst is [-].
    pub followed_nodes: usize,
    /// Share of the surface in sight with the member in place, where access is as usual [-].
    pub seen_share: [f64; OUTSIDE],
    /// Share of the rust in sight that a careful brush covers, where access is as usual [-].
    pub reached_share: [f64; OUTSIDE],
    /// Share of the circumference [-].
    pub circumference_share: [f64; GROUPS],
    /// Outside surface of the bottom over the length of the tube, and of a node [m²].
    pub area_m2: [f64; 2],
    /// Whether histories follow which share is rusted through; only some criteria ask for it.
    pub follows_perforation: bool,
    /// Section of the new tube.
    pub intact: IntactMoments,
    /// What loss takes off each group.
    pub polynomials: [GroupPolynomials; GROUPS],
}

/// Rate, life and access of each location, as read from a table.
#[derive(Debug, Clone, PartialEq)]
pub struct LocationTable {
    rows: Vec<Row>,
}

#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
struct Row {
    location: String,
    sectors: String,
    rate_factor: f64,
    life_factor: f64,
    seen_share: f64,
    reached_share: f64,
}

impl LocationTable {
    /// The published table, `shared/locations.csv`.
    ///
    /// # Errors
    /// When the embedded table cannot be read.
    pub fn published() -> Result<Self> {
        Self::from_csv(TABLE)
    }

    /// A table with the columns of `shared/locations.csv`: five groups of sectors, then the node.
    ///
    /// # Errors
    /// When a row cannot be read or the rows are others.
    pub fn from_csv(text: &str) -> Result<Self> {
        let rows: Vec<Row> = reference::rows("locations.csv", text)?;
        if !rows.iter().map(|row| row.location.as_str()).eq(GROUP_NAMES.into_iter().chain(["node"])) {
            return Err(misfit(&rows));
        }
        Ok(Self { rows })
    }
}

fn misfit(rows: &[Row]) -> Error {
    Error::invalid(
        "locations.csv",
        format!("{} rows", rows.len()),
        "the five groups from bottom to top, then the node",
    )
}

impl Locations {
    /// The same on a tube of another length [m].
    #[must_use]
    pub fn of_length(mut self, length_m: f64) -> Self {
        self.area_m2[0] *= length_m / LENGTH_M;
        self
    }

    /// The same where so many of its nodes are followed by themselves, at most as many as there are.
    #[must_use]
    pub fn following(mut self, nodes: usize) -> Self {
        self.followed_nodes = nodes.min(self.nodes as usize);
        self
    }

    /// The same where histories follow the share that is rusted through, or do not.
    #[must_use]
    pub fn with_perforation(mut self, follows: bool) -> Self {
        self.follows_perforation = follows;
        self
    }

    /// Factors of a table on a tube of usual length with so many nodes, at least one.
    ///
    /// # Errors
    /// When the sectors of the table do not cover the circumference.
    pub fn new(table: &LocationTable, tube: Tube, nodes: u32) -> Result<Self> {
        let rows = &table.rows;
        let groups: Vec<Vec<usize>> = rows[..GROUPS].iter().map(|row| sectors(&row.sectors)).collect();
        let section = Section::from(tube);
        let polynomials = loss_polynomials(&section, &groups)?;
        let circumference_share = std::array::from_fn(|i| groups[i].len() as f64 / section.len() as f64);
        Ok(Self {
            area_m2: [circumference_m(tube) * circumference_share[BOTTOM] * LENGTH_M, NODE_AREA_M2],
            rate_factor: std::array::from_fn(|i| rows[i].rate_factor),
            life_factor: std::array::from_fn(|i| rows[i].life_factor),
            nodes: f64::from(nodes.max(1)),
            followed_nodes: 0,
            follows_perforation: false,
            seen_share: std::array::from_fn(|i| rows[i].seen_share),
            reached_share: std::array::from_fn(|i| rows[i].reached_share),
            circumference_share,
            intact: intact_moments(&section),
            polynomials: polynomials.try_into().map_err(|_| misfit(rows))?,
        })
    }
}

/// Outside circumference of a tube, its corners taken as sharp [m].
fn circumference_m(tube: Tube) -> f64 {
    let (height_mm, width_mm) = tube.height_and_width_mm();
    match tube {
        Tube::Round { diameter_mm, .. } => 1e-3 * std::f64::consts::PI * diameter_mm,
        Tube::Rectangular { .. } => 2e-3 * (height_mm + width_mm),
    }
}

fn sectors(text: &str) -> Vec<usize> {
    text.split_whitespace().filter_map(|number| number.parse().ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::{GROUPS, LocationTable, Locations, NODE};
    use crate::numeric::normal::minimum_of;
    use crate::prior::Priors;
    use crate::section::Tube;

    /// The table's product round the circumference is the member's accessible share, which treatments take for rate and ageing.
    #[test]
    fn closed_form_access_round_the_circumference_is_that_of_the_member() {
        let of =
            Locations::new(&LocationTable::published().unwrap(), Tube::round(45.0, 2.0).unwrap(), 4).unwrap();
        let reached: f64 =
            (0..GROUPS).map(|i| of.circumference_share[i] * of.seen_share[i] * of.reached_share[i]).sum();
        let prior = Priors::published().unwrap().get("accessible_share").unwrap();
        assert!((reached - prior.median()).abs() < 0.005, "{reached}");
        let node = of.seen_share[NODE] * of.reached_share[NODE];
        assert!(node < prior.median(), "a node is got at less than the run: {node}");
    }

    #[test]
    fn closed_form_shares_of_the_circumference_add_up() {
        let of =
            Locations::new(&LocationTable::published().unwrap(), Tube::round(45.0, 2.0).unwrap(), 4).unwrap();
        assert!((of.circumference_share.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        assert_eq!(of.polynomials.len(), GROUPS);
    }

    /// The factor of a single node is stated so that the worst of four, at its median, has 0.90 of the system's life.
    #[test]
    fn closed_form_the_worst_of_four_nodes_at_its_median() {
        let of =
            Locations::new(&LocationTable::published().unwrap(), Tube::round(45.0, 2.0).unwrap(), 4).unwrap();
        let scatter = Priors::published().unwrap().get("node_scatter").unwrap().median();
        let worst = of.life_factor[NODE] * (scatter * minimum_of(4.0, 0.0)).exp();
        assert!((worst - 0.90).abs() < 0.001, "{worst}");
    }
}
