#!/usr/bin/env python3
"""Do two builds of ferrowane give the same numbers?

For the demo cases and two seeds, runs every command that answers in JSON with an OLD and a NEW binary, renames the
keys of `renames.csv` in the old answers, and demands that every number (as it is written, to the last digit), boolean
and null is the same and stands under the same key. Texts that differ are listed, since wording may change; those
whose numbers differ are listed apart. Exit code 1 when a number, a key or an exit code moved.

Standard library only. Example:

    tests/equality/compare_answers.py ../before/target/release/ferrowane target/release/ferrowane
"""

import argparse
import csv
import hashlib
import json
import os
import re
import subprocess
import sys
import tempfile
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

HERE = Path(__file__).resolve().parent
CASES = ["dehumidified_tent_washed", "heated_garage_daily", "square_tube_zinc", "street_daily",
         "tight_garage_fair_weather", "unknown_past_carport"]
QUICK_CASES = ["street_daily", "unknown_past_carport"]
SEEDS = [1, 7]
HISTORIES = 32768
DAY = "2026-03-01"
VARY = ["storage", "wash", "treatment", "climate=reading,phoenix", "coating"]
# Pairs to explain, chosen so that each case stands in one; many differences take minutes, so those run with one seed.
PAIRS = [("street_daily", "tight_garage_fair_weather"), ("dehumidified_tent_washed", "heated_garage_daily"),
         ("unknown_past_carport", "street_daily")]
SLOW_PAIRS = [("heated_garage_daily", "square_tube_zinc")]
RECORD = "{record}"   # stands for the record that each binary builds by itself
CARS = [("A-1", "street_daily"), ("A-2", "unknown_past_carport"), ("A-3", "dehumidified_tent_washed"),
        ("A-4", "square_tube_zinc")]
ENTRIES = [
    "inspection --car A-1 --date 2018-06-01 --location run --grade Ri_1",
    "inspection --car A-1 --date 2020-06-01 --location node_1 --grade Ri_2 --inspector K7",
    "inspection --car A-1 --date 2020-06-01 --location node_1 --grade Ri_3 --inspector K7 --supersedes 2",
    "inspection --car A-1 --date 2023-04-11 --location node_2 --wall-mm 1.93 --cleaned yes --gauge ultrasonic",
    "storage --car A-1 --date 2021-09-01 --what carport",
    "treatment --car A-1 --date 2021-10-01 --what wax_film",
    "quote --car A-1 --date 2025-06-01 --what rework --amount 1450",
    "quote --car A-1 --date 2025-06-02 --what brake_pipes_over_the_cradle --amount 210.5",
    "inspection --car A-2 --date 2025-05-20 --location node_3 --grade D610_6",
    "rework --car A-3 --date 2022-02-10 --what zinc_powder --amount 1300",
    "inspection --car A-3 --date 2025-02-10 --location run --grade Ri_0",
    "quote --car A-4 --date 2025-11-03 --what fuel_tank_straps --amount 95",
    "note --car A-4 --date 2025-11-04 --remark seen_on_the_lift",
]


class Job:
    """One run: the command its renames stand under, a name, and the arguments."""

    def __init__(self, command, name, arguments):
        self.command, self.name, self.arguments = command, name, arguments

    def needs_record(self):
        return any(RECORD in word for word in self.arguments)


def of_cases(cases, seeds, quick):
    """Commands that read a case."""
    jobs = []
    for case in cases:
        path = f"cases/{case}.toml"
        jobs.append(Job("exposure", f"exposure {case}", ["exposure", path]))
        jobs.append(Job("check", f"check {case}", ["check", path]))
        for seed in seeds:
            usual = ["--histories", str(HISTORIES), "--seed", str(seed)]

            def add(command, name, arguments, usual=usual, seed=seed, case=case):
                jobs.append(Job(command, f"{command} {case} {name} seed {seed}", [command, *arguments, *usual]))

            add("forecast", "", [path])
            add("forecast", "on", [path, "--as-of", "2027-06-01", "--horizon", "30"])
            for vary in VARY[1:2] if quick else VARY:
                extra = ["--from", "2024-10-01"] if vary == "wash" else []
                add("compare", vary, [path, "--vary", vary, *extra])
            if quick:
                continue
            add("decide", "", [path, "--costs", "costs.toml", "--from", DAY])
            jobs.append(Job("explain", f"explain {case} seed {seed}", ["explain", path, "--seed", str(seed)]))
    return jobs


