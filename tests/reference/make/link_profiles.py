"""Profile limits of slopes under three links. Needs mpmath 1.4; writes ../values/link_profiles.json

Bliss (1935), Annals of Applied Biology 22:134-167: beetles killed at eight concentrations, on log10 of them.

The limit is where twice the fall of the log-likelihood from its maximum is the 0.95 quantile of chi-square on 1 degree
of freedom; at each slope the intercept is found from the score equation alone. Nothing of rootling's fits is used.
"""

import csv
import json
import pathlib

import mpmath as mp

mp.mp.dps = 30
HERE = pathlib.Path(__file__).parent
CUTOFF = mp.mpf("3.84145882069412447634704221854")
LINKS = {
    "logit": (lambda eta: 1 / (1 + mp.exp(-eta)), lambda eta: 1 / (1 + mp.exp(eta))),
    "probit": (mp.ncdf, lambda eta: mp.ncdf(-eta)),
    "cloglog": (lambda eta: -mp.expm1(-mp.exp(eta)), lambda eta: mp.exp(-mp.exp(eta))),
}


def profile(rows, link, slope, start):
    """The largest log-likelihood with that slope, and its intercept."""
    up, down = LINKS[link]

    def total(a):
        return mp.fsum(y * mp.log(up(a + slope * x)) + (n - y) * mp.log(down(a + slope * x)) for x, n, y in rows)

    a = mp.findroot(lambda a: mp.diff(total, a), start)
    return total(a), a


def limits(rows, link):
    best = mp.findroot(
        lambda b: mp.diff(lambda s: profile(rows, link, s, -b * mp.mpf("1.77"))[0], b), 20 if link == "probit" else 30
    )
    top, _ = profile(rows, link, best, -best * mp.mpf("1.77"))
    found = {"slope": best}
    for name, sign in (("low", -1), ("high", 1)):

        def off(b):
            return 2 * (top - profile(rows, link, b, -b * mp.mpf("1.77"))[0]) - CUTOFF

        found[name] = mp.findroot(off, (best * (1 + sign * mp.mpf("0.1")), best * (1 + sign * mp.mpf("0.2"))))
    return {key: float(value) for key, value in found.items()}


def main():
    with (HERE.parents[1] / "data" / "bliss_beetles.csv").open() as file:
        rows = [(mp.mpf(r["log10_dose"]), int(r["n"]), int(r["killed"])) for r in csv.DictReader(file)]
    values = {link: limits(rows, link) for link in LINKS}
    text = json.dumps({"made_by": f"mpmath {mp.__version__}", "bliss": values}, indent=1)
    (HERE.parent / "values" / "link_profiles.json").write_text(text + "\n")


main()
