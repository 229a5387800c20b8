"""Invented trials of the invented nursery Bramblescar, for trying things out. Nothing here was observed."""

from __future__ import annotations

import math
import random
from datetime import date, timedelta

import polars as pl

from rootling.exceptions import ChoiceError

__all__ = ["factorial", "grades", "graft_to_tree", "roots", "strengths", "two_strengths", "weekly_batches"]


def _tray(rng: random.Random, stuck: int, rate: float, correlation: float) -> int:
    """Rooted cuttings of one tray: beta-binomial with the given mean and intraclass correlation."""
    size = (1 - correlation) / correlation
    own_rate = rng.betavariate(rate * size, (1 - rate) * size)
    return sum(rng.random() < own_rate for _ in range(stuck))


def two_strengths(seed: int = 1) -> pl.DataFrame:
    """Twelve invented trays of K12: six benches, each with one tray at 2500 and one at 5000 mg/L.

    Parameters
    ----------
    seed : int
        Seed of the random draw; the same seed gives the same trays.

    Returns
    -------
    polars.DataFrame
        Columns ``bench``, ``tray``, ``rootstock``, ``strength`` (mg/L), ``stuck``, ``rooted``.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.demo.two_strengths(seed=1).shape
    (12, 6)
    """
    rng = random.Random(seed)
    rows: list[tuple[str, str, str, int, int, int]] = []
    for bench in range(1, 7):
        strengths = [2500, 5000]
        rng.shuffle(strengths)
        for strength in strengths:
            rooted = _tray(rng, 20, 0.45 if strength == 2500 else 0.68, 0.05)
            rows.append((f"B{bench}", f"T{len(rows) + 1:02d}", "K12", strength, 20, rooted))
    return pl.DataFrame(rows, schema=["bench", "tray", "rootstock", "strength", "stuck", "rooted"], orient="row")


def grades(seed: int = 1) -> pl.DataFrame:
    """Invented root grades, 0 to 5, of 240 cuttings of K12: twelve trays of 20, half at 2500 and half at 5000 mg/L.

    Parameters
    ----------
    seed : int
        Seed of the random draw; the same seed gives the same cuttings.

    Returns
    -------
    polars.DataFrame
        One row per cutting: ``bench``, ``tray``, ``strength`` (mg/L), ``rooted`` (0 or 1), ``grade`` (0 where none).

    Examples
    --------
    >>> import rootling as rl
    >>> rl.demo.grades(seed=1).shape
    (240, 5)
    """
    rng = random.Random(seed)
    rows: list[tuple[str, str, int, int, int]] = []
    for bench in range(1, 7):
        for strength in rng.sample([2500, 5000], 2):
            # Trays are of two kinds, most a little below and some well above the strength's own odds.
            luck = rng.choice([-0.3, -0.3, -0.3, 0.9])
            cuts = [cut + luck + (1.3 if strength == 5000 else 0.0) for cut in (0.6, 0.0, -0.6, -1.3, -2.3)]
            for _ in range(20):
                drawn = rng.random()
                grade = sum(drawn < 1 / (1 + math.exp(-cut)) for cut in cuts)
                rows.append((f"B{bench}", f"T{len(rows) // 20 + 1:02d}", strength, int(grade > 0), grade))
    return pl.DataFrame(rows, schema=["bench", "tray", "strength", "rooted", "grade"], orient="row")


