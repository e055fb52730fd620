//! Locations of a member: groups of sectors round the circumference and the worst node, with their rate and life factors.

use crate::error::{Error, Result};
use crate::reference;
use crate::section::{GroupPolynomials, IntactMoments, Section, Tube, intact_moments, loss_polynomials};

const TABLE: &str = include_str!("../../shared/locations.csv");
/// Groups of sectors round the circumference [-].
pub const GROUPS: usize = 5;
/// Outside locations: the groups, then the worst node [-].
pub const OUTSIDE: usize = GROUPS + 1;
/// Index of the worst node among the outside locations.
pub const NODE: usize = GROUPS;
/// Index of the bottom among them.
pub const BOTTOM: usize = 0;

/// Factors and section of one member.
#[derive(Debug, Clone)]
pub struct Locations {
    /// Rate over that of the run's mean [-].
    pub rate_factor: [f64; OUTSIDE],
    /// Coating life over the system's [-].
    pub life_factor: [f64; OUTSIDE],
    /// Share of the surface in sight with the member in place, where access is as usual [-].
    pub seen_share: [f64; OUTSIDE],
    /// Share of the rust in sight that a careful brush covers, where access is as usual [-].
    pub reached_share: [f64; OUTSIDE],
    /// Share of the circumference [-].
    pub circumference_share: [f64; GROUPS],
    /// Section of the new tube.
    pub intact: IntactMoments,
    /// What loss takes off each group.
    pub polynomials: [GroupPolynomials; GROUPS],
}

#[derive(serde::Deserialize)]
struct Row {
    location: String,
    sectors: String,
    rate_factor: f64,
    life_factor: f64,
    seen_share: f64,
    reached_share: f64,
}

impl Locations {
    /// Factors of `shared/locations.csv` on a tube with so many nodes; the worst of more nodes fails earlier.
    ///
    /// # Errors
    /// When the embedded table cannot be read or its sectors do not cover the circumference.
    pub fn new(tube: Tube, nodes: u32) -> Result<Self> {
        let rows: Vec<Row> = reference::rows("locations.csv", TABLE)?;
        let misfit =
            || Error::invalid("locations.csv", format!("{} rows", rows.len()), "five groups and a node");
        let [.., node] = rows.as_slice() else { return Err(misfit()) };
        if rows.len() != OUTSIDE || node.location != "node" {
            return Err(misfit());
        }
        let groups: Vec<Vec<usize>> = rows[..GROUPS].iter().map(|row| sectors(&row.sectors)).collect();
        let section = Section::from(tube);
        let polynomials = loss_polynomials(&section, &groups)?;
        let mut life_factor = std::array::from_fn(|i| rows[i].life_factor);
        life_factor[NODE] *= worst_of(nodes);
        Ok(Self {
            rate_factor: std::array::from_fn(|i| rows[i].rate_factor),
            life_factor,
            seen_share: std::array::from_fn(|i| rows[i].seen_share),
            reached_share: std::array::from_fn(|i| rows[i].reached_share),
            circumference_share: std::array::from_fn(|i| groups[i].len() as f64 / section.len() as f64),
            intact: intact_moments(&section),
            polynomials: polynomials.try_into().map_err(|_| misfit())?,
        })
    }
}

/// Names of the groups of sectors, in the order of `shared/locations.csv`.
#[must_use]
pub fn group_names() -> Vec<String> {
    let rows: Vec<Row> = reference::rows("locations.csv", TABLE).unwrap_or_default();
    rows.into_iter().take(GROUPS).map(|row| row.location).collect()
}

/// Expected shift of the earliest of `nodes` lives alike, over the stated factor, which is for four (COMPUTED for ln-life
/// spread 0.25: expected least of n standard normals, Harter 1961, -0.564, -1.029, -1.423 for n = 2, 4, 8).
fn worst_of(nodes: u32) -> f64 {
    let least = |n: u32| match n {
        0 | 1 => 0.0,
        2 => -0.564,
        3 => -0.846,
        4 | 5 => -1.029,
        6 | 7 => -1.267,
        _ => -1.423,
    };
    crate::numeric::elementary::exp(0.25 * (least(nodes) - least(4)))
}

fn sectors(text: &str) -> Vec<usize> {
    text.split_whitespace().filter_map(|number| number.parse().ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::{GROUPS, Locations, NODE};
    use crate::prior::Priors;
    use crate::section::Tube;

    /// The table's product round the circumference is the member's accessible share, which treatments take for rate and ageing.
    #[test]
    fn closed_form_access_round_the_circumference_is_that_of_the_member() {
        let of = Locations::new(Tube::round(45.0, 2.0).unwrap(), 4).unwrap();
        let reached: f64 =
            (0..GROUPS).map(|i| of.circumference_share[i] * of.seen_share[i] * of.reached_share[i]).sum();
        let prior = Priors::published().unwrap().get("accessible_share").unwrap();
        assert!((reached - prior.median()).abs() < 0.005, "{reached}");
        let node = of.seen_share[NODE] * of.reached_share[NODE];
        assert!(node < prior.median(), "a node is got at less than the run: {node}");
    }

    #[test]
    fn closed_form_shares_add_up_and_more_nodes_fail_earlier() {
        let of = |nodes| Locations::new(Tube::round(45.0, 2.0).unwrap(), nodes).unwrap();
        assert!((of(4).circumference_share.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        assert_eq!(of(4).polynomials.len(), GROUPS);
        assert!(of(8).life_factor[NODE] < of(4).life_factor[NODE]);
        assert!(of(1).life_factor[NODE] > of(4).life_factor[NODE]);
    }
}
