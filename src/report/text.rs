//! The answer in a terminal: when, how sure, why, and what must not be done with it, in under thirty lines of text.
//!
//! Frequencies come first and share the denominator 20; a likelihood word never stands without its number; ages are
//! in half years, or coarser where their standard error is.

use crate::forecast::day::lost;
use crate::forecast::outcome::{CorrosivityShares, Forecast, PeriodSummary, Quantiles, YearQuantiles};
use crate::report::as_of::{self, in_tenths};
use crate::report::flag_words::{caution, flags};
use crate::report::forecast_json::arrangement;
use crate::report::learned::learned;
use crate::report::levels;
use crate::report::notice::NOTICE;
use crate::report::number_words::{
    age, calendar_year, criterion, decimal_year, frequency, percent, significant,
};

/// Columns of the text.
pub(crate) const COLUMNS: usize = 100;
/// Width of the headings at the left.
const INDENT: usize = 13;
/// Flags shown; the rest is counted.
const FLAGS: usize = 3;

/// The short answer, at most 100 columns wide, ending in a line break: from the day of [`Forecast::as_of`] on, else over the whole
/// life.
#[must_use]
pub fn answer(forecast: &Forecast) -> String {
    let as_of = forecast.as_of.as_ref();
    let old = as_of.map_or_else(String::new, |day| format!(", {:.1} a old on {}", day.age_a, day.date));
    let mut lines = vec![shortened(&forecast.title, COLUMNS)];
    let from = format!(
        "First registered {}{old}; {} histories, seed {}; 5–95 % in brackets.",
        forecast.first_registration, forecast.histories, forecast.seed
    );
    lines.extend(indented("", &from, 0));
    lines.extend(learned(forecast.learned_from.as_deref()));
    lines.extend(as_of.map_or_else(|| when(forecast), |day| as_of::due(forecast, day)));
    let mut parts = vec![
        ("How sure", how_sure(forecast)),
        ("First met", comes_first(forecast)),
        ("Corrosivity", corrosivity(forecast)),
    ];
    let at_rework = ("At rework", at_rework(forecast));
    parts.extend(match as_of {
        None => vec![("Losses", losses(forecast)), at_rework, ("Caution", assessment(forecast))],
        Some(day) => vec![
            ("Losses", as_of::losses(forecast, day)),
            ("Grades", as_of::grades(day)),
            at_rework,
            ("Caution", as_of::assessment(day)),
        ],
    });
    let levels = levels::paragraphs(forecast).into_iter().enumerate();
    parts.extend(levels.map(|(row, words)| (if row == 0 { "Levels" } else { "" }, words)));
    lines.extend(parts.iter().flat_map(|(heading, words)| paragraph(heading, words)));
    lines.push(String::new());
    lines.extend(storage_periods(&forecast.storage_periods));
    lines.push(String::new());
    lines.extend(remarks(forecast));
    lines.join("\n") + "\n"
}

fn when(f: &Forecast) -> Vec<String> {
    let registration = decimal_year(f.first_registration);
    let horizon = f64::from(f.horizon_a);
    let row = |share: &str, reached: Option<f64>, error: Option<f64>, note: &str| {
        let by = reached.map_or_else(|| format!("> {} a", f.horizon_a), |a| age(a, error));
        let after = if reached.is_some() { "" } else { "after " };
        let year = calendar_year(registration, reached.unwrap_or(horizon));
        format!("  {share} need rework by {by:>7} ({after}{year}){note}")
    };
    let (t, e) = (&f.time_to_rework_a, &f.standard_error);
    vec![
        "Tubes like this one, stored like this:".to_owned(),
        row("1 in 10", t.p10, e.p10, ", the planning age"),
        row("5 in 10", t.p50, e.p50, ", the median"),
        row("9 in 10", t.p90, e.p90, ""),
        format!("  not within {} a: {}", f.horizon_a, in_tenths(f.share_beyond_horizon)),
    ]
}

