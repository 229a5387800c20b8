"""Levels weighed in money, drawn a second time: the law of ``src/decide/drawn.rs`` in numpy, beside ``decide.rs``.

Run with numpy 2 and scipy 1.17: python tests/calibration/decide.py 600
"""

import itertools
import sys

import numpy as np
from scipy import special, stats

DRAWS, SEASONS, SIZE = 2000, 3, 20
TAKES = ((0.45, 0.55, 0.60), (0.80, 0.88, 0.93), (0.05, 0.15, 0.20))
DESIGNS = ((3, 0.05), (4, 0.0), (4, 0.10), (6, 0.05), (6, 0.15), (12, 0.05))
CLAIMS = (0.0, 0.5, 0.7, 0.85, 0.95, 1.01)


def counted(odds, trays, correlation, season_sd, random):
    """Counts of a trial in a season of its own."""
    takes = special.expit(odds + season_sd * random.normal(size=len(odds)))[:, None]
    if correlation > 0:
        g = (1 - correlation) / correlation
        takes = random.beta(takes * g, (1 - takes) * g, size=(len(odds), trays))
    else:
        takes = np.repeat(takes, trays, axis=1)
    return random.binomial(SIZE, takes)


def weighed(rooted, season_sd, random):
    """Draws of mean takes over the seasons to come, a column for each level."""
    levels, trays = rooted.shape
    rates, df = rooted / SIZE, levels * (trays - 1)
    means = rates.mean(axis=1)
    between = SIZE * ((rates - means[:, None]) ** 2).sum() / df
    within = SIZE * (rates * (1 - rates)).sum() / (levels * trays * (SIZE - 1))
    below = between + (SIZE - 1) * within
    events = np.minimum(rooted.sum(axis=1), SIZE * trays - rooted.sum(axis=1)).sum()
    icc = min(1.0, max((between - within) / below if below > 0 else 0.0, 0.1 / (2 + events)))
    effective = SIZE * trays / (1 + (SIZE - 1) * icc)
    drawn = random.normal(size=(DRAWS, levels)) / np.sqrt(random.chisquare(df, size=(DRAWS, 1)) / df)
    points = stats.t.ppf((np.arange(DRAWS) + 0.5) / DRAWS, df)
    t = points[np.argsort(np.argsort(drawn, axis=0), axis=0)]
    square = t * t / effective
    root = np.sqrt(square * means * (1 - means) + square * square / 4)
    takes = np.clip((means + square / 2 + np.sign(t) * root) / (1 + square), 0, 1)
    if season_sd == 0:
        return takes
    with np.errstate(divide="ignore"):
        odds = special.logit(takes) - season_sd * random.normal(size=takes.shape)
    return special.expit(odds[..., None] + season_sd * random.normal(size=(*takes.shape, SEASONS))).mean(axis=2)


def to_come(odds, season_sd, random):
    """The mean take of each level in the seasons that come."""
    return special.expit(odds[:, None] + season_sd * random.normal(size=(len(odds), SEASONS))).mean(axis=1)


def limits(takes, trays, correlation, season_sd, runs, random):
    """How often limits hold: of levels, of what each lies behind the best, of the two best."""
    odds, held = special.logit(np.array(takes)), []
    for _ in range(runs):
        rooted = counted(odds, trays, correlation, season_sd, random)
        if rooted.sum() == 0:
            continue
        drawn, truth = weighed(rooted, season_sd, random), to_come(odds, season_sd, random)
        order = np.argsort(-drawn.mean(axis=0))
        low, high = np.quantile(drawn, (0.025, 0.975), axis=0)
        inside = ((low <= truth) & (truth <= high)).mean()
        low, high = np.quantile(drawn[:, order[:1]] - drawn, (0.025, 0.975), axis=0)
        apart = truth[order[0]] - truth
        behind = (low <= apart) & (apart <= high)
        held.append((inside, behind[order[1:]].mean(), behind[order[1]]))
    return 100 * np.mean(held, axis=0)


def claims(apart, trays, correlation, season_sd, runs, random):
    """Chances claimed of the best, and whether it was."""
    found = []
    for _ in range(runs):
        odds = random.normal() + apart * random.normal(size=3)
        rooted = counted(odds, trays, correlation, season_sd, random)
        if rooted.sum() == 0:
            continue
        drawn, truth = weighed(rooted, season_sd, random), to_come(odds, season_sd, random)
        top = drawn >= drawn.max(axis=1, keepdims=True)
        best = drawn.mean(axis=0).argmax()
        chance = (top / top.sum(axis=1, keepdims=True)).mean(axis=0)[best]
        found.append((chance, best == truth.argmax()))
    return np.array(found, float)


def main(runs):
    random = np.random.default_rng(20261130)
    for trays, correlation in DESIGNS:
        for season_sd in (0.0, 0.3):
            for takes in TAKES:
                shares = limits(takes, trays, correlation, season_sd, runs, random)
                cells = " | ".join(f"{share:.1f}" for share in shares)
                print(f"| {trays} | {correlation} | {season_sd} | {takes} | {cells} |", flush=True)
    for apart in (1.5, 0.7):
        for trays, correlation in ((3, 0.05), (6, 0.05), (12, 0.10)):
            for season_sd in (0.0, 0.3):
                found = claims(apart, trays, correlation, season_sd, 3 * runs, random)
                for low, high in itertools.pairwise(CLAIMS):
                    inside = found[(found[:, 0] >= low) & (found[:, 0] < high)]
                    if len(inside):
                        claimed, true = 100 * inside.mean(axis=0)
                        where = (
                            f"| {apart} | {trays} | {correlation} | {season_sd} | {100 * low:.0f} to {100 * high:.0f}"
                        )
                        print(f"{where} | {claimed:.1f} | {true:.1f} | {len(inside)} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]))
