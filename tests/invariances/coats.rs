//! Treatments, reworks, grades, nodes and pits.