fn how_sure(f: &Forecast) -> String {
    let computed = match (f.standard_error.median_half_width_a, f.standard_error.p10) {
        (Some(half), _) => format!("computed to ±{} a at the median (95 %)", significant(half, 1)),
        (None, Some(error)) => {
            format!("computed to ±{} a at 1 in 10 (one standard error)", significant(error, 1))
        }
        (None, None) => "no standard error: no quantile lies within the horizon".to_owned(),
    };
    let much = match f.epistemic_share {
        share if share > 0.66 => "mostly",
        share if share >= 0.33 => "partly",
        _ => "hardly",
    };
    format!(
        "{computed}; the spread is {much} lack of knowledge ({} of its variance), which looking at the car can \
         shrink; the rest is scatter.",
        percent(f.epistemic_share)
    )
}

fn comes_first(f: &Forecast) -> String {
    let mut shares: Vec<(&str, f64)> =
        f.first_criterion_shares.iter().map(|(n, s)| (n.as_str(), *s)).collect();
    shares.retain(|(_, share)| *share > 0.0);
    shares.sort_by(|a, b| b.1.total_cmp(&a.1));
    if shares.is_empty() {
        return format!("no criterion is met within {} a.", f.horizon_a);
    }
    let named: Vec<String> =
        shares.iter().map(|(n, s)| format!("{} {}", criterion(n), percent(*s))).collect();
    format!("{} (of those that reach rework).", named.join(", "))
}

fn corrosivity(f: &Forecast) -> String {
    let CorrosivityShares { C1, C2, C3, C4, C5, CX } = f.corrosivity_shares;
    let mut shares = vec![("C1", C1), ("C2", C2), ("C3", C3), ("C4", C4), ("C5", C5), ("CX", CX)];
    shares.retain(|(_, share)| *share >= 0.05);
    shares.sort_by(|a, b| b.1.total_cmp(&a.1));
    let named: Vec<String> =
        shares.iter().map(|(name, share)| format!("{name} {}", percent(*share))).collect();
    format!(
        "{}; bare steel: {} µm in its first year.",
        named.join(", "),
        spread(&f.first_year_rate_um_per_a, 1.0)
    )
}

/// The losses at the planning age, or at the horizon when that lies beyond it.
fn losses(f: &Forecast) -> String {
    let (at, name) = match f.time_to_rework_a.p10 {
        Some(planning) => (planning, "the planning age"),
        None => (f64::from(f.horizon_a), "the horizon"),
    };
    let words = |series: &[YearQuantiles]| loss(&lost(series, at), f.thresholds.wall_mm);
    let (mean, deepest) = (words(&f.mean_loss_um), words(&f.deepest_loss_um));
    format!("at {}, {name}: mean {mean}; deepest {deepest}.", age(at, f.standard_error.p10))
}

fn at_rework(f: &Forecast) -> String {
    let state = &f.at_rework;
    let Some(bending) = state.bending_capacity_left else {
        return format!("not reached within {} a.", f.horizon_a);
    };
    let deepest =
        state.deepest_loss_um.map_or_else(String::new, |s| format!("; deepest loss {} µm", spread(&s, 1.0)));
    let above =
        state.above_90_pct.map_or_else(String::new, |p| format!("; over 90 % left in {}", frequency(p)));
    format!("bending capacity left {} %{deepest}{above}.", spread(&bending, 100.0))
}

fn assessment(f: &Forecast) -> String {
    let (at, name) = match f.time_to_rework_a.p50 {
        Some(median) => (median, "the median rework age"),
        None => (f64::from(f.horizon_a), "the horizon"),
    };
    // The first whole year not before that age, so that the probability is never stated too low.
    let reached =
        f.assessment_by_year.iter().find(|c| f64::from(c.year) >= at).or(f.assessment_by_year.last());
    reached.map_or_else(
        || "no assessment level was given.".to_owned(),
        |c| {
            format!(
                "level (have it assessed first) reached by {} a, {name}: {}.",
                c.year,
                in_tenths(c.probability)
            )
        },
    )
}

