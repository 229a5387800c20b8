"""Contrasts of models whose trays follow a law, by a second route: likelihoods held and maximised by scipy."""

from __future__ import annotations

import numpy as np
import pytest
import rootling as rl
from scipy import optimize, special, stats

ROOTED = np.array([3, 7, 4, 9, 2, 6, 8, 12, 5, 14, 10, 7])
STUCK = 20
SECOND = np.arange(12) >= 6

NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(80)
WEIGHTS = WEIGHTS / np.sqrt(2 * np.pi)


def model(trays):
    trial = rl.load_trial(
        {"rooted": ROOTED, "stuck": [STUCK] * 12, "strength": [0] * 6 + [5000] * 6, "tray": range(12)},
        rooted="rooted",
        stuck="stuck",
        treatments=["strength"],
        tray="tray",
    )
    return trial.model("strength", trays=trays)


def beta_binomial(first, second, spread):
    """Log-likelihood at two log odds and the log of rho / (1 - rho)."""
    mean = special.expit(np.where(SECOND, second, first))
    size = np.exp(-spread)
    return stats.betabinom.logpmf(ROOTED, STUCK, mean * size, (1 - mean) * size).sum()


def random_trays(first, second, spread):
    """Log-likelihood at two log odds of a typical tray and the log of the SD between trays."""
    eta = np.where(SECOND, second, first)[:, None] + np.exp(spread) * NODES
    return np.log(stats.binom.pmf(ROOTED[:, None], STUCK, special.expit(eta)) @ WEIGHTS).sum()


def mean_rate(law, eta, spread):
    return special.expit(eta) if law is beta_binomial else special.expit(eta + np.exp(spread) * NODES) @ WEIGHTS


def highest(function, start):
    found = optimize.minimize(
        lambda at: -function(*at), start, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 4000}
    )
    return -found.fun


def held(law, gap):
    """The largest log-likelihood with the second rate so much above the first."""

    def at(first, spread):
        wanted = mean_rate(law, first, spread) + gap
        if not 1e-9 < wanted < 1 - 1e-9:
            return -1e9
        return law(
            first, optimize.brentq(lambda eta: mean_rate(law, eta, spread) - wanted, -30, 30, xtol=1e-13), spread
        )

    return max(highest(at, [-0.8, spread]) for spread in (-3.0, -1.0))


@pytest.mark.parametrize(("trays", "law"), [("beta-binomial", beta_binomial), ("random", random_trays)])
def test_p_and_limits_are_those_of_the_profile(trays, law):
    row = model(trays).contrasts("strength").contrasts[0]
    top = max(highest(law, [-1.0, 0.0, spread]) for spread in (-3.0, -1.0))
    fall = 2 * (top - held(law, 0.0))
    # scipy 1.17.1: the trays' 10 degrees of freedom, 12 trays less two levels
    assert row.df == 10
    assert row.statistic**2 == pytest.approx(fall, rel=1e-6)
    assert row.p == pytest.approx(2 * stats.t.sf(np.sqrt(fall), 10), rel=1e-6)
    for limit in (row.low, row.high):
        assert 2 * (top - held(law, limit)) == pytest.approx(stats.t.ppf(0.975, 10) ** 2, rel=1e-5)


@pytest.mark.parametrize("trays", ["beta-binomial", "random"])
def test_one_p_value_for_contrast_odds_ratio_and_effect(trays):
    found = model(trays)
    contrast, ratio = found.contrasts("strength"), found.odds_ratios().ratios[0]
    assert contrast.contrasts[0].p == pytest.approx(ratio.p, rel=1e-6)
    assert contrast.contrasts[0].p == pytest.approx(found.what_matters().effects[0].p, rel=1e-6)
    assert "judged_by_covariance" not in [note.code for note in contrast.notes]
    assert "likelihood ratio of the law of the trays" in contrast.methods