def roots(seed: int = 1) -> pl.DataFrame:
    """Invented roots of 480 cuttings: three strengths x two rootstocks in four benches, a tray of 20 for each.

    Parameters
    ----------
    seed : int
        Seed of the random draw; the same seed gives the same cuttings.

    Returns
    -------
    polars.DataFrame
        One row per cutting: ``bench``, ``tray``, ``rootstock``, ``strength`` (mg/L), ``rooted`` (0 or 1), ``roots`` (0
        where none), ``longest`` (cm; blank where none).

    Examples
    --------
    >>> import rootling as rl
    >>> rl.demo.roots(seed=1).shape
    (480, 7)
    """
    rng = random.Random(seed)
    rows: list[tuple[str, str, str, int, int, int, float | None]] = []
    rate = {0: 0.30, 2500: 0.60, 5000: 0.75}
    number = {0: 2.0, 2500: 4.0, 5000: 5.5}
    for bench in range(1, 5):
        cells = [(stock, strength) for stock in ("K12", "K17") for strength in rate]
        rng.shuffle(cells)
        for stock, strength in cells:
            share = min(0.95, rate[strength] + (0.10 if stock == "K17" else 0.0))
            luck = math.exp(rng.gauss(0, 0.2))
            taken = rng.betavariate(share * 19, (1 - share) * 19)
            tray = f"T{len(rows) // 20 + 1:02d}"
            for _ in range(20):
                count, length = 0, None
                if rng.random() < taken:
                    mean = number[strength] * luck * (1.2 if stock == "K17" else 1.0)
                    gone, count = rng.expovariate(1), 1
                    while gone < mean - 1:
                        gone, count = gone + rng.expovariate(1), count + 1
                    length = round(rng.gauss(4 + strength / 2500, 0.8), 1)
                rows.append((f"B{bench}", tray, stock, strength, int(count > 0), count, length))
    names = ["bench", "tray", "rootstock", "strength", "rooted", "roots", "longest"]
    return pl.DataFrame(rows, schema=names, orient="row")


def factorial(seed: int = 1) -> pl.DataFrame:
    """Invented trays of strength x days in the dark x rootstock, in four benches.

    Parameters
    ----------
    seed : int
        Seed of the random draw.

    Returns
    -------
    polars.DataFrame
        72 trays with ``bench``, ``tray``, ``rootstock``, ``dark_days``, ``strength`` (mg/L), ``stuck``, ``rooted``.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.demo.factorial(seed=1)["rootstock"].unique().sort().to_list()
    ['K12', 'K17', 'K30']
    """
    rng = random.Random(seed)
    base = {"K12": 0.40, "K17": 0.55, "K30": 0.25}
    gain = {0: -0.15, 2500: 0.05, 5000: 0.20}
    rows: list[tuple[str, str, str, int, int, int, int]] = []
    for bench in range(1, 5):
        cells = [(stock, days, dose) for stock in base for days in (0, 21) for dose in gain]
        rng.shuffle(cells)
        for stock, days, dose in cells:
            rate = min(0.95, max(0.05, base[stock] + gain[dose] + (0.15 if days else 0.0)))
            rows.append((f"B{bench}", f"T{len(rows) + 1:02d}", stock, days, dose, 18, _tray(rng, 18, rate, 0.05)))
    names = ["bench", "tray", "rootstock", "dark_days", "strength", "stuck", "rooted"]
    return pl.DataFrame(rows, schema=names, orient="row")


def strengths(seed: int = 1) -> pl.DataFrame:
    """Invented trays of six strengths x two rootstocks, in five benches: K12 with a clear best, K17 without.

    Parameters
    ----------
    seed : int
        Seed of the random draw.

    Returns
    -------
    polars.DataFrame
        60 trays with ``bench``, ``tray``, ``rootstock``, ``strength`` (mg/L), ``stuck``, ``rooted``.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.demo.strengths(seed=1).height
    60
    """
    rng = random.Random(seed)
    takes = {
        "K12": {0: 0.15, 500: 0.38, 1000: 0.55, 2000: 0.72, 4000: 0.62, 8000: 0.22},
        "K17": {0: 0.40, 500: 0.52, 1000: 0.60, 2000: 0.66, 4000: 0.68, 8000: 0.62},
    }
    rows: list[tuple[str, str, str, int, int, int]] = []
    for bench in range(1, 6):
        cells = [(stock, dose) for stock, takes_of in takes.items() for dose in takes_of]
        rng.shuffle(cells)
        for stock, dose in cells:
            rows.append(
                (f"B{bench}", f"T{len(rows) + 1:02d}", stock, dose, 20, _tray(rng, 20, takes[stock][dose], 0.05))
            )
    return pl.DataFrame(rows, schema=["bench", "tray", "rootstock", "strength", "stuck", "rooted"], orient="row")


STORIES = ("room", "mix", "batches")


