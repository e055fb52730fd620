//! The tube and the thresholds of the member.

use super::at;
use crate::case::raw;
use crate::case::schema::NONE;
use crate::coating::RustGrade;
use crate::error::{Error, Result};
use crate::forecast::scenario::{Criteria, Member};
use crate::model::{Defaults, Level};
use crate::section::{Corners, Tube};

pub(super) fn resolve(raw: &raw::MemberFields, defaults: &Defaults) -> Result<Member> {
    let rework = criteria(&raw.rework, Level::Rework, defaults)?;
    if rework == Criteria::default() {
        return Err(Error::invalid("member.rework", "every criterion \"none\"", "at least one criterion"));
    }
    let assessment = criteria(&raw.caution, Level::Assessment, defaults)?;
    Ok(Member {
        tube: tube(raw)?,
        yield_n_mm2: raw.yield_n_mm2,
        nodes: raw.nodes,
        length_m: raw.length_m,
        rework,
        assessment,
    })
}

fn tube(raw: &raw::MemberFields) -> Result<Tube> {
    let size = raw.size_mm.as_str();
    let corners = raw.corners.unwrap_or(Corners::ColdFormed);
    if raw.tube == raw::TubeShape::Round && raw.corners.is_some() {
        return Err(Error::invalid(
            "member.corners",
            "a round tube",
            "corners on square or rectangular tubes",
        ));
    }
    let read = match raw.tube {
        raw::TubeShape::Round => Tube::parse_round(size),
        raw::TubeShape::Rectangular => Tube::parse_rectangular(size, corners),
        raw::TubeShape::Square => square(size, corners),
    };
    at("member.size_mm", read)
}

fn square(size: &str, corners: Corners) -> Result<Tube> {
    match size.split(['x', 'X', '×']).collect::<Vec<_>>()[..] {
        [side, wall] => Tube::parse_rectangular(&format!("{side}x{side}x{wall}"), corners),
        _ => Err(Error::invalid("square tube", size, "side x wall in mm, for example 40x2")),
    }
}

/// The criteria of a level: the usual ones of `shared/criteria.csv`, where the case does not say otherwise.
fn criteria(raw: &raw::CriteriaFields, level: Level, defaults: &Defaults) -> Result<Criteria> {
    let (usual, level) = (defaults.criteria(level), level.id());
    let path = |key: &str| format!("member.{level}.{key}");
    let criteria = Criteria {
        node_grade: grade(raw.node_grade.as_deref(), usual.node_grade, &path("node_grade"))?,
        run_grade: grade(raw.run_grade.as_deref(), usual.run_grade, &path("run_grade"))?,
        mean_wall_loss_pct: limit(raw.mean_wall_loss_pct.as_ref(), usual.mean_wall_loss_pct),
        deepest_wall_loss_pct: limit(raw.deepest_wall_loss_pct.as_ref(), usual.deepest_wall_loss_pct),
        section_modulus_loss_pct: limit(
            raw.section_modulus_loss_pct.as_ref(),
            usual.section_modulus_loss_pct,
        ),
    };
    at(&format!("member.{level}"), criteria.checked())
}

fn grade(given: Option<&str>, usual: Option<RustGrade>, path: &str) -> Result<Option<RustGrade>> {
    match given {
        None => Ok(usual),
        Some(NONE) => Ok(None),
        Some(text) => at(path, text.parse()).map(Some),
    }
}

fn limit(given: Option<&raw::Limit>, usual: Option<f64>) -> Option<f64> {
    match given {
        None => usual,
        Some(raw::Limit::Off(_)) => None,
        Some(raw::Limit::Percent(percent)) => Some(*percent),
    }
}
