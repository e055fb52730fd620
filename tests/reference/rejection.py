"""Samples cars by rejection and holds the forecast's ages at rework against theirs, before and after what was seen on them.

Usage: python tests/reference/rejection.py target/sampler.json
The JSON is written by `cargo test --test reference_sampler`: draws of what is not known about the model, from a seed of their
own, a member, what was seen on it, and the forecast's answers from several seeds. Everything after that is written here from
the model's equations: histories in plain numpy with random numbers of their own, least nodes as the least of so many, class
limits from the nominal areas of the standard, the section by summing round the ring. An inspector is played, not weighed: a
history is kept when the inspector who looks at it calls the grade that was called; a wall reading keeps it with its density
over the greatest one. So no history carries a weight.

Shared conventions: a rate holds for a year of service, steel bared in a year counts from its middle, losses are read at the
ends of years and straight between. Exit code 1 when a quantile differs by more than four standard errors of both together.
"""

import json
import math
import sys
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
from scipy import stats

QUANTILES = (0.1, 0.5, 0.9)
ALLOWED = 4.0  # standard errors
SAMPLERS_LESS_ONE = 3  # of one answer of the forecast, behind its standard errors; before an update it has eight replicates
BATCHES = 16  # of draws, for the standard error of this script
HISTORIES = 16  # of each draw and round
UNSEEN = 65_536  # histories whose ages before anything was seen are compared
WANTED, MOST = 16_384, 8_388_608  # histories that agree; fresh ones are tried until then, up to so many
CHUNK = 8_192
SEED = 4_628_3

REFERENCE_RATE = 37.5  # um/a, middle of C3, at which coating lives are stated
TANGENT_FROM = 20  # a, ISO 9224
FIRST_BARED = 0.0005  # share from which the earliest steel of a place counts as bared, nominal Ri 1
GUMBEL_SCALE, EVENING_UM, PANEL_M2 = 0.15, 500.0, 0.1 * 0.15  # of pits: ASSUMPTIONS of the model
NODE_M2 = 0.002
SLIPS, READING_SD_MM, SLIP_RANGE_MM, BIAS_SHARE = 0.01, 0.1, 10.0, 0.45**2 / 0.6**2  # shared/priors.csv
INSPECTORS = 3  # who may have looked
BOTTOM, NODE = 0, 5
SECTORS = ([0], [1, 7], [2, 6], [3, 5], [4])  # of eight, from the bottom round, by group
NOMINAL = (0.05e-2, 0.5e-2, 1e-2, 8e-2, 45e-2)  # rusted areas of Ri 1 to Ri 5, ISO 4628-3
# limits half-way between the pictures on a scale of logarithms; between no rust and Ri 1 a tenth of Ri 1
LIMITS = np.array([0.1 * NOMINAL[0], *np.sqrt(np.multiply(NOMINAL[:-1], NOMINAL[1:]))])
STEPS = 2_000  # of a sector, where the section is summed round the ring
NEVER = np.inf


def at_odds(share, odds):
    """A share whose odds are multiplied."""
    return share * odds / (1 - share + share * odds)


def column(rows):
    """Numbers of draws as columns: (year, draw), or (draw); a number all draws share as it is."""
    return rows if np.isscalar(rows) else np.ascontiguousarray(np.asarray(rows, dtype=float).T)


@dataclass
class Numbers:
    """What differs between cars and between years, a column for each history."""

    car: np.ndarray
    coating: np.ndarray
    nodes: np.ndarray
    inspectors: np.ndarray
    pit: np.ndarray
    wall: np.ndarray
    inside: np.ndarray
    winters: np.ndarray

    @staticmethod
    def drawn(generator, n, nodes, years):
        normal = generator.standard_normal
        return Numbers(normal(n), normal(n), normal((nodes, n)), normal((INSPECTORS, n)), generator.gumbel(size=n),
                       normal(n), normal(n), normal((years, n)))

    def picked(self, which):
        return Numbers(*(value[..., which] for value in vars(self).values()))