/// A loss of wall [µm], and its middle as a share of the wall.
pub(crate) fn loss(loss_um: &Quantiles, wall_mm: f64) -> String {
    let pct = loss_um.p50 / (wall_mm * 1000.0) * 100.0;
    format!("{} µm, {} % of the wall", spread(loss_um, 1.0), significant(pct, 2))
}

pub(crate) fn spread(s: &Quantiles, factor: f64) -> String {
    let [low, mid, high] = [s.p05, s.p50, s.p95].map(|v| significant(v * factor, 2));
    format!("{mid} ({low} to {high})")
}

fn storage_periods(storage_periods: &[PeriodSummary]) -> Vec<String> {
    let heading = format!(
        "{:<37}{:>11}{:>7}{:>8}{:>8}{:>9}{:>8}  {}",
        "Storage", "age", "steel", "steel", "film", "salt", "rate", "category"
    );
    let units = format!(
        "{:<37}{:>11}{:>7}{:>8}{:>8}{:>9}{:>8}",
        "", "[a]", "[°C]", "[% RH]", "[h/a]", "[mg/m²]", "[µm/a]"
    );
    [heading, units].into_iter().chain(storage_periods.iter().map(period)).collect()
}

fn period(s: &PeriodSummary) -> String {
    let half = |a: f64| format!("{}", (2.0 * a).round() / 2.0);
    let from = half(s.from_age_a);
    let ages = s.until_age_a.map_or_else(|| format!("{from} on"), |u| format!("{from} to {}", half(u)));
    let category = s
        .indoor_category
        .map_or_else(|| format!("{:?}", s.category), |indoor| format!("{:?}, {indoor:?}", s.category));
    format!(
        "{:<37}{ages:>11}{:>7}{:>8}{:>8}{:>9}{:>8}  {category}",
        shortened(&arrangement(s), 36),
        significant(s.steel_temperature_c, 2),
        significant(s.steel_humidity_pct, 2),
        significant(s.film_h_per_a, 2),
        significant(s.winter_chloride_mg_m2, 2),
        significant(s.rate_um_per_a, 2),
    )
}

fn remarks(f: &Forecast) -> Vec<String> {
    let flags = flags(&f.flags);
    let mut lines: Vec<String> = flags.iter().take(FLAGS).flat_map(|flag| paragraph("Flag", flag)).collect();
    if flags.len() > FLAGS {
        lines.extend(paragraph("Flag", &format!("and {} more, in the JSON", flags.len() - FLAGS)));
    }
    if f.as_of.is_none() {
        // from a day on, the heading Caution says it
        lines.extend(f.cautions.iter().flat_map(|one| paragraph("Note", &caution(one))));
    }
    lines.extend(paragraph("Note", NOTICE));
    lines
}

pub(crate) fn shortened(words: &str, room: usize) -> String {
    if words.chars().count() <= room {
        return words.to_owned();
    }
    words.chars().take(room - 1).collect::<String>().trim_end().to_owned() + "…"
}

/// A heading and its words, broken at spaces to the width of the text.
pub(crate) fn paragraph(heading: &str, words: &str) -> Vec<String> {
    indented(heading, words, INDENT)
}

/// The same with another width of the heading.
pub(crate) fn indented(heading: &str, words: &str, indent: usize) -> Vec<String> {
    let mut lines = vec![format!("{heading:<indent$}")];
    for word in words.split_whitespace() {
        let last = lines.last().map_or(0, |line| line.chars().count());
        if last > indent && last + 1 + word.chars().count() > COLUMNS {
            lines.push(" ".repeat(indent));
        }
        if let Some(line) = lines.last_mut() {
            if line.chars().count() > indent {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines
}
