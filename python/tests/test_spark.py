"""On a cluster of two executors: the answers of a single process to the last bit, however the rows are cut, and where an
executor is killed on the way.

Run where PySpark and Java are there, ``SPARK=1 python/check.sh``; left out elsewhere.
"""

import os
import signal
import subprocess
import sys
import threading
import time

import ferrowane
import pyarrow
import pytest
from conftest import HISTORIES, ROOT

pytest.importorskip("pyspark")
from ferrowane import spark as on_spark  # noqa: E402
from pyspark.sql import SparkSession  # noqa: E402

FLEET = ROOT / "demo" / "fleet.csv"
#: How often the invented fleet is taken [-].
TIMES = int(os.environ.get("FERROWANE_SPARK_TIMES", "4"))
#: Years that a car is followed [a]. With one, 100,000 cars (4167 times) take half a processor hour each time they are answered.
OPTIONS = {"histories": HISTORIES, "horizon_a": int(os.environ.get("FERROWANE_SPARK_HORIZON_A", "40"))}


@pytest.fixture(scope="module")
def session():
    os.environ["PYSPARK_PYTHON"] = sys.executable
    builder = SparkSession.builder.master("local-cluster[2,1,1024]").appName("ferrowane-tests")
    builder = builder.config("spark.ui.enabled", "false").config("spark.executor.memory", "512m")
    session = builder.config("spark.sql.execution.arrow.maxRecordsPerBatch", "64").getOrCreate()
    yield session
    session.stop()


@pytest.fixture(scope="module")
def cars():
    """The invented fleet many times over, each car with a name of its own."""
    lines = FLEET.read_text().splitlines()
    rows = [line.split(",", 1) for line in lines[1:]]
    names = lines[0].split(",")
    cells = [[f"{again}-{ref}", *rest.split(",")] for again in range(TIMES) for ref, rest in rows]
    return pyarrow.table({name: [row[at] or None for row in cells] for at, name in enumerate(names)})


@pytest.fixture(scope="module")
def alone(cars):
    """The answers of one process, by name."""
    answers = pyarrow.table(ferrowane.batch(cars, **OPTIONS).read_all())
    return answers.drop_columns("row").sort_by("ref")


def frame(session, cars, partitions):
    return session.createDataFrame(cars.to_pandas()).repartition(partitions)


def collected(answers):
    return answers.toArrow().sort_by("ref")


def same(found, expected):
    assert found.column_names == expected.column_names and found.num_rows == expected.num_rows
    for name in found.column_names:
        assert found[name].to_pylist() == expected[name].to_pylist(), name


@pytest.mark.parametrize("partitions", [3, 8])
def test_property_a_cluster_answers_as_one_process(session, cars, alone, partitions):
    same(collected(on_spark.batch(frame(session, cars, partitions), **OPTIONS)), alone)


def test_property_sums_by_group_are_whole_and_the_same(session, cars, alone):
    answers = on_spark.batch(frame(session, cars, 5), **OPTIONS)
    found = {(row.group, row.age_a): (row.answered, row.rework_e9) for row in on_spark.totals(answers).collect()}
    expected = {}
    for row in alone.to_pylist():
        for place, share_e9 in enumerate(row["rework_by_year_e9"] or []):
            answered, rework_e9 = expected.get((row["group"], place + 1), (0, 0))
            expected[row["group"], place + 1] = (answered + 1, rework_e9 + share_e9)
    assert found == expected and len(found) >= OPTIONS["horizon_a"]


def executors(session):
    """Process numbers of the executors of this session."""
    listed = subprocess.run(["ps", "-ww", "-eo", "pid,args"], capture_output=True, text=True, check=True).stdout
    own = session.sparkContext.applicationId
    lines = [line for line in listed.splitlines() if "CoarseGrainedExecutorBackend" in line and own in line]
    return [int(line.split()[0]) for line in lines if "java" in line.split()[1]]


def test_property_a_killed_executor_changes_nothing(session, cars, alone):
    killed = []

    def kill():
        tracker = session.sparkContext.statusTracker()
        for _ in range(600):
            stages = [tracker.getStageInfo(stage) for stage in tracker.getActiveStageIds()]
            if any(stage and 0 < stage.numCompletedTasks < stage.numTasks and stage.numTasks > 4 for stage in stages):
                one = executors(session)[0]
                os.kill(one, signal.SIGKILL)
                killed.append(one)
                return
            time.sleep(0.02)

    killer = threading.Thread(target=kill)
    killer.start()
    found = collected(on_spark.batch(frame(session, cars, 24), **OPTIONS))
    killer.join()
    assert len(killed) == 1, "no executor was killed on the way"
    same(found, alone)