class Growth:
    """Loss of steel bared in different years: `r t^b`, after 20 years of exposure the tangent, by year of service."""

    def __init__(self, exposure):
        self.exposure = np.asarray(exposure, dtype=float)  # at the start of year 0; negative before it is bared
        self.thickness = self.loss = self.exponent = None

    def live(self, year, rate, b):
        """Adds a year; where b changes, the loss so far goes on as an equivalent thickness of the new one."""
        if self.loss is None:
            self.loss = np.zeros((len(self.exposure), len(rate)))
            self.thickness, self.exponent = np.zeros_like(self.loss), b
        start = self.exposure + year
        bared = start > -1
        old = start >= TANGENT_FROM
        young = bared & ~old
        if np.any(b != self.exponent):
            self.thickness[young] **= self.exponent / b
            self.exponent = b
        curved = (np.minimum(start + 1, TANGENT_FROM) - np.maximum(start, 0))[young, None]
        tangent = (np.clip(start + 1 - TANGENT_FROM, 0, 1))[bared, None]
        self.thickness[young] += curved * rate ** (1 / b)
        self.loss[young] = self.thickness[young] ** b
        self.loss[bared] += tangent * (b * TANGENT_FROM ** (b - 1) * rate)
        return self.loss


class Histories:
    """Rates and coatings of some histories of a car over some years."""

    def __init__(self, car, which, numbers, years):
        draw = car.draws
        self.car, self.which, self.numbers, self.years = car, which, numbers, years
        of = lambda name: draw[name][..., which]
        self.of = of
        self.b = of("exponent")[:years]
        ln_rate = of("ln_rate")[:years] + of("car_sd") * numbers.car + of("year_sd")[:years] * numbers.winters[:years]
        rate = np.minimum(np.exp(ln_rate), draw["ceiling_um_per_a"])
        self.outside, self.inside = rate * of("outside_rate")[:years], rate * of("inside_rate")[:years]
        ageing = (rate / REFERENCE_RATE) ** of("life_exponent")
        self.age = np.vstack([np.zeros(len(which)), np.cumsum(ageing * of("ageing")[:years], axis=0)])
        self.age_inside = np.vstack([np.zeros(len(which)), np.cumsum(ageing, axis=0)])
        life = np.exp(of("ln_life") + of("life_car_sd") * numbers.coating)
        nodes = life * np.exp(of("node_sd") * numbers.nodes) * car.life_factor[NODE]
        self.node_lives = {"node": nodes.min(axis=0), **{f"node {k + 1}": own for k, own in enumerate(nodes)}}
        self.life = [*(life * factor for factor in car.life_factor[:NODE]), self.node_lives["node"]]
        self.wall_mm = car.wall_mm * np.maximum(1 + of("wall_sd") * numbers.wall, 0.5)

    def failed(self, age, life):
        """Share of a coating that has failed: 1 % at one life."""
        return 1 - 0.99 ** ((age / life) ** self.of("breakdown_shape"))

    def visible_um(self, place):
        """Loss of steel at the reference from which rust is seen at a node, or at the mean place of the open length."""
        factor = self.car.rate_factor
        return self.of("visible_loss_um") / (factor[NODE] if place in self.node_lives else factor[:NODE] @ self.car.ring_share)

    def graded_age(self, place, time):
        """Age of the coating when the steel was bared whose loss just is visible at a time; 0 when none is."""
        lost, found, done = self.visible_um(place), np.zeros(len(self.which)), np.zeros(len(self.which), dtype=bool)
        for year in range(min(math.ceil(time), self.years) - 1, -1, -1):
            b, until = self.b[year], min(time, year + 1.0)
            needed = lost ** (1 / b)
            speed = self.outside[year] ** (1 / b)
            back = needed / speed
            here = ~done & (back <= until - year)
            aged = self.age[year] + (self.age[year + 1] - self.age[year]) * (until - back - year)
            found = np.where(here, aged, found)
            done |= here
            if done.all():
                break
            lost = np.maximum(needed - speed * (until - year), 0) ** b
        return found

    def graded_from(self, place, limit_age):
        """When steel that is bared at a coating age has lost enough to be seen."""
        bared = crossing(self.age, limit_age)
        time, lost, wanted = np.full(len(self.which), NEVER), np.zeros(len(self.which)), self.visible_um(place)
        for year in range(self.years):
            b = self.b[year]
            start = np.maximum(bared, year)
            span = np.clip(year + 1 - start, 0, 1)
            thickness, speed = lost ** (1 / b), self.outside[year] ** (1 / b)
            missing = wanted ** (1 / b) - thickness
            here = (span > 0) & np.isinf(time) & (speed * span >= missing)
            time[here] = (start + missing / speed)[here]
            lost = (thickness + speed * span) ** b
        return time

    def visible(self, place, time):
        """Rusted share in sight: less what over-rust coats hide, of several the one that hides most."""
        now = self.rusted(place, self.graded_age(place, time))
        least = now[-1]
        for coat in self.car.draws["over_rust"]:
            if coat["age_a"] < time:
                then = self.rusted(place, self.graded_age(place, coat["age_a"]))
                least = np.minimum(least, self.under(coat, place, time - coat["age_a"], (now, then)))
        return least

    def rusted(self, place, age):
        """Rusted shares by group and of the open length together, or of the node alone."""
        if place in self.node_lives:
            return [self.failed(age, self.node_lives[place])]
        groups = [self.failed(age, life) for life in self.life[:NODE]]
        return [*groups, sum(part * share for part, share in zip(self.car.ring_share, groups))]

    def under(self, coat, place, since, rust):
        """What a coat of some age leaves in sight: what the brush missed, and what came through since."""
        lives = (coat["life_on_rust_a"][self.which], coat["life_on_coat_a"][self.which])
        through_rust, through_coat = (1 - 0.5 ** ((since / life) ** 2) for life in lives)
        odds = coat["access_odds"][self.which]
        places = [NODE] if place in self.node_lives else range(NODE)
        rust_in_sight = shown = 0
        for now, then, location in zip(*rust, places):
            reached = at_odds(self.car.reached_share[location], odds)
            part = 1 if place in self.node_lives else self.car.ring_share[location] * at_odds(self.car.seen_share[location], odds)
            old = np.minimum(now, then)
            rust_in_sight = rust_in_sight + part * now
            shown = shown + part * ((1 - reached) * now + reached * (through_rust * old + through_coat * (now - old)))
        return rust[0][-1] * shown / np.maximum(rust_in_sight, 1e-300)

    def bared(self, age, life):
        """Share bared in each year."""
        return np.diff(self.failed(age, life), axis=0)

    def losses(self):
        """Losses at the ends of years: at each location outside, inside, and the deepest outside [um]."""
        n = len(self.which)
        shares = np.array([self.bared(self.age, life) for life in self.life])
        outside, inside = np.zeros((6, self.years + 1, n)), np.zeros((self.years + 1, n))
        deepest = np.zeros((self.years + 1, n))
        growth, growth_inside, inside_shares = self.growths()
        pits = [Pit(self, BOTTOM), Pit(self, NODE)]
        for year in range(self.years):
            loss = growth.live(year, self.outside[year], self.b[year])[: year + 1]
            outside[:, year + 1] = np.einsum("lyn,yn->ln", shares[:, : year + 1], loss)
            outside[:, year + 1] *= self.car.rate_factor[:, None]
            loss_inside = growth_inside.live(year, self.inside[year], self.b[year])
            inside[year + 1] = np.einsum("yn,yn->n", inside_shares[: len(loss_inside)], loss_inside)
            deepest[year + 1] = np.maximum(*(pit.depth(year, loss) for pit in pits))
        return outside, inside * self.of("inside_rate_factor"), np.maximum(deepest, outside.max(axis=0))

    def growths(self):
        """Of steel bared in each year, and inside; a bare inside is all bare from the start."""
        by_year = -0.5 - np.arange(self.years)
        if not len(self.car.draws["ln_inside_life"]):
            return Growth(by_year), Growth([0.0]), np.ones((1, len(self.which)))
        life = np.exp(self.of("ln_inside_life") + self.of("inside_life_car_sd") * self.numbers.inside)
        return Growth(by_year), Growth(by_year), self.bared(self.age_inside, life)

    def state(self):
        """Losses over the wall at the ends of years, as the criteria name them, and the wall that is left [mm]."""
        outside, inside, deepest = self.losses()
        wall_um = 1e3 * self.wall_mm
        mean = np.minimum(np.tensordot(self.car.ring_share, outside[:NODE], 1) + inside, wall_um)
        worst = np.minimum(outside.max(axis=0) + inside, wall_um)
        return SimpleNamespace(
            mean_wall=worst / wall_um,
            deepest_wall=np.minimum(deepest + inside, wall_um) / wall_um,
            section_modulus=1 - modulus_left(self, outside[:NODE], inside),
            left_mm=lambda place: self.wall_mm - 1e-3 * (mean if place == "open length" else self.node_loss(place, inside)),
        )

    def node_loss(self, place, inside):
        """Mean loss of a node at the ends of years, both faces [um]."""
        shares, growth = self.bared(self.age, self.node_lives[place]), self.growths()[0]
        lost = np.zeros_like(inside)
        for year in range(self.years):
            loss = growth.live(year, self.outside[year], self.b[year])[: year + 1]
            lost[year + 1] = self.car.rate_factor[NODE] * np.einsum("yn,yn->n", shares[: year + 1], loss)
        return np.minimum(lost + inside, 1e3 * self.wall_mm)

    def ages_at_rework(self):
        """First age at which a criterion is met."""
        criteria, state, shape = self.car.criteria, self.state(), self.of("breakdown_shape")
        ages = [np.full(len(self.which), NEVER)]
        if criteria["node_grade"] != "none":
            share = LIMITS[criteria["node_grade"] - 1]
            lives = (np.log(1 - share) / np.log(0.99)) ** (1 / shape)
            ages.append(self.graded_from("node", lives * self.life[NODE]))
        if criteria["run_grade"] != "none":
            ages.append(self.graded_from("open length", self.open_length_age(LIMITS[criteria["run_grade"] - 1])))
        for name in ("mean_wall", "deepest_wall", "section_modulus"):
            if (limit := criteria[f"{name}_loss_pct"]) != "none":
                ages.append(crossing(getattr(state, name), limit / 100))
        return np.min(ages, axis=0)

    def open_length_age(self, share):
        """Coating age at which so much of the open length is bare."""
        low, high = np.zeros(len(self.which)), 100 * self.life[0]
        for _ in range(40):
            middle = (low + high) / 2
            enough = self.rusted("open length", middle)[-1] >= share
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        return high

    def agree(self, seen, generator):
        """Whether each history is kept, given one thing that was seen."""
        if "grade" in seen:
            share, scatter = self.visible(seen["spot"], seen["age_a"]), self.of("grade_sd")
            bias = math.sqrt(BIAS_SHARE) * scatter * self.numbers.inspectors[seen["inspector"]]
            return called(share, math.sqrt(1 - BIAS_SHARE) * scatter, bias, generator) == seen["grade"]
        over_mm = seen["reading_mm"] - between_years(self.state().left_mm(seen["spot"]), seen["age_a"])
        return generator.random(len(over_mm)) < reading_density(over_mm) / reading_density(0.0)


