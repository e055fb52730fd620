"""Questions about cases: forecast, comparison, explanation, exposure.

Keyword arguments that several of them take:

``histories``
    Histories to compute, rounded up to whole replicates of 16,384, two at least [-].
``seed``
    Seed of the random numbers [-].
``horizon_a``
    Years that are followed, 1 to 60 [a].
``threads``
    Threads, 1 to 1024; as many as processors where not given [-]. The numbers do not depend on it.
``progress``
    Called now and then with what is done and the total. Where it returns ``False`` the work stops with the answer so far.

Other threads of Python go on meanwhile, and Ctrl-C stops the work with ``KeyboardInterrupt``. What cannot be answered raises
:class:`ferrowane.Error`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any, TypeAlias, overload

from . import _native
from ._native import Answers, Comparison, Explanation, Exposure, Forecast, Posterior, Sensitivity

#: A case: a mapping with the keys of a case file, its text in TOML (of more than one line), or its path. A weather file that
#: it names is looked for from the folder of the file, of other cases from the current one.
Case: TypeAlias = Mapping[str, Any] | str | os.PathLike[str]
#: Called with what is done and the total; ``False`` stops the work.
Progress: TypeAlias = Callable[[int, int], Any]


def forecast(
    case: Case,
    *,
    histories: int = 131_072,
    seed: int = 1,
    horizon_a: int = 40,
    precision_a: float | None = None,
    as_of: date | str | None = None,
    criteria: str | None = None,
    posterior: Posterior | str | os.PathLike[str] | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Forecast:
    """When does the member of a case need rework, and how sure is that?

    Monte Carlo over what is not known (outer draws) and what differs between cars and years (inner histories). What was
    seen on the car, its ``condition``, moves the answer (importance weights, or tempered particles where they agree badly).

    :param precision_a: half-width wanted of the 95 % interval of the median, 0.01 to 10 [a]; histories are added until it
        is met
    :param as_of: day the answer is read on; over the whole life where not given. The command line takes today for a car of
        a year or more, ``--whole-life`` to leave it out.
    :param criteria: levels of a country stated beside rework and caution, such as ``nl``
    :param posterior: what :func:`ferrowane.tune` learned from a fleet, or the folder it was saved to, in place of the priors
        of what all cars share; refused where its runs do not agree
    """
    options: dict[str, Any] = {"histories": histories, "seed": seed, "horizon_a": horizon_a, "precision_a": precision_a}
    options |= {"as_of": as_of, "criteria": criteria, "posterior": posterior, "threads": threads, "progress": progress}
    return _native.forecast(case, options)


def read_case(case: Case) -> dict[str, Any]:
    """A case as a ``dict`` with the keys of a case file; dates become text. Its form is checked, not yet its meaning."""
    return _native.read_case(case)


def update(case: Case, conditions: Sequence[Mapping[str, Any]], **options: Any) -> Forecast:
    """The forecast of a case given what was seen on the car, beside what the case itself says.

    :param conditions: what was seen, each with the keys of a ``[[coating.condition]]`` of a case: ``date`` or ``age_a`` [a],
        ``part`` (``run`` or ``node``), ``grade`` (``Ri 0`` to ``Ri 5``, ISO 4628-3), and where known ``inspector`` and the
        number of the ``node``
    :param options: those of :func:`forecast`
    """
    looked_at = read_case(case)
    coating = looked_at["coating"]
    known = [*coating.get("condition", []), *conditions]
    return forecast({**looked_at, "coating": {**coating, "condition": known}}, **options)


def compare(
    cases: Case | Sequence[Case],
    *,
    vary: str | None = None,
    start: date | str | None = None,
    histories: int = 131_072,
    seed: int = 1,
    horizon_a: int = 40,
    criteria: str | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """What would another choice move, by how many years, and how surely?

    Every case sees the same random numbers, so the years gained are those of each history; the first case is the reference.

    :param cases: two or more cars, or one with ``vary``
    :param vary: what is varied of one car, ``storage``, ``wash``, ``treatment``, ``climate`` or ``coating``, after ``=`` the
        choices wanted: ``"storage=carport,garage_tight"``, ``"climate=reading,phoenix"``
    :param start: date from which storage, washing or treatment differ; the last storage period where not given, for
        treatments the last known condition
    """
    every = [cases] if isinstance(cases, (str, os.PathLike, Mapping)) else list(cases)
    options: dict[str, Any] = {"vary": vary, "start": start, "histories": histories, "seed": seed, "horizon_a": horizon_a}
    options |= {"criteria": criteria, "threads": threads, "progress": progress}
    return _native.compare(every, options)


@overload
def explain(
    first: Case,
    second: None = None,
    *,
    by_input: bool = False,
    seed: int = 1,
    horizon_a: int = 40,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Sensitivity: ...


@overload
def explain(
    first: Case,
    second: Case,
    *,
    by: float | date | str | None = None,
    histories: int | None = None,
    seed: int = 1,
    horizon_a: int = 40,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Explanation: ...


def explain(
    first: Case,
    second: Case | None = None,
    *,
    by: float | date | str | None = None,
    by_input: bool = False,
    histories: int | None = None,
    seed: int = 1,
    horizon_a: int = 40,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Explanation | Sensitivity:
    """Why are two cars years apart? Or, of one car: what carries its uncertainty?

    Two cars: the difference is split exactly over what differs (Shapley values). One car: shares of the variance of the age
    at rework (Sobol indices), by group of inputs or by single input.

    :param by: of two cars, the age [a] or date of the probability of rework; half-way between the medians where not given
    :param by_input: of one car, shares by single input
    :param histories: of two cars, histories a car [-]; 131,072 where not given, fewer where more than four things differ
    """
    options: dict[str, Any] = {"seed": seed, "horizon_a": horizon_a, "threads": threads, "progress": progress}
    if second is None:
        refuse({"by": by, "histories": histories}, "for two cars only")
        return _native.sensitivity(first, options | {"by_input": by_input})
    refuse({"by_input": by_input or None}, "for one car only")
    return _native.explain(first, second, options | {"by": by, "histories": histories})


def exposure(case: Case, *, period: int | None = None) -> Exposure:
    """What does the steel of a case go through in its store, month by month, next to open air?

    :param period: storage period, counted from 1; the last one where not given [-]
    """
    return _native.exposure(case, {"period": period})


def batch(
    table: Any,
    *,
    base: Mapping[str, Any] | str | os.PathLike[str] | None = None,
    histories: int = 131_072,
    seed: int = 1,
    horizon_a: int = 40,
    posterior: Posterior | str | os.PathLike[str] | None = None,
    threads: int | None = None,
    progress: Callable[[int, int | None], Any] | None = None,
) -> Answers:
    """Many cars at once: a table of cases in, a table of answers out, a row a car or a cell of a grid.

    Each row is answered as :func:`forecast` answers its case with the same seed and histories, so it does not matter how a
    table is cut. A row that cannot be answered has the reason in its column ``error`` and stops nothing. Rows are read,
    computed and handed out 256 at a time, so that memory does not grow with the table.

    :param table: anything that hands out Arrow (a data frame of polars or pandas 3, a table or stream of pyarrow); a column is
        a key of a case with entries of lists numbered from 0, such as ``member.size_mm`` or ``storage[0].arrangement``. A
        cell without a value is a key left out, or as ``base`` has it. Further columns: ``ref`` names the row, ``group`` is
        what answers are added up by, ``seed`` is a seed of its own [-], ``latitude_deg`` and ``longitude_deg`` a place [°].
    :param base: case whose keys hold where the table has none
    :param posterior: as that of :func:`forecast`
    :param progress: called now and then with the rows that are done and all of them, ``None`` of a stream; where it returns
        ``False`` the iterator ends, with whole rows
    :return: an iterator over tables with the columns of the command line's ``batch`` (``ferrowane batch --columns``) and
        ``rework_by_year_e9``, the probability of rework by each year of age from 1 to the horizon in whole 10⁻⁹;
        ``read_all()`` and ``to_pyarrow()`` take all that is left
    """
    total = len(table) if hasattr(table, "__len__") else None
    options: dict[str, Any] = {"base": base, "histories": histories, "seed": seed, "horizon_a": horizon_a}
    options |= {"posterior": posterior}
    return _native.batch(table, options | {"threads": threads, "progress": progress, "total": total})


def refuse(options: Mapping[str, Any], allowed: str) -> None:
    """Refuses options that do not go with the question."""
    for name, value in options.items():
        if value is not None:
            raise _native.refused(name, "given", allowed)
