//! The ages of a picture that are past on the day of the answer: a grey ground up to a line, and their entry in the key.

use crate::error::Result;
use crate::forecast::Forecast;
use crate::report::marks::{Canvas, fill, line, pen};
use crate::report::palette::{MUTED, PAPER, PAST};
use crate::report::panel::{Panel, Sample};
use jiff::civil::Date;

/// The past of a car on a day.
pub(crate) struct Past {
    /// Age of the car on the day [a].
    pub(crate) until_a: f64,
    pub(crate) date: Date,
    words: String,
}

impl Past {
    /// The past of a forecast that is read on a day.
    pub(crate) fn new(forecast: &Forecast) -> Option<Self> {
        forecast.as_of.as_ref().map(|as_of| Self {
            until_a: as_of.age_a,
            date: as_of.date,
            words: format!("until {}", as_of.date),
        })
    }

    /// The ground of the past years of a panel; the line at its end is for the end, above the curves.
    pub(crate) fn ground(past: Option<&Self>, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let Some(past) = past else { return Ok(()) };
        let x = panel.x(past.until_a);
        let corners =
            [(panel.left, panel.top), (x, panel.top), (x, panel.bottom), (panel.left, panel.bottom)];
        fill(canvas, &corners, PAST)
    }

    /// The day, as a line.
    pub(crate) fn line(past: Option<&Self>, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let Some(past) = past else { return Ok(()) };
        let x = panel.x(past.until_a);
        line(canvas, &[(x, panel.top), (x, panel.bottom)], pen(MUTED, 1.4))
    }

    /// The day over fills of any lightness: white under grey.
    pub(crate) fn line_on_fills(past: Option<&Self>, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let Some(Self { until_a, .. }) = past else { return Ok(()) };
        let x = panel.x(*until_a);
        line(canvas, &[(x, panel.top), (x, panel.bottom)], pen(PAPER, 3.6))?;
        Self::line(past, canvas, panel)
    }

    /// Its entry in the key of a picture.
    pub(crate) fn entry(past: Option<&Self>) -> Option<(Sample, &str)> {
        past.map(|past| (Sample::Fill(PAST), past.words.as_str()))
    }
}
