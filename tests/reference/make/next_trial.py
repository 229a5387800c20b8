"""What a next trial is worth, by sums in place of draws.

Two takes with beta laws and binomial counts; and the two strengths of ``tests/rust/decide/chosen.rs``, whose takes have
the law of Wilson's interval with t. Run with numpy 2 and scipy 1.17: python tests/reference/make/next_trial.py
"""

import numpy as np
from scipy import special, stats

CUTTINGS = 30
LAWS = ((12.0, 8.0), (10.0, 9.0))

counts = np.arange(CUTTINGS + 1)
chances = [stats.betabinom.pmf(counts, CUTTINGS, a, b) for a, b in LAWS]
means = [(a + counts) / (a + b + CUTTINGS) for a, b in LAWS]
higher = np.maximum(means[0][:, None], means[1][None, :])
after = float(np.sum(np.outer(*chances) * higher))
now = max(a / (a + b) for a, b in LAWS)
print("two betas", repr(after - now))


def spread(levels):
    """Correlation of cuttings by analysis of variance, not below its floor, and the degrees of freedom of trays."""
    size, trays = 20, [len(one) for one in levels]
    rates = [np.array(one) / size for one in levels]
    df = sum(trays) - len(levels)
    between = sum(size * np.sum((one - one.mean()) ** 2) for one in rates) / df
    within = sum(size * np.sum(one * (1 - one)) for one in rates) / (size * sum(trays) - sum(trays))
    events = sum(min(sum(one), size * len(one) - sum(one)) for one in levels)
    icc = (between - within) / (between + (size - 1) * within)
    return max(icc, 0.05 * 2 / (2 + events)), df


def tray_pmf(size, takes, icc):
    """The law of the count of a tray at each take."""
    counts = np.arange(size + 1)
    g = (1 - icc) / icc
    takes = np.clip(takes, 1e-9, 1 - 1e-9)[:, None]
    return stats.betabinom.pmf(counts[None, :], size, takes * g, (1 - takes) * g)


def worth(levels, costs, price, cuttings, trays, size, points):
    """Given the spread levels are independent: Gauss sums over normal and chi-squared laws, plain ones over counts."""
    icc, df = spread(levels)
    z, of_z = np.polynomial.hermite_e.hermegauss(points)
    of_z = of_z / of_z.sum()
    half, of_s = special.roots_genlaguerre(points, df / 2 - 1)
    of_s = of_s / of_s.sum()
    s = np.sqrt(2 * half / df)
    seen, gained = [], []
    for rooted, cost in zip(levels, costs, strict=True):
        stuck = 20 * len(rooted)
        take, effective = sum(rooted) / stuck, stuck / (1 + 19 * icc)
        t = (z[None, :] / s[:, None]).ravel()
        square = t * t / effective
        root = np.sqrt(square * take * (1 - take) + square * square / 4)
        takes = (take + square / 2 + np.sign(t) * root) / (1 + square)
        width = trays * size + 1
        law = np.fft.irfft(np.fft.rfft(tray_pmf(size, takes, icc), 2 * width, axis=1) ** trays, axis=1)[:, :width]
        gains = cuttings * (price * takes - cost)
        shape = (len(s), len(z), width)
        seen.append(np.einsum("szy,z->sy", law.reshape(shape), of_z))
        gained.append(np.einsum("szy,z->sy", (gains[:, None] * law).reshape(shape), of_z))
    expected = [of_s @ one / np.maximum(of_s @ p, 1e-300) for one, p in zip(gained, seen, strict=True)]
    first = expected[0][:, None] >= expected[1][None, :]
    after = 0.0
    for weight, p, q, g, h in zip(of_s, *seen, *gained, strict=True):
        after += weight * np.sum(np.where(first, np.outer(g, q), np.outer(p, h)))
    return after - max(float(of_s @ one.sum(axis=1)) for one in gained)


for rooted in ([[9, 11, 10, 12, 8, 10], [12, 13, 10, 14, 12, 11]], [[7, 10, 9], [12, 15, 14]]):
    for points in (40, 80):
        print(rooted, points, repr(float(worth(rooted, (0.45, 0.47), 2.4, 20_000.0, 8, 20, points))))