class Pit:
    """The deepest place of bottom or node: the earliest-bared steel, deeper by a factor that grows with the rusted area."""

    def __init__(self, of, location):
        self.rusted = of.failed(of.age, of.life[location])
        early = self.rusted[1:] >= FIRST_BARED
        self.first = np.where(early.any(axis=0), early.argmax(axis=0), of.years)
        self.rate_factor, self.factor = of.car.rate_factor[location], of.of("pit_factor")
        panels = (of.car.bottom_m2 if location == BOTTOM else NODE_M2) / PANEL_M2
        # a Gumbel maximum, 1 at its median on a panel
        self.on_panels = 1 + GUMBEL_SCALE * (of.numbers.pit + math.log(math.log(2)) + math.log(panels))

    def depth(self, year, loss):
        """At the end of a year [um]; `loss` of the steel bared in each year so far."""
        bare = self.first <= year
        first = self.rate_factor * loss[np.minimum(self.first, year), np.arange(loss.shape[1])] * bare
        area = np.log(np.maximum(self.rusted[year + 1], 1e-300))
        excess = (self.factor - 1) * np.maximum(self.on_panels + GUMBEL_SCALE * area, 0)
        return first * (1 + excess / (1 + first / EVENING_UM))


def modulus_left(of, outside_um, inside_um):
    """Least elastic modulus about the two axes of symmetry over that of the new tube, summed round the ring."""
    radius, new_bore = of.car.diameter_mm / 2, of.car.diameter_mm / 2 - of.wall_mm
    worn = np.maximum(radius - 1e-3 * outside_um, new_bore)
    return np.min(moduli(worn, np.minimum(new_bore + 1e-3 * inside_um, worn)) / moduli(*new_ring(radius, new_bore)), axis=0)