def of_several(seeds, quick):
    """Commands that read several cases."""
    jobs = []
    pairs = [(PAIRS[0], seeds)] if quick else [(pair, seeds) for pair in PAIRS] + [(pair, seeds[:1]) for pair in SLOW_PAIRS]
    for (a, b), of_pair in pairs:
        files = [f"cases/{a}.toml", f"cases/{b}.toml"]
        for seed in of_pair:
            usual = ["--histories", str(HISTORIES), "--seed", str(seed)]
            jobs.append(Job("explain", f"explain {a} {b} seed {seed}", ["explain", *files, *usual]))
            if not quick:
                jobs.append(Job("compare", f"compare {a} {b} seed {seed}", ["compare", *files, *usual]))
    for seed in [] if quick else seeds:
        files = [f"cases/{case}.toml" for case in CASES[3:]]
        jobs.append(Job("coverage", f"coverage seed {seed}",
                        ["coverage", *files, "--cars", "3", "--years", "3", "--seed", str(seed)]))
    if quick:
        path = f"cases/{QUICK_CASES[0]}.toml"
        jobs.append(Job("decide", "decide quick",
                        ["decide", path, "--costs", "costs.toml", "--from", DAY, "--histories", str(HISTORIES)]))
    return jobs


def of_the_record(seeds, quick):
    """Commands that read the record which each binary builds."""
    jobs = []
    for car, _ in CARS:
        jobs.append(Job("record show", f"record show {car}", ["record", "--file", RECORD, "show", car, "--history"]))
    jobs.append(Job("record list", "record list", ["record", "--file", RECORD, "car", "list"]))
    jobs.append(Job("record verify", "record verify", ["record", "--file", RECORD, "verify"]))
    due = ["due", "--record", RECORD, "--by", "2027-03", "--as-of", DAY]
    jobs.append(Job("due", "due", due))
    jobs.append(Job("due", "due costs", [*due, "--costs", "costs.toml", "--late", "0.8"]))
    for seed in seeds:
        usual = ["--histories", str(HISTORIES), "--seed", str(seed)]
        for car, _ in CARS[:1] if quick else CARS:
            named = ["--record", RECORD, "--car", car, "--as-of", "2027-06-01"]
            jobs.append(Job("forecast", f"forecast record {car} seed {seed}", ["forecast", *named, *usual]))
            if quick:
                continue
            letter = ["letter", "--record", RECORD, car, "--out", "{out}", "--as-of", DAY, "--costs", "costs.toml"]
            jobs.append(Job("letter", f"letter {car} seed {seed}", [*letter, *usual]))
    return jobs


def of_the_handbook(quick):
    """Commands that take numbers only."""
    jobs = [Job("climate", "climate", ["climate"])]
    for sample in ["reading"] if quick else ["reading", "phoenix", "port-angeles", "miami"]:
        jobs.append(Job("climate", f"climate {sample}", ["climate", sample]))
    air = [(10, 75, 10, 10), (22.5, 81, 40, 250), (-3, 68, 1, 0.5)]
    for temperature, humidity, so2, chloride in air:
        words = ["--temperature", temperature, "--humidity", humidity, "--so2", so2, "--chloride", chloride]
        for more in [[], ["--wetness-hours", 3200, "--rain", 1100, "--rain-ph", 4.6, "--pm10", 31]]:
            name = f"rate {temperature} {humidity} {so2} {chloride} {len(more)}"
            jobs.append(Job("rate", name, ["rate", "--form", "all", *map(str, words), *map(str, more)]))
    for years, exponent in [(1, 0.523), (7.5, 0.575), (20, 0.523), (60, 0.3)]:
        words = ["--rate", "38.5", "--years", str(years), "--exponent", str(exponent)]
        jobs.append(Job("growth", f"growth {years} {exponent}", ["growth", *words]))
    tubes = [["--round", "48.3x3.2"], ["--rectangular", "60x40x2"],
             ["--rectangular", "100x50x4", "--corners", "hot_finished"]]
    for tube in tubes:
        for loss in ["", "0.3/0.1", "0.9/0.2,0.5/0.2,0.2/0.1,0.1/0.1,0.1/0.1,0.1/0,0.2/0.1,0.5/0.2"]:
            words = [*tube, *(["--loss", loss] if loss else [])]
            jobs.append(Job("section", f"section {' '.join(words)}", ["section", *words]))
    return jobs + [Job("schema", "schema", ["schema"]), Job("schema", "schema costs", ["schema", "--costs"])]


def jobs_of(quick):
    cases, seeds = (QUICK_CASES, SEEDS[:1]) if quick else (CASES, SEEDS)
    jobs = of_the_handbook(quick) + of_cases(cases, seeds, quick) + of_several(seeds, quick)
    jobs += of_the_record(seeds, quick)
    assert len({job.name for job in jobs}) == len(jobs), "two jobs of one name"
    return jobs


