"""Scores and an interval-censored Weibull fit as other libraries compute them: writes scores.csv beside this file.

Run once: pip install properscoring==0.1 scoringrules==0.10.0 lifelines==0.30.3 && python tests/reference/scores.py
"""
import csv
from pathlib import Path

import lifelines
import numpy as np
import properscoring
import scoringrules
from scipy.stats import norm

rng = np.random.default_rng(20261128)
rows = []


def row(call, inputs, values, source):
    number = lambda x: "inf" if np.isinf(x) else f"{x:.12g}"
    rows.append([call, " ".join(number(x) for x in inputs), " ".join(number(x) for x in np.atleast_1d(values)), source])


PS = f"properscoring {properscoring.__version__}"
SR = f"scoringrules {scoringrules.__version__}"
LL = f"lifelines {lifelines.__version__}"

# inputs: what was seen, then six probabilities of the grades 0 to 5
for _ in range(8):
    p = rng.dirichlet(np.ones(6) * 0.7)
    seen = int(rng.integers(0, 6))
    row("crps_of_grades", [seen, *p], properscoring.crps_ensemble(seen, np.arange(6.0), weights=p), PS)
    onehot = seen + 1
    row("ranked_probability", [seen, *p], scoringrules.rps_score(onehot, p), SR)
    row("log_score", [seen, *p], scoringrules.logs_binomial(0, 1, 1 - p[seen]), SR)
# inputs: whether it happened, its probability
for _ in range(4):
    p, seen = float(rng.uniform()), int(rng.integers(0, 2))
    row("brier", [seen, p], scoringrules.brier_score(seen, p), SR)
# inputs: lower and upper ends of the intervals in turn
for shape, scale, n in [(1.6, 7.0, 40), (2.8, 12.0, 120), (0.9, 30.0, 80)]:
    t = scale * rng.weibull(shape, n)
    lower = np.floor(np.minimum(t, 12.0) * 2) / 2
    upper = np.where(t < 12.0, lower + 0.5, np.inf)
    lower = np.where(lower <= 0, 0.0, lower)
    fit = lifelines.WeibullFitter().fit_interval_censoring(np.maximum(lower, 1e-9), upper)
    row("weibull", np.column_stack([lower, upper]).ravel(), [fit.rho_, fit.lambda_, fit.log_likelihood_], LL)

with (Path(__file__).parent / "scores.csv").open("w", newline="") as file:
    file.write("# Scores and fits as other libraries print them to twelve digits (tests/reference/scores.py); inputs first, in the order the script states.\n")
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(["call", "inputs", "values", "source", "status"])
    writer.writerows([*r, "COMPUTED"] for r in rows)
