"""Which limits for the cells of a split plot? From the logit of the rate, or Wilson's on effective cuttings.

python cell_limits.py [trials]   prints the table of layers.md. Needs numpy and scipy.

Two levels of `outer` in units of their own, `inner` in trays of 25 within them; units normal on the log odds, trays
beta with a correlation of 0.02. Two strata of analysis of variance of tray rates, combined with Satterthwaite degrees
of freedom: as they are, value -/+ t x error (classical); and with mean squares held at what lies beneath them, the
variance of a cell going by p (1 - p), with limits of either kind. Written from numpy alone: nothing of the package
is used.
"""

import itertools
import sys

import numpy as np
from scipy.special import expit, logit
from scipy.stats import t

CUTTINGS, CORRELATION, OUTER = 25, 0.02, 2


def mean_take(take, sd):
    z = np.linspace(-6, 6, 401)
    weight = np.exp(-z * z / 2)
    return (expit(logit(take) + sd * z) * weight).sum() / weight.sum()


def rates(rng, trials, take, sd, layout):
    """Tray rates by trial, outer, unit, inner, tray."""
    units, inner, trays = layout
    own = expit(logit(take) + sd * rng.normal(size=(trials, OUTER, units, 1, 1)))
    own = np.broadcast_to(own, (trials, OUTER, units, inner, trays))
    size = (1 - CORRELATION) / CORRELATION
    return rng.binomial(CUTTINGS, rng.beta(own * size, (1 - own) * size)) / CUTTINGS


def mean_squares(r, layout):
    units, inner, trays = layout
    by_unit, by_cell = r.mean((3, 4)), r.mean((2, 4))
    by_outer = by_unit.mean(2)
    between = inner * trays * ((by_unit - by_outer[:, :, None]) ** 2).sum((1, 2))
    fit = by_cell[:, :, None, :] + by_unit[:, :, :, None] - by_outer[:, :, None, None]
    within = ((r - fit[..., None]) ** 2).sum((1, 2, 3, 4))
    df = OUTER * (units - 1), OUTER * units * (inner * trays - 1) - OUTER * (inner - 1)
    return between / df[0], within / df[1], df


def combined(between, within, df, layout):
    """Variance of a cell's rate and the t quantile that goes with it."""
    units, inner, trays = layout
    rest = (inner - 1) * within
    variance = np.maximum((between + rest) / (inner * units * trays), 1e-9)
    spread = np.maximum(between**2 / df[0] + rest**2 / df[1], 1e-18)
    return variance, t.ppf(0.975, np.maximum((between + rest) ** 2 / spread, 0.5))


def limits(kind, p, variance, critical):
    if kind == "logit":
        half = critical * np.sqrt(variance) / (p * (1 - p))
        return expit(logit(p) - half), expit(logit(p) + half)
    n = p * (1 - p) / variance
    square = critical**2 / n
    half = critical * np.sqrt(variance + square / (4 * n)) / (1 + square)
    middle = (p + square / 2) / (1 + square)
    return middle - half, middle + half


def line(rng, trials, take, sd, layout):
    r = rates(rng, trials, take, sd, layout)
    truth, cells, whole = mean_take(take, sd), r.mean((2, 4)).reshape(trials, -1), r.mean((1, 2, 3, 4))
    between, within, df = mean_squares(r, layout)
    variance, critical = combined(between, within, df, layout)
    half = (critical * np.sqrt(variance))[:, None]
    classical, width = (np.abs(cells - truth) <= half).mean(), np.median(2 * half)
    beneath = np.maximum(within, whole * (1 - whole) / CUTTINGS)
    variance, critical = combined(np.maximum(between, beneath), beneath, df, layout)
    p = np.clip(cells, 0.002, 0.998)
    own = variance[:, None] * p * (1 - p) / np.maximum(whole * (1 - whole), 1e-4)[:, None]
    out = [f"{100 * classical:.1f}"]
    for kind in ("logit", "wilson"):
        low, high = limits(kind, p, own, critical[:, None])
        held = ((low <= truth) & (truth <= high)).mean()
        out.append(f"{100 * held:.1f}; {np.median(high - low) / width:.2f}")
    return out


def main():
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    rng = np.random.default_rng(20261129)
    print("| units | inner x trays | take | SD | classical | from the logit; width | Wilson; width |")
    print("|---|---|---|---|---|---|---|")
    for units, (inner, trays), take, sd in itertools.product((2, 3), ((2, 2), (4, 1)), (0.1, 0.5, 0.9), (0, 0.4, 0.8)):
        cells = line(rng, trials, take, sd, (units, inner, trays))
        print(f"| {units} | {inner} x {trays} | {take} | {sd} | " + " | ".join(cells) + " |")


if __name__ == "__main__":
    main()
