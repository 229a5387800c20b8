"""Makes values/times.json: shares over time, log-rank tests and grouped-time fits of generated plants, at 17 digits.

Needs: pip install scipy statsmodels numpy. Run: python tests/reference/make/times.py

Plants of two groups (in two or three strata) are seen at visits 1, 2, ...: rooted (1), dead (2) or followed no further
(0). Referees: statsmodels CumIncidenceRight (shares of both endings and their errors), survdiff (log-rank, plain and
stratified, with the other ending as lost from sight, which is what a rate of those still waiting counts), SurvfuncRight
(medians); scipy ecdf and logrank are the second route, and their worst relative differences are kept in the file. The
ratio of rates is that of one trinomial of roots, deaths and waiting between visits with proportional rates, found by
expectation and maximisation: statsmodels' Poisson GLM of each ending with the logarithm of the time at risk that is
expected of the plants as its offset, again until nothing moves. Its error is by the covariance of the scores of the
trinomials, with slopes of their shares by complex steps. Without deaths it is the GLM of binomials with a complementary
log-log link, which is kept beside as the second route.
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


def lines_of(rows, visits):
    """At risk, rooted and dead of each visit, stratum and group in which some wait on and some come to an end."""
    strata = sorted({row[3] for row in rows})
    lines = []
    for stratum in strata:
        for group in range(2):
            own = table([row for row in rows if row[2] == group and row[3] == stratum], visits)
            lines += [(visit, stratum, group, *cell) for visit, cell in enumerate(own) if cell[0]]
    for key in (0, 1, 0, 1):
        ended, waiting = {}, {}
        for line in lines:
            ended[line[key]] = ended.get(line[key], 0) + line[4] + line[5]
            waiting[line[key]] = waiting.get(line[key], 0) + line[3] - line[4] - line[5]
        lines = [line for line in lines if ended[line[key]] and waiting[line[key]]]
    return lines


def design_of(lines, ending):
    """Columns of visits, strata and the group for the rate of an ending, lines that have one, and has it a ratio?"""
    sums = {key: {} for key in range(3)}
    for line in lines:
        for key in range(3):
            sums[key][line[key]] = sums[key].get(line[key], 0) + line[4 + ending]
    there = [sorted(name for name, count in sums[key].items() if count) for key in range(3)]
    own = np.array([all(line[key] in there[key] for key in range(3)) for line in lines])
    both = len(there[2]) == 2
    x = [
        [float(line[0] == visit) for visit in there[0]]
        + [float(line[1] == stratum) for stratum in there[1][1:]]
        + ([float(line[2])] if both else [])
        for line in lines
    ]
    return np.array(x).reshape(len(lines), -1), own, both


def fitted(n, counts, designs):
    """Coefficients of both endings, by turns with the time at risk that they expect."""
    rates = np.tile(0.1, (len(n), 2)) * np.array([own for _, own, _ in designs]).T
    before = None
    for _ in range(20000):
        whole, ended = rates.sum(axis=1), counts.sum(axis=1)
        time = n - ended + ended * (1 / whole - 1 / np.expm1(whole))
        found = []
        for ending, (x, own, _) in enumerate(designs):
            found.append(np.zeros(0))
            if own.any():
                family = sm.families.Poisson()
                fit = sm.GLM(counts[own, ending], x[own], family=family, offset=np.log(time[own]))
                found[-1] = fit.fit(tol=1e-15, maxiter=200).params
                rates[own, ending] = np.exp(x[own] @ found[-1])
        now = np.concatenate(found)
        if before is not None and np.max(np.abs(now - before)) < 1e-13:
            break
        before = now
    return now, [len(one) for one in found]


def shares_of(coefficients, sizes, designs):
    """What is expected to root, die and wait, of each that is at risk."""
    parts = np.split(coefficients, [sizes[0]])
    rates = np.zeros((len(designs[0][0]), 2), dtype=complex)
    for ending, (x, own, _) in enumerate(designs):
        if sizes[ending]:
            rates[own, ending] = np.exp(x[own] @ parts[ending])
    whole = rates.sum(axis=1)
    gone = 1 - np.exp(-whole)
    return np.stack([gone * rates[:, 0] / whole, gone * rates[:, 1] / whole, 1 - gone], axis=1)


def trinomial(rows, visits):
    """Logarithms of the ratios of rates of rooting and dying with their errors; None where a group shows none."""
    lines = lines_of(rows, visits)
    n = np.array([line[3] for line in lines], dtype=float)
    counts = np.array([[line[4], line[5]] for line in lines], dtype=float)
    designs = [design_of(lines, ending) for ending in range(2)]
    now, sizes = fitted(n, counts, designs)
    # Expected information: shares of each trinomial and their slopes.
    p = shares_of(now.astype(complex), sizes, designs).real
    slopes = []
    for at in range(len(now)):
        moved = now.astype(complex)
        moved[at] += 1e-30j
        slopes.append(shares_of(moved, sizes, designs).imag / 1e-30)
    slopes = np.array(slopes)
    weight = np.where(p > 0, n[:, None] / np.where(p > 0, p, 1), 0)
    variance = np.linalg.inv(np.einsum("ark,brk,rk->ab", slopes, slopes, weight))
    ends = np.cumsum(sizes) - 1
    return [
        [float(now[end]), float(np.sqrt(variance[end, end]))] if both else None
        for end, (_, _, both) in zip(ends, designs, strict=True)
    ]


def ratio(rows, visits):
    """The same by a GLM of binomials with a complementary log-log link, where nobody dies."""
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
    cases, worst = [], {"ecdf": 0.0, "logrank": 0.0, "binomial": 0.0}
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
        rooting, dying = trinomial(rows, visits)
        alive = [row if row[1] != 2 else (row[0], 0, *row[2:]) for row in rows]
        log, se = ratio(alive, visits)
        same = trinomial(alive, visits)[0]
        worst["binomial"] = max(worst["binomial"], abs(same[0] - log), abs(same[1] / se - 1))
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
                "rooting": rooting,
                "dying": dying,
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
