"""The block kernel's histories in numpy: same draw, same random numbers, same answers.

Vectorised over histories, powers shared by all locations, worked in chunks that stay in the cache. Double precision, one
thread. Reads `case.json` and `aleatory.bin` written by `cargo bench --bench kernel` with PEER_DIR set, checks that the answers
agree, and prints nanoseconds a history-year for both. Reading the random numbers is not timed on either side.
"""

import json
import math
import sys
import time
from pathlib import Path

import numpy as np

ONE_PER_CENT = math.log(1 / 0.99)
FIRST_BARED_SHARE = 0.0005
PIT_EVENING_UM = 500.0
PIT_GUMBEL_SCALE = 0.15
TANGENT_FROM = 20
BOTTOM, NODE = 0, 5
CAR, COATING, NODE_SCATTER, PIT, WALL, INSIDE, _, FIRST_YEAR = range(8)
CHUNKS = (256, 512, 1024, 2048, 4096)
ROUNDS = 3


def normal_cdf(z):
    return 0.5 * np.vectorize(math.erfc)(-z / math.sqrt(2.0))


def cumulated(rate):
    """Sums at year ends (row 0 the new car) and in the middle of years."""
    ends = np.zeros((len(rate) + 1, rate.shape[1]))
    np.cumsum(rate, axis=0, out=ends[1:])
    return ends, ends[:-1] + 0.5 * rate


class Growth:
    """Equivalent thickness with an exponent a year; ends of years are wanted for in order."""

    def __init__(self, draw, ln_rate):
        self.b = np.array(draw["exponent"])
        slope = self.b * 20 ** (self.b - 1)
        self.ends, self.mid = cumulated(np.exp(ln_rate / self.b[:, None]))
        self.tangent, self.tangent_mid = cumulated(np.exp(ln_rate) * slope[:, None])
        self.start, self.start_from = self.mid.copy(), np.zeros(ln_rate.shape[1])
        self.at_turn = np.empty_like(self.mid)
        self.years = 0

    def advance(self, end):
        """Goes on to the year that ends at `end`: what is lost becomes equivalent thickness of its exponent."""
        for year in range(self.years, end):
            now, b = self.ends[year], self.b[year]
            if year and b != self.b[year - 1]:
                ratio, young = self.b[year - 1] / b, slice(max(year - TANGENT_FROM, 0), year)
                self.start[young] = now - (now - self.start[young]) ** ratio
                self.start_from = now - (now - self.start_from) ** ratio
            if year >= TANGENT_FROM:
                bared = year - TANGENT_FROM
                self.at_turn[bared] = (self.mid[year] - self.start[bared]) ** b
            if year == TANGENT_FROM - 1:
                self.at_turn_from_start = (self.ends[TANGENT_FROM] - self.start_from) ** b
        self.years = max(self.years, end)

    def attack(self, end):
        """Attack at the end of a year on steel bared in the middle of each year before."""
        self.advance(end)
        old = max(end - TANGENT_FROM, 0)
        attack = np.empty((end, self.ends.shape[1]))
        attack[old:] = (self.ends[end] - self.start[old:end]) ** self.b[end - 1]
        if old:
            since = self.tangent[end] - self.tangent_mid[TANGENT_FROM : TANGENT_FROM + old]
            attack[:old] = self.at_turn[:old] + since
        return attack

    def attack_from_start(self, end):
        self.advance(end)
        if end <= TANGENT_FROM:
            return (self.ends[end] - self.start_from) ** self.b[end - 1]
        return self.at_turn_from_start + self.tangent[end] - self.tangent[TANGENT_FROM]


