"""Makes values/times.json: shares over time, log-rank tests and grouped-time fits of generated plants, at 17 digits.

Needs: pip install scipy statsmodels numpy. Run: python tests/reference/make/times.py

Plants of two groups (in two or three strata) are seen at visits 1, 2, ...: rooted (1), dead (2) or followed no further
(0). Referees: statsmodels CumIncidenceRight (shares of both endings and their errors), survdiff (log-rank, plain and
stratified, with the other ending as lost from sight, which is what a rate of those still waiting counts), SurvfuncRight
(medians), GLM of binomials by visit with a complementary log-log link; scipy ecdf and logrank are the second route, and
their worst relative differences are kept in the file.
"""

import json
import random
from pathlib import Path

import numpy as np
import scipy
import statsmodels
import statsmodels.api as sm
from scipy import stats
from statsmodels.duration.survfunc import CumIncidenceRight, SurvfuncRight, survdiff


def plants(seed):
    """Visit, ending, group and stratum of each plant."""
    chosen = random.Random(seed)
    visits, strata, found = chosen.randint(4, 9), chosen.randint(2, 3), []
    root, die, leave = chosen.uniform(0.1, 0.4), chosen.uniform(0.0, 0.15), chosen.uniform(0.0, 0.1)
    for stratum in range(strata):
        for group in range(2):
            faster = (1.0 + group * chosen.uniform(-0.4, 0.8)) * (1.0 + 0.2 * stratum)
            for _ in range(chosen.randint(15, 60)):
                visit, ending = 1, 0
                while True:
                    draw = chosen.random()
                    if draw < root * faster:
                        ending = 1
                    elif draw < root * faster + die:
                        ending = 2
                    if ending or visit == visits or chosen.random() < leave:
                        break
                    visit += 1
                found.append((visit, ending, group, stratum))
    return found


def table(rows, visits):
    """At risk, rooted, dead by visit."""
    found = []
    for visit in range(1, visits + 1):
        here = [row for row in rows if row[0] == visit]
        at_risk = sum(row[0] >= visit for row in rows)
        found.append([at_risk, sum(row[1] == 1 for row in here), sum(row[1] == 2 for row in here)])
    return found


def shares(rows, visits):
    """Shares of both endings with errors at each visit, by statsmodels; the last known one where nothing happened."""
    time, status = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    found = CumIncidenceRight(time, status)
    last = [0.0] * 4
    listed = []
    for visit in range(1, visits + 1):
        at = np.flatnonzero(found.times == visit)
        if len(at):
            k = at[0]
            last = [found.cinc[0][k], found.cinc[1][k], found.cinc_se[0][k], found.cinc_se[1][k]]
        listed.append([float(one) if np.isfinite(one) else None for one in last])
    return listed


def ratio(rows, visits):
    """Logarithm of the ratio of rates of rooting and its error: factors of visits and strata, and the group."""
    strata = sorted({row[3] for row in rows})
    lines = []
    for stratum in strata:
        for group in range(2):
            own = table([row for row in rows if row[2] == group and row[3] == stratum], visits)
            lines += [(visit, stratum, group, n, d) for visit, (n, d, _) in enumerate(own) if n]
    happened = {visit for visit in range(visits) if sum(line[4] for line in lines if line[0] == visit)}
    lines = [line for line in lines if line[0] in happened]
    used = sorted(happened)
    x = np.zeros((len(lines), len(used) + len(strata)))
    for at, (visit, stratum, group, _, _) in enumerate(lines):
        x[at, used.index(visit)] = 1.0
        if stratum:
            x[at, len(used) + stratum - 1] = 1.0
        x[at, -1] = group
    y = np.array([[line[4], line[3] - line[4]] for line in lines], dtype=float)
    link = sm.families.links.CLogLog()
    found = sm.GLM(y, x, family=sm.families.Binomial(link=link)).fit(tol=1e-14, maxiter=200)
    # The expected information at the estimate, as the errors of a likelihood by scoring have it.
    eta = x @ found.params
    p = -np.expm1(-np.exp(eta))
    weight = y.sum(axis=1) * (np.exp(eta) * (1 - p)) ** 2 / (p * (1 - p))
    se = float(np.sqrt(np.linalg.inv((x.T * weight) @ x)[-1, -1]))
    return float(found.params[-1]), se


def main():
    cases, worst = [], {"ecdf": 0.0, "logrank": 0.0}
    for seed in range(12):
        rows = plants(20261130 + seed)
        visits = max(row[0] for row in rows)
        time, status, group, stratum = (np.array(column) for column in zip(*rows, strict=True))
        plain = survdiff(time, (status == 1).astype(int), group)
        strata = survdiff(time, (status == 1).astype(int), group, strata=stratum)
        second = stats.logrank(
            *(stats.CensoredData.right_censored(time[group == one], status[group == one] != 1) for one in (0, 1))
        )
        worst["logrank"] = max(worst["logrank"], float(abs(second.statistic**2 / plain[0] - 1)))
        gone = stats.ecdf(stats.CensoredData.right_censored(time, status == 0)).sf
        mine = 1.0
        for at, (n, r, d) in enumerate(table(rows, visits), start=1):
            mine *= 1 - (r + d) / n if n else 1.0
            if mine > 0:
                worst["ecdf"] = max(worst["ecdf"], abs(float(gone.evaluate(at)) / mine - 1))
        log, se = ratio(rows, visits)
        cases.append(
            {
                "strata": [
                    [table([row for row in rows if row[3] == place and row[2] == one], visits) for one in (0, 1)]
                    for place in sorted(set(stratum.tolist()))
                ],
                "shares": shares(rows, visits),
                "median": float(SurvfuncRight(time, (status > 0).astype(int)).quantile(0.5)),
                "log_rank": [float(plain[0]), float(plain[1])],
                "log_rank_in_strata": [float(strata[0]), float(strata[1])],
                "log_ratio": log,
                "log_ratio_se": se,
            }
        )
    made = {
        "made_with": {"scipy": scipy.__version__, "statsmodels": statsmodels.__version__, "numpy": np.__version__},
        "second_route": worst,
        "cases": cases,
    }
    place = Path(__file__).resolve().parents[1] / "values" / "times.json"
    place.write_text(json.dumps(made) + "\n", encoding="utf-8")
    print(worst)


if __name__ == "__main__":
    main()