def new_ring(radius, bore):
    rings = np.full((NODE, 1, len(bore)), radius)
    return rings, np.broadcast_to(bore, rings.shape)


def moduli(outer, inner):
    """Elastic moduli about the horizontal and the vertical axis [mm3] of a ring with radii by group of sectors [mm]."""
    area = first = upright = sideways = 0.0
    up = down = aside = 0.0
    for group, sectors in enumerate(SECTORS):
        within = (np.arange(STEPS) + 0.5) / STEPS - 0.5
        angle = np.concatenate([(sector + within) * np.pi / 4 for sector in sectors])
        each = np.pi / 4 / STEPS
        height, width = -np.cos(angle), np.sin(angle)
        power = lambda k: (outer[group] ** k - inner[group] ** k) / k
        area = area + power(2) * each * len(angle)
        first = first + power(3) * each * height.sum()
        upright = upright + power(4) * each * (height**2).sum()
        sideways = sideways + power(4) * each * (width**2).sum()
        up, down = np.maximum(up, outer[group] * height.max()), np.maximum(down, -outer[group] * height.min())
        aside = np.maximum(aside, outer[group] * np.abs(width).max())
    centroid = first / np.maximum(area, 1e-9)
    return np.array([(upright - centroid * first) / np.maximum(up - centroid, down + centroid), sideways / aside])