def histories(case, aleatory):
    """Runs a chunk; `aleatory` is (number, history)."""
    draw, place = case["draw"], case["locations"]
    rate_factor, circumference = np.array(place["rate_factor"]), np.array(place["circumference_share"])
    years, n = len(draw["ln_rate"]), aleatory.shape[1]
    ln_rate = np.array(draw["ln_rate"])[:, None] + draw["car_sd"] * aleatory[CAR]
    ln_rate += np.array(draw["year_sd"])[:, None] * aleatory[FIRST_YEAR:]
    growth = Growth(draw, ln_rate)
    age = np.zeros((years + 1, n))
    np.cumsum(np.exp(draw["life_exponent"] * (ln_rate - math.log(37.5))), axis=0, out=age[1:])

    m = draw["breakdown_shape"]
    ln_life = draw["ln_life"][0] + draw["ln_life"][1] * aleatory[COATING]
    ln_node = ln_life + draw["node_sd"] * aleatory[NODE_SCATTER]
    life = [np.exp(ln_life), np.exp(ln_node) * place["life_factor"][NODE]]
    aged = age**m
    hazard, hazard_node = ONE_PER_CENT * np.exp(-m * ln_life), ONE_PER_CENT * np.exp(-m * ln_node)
    rusted = np.empty((6, years + 1, n))
    for location in range(6):
        own = hazard_node if location == NODE else hazard
        rusted[location] = 1 - np.exp(-own * place["life_factor"][location] ** -m * aged)
    bared = np.diff(rusted, axis=1)
    bared_inside = None
    if draw["ln_inside_life"] is not None:
        ln_inside = draw["ln_inside_life"][0] + draw["ln_inside_life"][1] * aleatory[INSIDE]
        bared_inside = np.diff(1 - np.exp(-ONE_PER_CENT * np.exp(-m * ln_inside) * aged), axis=0)

    # year in which the first steel of the bottom and of the node was bared; `years` when never
    crossed = rusted[[BOTTOM, NODE], 1:] >= FIRST_BARED_SHARE
    first = np.where(crossed.any(axis=1), crossed.argmax(axis=1), years)
    column = np.arange(n)
    loss, inside, young = np.empty((6, years, n)), np.empty((years, n)), np.empty((2, years, n))
    for end in range(1, years + 1):
        attack = growth.attack(end)
        np.einsum("kbn,bn->kn", bared[:, :end], attack, out=loss[:, end - 1])
        if bared_inside is None:
            inside[end - 1] = growth.attack_from_start(end)
        else:
            np.einsum("bn,bn->n", bared_inside[:end], attack, out=inside[end - 1])
        for slot in range(2):
            young[slot, end - 1] = attack[np.minimum(first[slot], end - 1), column] * (first[slot] < end)

    inside *= draw["inside_rate_factor"]
    loss *= rate_factor[:, None, None]
    wall = np.maximum(1 + draw["wall_sd"] * aleatory[WALL], 0.5)
    gumbel = -np.log(-np.log(np.clip(normal_cdf(aleatory[PIT]), 1e-12, 1 - 1e-12)))
    excess = (draw["pit_factor"] - 1) * np.maximum(1 + PIT_GUMBEL_SCALE * (gumbel + math.log(math.log(2))), 0)
    young *= rate_factor[[BOTTOM, NODE], None, None]
    young += excess * young / (1 + young / PIT_EVENING_UM)
    run = np.tensordot(circumference, loss[:5], 1)
    run_rusted = np.tensordot(circumference, rusted[:5, 1:], 1)
    wall_um = 1000 * place["intact"]["wall_mm"] * wall
    state = {
        "mean_um": np.minimum(run + inside, wall_um),
        "worst_um": np.minimum(loss.max(axis=0) + inside, wall_um),
        "deepest_um": np.minimum(young.max(axis=0) + inside, wall_um),
        "modulus_loss": 1 - bending_left(place, loss[:5] / 1000 / wall, inside / 1000 / wall),
        "bared_um": np.minimum(run / np.maximum(run_rusted, 1e-12), wall_um),
    }
    return state, age, life, wall


def horner(coefficients, d):
    total = coefficients[-1] * d
    for c in coefficients[-2::-1]:
        total += c
        total *= d
    return total


def bending_left(place, outside_mm, inside_mm):
    intact = place["intact"]
    moments = {"area": intact["area"], "first_moment": 0.0, "i_xx": intact["i_xx"], "i_yy": intact["i_yy"]}
    reach = {"down": 0.0, "up": 0.0, "aside": 0.0}
    for group, outside in zip(place["polynomials"], outside_mm):
        outside = np.minimum(outside, intact["wall_mm"])
        inside = np.minimum(inside_mm, intact["wall_mm"] - outside)
        for face, depth in (("outside", outside), ("inside", inside)):
            for name in moments:
                moments[name] = moments[name] - horner(group[face][name], depth)
        for name in reach:
            reach[name] = np.maximum(reach[name], group[name]["at_new_mm"] - group[name]["per_depth"] * outside)
    centroid = moments["first_moment"] / np.maximum(moments["area"], 1e-9 * intact["area"])
    fibre = np.maximum(reach["up"] - centroid, reach["down"] + centroid)
    upright = (moments["i_xx"] - centroid * moments["first_moment"]) * intact["half_height_mm"] / (fibre * intact["i_xx"])
    sideways = moments["i_yy"] * intact["half_width_mm"] / (reach["aside"] * intact["i_yy"])
    return np.maximum(np.minimum(upright, sideways), 0)


