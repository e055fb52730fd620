"""Hand calculations: a first-year rate, loss of bare steel over years, a worn tube.

Handbook figures for planning: no structural or roadworthiness assessment.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from . import _native

#: Growth exponent of carbon steel, B1 of ISO 9224:2012 [-].
B1 = 0.523


@dataclass(frozen=True)
class Rate:
    """First-year rate of bare carbon steel by a published dose-response function."""

    form: str
    """Key of the function."""
    rate_um_per_a: float
    """Rate [µm/a]."""
    category: str
    """Corrosivity category of ISO 9223, ``C1`` to ``CX``."""
    terms: dict[str, float]
    """Terms it is the sum of [µm/a]."""
    flags: list[str]
    """Inputs outside the range that the function was fitted on."""
    status: str
    """How well the function is known: ``SAW`` read in print, ``SAW-2`` quoted, ``MEMORY-...`` recalled."""
    source: str
    """Where it was printed."""

    def to_dict(self) -> dict[str, Any]:
        """Everything as plain values."""
        return asdict(self)


def rate(
    form: str = "iso9223",
    *,
    temperature_c: float,
    humidity_pct: float,
    so2_mg_m2_d: float,
    chloride_mg_m2_d: float,
    wetness_h_per_a: float | None = None,
    rain_mm_per_a: float | None = None,
    rain_ph: float | None = None,
    pm10_ug_m3: float | None = None,
) -> Rate:
    """First-year rate of bare carbon steel by one function; ISO 9223:2012, equation 1, where none is named.

    :param form: ``iso9223``, ``klinesmith_2007``, ``multi_assess_2007``, ``panchenko_marshakov_2017``,
        ``feliu_morcillo_1993``, ``icp_weathering_2001`` (weathering steel)
    :param temperature_c: yearly mean temperature, -60 to 60 [°C]
    :param humidity_pct: yearly mean relative humidity, 0 to 100 [%]
    :param so2_mg_m2_d: deposition of sulphur dioxide, 0 to 1000 [mg/(m²·d)]
    :param chloride_mg_m2_d: deposition of chloride, 0 to 5000 [mg/(m²·d)]
    :param wetness_h_per_a: hours with a film on the steel, 0 to 8760 [h/a]; some functions ask for it
    :param rain_mm_per_a: rain, 0 to 15000; 800 where not given [mm/a]
    :param rain_ph: acidity of the rain, pH 3 to 8; 5 where not given [-]
    :param pm10_ug_m3: particles below 10 µm, 0 to 500; 20 where not given [µg/m³]
    """
    values = {
        "temperature_c": temperature_c,
        "humidity_pct": humidity_pct,
        "so2_mg_m2_d": so2_mg_m2_d,
        "chloride_mg_m2_d": chloride_mg_m2_d,
        "wetness_h_per_a": wetness_h_per_a,
        "rain_mm_per_a": rain_mm_per_a,
        "rain_ph": rain_ph,
        "pm10_ug_m3": pm10_ug_m3,
    }
    return Rate(**_native.rates(form, values)[0])


def rates(**conditions: float) -> list[Rate]:
    """The same by every function that has its inputs, side by side."""
    return [Rate(**found) for found in _native.rates("all", conditions)]


@dataclass(frozen=True)
class Growth:
    """Loss of bare steel at a constant first-year rate."""

    rate_um_per_a: float
    """First-year rate [µm/a]."""
    years_a: float
    """Years of exposure [a]."""
    exponent: float
    """Growth exponent [-]."""
    loss_um: float
    """Loss after those years [µm]."""
    source: str
    """What it follows."""

    def to_dict(self) -> dict[str, Any]:
        """Everything as plain values."""
        return asdict(self)


def kinetics(rate_um_per_a: float, years_a: float, *, exponent: float = B1) -> Growth:
    """Loss of bare steel after years of constant exposure: rate x years^exponent up to 20 years, then along the tangent.

    ISO 9224:2012.

    :param rate_um_per_a: first-year rate, 0 to 10000 [µm/a]
    :param years_a: years of exposure, 0 to 200 [a]
    :param exponent: growth exponent, 0.1 to 1; 0.575 is on the safe side [-]
    """
    return Growth(**_native.growth(rate_um_per_a, years_a, exponent))


@dataclass(frozen=True)
class Section:
    """Properties of a tube, new or worn, and the shares of its capacity that are left."""

    tube: str
    """The tube as it was understood [mm]."""
    area_mm2: float
    """Area [mm²]."""
    i_min_mm4: float
    """Least second moment of area [mm⁴]."""
    i_x_mm4: float
    """Second moment about the horizontal axis [mm⁴]."""
    i_y_mm4: float
    """Second moment about the vertical axis [mm⁴]."""
    w_el_mm3: float
    """Least elastic modulus [mm³]."""
    w_x_mm3: float
    """Elastic modulus about the horizontal axis [mm³]."""
    w_y_mm3: float
    """Elastic modulus about the vertical axis [mm³]."""
    torsion_constant_mm4: float
    """Torsion constant [mm⁴]."""
    least_wall_mm: float
    """Least wall [mm]."""
    class_: int
    """Class of the section, 1 to 4, EN 1993-1-1."""
    slenderness: float | None
    """D/t of a round tube, c/t of a rectangular one [-]; ``None`` where a sector is gone."""
    remaining: Mapping[str, float]
    """Shares of the capacity that are left: ``axial``, ``bending``, ``torsion`` [-]."""

    def to_dict(self) -> dict[str, Any]:
        """Everything as plain values, with the names of the command line's JSON."""
        found = asdict(self)
        found["class"] = found.pop("class_")
        return found


def section(
    *,
    round: str | None = None,
    rectangular: str | None = None,
    corners: str = "cold_formed",
    loss_mm: tuple[float, float] | Sequence[tuple[float, float]] = (0.0, 0.0),
    yield_n_mm2: float = 355.0,
) -> Section:
    """Properties of a round or a rectangular tube, by exact integrals over what is left of the wall.

    :param round: outside diameter x wall [mm], as ``"48.3x3.2"``
    :param rectangular: height x width x wall [mm], as ``"60x40x2"``
    :param corners: how a rectangular tube was made, which sets its corner radii: ``cold_formed`` (EN 10219-2) or
        ``hot_finished`` (EN 10210-2)
    :param loss_mm: loss of wall outside and inside [mm], one pair for the whole circumference or eight, counter-clockwise
        from the bottom
    :param yield_n_mm2: yield strength, 100 to 1500 [N/mm²]
    """
    if (round is None) == (rectangular is None):
        raise _native.refused("tube", "nothing" if round is None else "two tubes", "round or rectangular")
    tube = ("round", round) if round is not None else (corners, rectangular)
    found = _native.section(tube, pairs(loss_mm), yield_n_mm2)
    return Section(class_=found.pop("class"), **found)


def pairs(loss_mm: tuple[float, float] | Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Losses as a list of pairs, outside and inside [mm]."""
    found: list[Any] = list(loss_mm)
    is_one_pair = len(found) == 2 and not any(isinstance(part, Sequence) for part in found)
    return [(found[0], found[1])] if is_one_pair else found
