//! When are the levels of a country or rule reached? A few lines for a terminal, of the set that the case names.

use crate::forecast::Forecast;
use crate::forecast::outcome::LevelReached;
use crate::model::Level;
use crate::report::number_words::{age, calendar_year, criterion, decimal_year, frequency, significant};

/// What stands under the levels of any rule.
pub(crate) const CAUTION: &str =
    "Whoever inspects the car decides, by the law of the day; these are chances of what would be found.";

/// The set, each of its levels, and the caution; nothing where the case names no set.
pub(crate) fn paragraphs(forecast: &Forecast) -> Vec<String> {
    let Some(set) = &forecast.criteria_set else { return Vec::new() };
    let levels = of_set(forecast).map(|level| reached(forecast, level));
    let heading = format!("{} ({}).", set.title, set.id);
    [heading].into_iter().chain(levels).chain([CAUTION.to_owned()]).collect()
}

/// The levels that the set adds to rework and caution, which stand elsewhere.
fn of_set(forecast: &Forecast) -> impl Iterator<Item = &LevelReached> {
    let usual = [Level::Rework, Level::Assessment].map(Level::id);
    forecast.levels.iter().filter(move |level| !usual.contains(&level.name.as_str()))
}

/// One line of a case among others; nothing where it names no set.
pub(crate) fn of_case(name: &str, forecast: &Forecast) -> Option<String> {
    let set = forecast.criteria_set.as_ref()?;
    let levels =
        of_set(forecast).map(|level| format!("{} 5 in 10 {}", level.name, by(forecast, level.p50_a)));
    Some(format!("{name}, {}: {}.", set.id, levels.collect::<Vec<_>>().join(", ")))
}

fn reached(forecast: &Forecast, level: &LevelReached) -> String {
    let limits: Vec<String> = level.limits.iter().map(|(name, limit)| limit_words(name, *limit)).collect();
    let ages = match level.p10_a {
        None => format!("fewer than 1 in 10 within {} a", forecast.horizon_a),
        Some(_) => [("1 in 10", level.p10_a), ("5 in 10", level.p50_a), ("9 in 10", level.p90_a)]
            .map(|(share, reached_a)| format!("{share} {}", by(forecast, reached_a)))
            .join(", "),
    };
    let chances = forecast.as_of.as_ref().map_or_else(String::new, |day| {
        let [now, soon] = day.p_levels.get(&level.name).copied().unwrap_or_default().map(frequency);
        format!("; by {} in {now}, within ten years after it in {soon}", day.date)
    });
    format!("{} ({}): {ages}{chances}.", level.name, limits.join(", "))
}

fn by(forecast: &Forecast, reached_a: Option<f64>) -> String {
    let registration = decimal_year(forecast.first_registration);
    match reached_a {
        Some(reached_a) => {
            format!("by {} ({})", age(reached_a, None), calendar_year(registration, reached_a))
        }
        None => format!("after {} a", forecast.horizon_a),
    }
}

fn limit_words(name: &str, limit: f64) -> String {
    match name {
        "node_grade" | "run_grade" => format!("{} Ri {limit}", criterion(name)),
        _ => format!("{} {} %", criterion(name), significant(limit, 3)),
    }
}
