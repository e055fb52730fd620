"""Counts the costs of decisions a second time, from the histories that `decide` exports.

Usage: python tests/reference/decisions.py target/decisions
The folder is filled by `cargo test --test reference_decisions`: for each situation the answer of `decide` (NAME.json) and its histories
(NAME.csv, from `--histories-out`). A row holds the prices of a history, when its criterion is met and how long reworks done at
a few ages would last. Everything after that is written here anew, in plain numpy: which reworks follow from which, what lateness,
inspections, new members and coats cost, what is cheapest how often, and what that leaves of the advice.

Reworks are followed for all histories at once, year by year of inspections. Exit code 1 when a cost, a share or a date differs by more
than rounding: the histories are the same, so there is no Monte Carlo error between the two.
"""

import csv
import json
import sys
from pathlib import Path

import numpy as np

MIN_LIFE_A = 1.0  # a rework that lasts less is no cure
RELATIVE, MONEY, SHARE = 1e-5, 0.02, 1e-5  # JSON has six digits; CSV nine


class Histories:
    """Columns of an exported table."""

    def __init__(self, path):
        with path.open() as file:
            names = next(csv.reader(file))
            table = np.loadtxt(file, delimiter=",", ndmin=2)
        self.columns = {name: table[:, index] for index, name in enumerate(names)}
        self.weight = self["weight"] / self["weight"].sum()

    def __getitem__(self, name):
        return self.columns[name]

    def lives(self, course):
        """Metal age, life and metal age at its end of each lived rework of a course: arrays of (rework, history)."""
        count = sum(name.startswith(f"life_a.{course}.") for name in self.columns)
        table = lambda what: np.array([self[f"{what}.{course}.{number}"] for number in range(count)])
        return table("metal_age_a"), table("life_a"), table("worn_age_a")

    def mean(self, values):
        return float(self.weight @ values)


def interpolated(ages, values, at):
    """Values of each history at an age of its own, straight between its ages (in order, a row each), constant beyond."""
    after = (ages <= at).sum(axis=0)
    low, high = np.clip(after - 1, 0, len(ages) - 1), np.clip(after, 0, len(ages) - 1)
    column = np.arange(ages.shape[1])
    width = ages[high, column] - ages[low, column]
    way = np.where((width > 0.0) & (after > 0), (at - ages[low, column]) / np.where(width > 0.0, width, 1.0), 0.0)
    return values[low, column] + way * (values[high, column] - values[low, column])


