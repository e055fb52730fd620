"""A table of cases in, a table of answers out: as one by one, however it is cut, and with the reason where a row is broken."""

import csv
import subprocess
import sys

import ferrowane
import numpy
import pandas
import polars
import pyarrow
import pyarrow.csv
import pyarrow.dataset
import pyarrow.ipc
import pyarrow.parquet
import pytest
from conftest import HISTORIES, ROOT

FLEET = ROOT / "demo" / "fleet.csv"


@pytest.fixture(scope="module")
def fleet():
    """The invented fleet, as text cells, missing ones empty."""
    return polars.read_csv(FLEET, infer_schema_length=0)


@pytest.fixture(scope="module")
def answers(fleet):
    return pyarrow.table(ferrowane.batch(fleet, histories=HISTORIES).read_all())


def test_reference_batch_is_that_of_the_command_line(command_line, answers, tmp_path):
    out = tmp_path / "out.parquet"
    command_line("batch", FLEET, "--out", out, "--histories", HISTORIES)
    expected = pyarrow.parquet.read_table(out)
    assert expected.num_rows == answers.num_rows > 20
    for name in expected.column_names:
        found = answers[name].to_pylist()
        assert [value or None for value in found] == [value or None for value in expected[name].to_pylist()], name


def test_reference_a_row_is_answered_as_its_case_alone(fleet, answers):
    case = {
        "title": "101",
        "first_registration": "2008-01-01",
        "member": {"tube": "round", "size_mm": "45x2", "nodes": 4},
        "coating": {"system": "thin_factory_coat", "inside": "bare"},
        "climate": {"sample": "port-angeles"},
        "use": {"days_per_week": 6, "winter_use": True, "salted_days": "lowland_england", "wash": "never"},
        "storage": [{"arrangement": "street"}],
    }
    first = next(csv.DictReader(FLEET.open()))
    assert first["ref"] == "101" and first["storage[0].arrangement"] == "street"
    alone = ferrowane.forecast(case, histories=HISTORIES)
    assert answers["median_a"][0].as_py() == alone.median_a
    assert answers["p95_a"][0].as_py() == alone.time_to_rework_a["p95"]
    assert answers["rework_by_year_e9"][0].as_py()[9] == round(1e9 * alone.band["pooled"][9])


def test_property_cutting_a_table_changes_nothing(fleet, answers):
    parts = [fleet[:1], fleet[1:9], fleet[9:]]
    cut = [pyarrow.table(ferrowane.batch(part, histories=HISTORIES, threads=1).read_all()) for part in parts]
    together = pyarrow.concat_tables(cut)
    assert together.drop_columns("row").equals(answers.drop_columns("row"))
    assert answers["row"].to_pylist() == list(range(1, len(fleet) + 1))


def test_property_a_broken_row_has_its_reason_and_stops_nothing():
    rows = pandas.DataFrame(
        {
            "ref": ["good", "no tube", "not a number", "impossible"],
            "member.size_mm": ["45x2", None, "45x2", "45x2"],
            "use.days_per_week": [6.0, 6.0, numpy.nan, 60.0],
        }
    )
    base = ferrowane.read_case(ROOT / "demo" / "cases" / "street_daily.toml")
    del base["member"]["size_mm"]
    # pandas holds a missing number as NaN: pyarrow makes it a missing cell, polars can keep it
    table = polars.DataFrame({name: rows[name].to_list() for name in rows})
    found = ferrowane.batch(table, base=base, histories=HISTORIES).read_all()
    assert found["ref"] == rows["ref"].to_list()
    assert found["error"][0] is None and found["median_a"][0] > 1
    assert "size_mm" in found["error"][1] and "NaN" in found["error"][2] and "60" in found["error"][3]
    assert found["median_a"][1:] == [None] * 3 and found["rework_by_year_e9"][1:] == [None] * 3


