"""Fleets: one with a known truth, what grades say of what all cars share, and how well grades are forecast by that.

A *fleet* is a :class:`ferrowane.Fleet`, the folder that ``ferrowane simulate`` or :meth:`ferrowane.Fleet.save` wrote, or the
file of a workshop's record. ``threads`` and ``progress`` are those of :mod:`ferrowane.questions`; where ``progress`` returns
``False`` here the work stops with :class:`ferrowane.Error`, as half of it is no answer.

Planning estimates only: no structural or roadworthiness assessment.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import Any

from . import _native
from ._native import Fleet, Posterior, Scores
from .questions import Case, Progress


def simulate(
    cars: int = 50,
    years: int = 8,
    *,
    cases: Case | Sequence[Case] = (),
    seed: int = 1,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Fleet:
    """A fleet with a known truth: what all cars share is drawn once from the priors, what is a car's own for each car.

    Cars are graded once a year from new by inspectors in turn, each with a lasting bias; some are waxed on the way.

    :param cars: number of cars, 1 to 10000 [-]
    :param years: years of yearly grades from new, 1 to 40 [a]
    :param cases: cases that the cars are like, taken in turn, their grades left out; the invented cars of the program where
        none is given
    :param seed: seed of the random numbers [-]
    """
    bases = [cases] if isinstance(cases, (str, os.PathLike, Mapping)) else list(cases)
    options: dict[str, Any] = {"cars": cars, "years": years, "seed": seed, "threads": threads, "progress": progress}
    return _native.simulate(bases, options)


def tune(
    fleet: Fleet | str | os.PathLike[str],
    *,
    runs: int = 4,
    particles: int = 2_048,
    hourly: int = 256,
    sets: int = 32,
    seed: int = 1,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Posterior:
    """What do the grades and wall readings of a fleet say of what all its cars share?

    Tempered particles under each dose-response function; what is a car's own is integrated out. Independent runs, each with
    hourly years and points of its own, say how far the numbers can be trusted: R-hat near 1, an effective sample size of 400
    or more; where they do not agree ask for more particles. Long work: what the command line sets down between two steps, to
    be carried on after a stop, is not set down here.

    :param runs: independent runs, 1 to 16 [-]
    :param particles: particles of a run under each function, 64 to 65536, rounded up to whole chains [-]
    :param hourly: points of the shared inputs that hourly years are run at, of each run, 32 to 1024 [-]
    :param sets: sets of 64 points over what is a car's own, 1 to 256 [-]
    :param seed: seed of the random numbers [-]
    """
    options: dict[str, Any] = {"runs": runs, "particles": particles, "hourly": hourly, "sets": sets, "seed": seed}
    return _native.tune(fleet, options | {"threads": threads, "progress": progress})


def score(
    fleet: Fleet | str | os.PathLike[str],
    posterior: Posterior | str | os.PathLike[str],
    *,
    draws: int = 256,
    seed: int = 1,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Scores:
    """How well are the grades of a fleet forecast by a posterior, by the priors and by the age alone?

    Every grade is forecast twice: without any grade of its car, and later grades of a car from its earlier ones. Cars that the
    posterior was fitted to are weighed as if it had not been.

    :param posterior: what :func:`tune` found, or the folder it was saved to
    :param draws: draws of the posterior that are used, 16 to 4096 [-]
    :param seed: seed of the random numbers [-]
    """
    return _native.score(fleet, posterior, {"draws": draws, "seed": seed, "threads": threads, "progress": progress})
