"""Rows that are alike but for yes and no, with both counted beside each other: half as many lines as one for each."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

__all__ = ["Tally"]


@dataclass(frozen=True)
class Tally:
    """Sets of rows that are alike but for yes and no: how many said yes, and how many they are."""

    frame: pl.DataFrame
    outcome: str
    times: str
    dtype: pl.DataType

    def lines(self) -> pl.DataFrame:
        """A line for those that say yes and one for those that say no."""
        yes, rows = pl.col(self.outcome), pl.col(self.times)
        labels = [name for name in self.frame.columns if name not in (self.outcome, self.times)]
        parts = [
            self.frame.filter(many > 0).select(
                *labels, pl.lit(said).cast(self.dtype).alias(self.outcome), many.alias(self.times)
            )
            for said, many in ((1, yes), (0, rows - yes))
        ]
        return pl.concat(parts)
