"""Grades: the score test of one slope for all cuts, from complex-step slopes and information summed over grades.

Run with numpy; prints the values that ``tests/rust/math/cumulative.rs`` holds, from ``tests/data``.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np

DATA = Path(__file__).parents[2] / "data"
Rows = dict[tuple[float, ...], np.ndarray]


def read(name: str, grade: Callable[[dict[str, str]], int], columns: list[tuple[str, str]], grades: int) -> Rows:
    """Counts of grades for each row of 0 and 1; a column is 1 where a cell holds that word."""
    found: Rows = {}
    with (DATA / name).open() as file:
        for row in csv.DictReader(file):
            key = tuple(float(row[column] == word) for column, word in columns)
            found.setdefault(key, np.zeros(grades))[grade(row)] += float(row.get("freq", 1))
    return found


def ln_shares(theta: np.ndarray, x: np.ndarray, grades: int, partial: tuple[int, ...]) -> np.ndarray:
    """Logarithms of the shares of the grades of one row."""
    cuts = grades - 1
    more = theta[cuts + len(x) :].reshape(len(partial), cuts - 1)
    odds = theta[:cuts] + x @ theta[cuts : cuts + len(x)]
    for at, column in enumerate(partial):
        odds[1:] = odds[1:] + x[column] * more[at]
    above = np.concatenate([[1], 1 / (1 + np.exp(-odds)), [0]])
    return np.log(above[:-1] - above[1:])


def sums(theta: np.ndarray, rows: Rows, grades: int, partial: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray, float]:
    """Slopes, information as expected, and the log-likelihood."""
    slopes, information, height = np.zeros(len(theta)), np.zeros((len(theta), len(theta))), 0.0
    for key, counts in rows.items():
        x = np.array(key)
        shares = ln_shares(theta, x, grades, partial)
        by = np.zeros((grades, len(theta)))
        for at in range(len(theta)):
            moved = theta.astype(complex)
            moved[at] += 1e-30j
            by[:, at] = ln_shares(moved, x, grades, partial).imag / 1e-30
        height += counts @ shares
        slopes += by.T @ counts
        information += (by.T * (counts.sum() * np.exp(shares))) @ by
    return slopes, information, height


def fitted(rows: Rows, grades: int, partial: tuple[int, ...] = ()) -> tuple[np.ndarray, float]:
    """The top of the likelihood, by Fisher's scoring."""
    all_of = sum(rows.values())
    above = 1 - np.cumsum(all_of)[:-1] / all_of.sum()
    width = len(next(iter(rows)))
    theta = np.concatenate([np.log(above / (1 - above)), np.zeros(width + len(partial) * (grades - 2))])
    for _ in range(200):
        slopes, information, height = sums(theta, rows, grades, partial)
        step = np.linalg.solve(information, slopes)
        theta = theta + step
        if abs(slopes @ step) < 1e-24:
            break
    return theta, height


def one_slope(rows: Rows, grades: int, columns: tuple[int, ...]) -> float:
    """The score of what slopes of these columns have more at the second and later cuts."""
    theta, _ = fitted(rows, grades)
    wide = np.concatenate([theta, np.zeros(len(columns) * (grades - 2))])
    slopes, information, _ = sums(wide, rows, grades, columns)
    return float(slopes @ np.linalg.solve(information, slopes))


def main() -> None:
    """Prints the values."""
    wine = read("randall_1989.csv", lambda row: int(row["rating"]) - 1, [("temp", "warm"), ("contact", "yes")], 5)
    words = ["Low", "Medium", "High"]
    columns = [("influence", "Medium"), ("influence", "High"), ("type", "Apartment"), ("type", "Atrium")]
    columns += [("type", "Terrace"), ("contact", "High")]
    housing = read("madsen_1976.csv", lambda row: words.index(row["satisfaction"]), columns, 3)
    cases = [
        ("wine", wine, 5, [(0, 1), (0,), (1,)]),
        ("housing", housing, 3, [tuple(range(6)), (0, 1), (2, 3, 4), (5,)]),
    ]
    for name, rows, grades, asked in cases:
        print(name, [float(one) for one in fitted(rows, grades)[0]])
        for tested in asked:
            print("  one slope", tested, one_slope(rows, grades, tested))


if __name__ == "__main__":
    main()
