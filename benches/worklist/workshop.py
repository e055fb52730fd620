"""Tables of an invented workshop for `ferrowane record import`: CARS cars with about five yearly grades each.

Usage: workshop.py CASES_DIR OUT_DIR CARS. Same arguments, same bytes.
"""

import csv
import datetime as dt
import pathlib
import random
import re
import sys

CAR_COLUMNS = ["ref", "first_registration", "owner", "case_toml"]
ENTRY_COLUMNS = [
    "id", "recorded_at", "kind", "car", "date", "location", "what", "grade", "wall_mm", "gauge",
    "cleaned_and_sound", "inspector", "amount", "remark", "supersedes",
]
LAST_SERVICE = 2026
# grades a year of age, by case: invented, near what the demo cases reach by the forecast
RISE_PER_A = {"dehumidified_tent_washed": 0.05, "tight_garage_fair_weather": 0.12, "square_tube_zinc": 0.15}
RISE_OTHERWISE_PER_A = 0.28


def cars_of(cases: pathlib.Path, count: int, chance: random.Random):
    """Cars of the demo cases, first registered in some year, driven on some days."""
    files = sorted(cases.glob("*.toml"))
    for number in range(count):
        path = files[number % len(files)]
        case = path.read_text()
        born = dt.date.fromisoformat(re.search(r"^first_registration = (\S+)", case, re.M).group(1))
        day = born.replace(year=born.year + chance.randint(-4, 3))
        # every date of the case moves with the first registration
        shift = day.year - born.year
        case = re.sub(r"\b20\d\d(?=-\d\d-\d\d)", lambda year: str(int(year[0]) + shift), case)
        case = re.sub(r"^days_per_week = .*", f"days_per_week = {chance.randint(1, 6)}", case, count=1, flags=re.M)
        yield f"car-{number:04}", day, case, RISE_PER_A.get(path.stem, RISE_OTHERWISE_PER_A)


def grades_of(car: str, born: dt.date, rise_per_a: float, chance: random.Random):
    """A grade at some of the yearly services of the last nine years."""
    rise = rise_per_a * chance.lognormvariate(0.0, 0.4)
    for year in range(LAST_SERVICE - chance.randint(0, 9), LAST_SERVICE + 1):
        day = dt.date(year, chance.randint(3, 10), chance.randint(1, 28))
        age_a = (day - born).days / 365.25
        if age_a < 0.5:
            continue
        grade = min(5, max(0, round(age_a * rise + chance.gauss(0.0, 0.4))))
        yield car, day.isoformat(), f"node {chance.randint(1, 4)}", f"Ri {grade}"


def main(cases: str, out: str, count: str) -> None:
    chance = random.Random(4628)
    folder = pathlib.Path(out)
    folder.mkdir(parents=True, exist_ok=True)
    entries = 0
    with open(folder / "cars.csv", "w", newline="") as cars, open(folder / "entries.csv", "w", newline="") as entries_file:
        cars_table, entries_table = csv.writer(cars), csv.writer(entries_file)
        cars_table.writerow(CAR_COLUMNS)
        entries_table.writerow(ENTRY_COLUMNS)
        for car, born, case, rise in cars_of(pathlib.Path(cases), int(count), chance):
            cars_table.writerow([car, born.isoformat(), "", case])
            for ref, day, location, grade in grades_of(car, born, rise, chance):
                entries += 1
                written = f"{day}T12:00:00Z"
                entries_table.writerow([entries, written, "inspection", ref, day, location, "", grade, *[""] * 7])
    print(f"{count} cars, {entries} grades")


main(*sys.argv[1:])