def crossing(rows, limit):
    """First time at which rows, from the new car on, reach a limit; straight within a year."""
    reached = rows[1:] >= limit
    year, each = reached.argmax(axis=0), np.arange(rows.shape[1])
    before, after = rows[year, each], rows[year + 1, each]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(reached.any(axis=0), year + (limit - before) / (after - before), NEVER)


def between_years(rows, time):
    year = min(int(time), len(rows) - 2)
    return rows[year] + (time - year) * (rows[year + 1] - rows[year])


def called(share, scatter, bias, generator):
    """Grades that inspectors call: the class of a position off by their bias and scatter, once in a hundred any grade."""
    ln_share, ln_limits = np.log(np.maximum(share, 1e-9)), np.log(LIMITS)
    low = np.clip(np.searchsorted(ln_limits, ln_share) - 1, 0, len(LIMITS) - 2)
    position = low + 0.5 + (ln_share - ln_limits[low]) / (ln_limits[low + 1] - ln_limits[low])
    grade = np.clip(np.rint(position + bias + scatter * generator.standard_normal(len(share))), 0, len(LIMITS))
    return np.where(generator.random(len(share)) < SLIPS, generator.integers(0, 6, len(share)), grade)


def reading_density(over_mm):
    """Of a reading on a cleaned spot that is so much thicker than the wall [1/mm]."""
    return (1 - SLIPS) * stats.norm.pdf(over_mm, scale=READING_SD_MM) + SLIPS / SLIP_RANGE_MM


class Car:
    def __init__(self, dump):
        member = dump["member"]
        self.name, self.years, self.observations = dump["name"], dump["years"], dump["observations"]
        self.draws = {key: column(value) for key, value in dump["draws"].items() if key != "over_rust"}
        coats = dump["draws"]["over_rust"]
        self.draws["over_rust"] = [{key: column(value) for key, value in coat.items()} for coat in coats]
        for name in ("diameter_mm", "wall_mm", "nodes", "criteria"):
            setattr(self, name, member[name])
        for name in ("rate_factor", "life_factor", "seen_share", "reached_share"):
            setattr(self, name, np.array(member[name]))
        self.ring_share = np.array([len(sectors) / 8 for sectors in SECTORS])
        self.bottom_m2 = 1e-3 * math.pi * self.diameter_mm / 8 * member["length_m"]

    def sampled(self, generator):
        """Ages at rework with the number of the draw of each: of all histories of the first rounds, and of those that agree; and
        how many were tried."""
        before, after, tried = [], [], 0
        while tried < MOST and sum(len(ages) for _, ages in after) < WANTED:
            which = np.repeat(np.arange(len(self.draws["car_sd"])), HISTORIES)
            for part in np.split(which, range(CHUNK, len(which), CHUNK)):
                numbers = Numbers.drawn(generator, len(part), self.nodes, self.years)
                if tried < UNSEEN:
                    before.append(self.aged(part, numbers))
                kept = self.kept(part, numbers, generator)
                after.append(self.aged(part[kept], numbers.picked(kept)))
            tried += len(which)
        return [tuple(np.concatenate(parts) for parts in zip(*found)) for found in (before, after)], tried

    def kept(self, which, numbers, generator):
        """Histories that agree with all that was seen, one thing after the other."""
        kept = np.arange(len(which))
        for seen in sorted(self.observations, key=lambda seen: seen["age_a"]):
            of = Histories(self, which[kept], numbers.picked(kept), math.ceil(seen["age_a"]))
            kept = kept[of.agree(seen, generator)]
        return kept

    def aged(self, which, numbers):
        return which, Histories(self, which, numbers, self.years).ages_at_rework()


