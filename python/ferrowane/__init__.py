"""Forecasts corrosion of coated thin-wall steel tube under road vehicles.

A *case* asks when a coated steel tube under a car will need rework. It is a ``dict``, a text in TOML, or the path of a file;
its keys are those of the command line's case files (``ferrowane new`` explains every one). The same case, seed and histories
give the command line's numbers, for any number of threads.

>>> import ferrowane
>>> found = ferrowane.forecast("demo/cases/street_daily.toml", histories=32_768, seed=1)
>>> found.median_a            # age at rework [a]
>>> found.band.to_pandas()    # probability of rework by year of age, with its band

Units stand last in every name: ``_a`` years, ``_um`` micrometres, ``_um_per_a`` micrometres a year, ``_mm`` millimetres,
``_pct`` per cent; shares and probabilities are 0 to 1. The equations and their sources stand in the documentation of the
library (``cargo doc``), each coefficient with its source in ``shared/``.

Planning estimates only: no structural or roadworthiness assessment. Local law, the maker's data and a licensed inspector
decide. Work under a raised car, blasting and coating need their usual precautions.
"""

from ._native import VERSION as __version__
from ._native import (
    Answers,
    Comparison,
    Error,
    Explanation,
    Exposure,
    Fleet,
    Forecast,
    Posterior,
    Scores,
    Sensitivity,
    Table,
)
from .fleets import score, simulate, tune
from .hand import Growth, Rate, Section, kinetics, rate, rates, section
from .questions import Case, batch, compare, explain, exposure, forecast, read_case, update

__all__ = [
    "Answers",
    "Case",
    "Comparison",
    "Error",
    "Explanation",
    "Exposure",
    "Fleet",
    "Forecast",
    "Growth",
    "Posterior",
    "Rate",
    "Scores",
    "Section",
    "Sensitivity",
    "Table",
    "__version__",
    "batch",
    "compare",
    "explain",
    "exposure",
    "forecast",
    "kinetics",
    "rate",
    "rates",
    "read_case",
    "score",
    "section",
    "simulate",
    "tune",
    "update",
]