class Situation:
    """A decision: its terms from the answer, its histories from the table."""

    def __init__(self, answer, histories):
        self.answer, self.of = answer, histories
        self.now, self.keep = answer["from_age_a"], answer["keep_a"]
        self.force = np.log1p(answer["discount_rate_pct"] / 100.0)
        in_late_years = lambda what: answer[f"{what}_in_late_years"] or np.inf
        self.rework, self.new_member = in_late_years("rework"), in_late_years("new_member")

    def factor(self, years):
        return np.exp(-self.force * years)

    def yearly(self, first, until):
        """One unit a year from `first` on, before `until`."""
        years = np.arange(first, 100.0)
        return float(self.factor(years[years < until]).sum())

    def flow(self, start, end):
        end = np.minimum(end, self.keep)
        length = np.maximum(end - start, 0.0)
        if self.force == 0.0:
            return length
        return np.where(length > 0.0, (self.factor(start) - self.factor(end)) / self.force, 0.0)

    def if_worth(self, at, work, lasts):
        """The times of works, infinite where lateness, over what they may last at most, costs less."""
        when = np.where(at < self.keep, at, 0.0)
        spared = self.flow(when, when + lasts)
        is_worth = (at < self.keep) & (spared > 0.0) & (spared >= work * self.factor(when))
        return np.where(is_worth, at, np.inf)

    def reworks(self, due, course, first, new_member=False):
        """Cost of reworks, new members and lateness of each history; `first` is when the first rework is done, infinite for never."""
        ages, lives, worn = self.of.lives(course)
        of_new = interpolated(ages, lives, np.zeros_like(due)), interpolated(ages, worn, np.zeros_like(due))
        at, met = np.broadcast_to(first, due.shape).astype(float), np.maximum(due, 0.0)
        metal = self.now + at
        cost, is_new = np.zeros_like(due), np.full(due.shape, new_member)
        while (at < self.keep).any():
            active = at < self.keep
            when = np.where(active, at, 0.0)
            age = np.where(active, metal, 0.0)
            life, end = interpolated(ages, lives, age), interpolated(ages, worn, age)
            replaces = self.if_worth(np.where(active, at, np.inf), self.new_member, np.inf) < np.inf
            fitted = is_new | ((life < MIN_LIFE_A) & replaces)
            life, end = np.where(fitted, of_new[0], life), np.where(fitted, of_new[1], end)
            price = self.of["removal"] + np.where(is_new, 0.0, self.of["coat"]) + np.where(fitted, self.of["new_member"], 0.0)
            work = self.factor(when) * price + self.flow(met, when) * self.of["late_per_a"]
            cost += np.where(active, work, 0.0)
            following = np.where(life < MIN_LIFE_A, np.inf, self.if_worth(when + np.ceil(life), self.rework, life))
            met = np.where(active, when + life, met)
            metal = np.where(active, end + following - (when + life), metal)
            at = np.where(active, following, at)
            is_new = np.zeros_like(is_new)
        return cost + self.flow(met, self.keep) * self.of["late_per_a"]

    def option(self, name):
        of, due = self.of, self.of[f"met_a.{name}"] - self.now
        course = name if f"life_a.{name}.0" in of.columns else "as_it_is"
        found = np.ceil(np.maximum(due, 0.0))
        first = {"leave": np.inf, "rework_now": 0.0, "new_member_now": 0.0}.get(name)
        first = self.if_worth(found, self.rework, np.inf) if first is None else first
        looks = {"leave": 0.0, "rework_now": 1.0, "new_member_now": 1.0}.get(name)
        looks = looks * self.yearly(1.0, self.keep) if looks is not None else self.yearly(0.0, self.keep)
        cost = self.reworks(due, course, first, name == "new_member_now") + looks * of["inspection"]
        until = np.minimum(found, self.keep)
        times = lambda every: np.array([max(1.0, float(self.factor(np.arange(0.0, end, every)).sum())) for end in until])
        cost += of[f"storage_per_a.{name}"] * self.yearly(0.0, self.keep)
        if name == "over_rust_coat_now":
            cost += of["over_rust_coat"]
        elif name == "over_rust_coat_every_2_a":
            cost += of["over_rust_coat"] * times(2.0)
        elif name == "wax_yearly":
            cost += of["wax_per_a"] * times(1.0)
        elif name == "wash_after_salted_drives":
            cost += of["wash"] * of[f"washes_per_a.{name}"] * self.yearly(0.0, self.keep)
        return cost

    def planned(self, after):
        due = self.of["met_a.leave"] - self.now
        looks = self.yearly(after + 1.0, self.keep)
        storage = self.of["storage_per_a.leave"] * self.yearly(0.0, self.keep)
        return self.reworks(due, "as_it_is", after) + looks * self.of["inspection"] + storage


def compared(found, expected, tolerance, what, failures):
    allowed = tolerance + RELATIVE * abs(expected)
    if abs(found - expected) > allowed:
        failures.append(f"{what}: recounted {found:.6g}, answered {expected:.6g}")


def recount(name, folder):
    answer = json.loads((folder / f"{name}.json").read_text())
    situation = Situation(answer, Histories(folder / f"{name}.csv"))
    of, failures = situation.of, []
    costs = np.array([situation.option(option["name"]) for option in answer["options"]])
    least = costs.min(axis=0)
    cheapest = costs - least <= 1e-7 * np.maximum(least, 1e-12)
    for option, cost, is_cheapest in zip(answer["options"], costs, cheapest):
        check = lambda found, key, tolerance: compared(found, option[key], tolerance, f"{option['name']} {key}", failures)
        check(of.mean(cost), "cost", MONEY)
        check(of.mean(cost - least), "regret", MONEY)
        check(of.mean(is_cheapest / cheapest.sum(axis=0)), "cheapest_share", SHARE)
        check(of.mean(is_cheapest & (cheapest.sum(axis=0) > 1)), "ties_share", SHARE)
    for row in answer["cost_by_rework_age"][:: max(1, len(answer["cost_by_rework_age"]) // 8)]:
        planned = of.mean(situation.planned(row["age_a"] - situation.now))
        compared(planned, row["mean"], MONEY, f"rework planned for {row['age_a']} a", failures)
    ages, lives, _ = of.lives("as_it_is")
    now = interpolated(ages, lives, np.full(of.weight.shape, situation.now))
    compared(of.mean(now < MIN_LIFE_A), answer["advice"]["share_beyond_help"], SHARE, "share beyond help", failures)
    print(f"{name}: {len(answer['options'])} options, {len(of.weight)} histories, {len(failures)} differences")
    for failure in failures:
        print(f"  {failure}")
    return not failures


def main():
    folder = Path(sys.argv[1])
    names = sorted(path.stem for path in folder.glob("*.csv"))
    agreed = [recount(name, folder) for name in names]
    if not names or not all(agreed):
        sys.exit(1)


if __name__ == "__main__":
    main()
