//! Is a rain column rain? Depths gathered over several hours are spread over them; columns that cannot be rain are left out.
//!
//! Synoptic stations report depths of 3, 6 or 24 hours beside those of an hour; what the hours of a period have not
//! reported themselves is shared out evenly among them. A column of zeros means that nothing was measured (weather files
//! of the international series carry such columns). So does one that no place on Earth could have: more than 12 m in a year
//! (the wettest station means 11.9 m, MEMORY-H), or more than 6 mm in the mean hour with rain (assumption: the wettest
//! tropical stations have 3 to 4), as when tenths of a millimetre stand in a column of millimetres.

use super::cells::Cell;
use super::cells::Doubts;
use super::cells::RAIN;
use super::cells::RAIN_GATHERED;
use super::record::{GapReport, RainLeftOut};
use crate::error::Result;

/// Deepest rain of a year [mm].
const YEAR_MAX_MM: f64 = 12_000.0;
/// Deepest mean of the hours with rain [mm].
const MEAN_WET_HOUR_MAX_MM: f64 = 6.0;
/// Longest time over which a depth may have been gathered [h].
const PERIOD_MAX_H: usize = 24;

/// A depth gathered over the hours up to and with one.
#[derive(Clone, Copy)]
pub(super) struct Gathered {
    /// Index of the hour of the reading.
    pub(super) hour: usize,
    /// Hours over which it was gathered [h]
    pub(super) period_h: usize,
    /// Depth [mm]
    pub(super) rain_mm: f64,
}

/// A depth and the hours over which it was gathered, as written: a period of zero stands for an hour, an unknown one for no
/// reading.
pub(super) fn depth(
    cell: &Cell,
    period: &str,
    (missing, doubts): (&[f64], &mut Doubts),
) -> Result<(Option<f64>, usize)> {
    let period_h = match period.parse::<f64>() {
        Ok(hours) if hours.abs() < 1.5 => 1,
        Ok(hours) if (1.5..=PERIOD_MAX_H as f64).contains(&hours) => hours.round() as usize,
        Err(_) if period.is_empty() => 1,
        _ => return Ok((None, 1)),
    };
    let range = if period_h == 1 { &RAIN } else { &RAIN_GATHERED };
    Ok((cell.reading(range, missing, doubts)?, period_h))
}

/// Shares each depth out among the hours of its period that have no reading, short periods first.
pub(super) fn share_out(rain_mm: &mut [Option<f64>], gathered: &[Gathered]) {
    let mut shortest_first = gathered.to_vec();
    shortest_first.sort_by_key(|one| one.period_h);
    for one in shortest_first {
        let hours = || (0..one.period_h).map(|back| (one.hour + rain_mm.len() - back) % rain_mm.len());
        let open: Vec<usize> = hours().filter(|hour| at(rain_mm, *hour).is_none()).collect();
        let known: f64 = hours().filter_map(|hour| at(rain_mm, hour)).sum();
        let share = (one.rain_mm - known).max(0.0) / open.len().max(1) as f64;
        for hour in open {
            if let Some(cell) = rain_mm.get_mut(hour) {
                *cell = Some(share);
            }
        }
    }
}

fn at(rain_mm: &[Option<f64>], hour: usize) -> Option<f64> {
    rain_mm.get(hour).copied().flatten()
}

/// The column where it can be rain; the report says why not. `hours` of a row [h], `years` of the record [a].
pub(super) fn credible(
    rain_mm: Vec<f64>,
    (hours, years): (f64, usize),
    report: &mut GapReport,
) -> Option<Vec<f64>> {
    let sum: f64 = rain_mm.iter().sum();
    let wet = rain_mm.iter().filter(|mm| **mm > 0.0).count();
    let deepest_year = sum / years.max(1) as f64 > YEAR_MAX_MM;
    if wet == 0 {
        report.rain_left_out = Some(RainLeftOut::AllZero);
    } else if deepest_year || sum > MEAN_WET_HOUR_MAX_MM * hours * wet as f64 {
        report.rain_left_out = Some(RainLeftOut::Impossible);
    }
    report.rain_left_out.is_none().then_some(rain_mm)
}

#[cfg(test)]
mod tests {
    use super::{Gathered, credible, share_out};
    use crate::climate::record::{GapReport, RainLeftOut};

    /// 7 mm of six hours, of which two reported 1 and 2 mm themselves: 1 mm for each of the other four.
    #[test]
    fn closed_form_a_depth_of_six_hours_is_shared_out() {
        let mut rain = vec![None; 24];
        (rain[4], rain[5]) = (Some(1.0), Some(2.0));
        share_out(&mut rain, &[Gathered { hour: 7, period_h: 6, rain_mm: 7.0 }]);
        assert_eq!(rain[2..8], [Some(1.0), Some(1.0), Some(1.0), Some(2.0), Some(1.0), Some(1.0)]);
        assert_eq!((rain[1], rain[8]), (None, None));
    }

    #[test]
    fn property_a_longer_period_never_takes_from_a_shorter_one() {
        let mut rain = vec![None; 48];
        let day = Gathered { hour: 23, period_h: 24, rain_mm: 9.0 };
        let part = Gathered { hour: 11, period_h: 6, rain_mm: 12.0 };
        share_out(&mut rain, &[day, part]);
        let sum: f64 = rain.iter().flatten().sum();
        assert!((sum - 12.0).abs() < 1e-12 && rain[24..].iter().all(Option::is_none), "{sum}");
    }

    #[test]
    fn property_zeros_and_floods_are_not_rain() {
        let of = |rain: Vec<f64>| {
            let mut report = GapReport::default();
            let kept = credible(rain, (1.0, 1), &mut report);
            (kept.is_some(), report.rain_left_out)
        };
        assert_eq!(of(vec![0.0; 8760]), (false, Some(RainLeftOut::AllZero)));
        assert_eq!(of(vec![1.4; 8760]), (false, Some(RainLeftOut::Impossible)));
        let every_tenth = |mm: f64| (0..8760).map(|hour| if hour % 10 == 0 { mm } else { 0.0 }).collect();
        assert_eq!(of(every_tenth(5.9)), (true, None));
        assert_eq!(of(every_tenth(6.1)), (false, Some(RainLeftOut::Impossible)));
    }
}
