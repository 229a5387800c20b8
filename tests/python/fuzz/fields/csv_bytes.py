"""Bytes of text files: sound sheets in many dresses, then spoiled."""

from __future__ import annotations

import csv
import io
import random
from typing import Any

import rootling as rl

from fuzz import draw
from fuzz.fields import place, trials, verbs
from fuzz.oracle import Oracle

SIGNS = [
    b'"',
    b"'",
    b",",
    b";",
    b"\t",
    b"\n",
    b"\r",
    b"\x00",
    b"\xff",
    b"\xef\xbb\xbf",
    b"\xed\xa0\x80",
    b" ",
    b"\\",
    b"%",
]
SIGNS += [b"\xe2\x80\x8b", b"\xc2\xa0", b"-", b"1e309", b"0x1F", b"NaN", b"\x1a", b"\x0c", b"\xe2\x80\xa8", b"9" * 40]
ENCODINGS = [
    "utf-8",
    "utf-8",
    "utf-8",
    "utf-8-sig",
    "utf-16",
    "utf-16-le",
    "cp1252",
    "latin-1",
    "utf-7",
    "cp037",
    "utf-32",
]


def dressed(rng: random.Random, columns: dict[str, list[Any]]) -> str:
    """The columns as a sheet of someone's own: separators, titles, totals, remarks, ditto marks, units."""
    names = list(columns)
    rows: list[list[Any]] = [list(row) for row in zip(*columns.values(), strict=False)]
    if rng.random() < 0.2:
        names.append(rng.choice(["remarks", "", "rooted", "strength ", "Rooted"]))
        for row in rows:
            row.append(rng.choice(["", "ok", '"', '5" pot', "wet; cold", "line\nbreak", "idem", "lost"]))
    lines: list[list[Any]] = [names, *rows]
    if rng.random() < 0.1:
        lines[:0] = [["Trial 7, Bramblescar"], []][: rng.randrange(1, 3)]
    if rng.random() < 0.1:
        lines.append(["total", *[""] * (len(names) - 2), sum(columns["rooted"])])
    if rng.random() < 0.1:
        lines += [[]] * rng.randrange(1, 4) + [[""] * len(names)]
    if rng.random() < 0.3:
        for _ in range(rng.randrange(1, 4)):
            row = rng.choice(lines)
            if row:
                row[rng.randrange(len(row))] = _cell(rng)
    held = io.StringIO()
    quoting = rng.choice([csv.QUOTE_MINIMAL, csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC])
    writer = csv.writer(
        held, delimiter=rng.choice(",,,;\t| "), lineterminator=rng.choice(["\n", "\n", "\r\n", "\r"]), quoting=quoting
    )
    writer.writerows(lines)
    return held.getvalue()


def _cell(rng: random.Random) -> str:
    value = draw.entry(rng)
    return "" if value is None else str(value)


def spoiled(rng: random.Random, data: bytes) -> bytes:
    """Bytes changed, put in, taken out, doubled, cut off."""
    for _ in range(rng.choice([0, 0, 1, 1, 2, 5])):
        at, kind = rng.randrange(len(data) + 1), rng.randrange(6)
        if kind < 2:
            data = data[:at] + rng.choice(SIGNS) + data[at:]
        elif kind == 2:
            data = data[:at] + data[at + rng.randrange(1, 30) :]
        elif kind == 3:
            data = data[:at] + bytes([rng.randrange(256)]) + data[at + 1 :]
        elif kind == 4:
            data = data[:at] + data[max(0, at - rng.randrange(60)) :]
        elif rng.random() < 0.3:
            data = data[:at]
    return data


def nothing_like_it(rng: random.Random) -> bytes:
    """Bytes that are no sheet of a trial."""
    makers = [
        lambda: b"",
        lambda: b"\n" * rng.randrange(50),
        lambda: bytes(rng.randrange(256) for _ in range(rng.randrange(200))),
        lambda: b",".join([b"strength"] * rng.randrange(1, 300)) + b"\n",
        lambda: b'"' * rng.randrange(1, 40),
        lambda: b"strength,rooted,stuck,tray\n" + b'"\n' * rng.randrange(40),
        lambda: b"strength,rooted,stuck,tray\n" + b"," * rng.randrange(5000),
        lambda: b"x" * rng.randrange(100_000),
        lambda: b"\x1f\x8b\x08\x00" + bytes(20),
        lambda: b"PK\x03\x04" + bytes(40),
        lambda: b"".join(rng.choice(SIGNS) for _ in range(rng.randrange(60))),
        lambda: ("strength,rooted,stuck,tray\n" + "0,1,2,a\n" * 300).encode() + b"\xff",
    ]
    return rng.choice(makers)()


def run(look: Oracle) -> None:
    rng = look.rng
    place.clear()
    design = trials.make(rng)
    if rng.random() < 0.15:
        data = nothing_like_it(rng)
    else:
        text = dressed(rng, design.columns)
        data = spoiled(rng, text.encode(rng.choice(ENCODINGS), "backslashreplace"))
    path = place.folder() / rng.choice(["trial.csv", "trial.csv", "trial.tsv", "trial.txt", "TRIAL.CSV"])
    path.write_bytes(data)
    roles = dict(design.roles)
    if rng.random() < 0.4:
        roles["bad_rows"] = "set-aside"
    if rng.random() < 0.2:
        roles["encoding"] = rng.choice(ENCODINGS)
    if rng.random() < 0.15:
        roles[rng.choice(["decimal", "thousands"])] = rng.choice([".", ",", " ", "'"])
    if rng.random() < 0.1:
        roles["fill_down"] = ["strength"]
    if rng.random() < 0.1:
        roles["header_row"] = rng.randrange(1, 6)
    if rng.random() < 0.05:
        roles |= {"rooted": None, "wide": {"strength": ["strength", "rooted"]}}
    trial = look.call(rl.load_trial, path, **roles)
    if trial is not None and rng.random() < 0.3:
        name, given, options = verbs.question(look, design)
        look.call(getattr(trial, name), *given, **options)
    if look.failures or look.tell:
        look.calls.append(f"bytes of {path.name}: {data[:1500]!r}")
        look.failures = [(kind, f"{text}\n    {data[:700]!r}") for kind, text in look.failures]
