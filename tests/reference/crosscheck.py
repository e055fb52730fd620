"""Compares what the library computed with scipy, PsychroLib and CoolProp, live.

Usage: python tests/reference/crosscheck.py target/crosscheck.json
The JSON is written by `cargo test --test reference_libraries`. Each row of output is a quantity, how many values were compared,
the worst difference and the allowed one with its reason; exit code 1 when one is exceeded.
"""

import json
import sys

import numpy as np
import psychrolib
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy import stats
from scipy.stats import qmc

Z95 = stats.norm.ppf(0.95)


def relative(found, expected):
    found, expected = np.asarray(found), np.asarray(expected)
    return np.max(np.abs(found - expected) / np.maximum(np.abs(expected), 1e-300))


def absolute(found, expected):
    return np.max(np.abs(np.asarray(found) - np.asarray(expected)))


def growth(rate, years, exponent):
    """ISO 9224: a power of time, after 20 years its tangent."""
    if years <= 20:
        return rate * years**exponent
    return rate * (20**exponent + exponent * 20 ** (exponent - 1) * (years - 20))


def common_digits(coordinates):
    """For each pair of points in one dimension, how many leading binary digits they share."""
    digits = np.floor(coordinates * 2**32).astype(np.int64)
    different = digits[:, None] ^ digits[None, :]
    return 32 - np.frexp(different.astype(float))[1]


def humid_air(columns):
    """PsychroLib for ideal air over water, CoolProp for real air and IAPWS-95; both turn to ice below 0 C, steel under brine does not."""
    why = "the tolerance of every humid-air function"
    t, found = columns("saturation_pressure_pa")
    yield "pressure, PsychroLib", len(t), relative(found, [psychrolib.GetSatVapPres(x) for x in t]), 3e-3, why
    iapws = [PropsSI("P", "T", x + 273.15, "Q", 0, "Water") for x in t]
    yield "pressure, IAPWS-95", len(t), relative(found, iapws), 3e-3, why
    t, rh, found = columns("dew_point_c")
    wet = found > 0.1
    expected = [psychrolib.GetTDewPointFromRelHum(a, b / 100) for a, b in zip(t[wet], rh[wet])]
    yield "dew point, PsychroLib", int(wet.sum()), absolute(found[wet], expected), 0.05, "0.3 % of pressure at 0.067 per K"
    expected = [HAPropsSI("D", "T", a + 273.15, "P", 101325, "R", b / 100) - 273.15 for a, b in zip(t[wet], rh[wet])]
    yield "dew point, CoolProp", int(wet.sum()), absolute(found[wet], expected), 0.05, "0.3 % of pressure at 0.067 per K"
    t, rh, found = columns("vapour_density_g_m3")
    pressure = (1.0007 + 3.46e-8 * 101325) * found * 1e-3 * 461.5 * (t + 273.15)  # of moist air, Buck 1981
    found = 0.621945 * pressure / (101325 - pressure)
    expected = [HAPropsSI("W", "T", a + 273.15, "P", 101325, "R", b / 100) for a, b in zip(t, rh)]
    yield "humidity ratio, CoolProp", len(t), relative(found, expected), 3e-3, why
    t, rh, found = columns("surface_humidity_pct")
    dew = [psychrolib.GetTDewPointFromRelHum(a, b / 100) for a, b in zip(t, rh)]
    wet = np.asarray(dew) > 0.1
    expected = [100 * psychrolib.GetRelHumFromTDewPoint(a + 3, d) for a, d in zip(t[wet], np.asarray(dew)[wet])]
    yield "humidity at steel 3 K off", int(wet.sum()), relative(found[wet], expected), 3e-3, why


def checks(dump):
    psychrolib.SetUnitSystem(psychrolib.SI)

    def columns(name):
        return np.asarray(dump[name]).T

    x, found = columns("exp")
    yield "exp", len(x), relative(found, np.exp(x)), 1e-15, "as stated in the library"
    x, found = columns("ln")
    yield "ln", len(x), relative(found, np.log(x)), 1e-15, "as stated in the library"
    x, found = columns("pow_0.523")
    yield "pow", len(x), relative(found, x**0.523), 5e-15, "error of ln times the exponent of the result"
    x, found = columns("normal_cdf")
    yield "normal cdf", len(x), absolute(found, stats.norm.cdf(x)), 2e-15, "stated absolute accuracy 1e-15, and scipy's"
    p, found = columns("normal_ppf")
    yield "normal quantile", len(p), absolute(found, stats.norm.ppf(p)), 5e-14, "1e-16 relative as stated; rounding of 1 - p near one"
    t, shape, found = columns("weibull")
    # share 1 % at one life: scale = 1 / ln(1/0.99)^(1/shape)
    scale = (-np.log(0.99)) ** (-1 / shape)
    yield "Weibull breakdown", len(t), absolute(found, stats.weibull_min.cdf(t, shape, scale=scale)), 1e-14, "rounding"
    rate, years, exponent, found = columns("growth")
    expected = [growth(*row) for row in zip(rate, years, exponent)]
    yield "growth", len(found), relative(found, expected), 1e-14, "rounding"
    yield from humid_air(columns)
    for name, to_normal in [("lognormal_prior", np.log), ("share_prior", lambda p: np.log(p / (1 - p)))]:
        median, p05, p95 = dump[name]["points"]
        p, found = np.asarray(dump[name]["values"]).T
        sd = (to_normal(p95) - to_normal(p05)) / (2 * Z95)
        normal = stats.norm.ppf(p, loc=to_normal(median), scale=sd)
        expected = np.exp(normal) if name == "lognormal_prior" else 1 / (1 + np.exp(-normal))
        yield name.replace("_", " "), len(p), relative(found, expected), 1e-13, "rounding"
    ours = np.asarray(dump["sobol_scrambled"])
    plain = qmc.Sobol(d=ours.shape[1], scramble=False, bits=32).random(len(ours))
    wrong = sum(np.sum(common_digits(a) != common_digits(b)) for a, b in zip(ours.T, plain.T))
    yield "Sobol points", ours.size, float(wrong), 0, "pairs: a nested scramble keeps how many leading digits any two share"


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        dump = json.load(file)
    failed = False
    for name, count, worst, allowed, reason in checks(dump):
        good = worst <= allowed
        failed |= not good
        print(f"{'ok  ' if good else 'FAIL'} {name:<25} {count:>6} values, worst {worst:.2e}, allowed {allowed:.1e}: {reason}")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
