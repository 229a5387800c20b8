"""Frames of any library, of any type, with any entry."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import rootling as rl

from fuzz import draw
from fuzz.fields import trials, verbs
from fuzz.oracle import Oracle

POLARS = [pl.Int8, pl.Int32, pl.UInt8, pl.UInt64, pl.Float32, pl.Float64, pl.String, pl.Categorical, pl.Boolean]
POLARS += [pl.Date, pl.Datetime, pl.Time, pl.Duration, pl.Binary, pl.Null, pl.Decimal(20, 3), pl.Int128]
POLARS += [
    pl.List(pl.Int64),
    pl.Array(pl.Int64, 1),
    pl.Struct({"a": pl.Int64}),
    pl.Object,
    pl.Enum(["0", "500", "K12"]),
]
PANDAS = ["Int64", "Float64", "string", "boolean", "category", "object", "float32", "int8", "datetime64[ns]"]
PANDAS += ["string[pyarrow]", "int64[pyarrow]", "Sparse[int]", "period[D]", "complex128", "timedelta64[ns]"]
NUMPY = ["i1", "u8", "f4", "f8", "U9", "S9", "O", "?", "M8[D]", "m8[D]", "c16", "f2", "V4"]


def spoiled(rng: random.Random, columns: dict[str, list[Any]]) -> dict[str, list[Any]]:
    """The same columns with some entries, rows, or names changed for the worse."""
    made = {name: list(values) for name, values in columns.items()}
    for _ in range(rng.choice([0, 1, 1, 2, 5])):
        name = rng.choice(list(made))
        kind = rng.randrange(6)
        if kind < 3 and made[name]:
            made[name][rng.randrange(len(made[name]))] = draw.entry(rng)
        elif kind == 3:
            made[name] = [draw.entry(rng) for _ in made[name]]
        elif kind == 4 and made[name]:
            at = rng.randrange(len(made[name]))
            for values in made.values():
                values.insert(at, values[min(at, len(values) - 1)] if values else None)
        elif rng.random() < 0.3:
            made[name] = made[name][: rng.randrange(len(made[name]) + 1)]
    return made


def column(rng: random.Random, name: str, values: list[Any]) -> pl.Series:
    plain = pl.Series(name, values, strict=False)
    if rng.random() < 0.25:
        kind: Any = rng.choice(POLARS)
        if kind == pl.Object:
            return pl.Series(name, values, dtype=pl.Object)
        if kind == pl.Struct({"a": pl.Int64}):
            return pl.DataFrame({"a": plain}).to_struct(name)
        return plain.cast(kind, strict=False)
    return plain


def as_polars(rng: random.Random, columns: dict[str, list[Any]]) -> Any:
    frame = pl.DataFrame([column(rng, name, values) for name, values in columns.items()])
    return rng.choice([frame, frame, frame.lazy(), frame.rechunk(), pl.concat([frame, frame[:0]])])


def as_pandas(rng: random.Random, columns: dict[str, list[Any]]) -> Any:
    frame = pd.DataFrame(columns)
    for name in list(frame.columns):
        if rng.random() < 0.15:
            frame[name] = frame[name].astype(rng.choice(PANDAS))
    if rng.random() < 0.2:
        frame.index = rng.choice(
            [list(range(5, 5 + len(frame))), [0] * len(frame), [f"r{at}" for at in range(len(frame))]]
        )
    if rng.random() < 0.05:
        frame.columns = pd.MultiIndex.from_tuples([(name, "x") for name in frame.columns])
    if rng.random() < 0.05:
        frame = pd.concat([frame, frame[["rooted"]]], axis=1)
    return frame


def as_numpy(rng: random.Random, columns: dict[str, list[Any]]) -> Any:
    made: dict[str, Any] = {}
    for name, values in columns.items():
        with np.errstate(over="ignore", invalid="ignore"):
            made[name] = np.array(values, dtype=rng.choice(NUMPY) if rng.random() < 0.15 else None)
    if rng.random() < 0.05:
        return np.array(list(columns.values()), dtype=object)
    if rng.random() < 0.05:
        made["rooted"] = np.ma.masked_array(columns["rooted"], [rng.random() < 0.2 for _ in columns["rooted"]])
    return made


def as_arrow(rng: random.Random, columns: dict[str, list[Any]]) -> Any:
    frame = pl.DataFrame([pl.Series(name, values, strict=False) for name, values in columns.items()])
    table = frame.to_arrow()
    if rng.random() < 0.2:
        at = rng.randrange(table.num_columns)
        table = table.set_column(at, table.column_names[at], table.column(at).combine_chunks().dictionary_encode())
    return rng.choice([table, table.to_batches()[0] if table.num_rows else table])


def as_plain(rng: random.Random, columns: dict[str, list[Any]]) -> Any:
    makers = [
        lambda: columns,
        lambda: {name: tuple(values) for name, values in columns.items()},
        lambda: {name: iter(values) for name, values in columns.items()},
        lambda: {name: (value for value in values) for name, values in columns.items()},
        lambda: {name: draw.holder(rng, values) for name, values in columns.items()},
        lambda: [dict(zip(columns, row, strict=False)) for row in zip(*columns.values(), strict=False)],
        lambda: list(columns.values()),
        lambda: {**columns, 7: columns["rooted"]},
        lambda: {**columns, "rooted": dict(enumerate(columns["rooted"]))},
        lambda: {**columns, "rooted": "12345"},
    ]
    return makers[rng.randrange(len(makers)) if rng.random() < 0.6 else 0]()


def run(look: Oracle) -> None:
    rng = look.rng
    design = trials.make(rng)
    columns = spoiled(rng, design.columns)
    maker = rng.choice([as_polars, as_pandas, as_numpy, as_arrow, as_plain, as_plain])
    try:
        data = maker(rng, columns)
    except BaseException:  # The other library does not hold these entries; polars may panic over them.
        data, look.others_panic = columns, True
    roles = dict(design.roles)
    if rng.random() < 0.4:
        roles["bad_rows"] = "set-aside"
    if rng.random() < 0.1:
        roles["distinct_levels"] = True
    if rng.random() < 0.15:
        roles["stuck"] = None
    trial = look.call(rl.load_trial, data, **roles)
    if trial is not None and rng.random() < 0.4:
        look.call(trial.take_rates)
        name, given, options = verbs.question(look, design)
        look.call(getattr(trial, name), *given, **options)