def test_property_columns_of_any_kind_are_read():
    day = pandas.Timestamp("2014-05-01")
    kinds = {
        "int32": pyarrow.array([4], pyarrow.int32()),
        "uint64": pyarrow.array([4], pyarrow.uint64()),
        "float": pyarrow.array([4.0]),
        "text": pyarrow.array(["4"]),
        "large text": pyarrow.array(["4"], pyarrow.large_string()),
        "dictionary": pyarrow.array(["4"]).dictionary_encode(),
    }
    base = ROOT / "demo" / "cases" / "street_daily.toml"
    medians = set()
    for kind, nodes in kinds.items():
        table = pyarrow.table({"first_registration": pyarrow.array([day]), "member.nodes": nodes})
        found = ferrowane.batch(table, base=base, histories=HISTORIES).read_all()
        assert found["error"] == [None], kind
        medians.add(found["median_a"][0])
    assert medians == {ferrowane.forecast(base, histories=HISTORIES).median_a}


def test_property_a_column_that_is_no_key_is_named_at_once():
    with pytest.raises(ferrowane.Error) as caught:
        ferrowane.batch(pyarrow.table({"member.sice_mm": ["45x2"]}))
    assert "member.sice_mm" in str(caught.value)


def test_property_a_stream_is_answered_as_it_is_read(fleet, answers):
    """The second part of a stream is not read before the answers to the first are taken."""
    read = []

    def parts():
        for at in range(0, len(fleet), 8):
            read.append(at)
            yield from fleet[at : at + 8].to_arrow().to_batches()

    stream = pyarrow.RecordBatchReader.from_batches(fleet[:0].to_arrow().schema, parts())
    found = ferrowane.batch(stream, histories=HISTORIES)
    first = next(found)
    assert len(first) == 8 and read == [0]
    rest = found.to_pyarrow().read_all()
    together = pyarrow.concat_tables([pyarrow.table(first), rest])
    assert together.equals(answers) and read == [0, 8, 16]


def test_property_arrow_files_go_through_the_package(fleet, answers, tmp_path):
    """The recipe of README.md."""
    table = fleet.to_arrow()
    with pyarrow.ipc.new_file(tmp_path / "cars.arrow", table.schema) as file:
        file.write_table(table, max_chunksize=5)
    cars = pyarrow.dataset.dataset(tmp_path / "cars.arrow", format="ipc").scanner().to_reader()
    found = ferrowane.batch(cars, histories=HISTORIES).to_pyarrow()
    with pyarrow.ipc.new_file(tmp_path / "answers.arrow", found.schema) as file:
        for some in found:
            file.write(some)
    assert pyarrow.ipc.open_file(tmp_path / "answers.arrow").read_all().equals(answers)


def test_property_progress_counts_rows_and_stops_between_them(fleet, answers):
    heard = []
    ferrowane.batch(fleet, histories=HISTORIES, progress=lambda done, total: heard.append((done, total))).read_all()
    assert heard[-1] == (len(fleet), len(fleet))
    assert [done for done, _ in heard] == sorted(done for done, _ in heard)
    # of a stream nobody knows the end; parts of eight rows, stopped in the second
    parts = (some for at in range(0, len(fleet), 8) for some in fleet[at : at + 8].to_arrow().to_batches())
    totals = set()

    def stops(done, total):
        totals.add(total)
        return done < 10

    stream = pyarrow.RecordBatchReader.from_batches(fleet[:0].to_arrow().schema, parts)
    found = ferrowane.batch(stream, histories=HISTORIES, threads=1, progress=stops)
    handed_out = list(found)
    assert [len(part) for part in handed_out] == [8] and totals == {None} and list(found) == []
    assert pyarrow.table(handed_out[0]).equals(answers.slice(0, 8).combine_chunks())


def test_property_rows_that_ctrl_c_stopped_come_next(fleet, answers):
    program = (
        "import ferrowane, os, polars, pyarrow, signal, threading\n"
        f"fleet = polars.read_csv({str(FLEET)!r}, infer_schema_length=0)\n"
        f"answers = ferrowane.batch(fleet, histories={HISTORIES}, threads=1)\n"
        "threading.Timer(0.2, lambda: os.kill(os.getpid(), signal.SIGINT)).start()\n"
        "try:\n"
        "    next(answers)\n"
        "except KeyboardInterrupt:\n"
        "    print('stopped')\n"
        "print(answers.read_all()['median_a'])\n"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=120, check=True)
    stopped, medians = run.stdout.splitlines()
    assert stopped == "stopped" and medians == str(answers["median_a"].to_pylist())
