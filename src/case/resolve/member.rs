//! The tube and the thresholds of the member.

use super::at;
use crate::case::raw;
use crate::case::schema::NONE;
use crate::coating::RustGrade;
use crate::error::{Error, Result};
use crate::forecast::scenario::{Criteria, Member};
use crate::reference;
use crate::section::{Corners, Tube};

const CRITERIA: &str = include_str!("../../../shared/criteria.csv");

pub(super) fn resolve(raw: &raw::Member) -> Result<Member> {
    let rework = criteria(&raw.rework, "rework")?;
    if rework == NOT_ASKED {
        return Err(Error::invalid("member.rework", "every criterion \"none\"", "at least one criterion"));
    }
    let caution = criteria(&raw.caution, "caution")?;
    Ok(Member {
        tube: tube(raw)?,
        yield_n_mm2: raw.yield_n_mm2,
        nodes: raw.nodes,
        rework,
        assessment: caution,
    })
}

const NOT_ASKED: Criteria = Criteria {
    node_grade: None,
    run_grade: None,
    mean_wall_loss_pct: None,
    deepest_wall_loss_pct: None,
    section_modulus_loss_pct: None,
};

fn tube(raw: &raw::Member) -> Result<Tube> {
    let size = raw.size_mm.as_str();
    let corners = match raw.corners.unwrap_or(raw::Corners::ColdFormed) {
        raw::Corners::ColdFormed => Corners::ColdFormed,
        raw::Corners::HotFinished => Corners::HotFinished,
    };
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
fn criteria(raw: &raw::Criteria, level: &str) -> Result<Criteria> {
    let usual = usual(level)?;
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

#[derive(serde::Deserialize)]
struct Row {
    level: String,
    criterion: String,
    value: f64,
}

fn usual(level: &str) -> Result<Criteria> {
    let rows: Vec<Row> = reference::rows("criteria.csv", CRITERIA)?;
    let value = |criterion: &str| {
        rows.iter().find(|row| row.level == level && row.criterion == criterion).map(|row| row.value)
    };
    let grade = |criterion: &str| value(criterion).map(|number| RustGrade::new(number as u8)).transpose();
    Ok(Criteria {
        node_grade: grade("node_grade")?,
        run_grade: grade("run_grade")?,
        mean_wall_loss_pct: value("mean_wall_loss_pct"),
        deepest_wall_loss_pct: value("deepest_wall_loss_pct"),
        section_modulus_loss_pct: value("section_modulus_loss_pct"),
    })
}