class Side:
    """A binary with the demo it reads, a scratch folder, and perhaps a cache of its answers."""

    def __init__(self, binary, demo, scratch, cache=None):
        self.binary, self.demo, self.scratch = str(Path(binary).resolve()), Path(demo).resolve(), Path(scratch)
        self.scratch.mkdir(parents=True, exist_ok=True)
        self.cache = cache and Path(cache) / hashlib.sha256(Path(binary).read_bytes()).hexdigest()[:16]
        if self.cache:
            self.cache.mkdir(parents=True, exist_ok=True)
        self.lock, self.record = threading.Lock(), None

    def run(self, arguments):
        done = subprocess.run([self.binary, *arguments], cwd=self.demo, capture_output=True, text=True, check=False)
        return done.returncode, done.stdout, done.stderr

    def the_record(self):
        with self.lock:
            if self.record is None:
                self.record = self.build_record()
        return self.record

    def build_record(self):
        record = str(self.scratch / "shop.db")
        steps = [["car", "add", "--ref", car, "--case", f"cases/{case}.toml"] for car, case in CARS]
        steps += [[words.split()[0], "add", *(word.replace("_", " ") if " " not in word and keep(word) else word
                                              for word in words.split()[1:])] for words in ENTRIES]
        for step in steps:
            code, _, errors = self.run(["record", "--file", record, *step])
            if code != 0:
                raise SystemExit(f"{self.binary}: record {' '.join(step)}: {errors}")
        return record

    def answer(self, job):
        """Exit code and standard output."""
        kept = self.cache and self.cache / (hashlib.sha256(repr(job.arguments).encode()).hexdigest()[:20] + ".json")
        if kept and kept.exists():
            return tuple(json.loads(kept.read_text(encoding="utf-8")))
        names = {RECORD: self.the_record() if job.needs_record() else "",
                 "{out}": str(self.scratch / re.sub(r"\W+", "_", job.name))}
        words = [names.get(word, word) for word in job.arguments]
        json_wanted = job.command not in ("check", "schema")
        code, out, errors = self.run([*words, *(["--format", "json"] if json_wanted else [])])
        out = out if code == 0 else errors
        out = out.replace(str(self.scratch), "{scratch}")
        if kept:
            part = kept.with_suffix(f".{os.getpid()}.{threading.get_ident()}")
            part.write_text(json.dumps([code, out]), encoding="utf-8")
            part.replace(kept)
        return code, out


def keep(word):
    """Words in which an underscore stands for a blank: all but names of things put on or arrangements."""
    return word not in ("wax_film", "zinc_powder")


class Number(str):
    """A number as it is written."""


def parse(text):
    if not text.lstrip().startswith(("{", "[")):
        return text
    return json.loads(text, parse_float=Number, parse_int=Number)


def notes(path):
    """Rows of a file of notes, `command: old -> new` a line; other lines are left out."""
    lines = Path(path).read_text(encoding="utf-8").splitlines() if path and Path(path).exists() else []
    found = [re.fullmatch(r"([a-z*][a-z ]*): (=?[\w.]*) -> (=?[\w.]*)(?:[ ;(].*)?", line.strip()) for line in lines]
    return [dict(zip(("command", "old", "new"), match.groups())) for match in found if match]


class Renames:
    """Rows `command, old, new, reason`. `command` may be `*`. `old` is a key, or a path of keys from anywhere on down
    (`on.run`); an empty `new` says that the key is gone, an empty `old` that it is new. `=old` and `=new` are texts,
    such as names of kinds."""

    def __init__(self, path, more, command):
        with open(path, encoding="utf-8", newline="") as table:
            rows = [row for row in csv.DictReader(line for line in table if not line.startswith("#"))]
        rows += notes(more)
        own = [row for row in rows if row["command"] in ("*", command)]
        own.sort(key=lambda row: (row["command"] == "*", -row["old"].count(".")))
        self.texts = {row["old"][1:]: row["new"].lstrip("=") for row in reversed(own) if row["old"].startswith("=")}
        self.keys = [(row["old"].split("."), row["new"]) for row in own if row["old"] and row["old"][0] != "="]
        self.added = {row["new"] for row in own if not row["old"]}
        self.used = set()

    def key(self, path):
        for old, new in self.keys:
            if path[-len(old):] == old:
                self.used.add(".".join(old))
                return new
        return path[-1]

    def apply(self, value, path=()):
        if isinstance(value, dict):
            renamed = {}
            for key, inner in value.items():
                below = [*path, key]
                new = self.key(below)
                if new:
                    renamed[new] = self.apply(inner, below)
            return renamed
        if isinstance(value, list):
            return [self.apply(inner, path) for inner in value]
        if isinstance(value, str) and not isinstance(value, Number):
            return self.texts.get(value, value)
        return value


