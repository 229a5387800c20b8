"""Tables and lists are read by rows from whatever holds them."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest
import rootling as rl

ROWS = [[8, 2], [1, 5]]
FRAME = pl.DataFrame({"rooted": [8, 1], "failed": [2, 5]})


class PandasLike:
    """What of pandas is used: columns, dtypes, a column by name with to_list."""

    def __init__(self, columns: dict[str, list[Any]]) -> None:
        self.dtypes = [type(values[0]) for values in columns.values()]
        self._columns = columns

    @property
    def columns(self) -> list[str]:
        return list(self._columns)

    def __getitem__(self, name: str) -> Any:
        return pl.Series(self._columns[name])

    def to_numpy(self) -> Any:
        return np.array(list(self._columns.values())).T


HOLDERS = {
    "lists": ROWS,
    "tuples": tuple(map(tuple, ROWS)),
    "array": np.array(ROWS),
    "polars": FRAME,
    "pandas": PandasLike({"rooted": [8, 1], "failed": [2, 5]}),
    "series": [pl.Series([8, 2]), pl.Series([1, 5])],
    "arrays": [np.array([8, 2]), np.array([1, 5])],
}

ASKED = {
    "chi_square": lambda table: rl.tables.chi_square(table).pearson.p,
    "fisher": lambda table: rl.tables.fisher(table).p_lower,
    "unconditional": lambda table: rl.tables.unconditional(table).to_json(),
    "paired": lambda table: rl.tables.paired(table).to_json(),
    "freeman_halton": lambda table: rl.tables.freeman_halton(table).p,
    "linear_by_linear": lambda table: rl.tables.linear_by_linear(table).correlation,
    "stratified": lambda table: rl.tables.stratified([table, table]).common.odds_ratio.value,
    "three_way": lambda table: rl.tables.three_way([table, table]).pearson.statistic,
}


@pytest.mark.parametrize("holder", HOLDERS)
@pytest.mark.parametrize("asked", ASKED)
def test_a_table_is_read_by_rows(holder: str, asked: str) -> None:
    assert ASKED[asked](HOLDERS[holder]) == ASKED[asked](ROWS)


def test_what_is_no_table_is_refused() -> None:
    named = pl.DataFrame({"strength": ["0", "2500"], "rooted": [8, 1], "failed": [2, 5]})
    with pytest.raises(rl.exceptions.CountError, match="column 'strength' holds '0', which is no count"):
        rl.tables.chi_square(named)  # type: ignore[arg-type]
    with pytest.raises(rl.exceptions.CountError, match="a dictionary holds columns"):
        rl.tables.fisher({"rooted": [8, 1], "failed": [2, 5]})  # type: ignore[arg-type]
    with pytest.raises(rl.exceptions.CountError, match="is text, not a table"):
        rl.tables.chi_square("8 2; 1 5")  # type: ignore[arg-type]
    with pytest.raises(rl.exceptions.CountError, match="one table is given where a list of tables"):
        rl.tables.stratified(FRAME)  # type: ignore[arg-type]
    with pytest.raises(rl.exceptions.CountError, match="a frame of 2 columns is no list of numbers"):
        rl.rates.interval(FRAME, [10, 6])
    with pytest.raises(rl.exceptions.CountError, match="a frame of 2 columns is no list of numbers"):
        rl.tables.trend(FRAME, [10, 6])  # type: ignore[arg-type]
    with pytest.raises(rl.exceptions.CountError, match="a frame of 2 columns is no list of numbers"):
        rl.compare.randomisation(FRAME, [0.1, 0.2])  # type: ignore[arg-type]


def test_lists_of_counts_come_as_they_are_held() -> None:
    wanted = rl.rates.interval([8, 1], [10, 6])
    for rooted in (FRAME["rooted"], FRAME.select("rooted"), np.array([8, 1]), (8, 1)):
        found = rl.rates.interval(rooted, [10, 6])
        assert np.array_equal(found.low, wanted.low)
    plain = rl.tables.trend([8, 1], [10, 6]).asymptotic.p
    assert rl.tables.trend(FRAME["rooted"], pl.Series([10, 6])).asymptotic.p == plain
    dealt = rl.compare.randomisation([0.2, 0.4, 0.5], [0.6, 0.7, 0.9]).p
    frame = pl.DataFrame({"first": [0.2, 0.4, 0.5], "second": [0.6, 0.7, 0.9]})
    assert rl.compare.randomisation(frame["first"], frame.select("second")).p == dealt  # type: ignore[arg-type]
