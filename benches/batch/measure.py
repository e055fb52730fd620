"""What a batch costs: cars per second, against one by one and against numpy, memory by number of rows.

    python benches/batch/measure.py PROGRAM [PEERS] [--rows 10000,1000000]

PROGRAM is the built program; the wheel of the package has to be installed beside numpy and polars. PEERS is the folder that
`benches/peers/run.sh` fills (`case.json`, `aleatory.bin`): the same model in numpy, one draw of one car. With --rows only
memory is measured, at one year a car; --answered 1000 leaves every thousandth row as it is and breaks the others, so that a
million rows end within minutes on a machine that has other work.
"""

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FLEET = ROOT / "demo" / "fleet.csv"
HISTORIES = 32_768
#: Histories and years of the comparison with numpy, those of `benches/peers` [-, a].
NUMPY_CHUNK = 1024


def table(path, rows, seeds=False, answered=1):
    """The invented fleet taken again and again, each row with a name of its own, and where wanted a seed; all rows but every
    so many cannot be answered."""
    head, *lines = FLEET.read_text().splitlines()
    broken = [line.replace("round,", "round and round,").replace("rectangular,", "square,") for line in lines]
    with path.open("w") as file:
        file.write(("seed," if seeds else "") + head + "\n")
        for number in range(rows):
            again, at = divmod(number, len(lines))
            line = (broken if number % answered else lines)[at]
            file.write((f"{number + 1}," if seeds else "") + f"{again}-{line}\n")
    return path


def ran(words):
    """Wall and processor time [s] and greatest resident memory [MiB] of a command."""
    start = time.monotonic()
    process = subprocess.Popen([str(word) for word in words], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    if status:
        sys.exit(f"{words} ended with {status}")
    return time.monotonic() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def batch(program, rows, folder, **options):
    """Runs the program over a table; prints what a car costs and returns its processor time [s]."""
    seeds, answered = options.pop("seeds", False), options.pop("answered", 1)
    cars = table(folder / "cars.csv", rows, seeds, answered)
    words = [word for name, value in options.items() for word in (f"--{name}", value)]
    wall, cpu, memory = ran([program, "batch", cars, "--out", folder / "out.parquet", "--force", *words])
    shown = ", ".join(f"{name} {value}" for name, value in options.items()) + (", a seed a row" if seeds else "")
    shown += f", one in {answered} answered" if answered > 1 else ""
    print(f"{rows:>9} rows, {shown}: {rows / wall:8.1f} cars/s, {1e3 * cpu / rows:8.2f} ms of processor a car, "
          f"{cpu / rows * 1e6 / 3600:7.1f} processor hours a million, {memory:6.1f} MiB", flush=True)
    return cpu / rows


def one_by_one(program, rows, folder):
    """Processor time of rows at once and one by one: by the program, a process a row, and by calls of the package."""
    import ferrowane
    import polars

    options = ["--histories", HISTORIES, "--threads", 1, "--force"]
    cars = table(folder / "cars.csv", rows)
    head, *lines = cars.read_text().splitlines()
    at_once = ran([program, "batch", cars, "--out", folder / "out.parquet", *options])[1]
    alone = 0.0
    for line in lines:
        (folder / "one.csv").write_text(f"{head}\n{line}\n")
        alone += ran([program, "batch", folder / "one.csv", "--out", folder / "one.parquet", *options])[1]
    print(f"{rows} cars at {HISTORIES} histories, one thread: the program at once {1e3 * at_once / rows:.1f} ms of processor a "
          f"car, a process a car {1e3 * alone / rows:.1f} ms ({alone / at_once:.2f} times)", flush=True)

    frame = polars.read_csv(cars, infer_schema_length=0)
    start = time.process_time()
    together = ferrowane.batch(frame, histories=HISTORIES, threads=1).read_all()["median_a"]
    at_once = time.process_time() - start
    # the same again, so that neither has hourly years to run that the other found
    start = time.process_time()
    ferrowane.batch(frame, histories=HISTORIES, threads=1).read_all()
    again = time.process_time() - start
    start = time.process_time()
    single = [ferrowane.batch(frame[at : at + 1], histories=HISTORIES, threads=1).read_all()["median_a"][0] for at in range(rows)]
    alone = time.process_time() - start
    assert single == together
    print(f"the package at once {1e3 * at_once / rows:.1f} ms, once more {1e3 * again / rows:.1f} ms, by calls one by one "
          f"{1e3 * alone / rows:.1f} ms", flush=True)


def numpy_car(peers):
    """Processor seconds of one car in numpy, one thread, and its histories and years."""
    sys.path.insert(0, str(ROOT / "benches" / "peers"))
    import forecast_numpy
    import numpy

    case = json.loads((peers / "case.json").read_text())
    histories, years = case["histories"], len(case["draw"]["ln_rate"])
    numbers = numpy.fromfile(peers / "aleatory.bin", dtype="<f8").reshape(histories, -1).T
    numbers = numpy.ascontiguousarray(numbers)
    best = math.inf
    for _ in range(3):
        start = time.process_time()
        forecast_numpy.answer(case, numbers, NUMPY_CHUNK)
        best = min(best, time.process_time() - start)
    return best, histories, years


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("program", type=Path)
    words.add_argument("peers", type=Path, nargs="?")
    words.add_argument("--rows", help="numbers of rows whose memory is measured, 10000,1000000")
    words.add_argument("--answered", type=int, default=1, help="of how many rows one is answered")
    given = words.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if given.rows:
            for rows in map(int, given.rows.split(",")):
                batch(given.program, rows, folder, histories=HISTORIES, horizon=1, answered=given.answered)
            return
        for horizon in (1, 10, 40):
            batch(given.program, 480, folder, histories=HISTORIES, horizon=horizon)
        batch(given.program, 240, folder, histories=131_072)
        batch(given.program, 240, folder, histories=HISTORIES, seeds=True)
        one_by_one(given.program, 96, folder)
        if given.peers:
            seconds, histories, years = numpy_car(given.peers)
            shape = {"histories": histories, "horizon": years, "threads": 1}
            print(f"numpy, one thread, {histories} histories of {years} a, without draws and hourly years: {1e3 * seconds:.0f} ms a car")
            for seeds in (False, True):
                ours = batch(given.program, 48, folder, **shape, seeds=seeds)
                print(f"numpy takes {seconds / ours:.1f} times as long" + (", a seed a row" if seeds else ""))


if __name__ == "__main__":
    main()
