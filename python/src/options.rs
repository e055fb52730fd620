//! How an answer is to be computed: the keyword arguments that the functions in `ferrowane/` hand over in a dict.

use crate::failure::raised;
use crate::running::Running;
use ferrowane::error::Error;
use ferrowane::forecast::scenario::Settings;
use jiff::civil::Date;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// Keyword arguments, each checked where it is read.
pub(crate) struct Options<'a, 'py>(pub(crate) &'a Bound<'py, PyDict>);

impl<'py> Options<'_, 'py> {
    /// The value of a key; `None` where it is missing or `None`.
    pub(crate) fn get(&self, key: &str) -> PyResult<Option<Bound<'py, PyAny>>> {
        Ok(self.0.get_item(key)?.filter(|value| !value.is_none()))
    }

    fn read<T>(&self, key: &str, allowed: &str) -> PyResult<Option<T>>
    where
        T: for<'a> FromPyObject<'a, 'py>,
    {
        let Some(value) = self.get(key)? else { return Ok(None) };
        let refused = || raised(&Error::invalid(key, value.to_string(), allowed));
        value.extract().map(Some).map_err(|_| refused())
    }

    /// A count.
    pub(crate) fn whole(&self, key: &str) -> PyResult<Option<u64>> {
        self.read(key, "a whole number from 0 on")
    }

    /// A count that has to be given.
    pub(crate) fn count(&self, key: &str) -> PyResult<u32> {
        Ok(self.read(key, "a whole number from 0 on")?.unwrap_or_default())
    }

    /// A number of things in memory.
    pub(crate) fn size(&self, key: &str) -> PyResult<Option<usize>> {
        self.read(key, "a whole number from 0 on")
    }

    /// A number, in the unit of its key.
    pub(crate) fn number(&self, key: &str) -> PyResult<Option<f64>> {
        self.read(key, "a number")
    }

    /// A truth value.
    pub(crate) fn truth(&self, key: &str) -> PyResult<bool> {
        Ok(self.read(key, "True or False")?.unwrap_or(false))
    }

    /// A text; dates become `YYYY-MM-DD`.
    pub(crate) fn text(&self, key: &str) -> PyResult<Option<String>> {
        let Some(value) = self.get(key)? else { return Ok(None) };
        if let Ok(date) = value.call_method0("isoformat") {
            return date.extract().map(Some);
        }
        self.read(key, "text")
    }

    /// A day.
    pub(crate) fn date(&self, key: &str) -> PyResult<Option<Date>> {
        let Some(text) = self.text(key)? else { return Ok(None) };
        let date: Result<Date, _> = text.parse();
        date.map(Some).map_err(|_| raised(&Error::invalid(key, text, "a date, or text as YYYY-MM-DD")))
    }

    /// Seed, histories, horizon and precision; the usual ones where they are not given.
    pub(crate) fn settings(&self) -> PyResult<Settings> {
        let usual = Settings::default();
        Ok(Settings {
            seed: self.whole("seed")?.unwrap_or(usual.seed),
            histories: self.whole("histories")?.unwrap_or(usual.histories),
            horizon_a: self.horizon_a()?.unwrap_or(usual.horizon_a),
            precision_a: self.number("precision_a")?,
        })
    }

    /// Horizon [a].
    pub(crate) fn horizon_a(&self) -> PyResult<Option<u32>> {
        self.read("horizon_a", "a whole number of years, 1 to 60")
    }

    /// Threads, and who hears of progress.
    pub(crate) fn running(&self) -> PyResult<Running<'py>> {
        Ok(Running {
            threads: self.read("threads", "1 to 1024")?,
            progress: self.get("progress")?,
            part: None,
        })
    }
}