def weekly_batches(seed: int = 1, story: str = "room") -> pl.DataFrame:
    """Three invented seasons of grafted batches, eight a week, in three rooms; each is read 60 days after setting.

    Parameters
    ----------
    seed : int
        Seed of the random draw.
    story : {"room", "mix", "batches"}
        ``"room"``: from week 14 of the third season on fewer survive in room 2. ``"mix"``: nothing changes but what
        is set, more and more of the weaker K30. ``"batches"``: batches differ strongly, and nothing changes.

    Returns
    -------
    polars.DataFrame
        Columns ``season``, ``batch``, ``room``, ``rootstock``, ``grafter``, ``set``, ``read`` (dates), ``started``,
        ``alive``.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.demo.weekly_batches(seed=1).columns[:4]
    ['season', 'batch', 'room', 'rootstock']
    """
    if story not in STORIES:
        raise ChoiceError(f'story="{story}" is not known; known: {", ".join(STORIES)}')
    rng = random.Random(seed)
    rate = {"K12": 2.2, "K17": 1.9, "K30": 1.2}
    place = {"room 1": 0.1, "room 2": 0.0, "room 3": -0.1}
    correlation = 0.12 if story == "batches" else 0.03
    rows: list[tuple[int, str, str, str, str, date, date, int, int]] = []
    for season in (2023, 2024, 2025):
        for week in range(1, 41):
            monday = date.fromisocalendar(season, week, 1)
            shock = {room: rng.gauss(0.0, 0.15) for room in place}
            for number in range(8):
                late = story == "mix" and season == 2025
                stock = rng.choices(list(rate), (2, 3, 1 + 6 * week / 40) if late else (3, 3, 1))[0]
                room, grafter = rng.choice(list(place)), rng.choice(("A", "B"))
                logit = rate[stock] + place[room] + shock[room] + (0.1 if grafter == "B" else 0.0)
                logit += 0.15 * math.sin(2 * math.pi * week / 52)
                if story == "room" and season == 2025 and week >= 14 and room == "room 2":
                    logit -= 0.75
                started = rng.choice((12, 15, 18, 20))
                alive = _tray(rng, started, 1 / (1 + math.exp(-logit)), correlation)
                day = monday + timedelta(days=rng.randrange(5))
                read = day + timedelta(days=58 + rng.randrange(5))
                name = f"{season}-{week:02d}-{number + 1}"
                rows.append((season, name, room, stock, grafter, day, read, started, alive))
    names = ["season", "batch", "room", "rootstock", "grafter", "set", "read", "started", "alive"]
    return pl.DataFrame(rows, schema=names, orient="row")


def graft_to_tree(seed: int = 1) -> pl.DataFrame:
    """Two invented seasons of walnut batches from the first graft to the tree on sale.

    Of 2024 and 2025, 18 batches each of rootstocks K12, K17 and K30. In 2025 more K30 is grafted and fewer second
    grafts take. The last three batches of 2025 are too young for the sale.

    Parameters
    ----------
    seed : int
        Seed of the random draw.

    Returns
    -------
    polars.DataFrame
        Columns ``season``, ``batch``, ``rootstock``, ``room``, ``grafted``, ``taken``, ``out_of_dark``, ``rooted``,
        ``second_graft``, ``saleable`` (plants that reached each) and ``graft_date``, ``sale_date``.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.demo.graft_to_tree(seed=1).height
    36
    """
    rng = random.Random(seed)
    mix = {"2024": ("K12", "K12", "K17", "K17", "K17", "K30"), "2025": ("K12", "K17", "K17", "K30", "K30", "K30")}
    takes = {"K12": (0.93, 0.92, 0.90), "K17": (0.91, 0.90, 0.84), "K30": (0.88, 0.86, 0.72)}
    second = {"2024": 0.74, "2025": 0.66}
    rows: list[tuple[str, str, str, str, int, int, int, int, int, int | None, date, date | None]] = []
    for season, stocks in mix.items():
        for number in range(18):
            stock, started = stocks[number % 6], rng.choice((40, 50, 60))
            day = date(int(season), 2, 2) + timedelta(days=7 * (number // 2))
            counts = [started]
            for take in (*takes[stock], second[season], 0.94):
                counts.append(_tray(rng, counts[-1], take, 0.04) if counts[-1] else 0)
            young = season == "2025" and number >= 15
            sale = None if young else day + timedelta(days=420)
            name, room = f"{season}-{number + 1:02d}", f"room {1 + number % 3}"
            reached, last = counts[:5], None if young else counts[5]
            rows.append((season, name, stock, room, *reached, last, day, sale))  # type: ignore[arg-type]
    names = ["season", "batch", "rootstock", "room", "grafted", "taken", "out_of_dark", "rooted", "second_graft"]
    return pl.DataFrame(rows, schema=[*names, "saleable", "graft_date", "sale_date"], orient="row")
