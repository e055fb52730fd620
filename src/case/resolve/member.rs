//! The tube and the thresholds of the member.

use super::at;
use crate::case::raw;
use crate::case::schema::NONE;
use crate::coating::RustGrade;
use crate::error::{Error, Result};
use crate::forecast::scenario::{Criteria, Member};
use crate::model::{CriteriaSet, Defaults, Level};
use crate::section::{Corners, Tube};
use std::sync::Arc;

pub(super) fn resolve(
    raw: &raw::MemberFields,
    levels: &raw::CriteriaSetFields,
    defaults: &Defaults,
) -> Result<Member> {
    let of_member =
        |raw, level: Level| criteria(raw, defaults.criteria(level), &format!("member.{}", level.id()));
    let rework = of_member(&raw.rework, Level::Rework)?;
    if rework == Criteria::default() {
        return Err(Error::invalid("member.rework", "every criterion \"none\"", "at least one criterion"));
    }
    let assessment = of_member(&raw.caution, Level::Assessment)?;
    let tube = tube(raw)?;
    Ok(Member {
        tube,
        yield_n_mm2: raw.yield_n_mm2,
        nodes: raw.nodes,
        length_m: raw.length_m,
        rework,
        assessment,
        set: set(levels, tube.wall_mm(), defaults)?.map(Arc::new),
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

/// The set a case names, with its levels as the case has them.
fn set(raw: &raw::CriteriaSetFields, wall_mm: f64, defaults: &Defaults) -> Result<Option<CriteriaSet>> {
    let own = [("advised", &raw.advised), ("fails", &raw.fails)];
    let mut own = own.into_iter().filter(|(_, fields)| **fields != raw::CriteriaFields::default());
    let Some(id) = &raw.set else {
        let without = |(name, _)| {
            Error::invalid(format!("criteria.{name}"), "a level without a set", "`set` beside it")
        };
        return own.next().map_or(Ok(None), |level| Err(without(level)));
    };
    let mut set = defaults.set(id, wall_mm)?;
    for (name, fields) in own {
        let path = format!("criteria.{name}");
        let Some(level) = set.levels.iter_mut().find(|level| level.name == name) else {
            return Err(Error::invalid(
                path,
                format!("a level of the set {}", set.id),
                "a set that has this level",
            ));
        };
        level.criteria = criteria(fields, level.criteria, &path)?;
    }
    let ordered = set.levels.windows(2).all(|pair| pair[0].criteria.is_met_before(&pair[1].criteria));
    if !ordered {
        return Err(Error::invalid(
            "criteria.fails",
            "less than is advised on",
            "what is met no earlier than `advised`",
        ));
    }
    Ok(Some(set))
}

/// The criteria of a level: the usual ones of the tables, where the case does not say otherwise.
fn criteria(raw: &raw::CriteriaFields, usual: Criteria, level: &str) -> Result<Criteria> {
    let path = |key: &str| format!("{level}.{key}");
    let criteria = Criteria {
        node_grade: grade(raw.node_grade.as_deref(), usual.node_grade, &path("node_grade"))?,
        run_grade: grade(raw.run_grade.as_deref(), usual.run_grade, &path("run_grade"))?,
        mean_wall_loss_pct: limit(raw.mean_wall_loss_pct.as_ref(), usual.mean_wall_loss_pct),
        deepest_wall_loss_pct: limit(raw.deepest_wall_loss_pct.as_ref(), usual.deepest_wall_loss_pct),
        section_modulus_loss_pct: limit(
            raw.section_modulus_loss_pct.as_ref(),
            usual.section_modulus_loss_pct,
        ),
        perforated_pct: limit(raw.perforated_pct.as_ref(), usual.perforated_pct),
    };
    at(level, criteria.checked())
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
