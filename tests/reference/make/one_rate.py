"""Makes values/one_rate.json: intervals and tests of one rate for generated counts, tiny to 10^9, at 17 digits.

Needs: pip install scipy statsmodels mpmath gmpy2, and R. Run: python tests/reference/make/one_rate.py

The referee is mpmath at 50 digits: the incomplete beta function by a continued fraction, limits as roots of the
defining equations by Newton's method. The second routes are scipy (beta.ppf, binomtest), statsmodels
(proportion_confint) and R (binom.test, prop.test); their worst relative differences are kept in the file. Definitions:
Clopper-Pearson, mid-P and the one-sided tests by binomial tails; Jeffreys 0 at none and 1 at all rooted; likelihood by
the chi-square point; "exact" two-sided P by probability with relative slack 1e-7, as binom.test and binomtest have it.
"""

import json
import random
import subprocess
from pathlib import Path

import mpmath as mp
import scipy
import statsmodels
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

mp.mp.dps = 50
SLACK = mp.mpf("1e-7")
LEVELS = ("0.95", "0.95", "0.9", "0.99", "0.9999")


def counts():
    """Small ones with zeros and full groups, then larger; the level of each."""
    chosen = random.Random(20261126)
    found = [(0, 1), (1, 1), (0, 60), (60, 60), (1, 2), (1, 1000), (999_999, 1_000_000), (0, 1_000_000)]
    for size in (5, 20, 60, 200, 1000, 20_000, 100_000, 1_000_000):
        for _ in range(14):
            n = chosen.randint(max(1, size // 3), size)
            p = chosen.choice([chosen.random(), chosen.random(), chosen.random() ** 4, 1 - chosen.random() ** 4])
            found.append((round(p * n), n))
    found += [(12, 900_000_000), (3_000_000, 1_000_000_000), (500_000_123, 1_000_000_000), (11, 31), (10, 20), (11, 22)]
    return [(x, n, LEVELS[k % len(LEVELS)]) for k, (x, n) in enumerate(found)]


def lower_tail(x, a, b):
    """I_x(a, b) up to its mean by a continued fraction (Abramowitz & Stegun 26.5.8), and x^a (1 - x)^b / B(a, b)."""
    kernel = mp.exp(a * mp.log(x) + b * mp.log1p(-x) - mp.loggamma(a) - mp.loggamma(b) + mp.loggamma(a + b))
    tiny = mp.mpf("1e-300")
    d = 1 / (1 - (a + b) * x / (a + 1))
    c, value, m = mp.mpf(1), d, 0
    while True:
        m += 1
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d, c = 1 / (1 + even * d or tiny), 1 + even / c or tiny
        value *= d * c
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d, c = 1 / (1 + odd * d or tiny), 1 + odd / c or tiny
        value *= d * c
        if abs(d * c - 1) < mp.mpf("1e-46"):
            return kernel / a * value, kernel


def point(tail, a, b):
    """x with I_x(a, b) = tail < 1/2: Newton's method on the logarithm of the tail, in the logit."""
    a, b = mp.mpf(a), mp.mpf(b)
    guess = min(
        max(mp.mpf(float(stats.beta.ppf(float(tail), float(a), float(b)))), mp.mpf("1e-300")), 1 - mp.mpf("1e-16")
    )
    t = mp.log(guess / (1 - guess))
    for _ in range(60):
        x = 1 / (1 + mp.exp(-t))
        below, kernel = lower_tail(x, a, b)
        step = mp.log(below / tail) * below / kernel
        t -= step
        if abs(step) < mp.mpf("1e-30"):
            break
    return 1 / (1 + mp.exp(-t))


def binomial_term(k, n, p):
    return mp.exp(
        mp.loggamma(n + 1) - mp.loggamma(k + 1) - mp.loggamma(n - k + 1) + k * mp.log(p) + (n - k) * mp.log1p(-p)
    )


def at_least(k, n, p):
    """P(X >= k), summed from its own terms where it is the smaller tail."""
    if k <= 0 or k > n:
        return mp.mpf(1 if k <= 0 else 0)
    if k <= n * p:
        return 1 - at_most(k - 1, n, p)
    term = total = binomial_term(k, n, p)
    odds = p / (1 - p)
    while k < n and term > total * mp.mpf("1e-45"):
        term *= (n - k) * odds / (k + 1)
        total += term
        k += 1
    return total


def at_most(k, n, p):
    """P(X <= k)."""
    return at_least(n - k, n, 1 - p)


def mid_p_upper(x, n, tail):
    """p with P(X < x) + P(X = x) / 2 = tail, by Newton's method in the logit."""
    if x == n:
        return mp.mpf(1)
    if x == 0:
        return -mp.expm1(mp.log(2 * tail) / n)
    t = mp.log((x + mp.mpf(1)) / (n - x)) + mp.mpf("1e-3")
    share = point(tail, n - x, x + 1)
    t = mp.log((1 - share) / share)
    for _ in range(80):
        p = 1 / (1 + mp.exp(-t))
        own, below = binomial_term(x, n, p), at_most(x - 1, n, p)
        # d/dp P(X <= k) = -n C(n - 1, k) p^k q^(n - k - 1)
        slope = -(own * (n - x) + binomial_term(x - 1, n, p) * (n - x + 1)) / 2 * p
        step = mp.log((below + own / 2) / tail) * (below + own / 2) / slope
        t -= step
        if abs(step) < mp.mpf("1e-25"):
            break
    return 1 / (1 + mp.exp(-t))


def likelihood(x, n, z):
    """Rates whose log-likelihood is z^2 / 2 below the largest; halving on the logit."""
    reach = z * z / 2

    def lost(p):
        parts = (x * mp.log(mp.mpf(x) / n / p) if x else 0) + (
            (n - x) * mp.log(mp.mpf(n - x) / n / (1 - p)) if n - x else 0
        )
        return parts - reach

    if x == 0:
        return mp.mpf(0), -mp.expm1(-reach / n)
    if x == n:
        return mp.exp(-reach / n), mp.mpf(1)
    logit = mp.log(mp.mpf(x) / (n - x))
    width = z * mp.sqrt(mp.mpf(n) / (mp.mpf(x) * (n - x)))
    rate = lambda t: 1 / (1 + mp.exp(-t))  # noqa: E731
    found = []
    for sign in (-1, 1):
        near, far = mp.mpf(0), width
        while lost(rate(logit + sign * far)) < 0:
            far *= 2
        root = mp.findroot(
            lambda t, s=sign: lost(rate(logit + s * t)), (max(near, far / 4), far), solver="anderson", tol=1e-45
        )
        found.append(rate(logit + sign * root))
    return found


def first(holds, inside, outside):
    """The count nearest to `inside` at which `holds`, which stays true outwards to `outside`."""
    while abs(outside - inside) > 1:
        middle = (inside + outside) // 2
        if holds(middle):
            outside = middle
        else:
            inside = middle
    return outside


def tests(x, n, target):
    """One-sided, by probability, doubled, Blaker and mid-P."""
    p = mp.mpf(target)
    less, greater = at_most(x, n, p), at_least(x, n, p)
    limit = binomial_term(x, n, p) * (1 + SLACK)
    mode = min(n, int(mp.floor((n + 1) * p)))
    if binomial_term(mode, n, p) <= limit:
        exact = mp.mpf(1)
    elif x > mode:
        exact = greater + at_most(first(lambda k: binomial_term(k, n, p) <= limit if k >= 0 else True, mode, -1), n, p)
    else:
        exact = less + at_least(first(lambda k: binomial_term(k, n, p) <= limit if k <= n else True, mode, n + 1), n, p)
    own = min(less, greater)
    if greater <= less:
        other = at_most(first(lambda k: k < 0 or at_most(k, n, p) <= own * (1 + SLACK), x, -1), n, p)
    else:
        other = at_least(first(lambda k: k > n or at_least(k, n, p) <= own * (1 + SLACK), x, n + 1), n, p)
    half = binomial_term(x, n, p) / 2
    return {
        "target": target, "less": less, "greater": greater, "exact": min(exact, mp.mpf(1)),
        "doubled": min(mp.mpf(1), 2 * own), "blaker": min(mp.mpf(1), own + other),
        "mid-p": min(mp.mpf(1), 2 * (own - half)),
    }  # fmt: skip


def targets(x, n, chosen):
    """A near and a far rate to test against, as decimals that a float holds."""
    centre = min(max((x + 0.5) / (n + 1), 1e-6), 1 - 1e-6)
    logit = mp.log(centre / (1 - centre))
    width = (n / (max(x, 0.5) * max(n - x, 0.5))) ** 0.5
    near = chosen.gauss(0, 2) * width
    far = chosen.choice([-1, 1]) * min(chosen.uniform(4, 34) * width, 60.0)
    # Twelve decimals are read exactly by any program.
    made = [round(float(1 / (1 + mp.exp(-(logit + move)))), 12) for move in (near, far)]
    return [value for value in made if 1e-6 < value < 1 - 1e-6]


def asked_of_r(lines):
    """binom.test and prop.test, a line of numbers for each line asked: x, n, target, level."""
    code = """
    options(digits = 17, warn = -1)
    for (line in readLines(file("stdin"))) {
      q <- as.numeric(strsplit(line, ";")[[1]])
      both <- binom.test(q[1], q[2], q[3], conf.level = q[4])
      less <- binom.test(q[1], q[2], q[3], alternative = "less")$p.value
      more <- binom.test(q[1], q[2], q[3], alternative = "greater")$p.value
      score <- prop.test(q[1], q[2], q[3], conf.level = q[4], correct = FALSE)$conf.int
      all <- c(both$p.value, less, more, both$conf.int, score)
      cat(paste(formatC(all, digits = 17, format = "g"), collapse = ";"), "\\n")
    }
    """
    done = subprocess.run(
        ["Rscript", "-e", code], input="\n".join(lines) + "\n", capture_output=True, text=True, check=True
    )
    return [[float(part) for part in line.split(";")] for line in done.stdout.splitlines()]


def relative(got, want):
    """|got / want - 1|, 0 for two zeros; R's P below 1e-300 is not held."""
    want = float(want)
    return abs(float(got) / want - 1) if want else abs(float(got))


def case(x, n, level, chosen):
    tail = (1 - mp.mpf(float(level))) / 2  # of the number that a float holds
    z = -mp.sqrt(2) * mp.erfinv(2 * tail - 1)
    low = mp.mpf(0) if x == 0 else point(tail, x, n - x + 1)
    high = mp.mpf(1) if x == n else 1 - point(tail, n - x, x + 1)
    half = mp.mpf("0.5")
    jeffreys = [
        mp.mpf(0) if x == 0 else point(tail, x + half, n - x + half),
        mp.mpf(1) if x == n else 1 - point(tail, n - x + half, x + half),
    ]
    centre, spread = 2 * x + z**2, z * mp.sqrt(z**2 + mp.mpf(4 * x * (n - x)) / n)
    return {
        "rooted": x, "stuck": n, "level": float(level),
        "clopper-pearson": [low, high],
        "jeffreys": jeffreys,
        "mid-p": [1 - mid_p_upper(n - x, n, tail), mid_p_upper(x, n, tail)],
        "likelihood": list(likelihood(x, n, z)),
        "wilson": [(centre - spread) / (2 * (n + z**2)), (centre + spread) / (2 * (n + z**2))],
        "tests": [tests(x, n, target) for target in targets(x, n, chosen)] if n <= 1_000_000 else [],
    }  # fmt: skip


def compare(cases):
    """Worst relative differences of the peers, by name."""
    worst = {}

    def note(name, got, want):
        worst[name] = max(worst.get(name, 0.0), relative(got, want))

    lines, asked = [], []
    for one in cases:
        x, n, level = one["rooted"], one["stuck"], one["level"]
        tail = (1 - level) / 2
        if 0 < x < n:
            note("scipy beta.ppf, lower", stats.beta.ppf(tail, x, n - x + 1), one["clopper-pearson"][0])
            note("scipy beta.isf, upper", stats.beta.isf(tail, x + 1, n - x), one["clopper-pearson"][1])
        peer = proportion_confint(x, n, 1 - level, "wilson")
        note("statsmodels wilson", peer[1], one["wilson"][1])
        for test in one["tests"]:
            if test["exact"] > mp.mpf("1e-290"):
                note("scipy binomtest", stats.binomtest(x, n, test["target"]).pvalue, test["exact"])
            lines.append(f"{x};{n};{test['target']!r};{level}")
            asked.append((one, test))
    for (one, test), (both, less, more, low, high, score_low, score_high) in zip(asked, asked_of_r(lines), strict=True):
        for name, got, want in (
            ("binom.test two-sided", both, test["exact"]), ("binom.test less", less, test["less"]),
            ("binom.test greater", more, test["greater"]),
        ):  # fmt: skip
            if want > mp.mpf("1e-290"):
                note(f"R {name}", got, want)
        note("R binom.test interval", low, one["clopper-pearson"][0])
        note("R binom.test interval", high, one["clopper-pearson"][1])
        if one["wilson"][0] > mp.mpf("1e-12"):
            note("R prop.test interval", score_low, one["wilson"][0])
        note("R prop.test interval", score_high, one["wilson"][1])
    return worst


def plain(value):
    if isinstance(value, dict):
        return {name: plain(part) for name, part in value.items()}
    if isinstance(value, list):
        return [plain(part) for part in value]
    return float(mp.nstr(value, 20)) if isinstance(value, mp.mpf) else value


def main():
    chosen = random.Random(7)
    cases = []
    for x, n, level in counts():
        cases.append(case(x, n, level, chosen))
        print(len(cases), x, n, level, flush=True)
    version = subprocess.run(["R", "--version"], capture_output=True, text=True, check=True).stdout.splitlines()[0]
    record = {
        "source": f"mpmath {mp.__version__} at 50 digits, from the definitions (make/one_rate.py)",
        "second_route": f"worst differences of scipy {scipy.__version__}, statsmodels {statsmodels.__version__}, "
        + version,
        "worst": compare(cases),
        "cases": plain(cases),
    }
    path = Path(__file__).resolve().parents[1] / "values" / "one_rate.json"
    text = json.dumps(record, indent=0).replace("\n", " ").replace('}, { "rooted"', '},\n{ "rooted"')
    path.write_text(text + "\n", encoding="utf-8")
    print(len(cases), "cases", record["worst"])


if __name__ == "__main__":
    main()