class Result:
    """What one job showed."""

    def __init__(self, job):
        self.job, self.moved, self.texts, self.numbers_in_texts, self.compared = job, [], [], [], 0

    def compare(self, old, new, renames, path=""):
        if isinstance(old, dict) and isinstance(new, dict):
            for key in old.keys() | new.keys():
                if key not in new:
                    self.moved.append(f"{path}/{key}: only in the old answer")
                elif key in old:
                    self.compare(old[key], new[key], renames, f"{path}/{key}")
                elif key not in renames.added:
                    self.moved.append(f"{path}/{key}: only in the new answer")
        elif isinstance(old, list) and isinstance(new, list):
            if len(old) != len(new):
                self.moved.append(f"{path}: {len(old)} entries, now {len(new)}")
            for at, pair in enumerate(zip(old, new)):
                self.compare(*pair, renames, f"{path}[{at}]")
        elif type(old) is str and type(new) is str:
            self.compare_texts(old, new, path)
        else:
            self.compared += 1
            if type(old) is not type(new) or old != new:
                self.moved.append(f"{path}: {shown(old)}, now {shown(new)}")

    def compare_texts(self, old, new, path):
        stamp = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z")
        if stamp.sub("T", old) == stamp.sub("T", new):
            return
        numbers = re.compile(r"\d+(?:\.\d+)?")
        same = numbers.findall(old) == numbers.findall(new)
        (self.texts if same else self.numbers_in_texts).append((path, old, new))


def shown(value):
    text = value if isinstance(value, Number) else json.dumps(value)
    return text if len(text) < 90 else text[:87] + "..."


def examine(job, old, new, tables):
    result = Result(job)
    (old_code, old_text), (new_code, new_text) = old.answer(job), new.answer(job)
    if old_code != new_code:
        result.moved.append(f"exit code {old_code}, now {new_code}: {new_text[:300]}")
        return result
    renames = Renames(*tables, job.command)
    result.compare(renames.apply(parse(old_text)), parse(new_text), renames)
    return result


def report(results, verbose):
    """Prints what differs; whether anything moved."""
    texts, with_numbers = {}, {}
    for result in results:
        for path, old, new in result.texts:
            texts.setdefault((old, new), f"{result.job.name}: {path}")
        for path, old, new in result.numbers_in_texts:
            with_numbers.setdefault((old, new), f"{result.job.name}: {path}")
    for title, found, most in [("texts that differ", texts, 10), ("texts whose numbers differ", with_numbers, 40)]:
        if found:
            print(f"\n== {title}: {len(found)}")
        for (old, new), where in list(found.items())[: None if verbose else most]:
            print(f"{where}\n  - {old[:400]}\n  + {new[:400]}")
    moved = [result for result in results if result.moved]
    for result in moved:
        print(f"\n== MOVED: {result.job.name} ({len(result.moved)})")
        print("\n".join(result.moved[: None if verbose else 12]))
    count = sum(result.compared for result in results)
    print(f"\n{len(results)} answers, {count} numbers, booleans and nulls compared; "
          f"{len(moved)} answers moved, {len(texts) + len(with_numbers)} texts differ")
    return bool(moved) or count == 0


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("old")
    parser.add_argument("new")
    parser.add_argument("--quick", action="store_true", help="two cases, one seed, the main commands")
    parser.add_argument("--only", default="", help="only jobs whose name contains this text")
    parser.add_argument("--demo", default=HERE.parents[1] / "demo", help="folder with cases/ and costs.toml")
    parser.add_argument("--new-demo", help="the same for NEW, where a key of the case file changed")
    parser.add_argument("--cache", help="folder that keeps the answers of OLD")
    parser.add_argument("--renames", default=HERE / "renames.csv")
    parser.add_argument("--notes", help="more renames, as lines `command: old -> new`")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--verbose", action="store_true", help="every difference, not the first ones")
    arguments = parser.parse_args()
    jobs = [job for job in jobs_of(arguments.quick) if arguments.only in job.name]
    with tempfile.TemporaryDirectory() as scratch, ThreadPoolExecutor(arguments.jobs) as pool:
        old = Side(arguments.old, arguments.demo, Path(scratch) / "old", arguments.cache)
        new = Side(arguments.new, arguments.new_demo or arguments.demo, Path(scratch) / "new")
        results = list(pool.map(lambda job: examine(job, old, new, (arguments.renames, arguments.notes)), jobs))
    sys.exit(1 if report(results, arguments.verbose) else 0)


if __name__ == "__main__":
    main()