def quantiles_and_errors(which, ages):
    """Quantiles of all, with standard errors from batches of draws."""
    at = lambda part: np.quantile(part, QUANTILES, method="lower")
    batches = np.array([at(ages[which % BATCHES == batch]) for batch in range(BATCHES)])
    return at(ages), batches.std(axis=0, ddof=1) / math.sqrt(BATCHES)


def compared(name, answers, found):
    """Lines of the comparison: the mean of the forecast's answers with its own standard errors, and ours."""
    theirs = np.array([answer["quantiles_a"] for answer in answers])
    claimed = np.sqrt((np.array([answer["standard_errors_a"] for answer in answers]) ** 2).mean(axis=0))
    error, seeds = claimed / math.sqrt(len(theirs)), len(theirs)
    ours, own_error = quantiles_and_errors(*found)
    for number, p in enumerate(QUANTILES):
        of = theirs[:, number].mean(), error[number]
        yield line(f"{name}, {p:.0%}", of, (ours[number], own_error[number]), SAMPLERS_LESS_ONE * seeds)


def line(what, theirs, ours, degrees_of_theirs):
    """A line of the comparison; `theirs` and `ours` are a value and its standard error."""
    both = math.hypot(theirs[1], ours[1])
    degrees = both**4 / (theirs[1] ** 4 / degrees_of_theirs + ours[1] ** 4 / (BATCHES - 1))
    return SimpleNamespace(what=what, theirs=theirs, ours=ours, off=(theirs[0] - ours[0]) / both,
                           by_chance=2 * stats.t.sf(ALLOWED, degrees))


def probability_seen(ln_evidence, which, tried, car):
    """Logarithm of the mean likelihood of what was seen, which the tempered sampler gives and the share kept gives here."""
    greatest = sum(math.log(reading_density(0.0)) for seen in car.observations if "reading_mm" in seen)
    kept = np.bincount(which % BATCHES, minlength=BATCHES) / (tried / BATCHES)
    error = kept.std(ddof=1) / math.sqrt(BATCHES) / kept.mean()
    theirs = np.mean(ln_evidence), np.std(ln_evidence, ddof=1) / math.sqrt(len(ln_evidence))
    return line("ln of chance", theirs, (math.log(kept.mean()) + greatest, error), len(ln_evidence) - 1)


def lines(dump, generator):
    car = Car(dump)
    (before, after), tried = car.sampled(generator)
    effective = np.mean([answer["effective_sample_size"] for answer in dump["after"]])
    print(f"{car.name}: {len(after[1])} of {tried} histories agree; forecast by {dump['method']}, effective {effective:.0f}")
    yield from compared("before", dump["before"], before)
    yield from compared("after", dump["after"], after)
    if dump["ln_evidence"]:
        yield probability_seen(dump["ln_evidence"], after[0], tried, car)


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        dumps = json.load(file)
    generator, failed, by_chance = np.random.default_rng(SEED), 0, 0.0
    for dump in dumps:
        for one in lines(dump, generator):
            good = abs(one.off) <= ALLOWED
            failed += not good
            by_chance += one.by_chance
            theirs, ours = ("{:7.3f} ± {:.3f}".format(*both) for both in (one.theirs, one.ours))
            print(f"{'ok  ' if good else 'FAIL'} {one.what:<12} {theirs}, by rejection {ours}: {one.off:+.1f} standard errors")
    print(f"chance alone would put one of all more than {ALLOWED:.0f} off in {by_chance:.1%} of the choices of seeds")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
