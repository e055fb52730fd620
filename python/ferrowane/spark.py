"""Whole fleets on a cluster: the rows of a Spark DataFrame, answered as :func:`ferrowane.batch` answers them.

A row is a car, a column a key of a case. An answer depends on its row, the base case and the seed only, so partitions, executors
and tasks that are run again change no bit of it. Sums by group are whole numbers, so they do not depend on the order in which
executors finish.

Needs ``pip install ferrowane[spark]`` on the driver and on every executor, whose Python ``PYSPARK_PYTHON`` names::

    spark-submit python/spark_batch.py demo/fleet.csv answers --histories 32768

Planning estimates only: no structural or roadworthiness assessment.
"""

# mypy: disable-error-code="import-untyped,import-not-found"
from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

import pyarrow

import ferrowane

if TYPE_CHECKING:
    from pyspark.sql import DataFrame

__all__ = ["batch", "totals"]


def batch(cars: DataFrame, **options: Any) -> DataFrame:
    """Answers every row, each task on one thread, as executors have a core for a task.

    :param cars: a row a car, with the columns of :func:`ferrowane.batch`; a column ``ref`` tells the answers apart, as rows
        have no order on a cluster
    :param options: those of :func:`ferrowane.batch` but ``threads``; a base case is read here and sent along
    :return: a row a car, with the columns of :func:`ferrowane.batch` but ``row``
    """
    from pyspark.sql.pandas.types import from_arrow_schema

    keys = cars.columns
    names = pyarrow.schema([(name, pyarrow.string()) for name in keys]).empty_table()
    answers = pyarrow.table(ferrowane.batch(names, threads=1, **options).empty()).drop_columns("row")

    def answered(batches: Iterable[pyarrow.RecordBatch]) -> Iterator[pyarrow.RecordBatch]:
        for rows in batches:
            for some in ferrowane.batch(rows.rename_columns(keys), threads=1, **options):
                yield pyarrow.record_batch(some).drop_columns(["row"])

    # a dot in the name of a column means a part of it to Spark
    plain = cars.toDF(*[f"key{place}" for place in range(len(keys))])
    return plain.mapInArrow(answered, from_arrow_schema(answers.schema))


def totals(answers: DataFrame) -> DataFrame:
    """Answers added up: by ``group`` and ``age_a`` [a], the cars ``answered`` [-] and the expected number of them with rework
    by that age, ``rework_e9``, in whole 10⁻⁹. Parts add up to the same sums however a table was cut."""
    from pyspark.sql import functions as f

    answered = answers.where("error is null")
    years = answered.select("group", f.posexplode("rework_by_year_e9").alias("place", "share_e9"))
    by_year = years.groupBy("group", (f.col("place") + 1).alias("age_a"))
    return by_year.agg(f.count("*").alias("answered"), f.sum("share_e9").alias("rework_e9")).orderBy("group", "age_a")