def crossing(rows, limit, new=0.0):
    """First age at which rows (from year 1) reach a limit, linear within a year."""
    if np.all(limit > 1e200):
        return np.full(rows.shape[1], np.inf)
    reached = rows >= limit
    year = reached.argmax(axis=0)
    column = np.arange(rows.shape[1])
    after = rows[year, column]
    before = np.where(year > 0, rows[year - 1, column], new)
    return np.where(reached.any(axis=0), year + (limit - before) / (after - before), np.inf)


def met(limits, state, age, life, wall):
    return np.array(
        [
            crossing(age[1:], limits["node_age"] * life[1]),
            crossing(age[1:], limits["run_age"] * life[0]),
            crossing(state["worst_um"], limits["mean_um"] * wall),
            crossing(state["deepest_um"], limits["deepest_um"] * wall),
            crossing(state["modulus_loss"], np.full(len(wall), limits["modulus_loss"])),
        ]
    )


def answer(case, aleatory, chunk):
    """Runs all histories and summarises them."""
    n, years = aleatory.shape[1], len(case["draw"]["ln_rate"])
    names = ("mean_um", "deepest_um", "modulus_loss", "bared_um")
    kept = {name: np.empty((years, n)) for name in names}
    time_a, first = np.empty(n), np.empty(n, dtype=int)
    caution, above = 0, np.zeros((years, 2, 5))
    grade_ages = np.array(case["limits"]["grade_ages"])
    for start in range(0, n, chunk):
        part = slice(start, min(start + chunk, n))
        state, age, life, wall = histories(case, aleatory[:, part])
        for name in names:
            kept[name][:, part] = state[name]
        times = met(case["limits"]["rework"], state, age, life, wall)
        time_a[part], first[part] = times.min(axis=0), times.argmin(axis=0)
        caution += np.isfinite(met(case["limits"]["caution"], state, age, life, wall).min(axis=0)).sum()
        for place in range(2):
            for number, limit in enumerate(grade_ages[place]):
                above[:, place, number] += (age[1:] > limit * life[place]).sum(axis=1)
    done = np.isfinite(time_a)
    result = {f"spread_{name}": np.quantile(kept[name], [0.05, 0.5, 0.95], axis=1) for name in names}
    result["time_a"] = np.quantile(time_a, [0.05, 0.5, 0.95], method="lower")
    result["first_shares"] = np.bincount(first[done], minlength=5) / n
    result["assessment_share"] = caution / n
    result["above"] = above / n
    return result


def check(ours, theirs, n):
    """The histories are the same, so what is left is the width of our histograms' bins: 1/64 a, and 2.2 % interpolated."""
    worst = 0.0
    for name in ("mean_um", "deepest_um", "modulus_loss", "bared_um"):
        a, b = np.array(ours[f"median_{name}"]), theirs[f"spread_{name}"][1]
        counted = b >= 1e-3
        worst = max(worst, np.abs(a / b - 1)[counted].max())
        assert np.allclose(a[counted], b[counted], rtol=0.005, atol=0), f"medians of {name} differ"
    for a, b in zip(ours["time_a"], theirs["time_a"]):
        assert (a is None and math.isinf(b)) or abs(a - b) < 0.02, f"ages at rework differ: {a} against {b}"
    for name in ("first_shares", "assessment_share", "above"):
        assert np.allclose(ours[name], theirs[name], rtol=0, atol=2.5 / n), f"{name} differ"
    median = ours["time_a"][1]
    print(f"answers agree: medians by year within {worst:.2%}; median age at rework {median:.3f} and {theirs['time_a'][1]:.3f} a")


def main():
    directory = Path(sys.argv[1])
    case = json.loads((directory / "case.json").read_text())
    n, years, ours = case["histories"], case["years"], case["ours"]
    aleatory = np.ascontiguousarray(np.fromfile(directory / "aleatory.bin", dtype="<f8").reshape(n, -1).T)
    check(ours, answer(case, aleatory, CHUNKS[-1]), n)
    best, chunk_of_best = math.inf, 0
    for _ in range(ROUNDS):
        for chunk in CHUNKS:
            start = time.perf_counter()
            answer(case, aleatory, chunk)
            taken = (time.perf_counter() - start) * 1e9 / (n * years)
            if taken < best:
                best, chunk_of_best = taken, chunk
    print(f"{n} histories of one draw, {years} a, all locations, yearly quantiles; ns per history-year, best of rounds")
    print(f"  numpy {np.__version__}, 1 thread (chunks of {chunk_of_best}): {best:8.1f}")
    for threads, taken in ours["ns_per_history_year"].items():
        print(f"  ferrowane, {threads:9}:               {taken:8.1f}   numpy takes {best / taken:.1f} times as long")


if __name__ == "__main__":
    main()
